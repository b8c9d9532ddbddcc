package store

import "context"

// What is current is a row as it was enrolled, overlaid with its latest amendments, unless it was withdrawn. This
// is made here, where rows are read, after their checksums were looked at. As of a line of the log, later corrections are
// not there: see [Store.ViewAsOf].

// corrections are the amendments and withdrawals of the rows of one table.
type corrections struct {
	cells     map[int64][]cell // by the number of the row, those that came last at the end
	withdrawn map[int64]bool
}

// cell is a value that takes the place of another.
type cell struct {
	column int
	value  any
}

// there reports whether the row that begins with these values is there.
func (c *corrections) there(r row) bool {
	return c == nil || !c.withdrawn[r.whole(0)]
}

// apply makes a row what it is now, and reports whether it is there.
func (c *corrections) apply(r row) bool {
	if !c.there(r) {
		return false
	}
	c.overlay(r)
	return true
}

// overlay makes a row what it is now, or was when it was withdrawn.
func (c *corrections) overlay(r row) {
	if c == nil {
		return
	}
	for _, amended := range c.cells[r.whole(0)] {
		r[amended.column] = amended.value
	}
}

// corrected is a querier that keeps what its moment of the study says of corrections.
type corrected interface {
	querier
	corrections(ctx context.Context, t *table) (*corrections, error)
}

// correctionsOf returns the corrections of a table, nil if there can be none.
func correctionsOf(ctx context.Context, q querier, t *table) (*corrections, error) {
	if c, ok := q.(corrected); ok {
		return c.corrections(ctx, t)
	}
	if t.keyed == nil {
		return nil, nil
	}
	return readCorrections(ctx, q, t)
}

// readCorrections reads the corrections of a table.
func readCorrections(ctx context.Context, q querier, t *table) (*corrections, error) {
	c := &corrections{cells: map[int64][]cell{}, withdrawn: map[int64]bool{}}
	const of = " WHERE of = ? ORDER BY id"
	err := amendmentTable.each(ctx, q, "FROM amendment"+of, []any{t.name}, func(k *Kept[amendmentRow]) error {
		column := t.at(k.Row.field)
		if column < len(headColumns) || t.keyed.isKey(column) {
			return &damage{table: amendmentTable.name, row: k.Number, fault: "it is of a column that is not amended"}
		}
		c.cells[k.Row.row] = append(c.cells[k.Row.row], cell{column, k.Row.value})
		return nil
	})
	if err != nil {
		return nil, err
	}
	return c, withdrawalTable.each(ctx, q, "FROM withdrawal"+of, []any{t.name}, func(k *Kept[withdrawalRow]) error {
		c.withdrawn[k.Row.row] = true
		return nil
	})
}

// keptCorrections are the corrections of the tables that were asked for at one moment.
type keptCorrections map[*table]*corrections

// get returns the corrections of a table, which q is asked for once; nil if there can be none.
func (k keptCorrections) get(ctx context.Context, q querier, t *table) (*corrections, error) {
	if t.keyed == nil {
		return nil, nil
	}
	if c := k[t]; c != nil {
		return c, nil
	}
	c, err := readCorrections(ctx, q, t)
	if err == nil {
		k[t] = c
	}
	return c, err
}

// moment is a querier for one moment of the study.
type moment struct {
	querier
	kept keptCorrections
}

func (m moment) corrections(ctx context.Context, t *table) (*corrections, error) {
	return m.kept.get(ctx, m.querier, t)
}
