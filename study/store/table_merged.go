package store

import (
	"context"
	"crypto/sha256"

	"wane/study"
)

var mergedTable = newTable(35, "merged", fields[mergedRow]{
	textField("name", func(m *mergedRow) *string { return &m.name }).asGiven(),
	wholeField("line", func(m *mergedRow) *int64 { return &m.line }),
	sumField("hash", func(m *mergedRow) *[sha256.Size]byte { return &m.hash }),
})

var mergedLineTable = newTable(36, "merged_line", fields[mergedLineRow]{
	wholeField("merged", func(l *mergedLineRow) *int64 { return &l.merged }),
	wholeField("number", func(l *mergedLineRow) *int64 { return &l.Number }),
	textField("at", func(l *mergedLineRow) *string { return &l.At }),
	textOrNull("who", func(l *mergedLineRow) *string { return &l.Who }),
	textField("verb", func(l *mergedLineRow) *string { return &l.Verb }),
	textOrNull("why", func(l *mergedLineRow) *string { return &l.Why }),
	textOrNull("summary", func(l *mergedLineRow) *string { return &l.Summary }).asGiven(),
	textOrNull("software", func(l *mergedLineRow) *string { return &l.Software }),
	sumField("hash", func(l *mergedLineRow) *[sha256.Size]byte { return &l.Hash }),
})

var mergedRowsTable = newTable(37, "merged_rows", fields[mergedRowsRow]{
	textField("of", func(m *mergedRowsRow) *string { return &m.of }),
	wholeField("first_row", func(m *mergedRowsRow) *int64 { return &m.first }),
	wholeField("last_row", func(m *mergedRowsRow) *int64 { return &m.last }),
	wholeField("line", func(m *mergedRowsRow) *int64 { return &m.line }),
})

// mergedRow is a study that was merged into this one.
type mergedRow struct {
	name string
	line int64 // the last one of its log
	hash [sha256.Size]byte
}

// mergedLineRow is a line of its log.
type mergedLineRow struct {
	study.Entry
	merged int64
}

// mergedRowsRow is rows of a table of this study that came under a line of its log.
type mergedRowsRow struct {
	of          string
	first, last int64
	line        int64 // the number of the row of merged_line
}

// Origin is where a row was first, before its study was merged into this one.
type Origin struct {
	Study       string // the name of its file
	study.Entry        // the line of its log
}

// Origin returns where a row of the table called name came from with a merge, nil if it came into this study by itself.
func (v *View) Origin(name string, number int64) (*Origin, error) {
	o, err := originOf(v.ctx, v.q, name, number)
	return o, v.refuse(err)
}

func originOf(ctx context.Context, q querier, name string, number int64) (*Origin, error) {
	rows, err := mergedRowsTable.one(ctx, q, `FROM merged_rows WHERE of = ?1 AND last_row >= ?2 AND first_row <= ?2
		ORDER BY last_row LIMIT 1`, name, number)
	if err != nil || rows == nil {
		return nil, err
	}
	line, err := mergedLineTable.one(ctx, q, "FROM merged_line WHERE id = ?", rows.Row.line)
	if err == nil && line == nil {
		err = &damage{table: "merged_rows", row: rows.Number, fault: "its line is missing"}
	}
	if err != nil {
		return nil, err
	}
	of, err := mergedTable.one(ctx, q, "FROM merged WHERE id = ?", line.Row.merged)
	if err == nil && of == nil {
		err = &damage{table: "merged_line", row: line.Number, fault: "its study is missing"}
	}
	if err != nil {
		return nil, err
	}
	return &Origin{of.Row.name, line.Row.Entry}, nil
}
