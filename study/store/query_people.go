package store

import (
	"context"
	"slices"

	"wane/study"
)

// BroughtIn returns the lines of the log under which a row of the table called name came into the study, the first one
// first. A reading came in with the first reading of its column, and once more where it was moved. A row that is not
// there is a [*study.Failure].
func (tx *Tx) BroughtIn(name string, number int64) ([]study.Entry, error) {
	lines, err := broughtIn(tx.ctx, prepared{tx}, name, number)
	if err != nil {
		return nil, tx.fail(err)
	}
	return lines, nil
}

// BroughtIn is [Tx.BroughtIn] of the study as the view sees it.
func (v *View) BroughtIn(name string, number int64) ([]study.Entry, error) {
	lines, err := broughtIn(v.ctx, v.q, name, number)
	return lines, v.refuse(err)
}

func broughtIn(ctx context.Context, q querier, name string, number int64) (lines []study.Entry, err error) {
	query := "SELECT log FROM " + name + " WHERE id = ?"
	if name == readingTable.name {
		query = `SELECT r.log FROM reading r JOIN reading now ON now.id = ?
			AND (r.export, r.column_number) = (now.export, now.column_number) AND r.id <= now.id ORDER BY r.id`
	}
	var numbers []int64
	err = ask(ctx, q, query, []any{number}, func(r row) error {
		numbers = append(numbers, r.whole(0))
		return nil
	})
	if err == nil && len(numbers) == 0 {
		err = &damage{table: name, row: number, fault: "it is missing"}
	}
	for _, n := range slices.Compact(numbers) {
		if err != nil {
			break
		}
		var line study.Entry
		if line, err = lineNumbered(ctx, q, n); err == nil {
			lines = append(lines, line)
		}
	}
	if err != nil {
		return nil, err
	}
	there, err := originOf(ctx, q, name, number)
	if there != nil {
		there.Verb += " in " + there.Study
		lines = append(lines, there.Entry)
	}
	return lines, err
}

// People returns the names in the log, each once, in their order.
func (tx *Tx) People() (names []string, err error) {
	err = ask(tx.ctx, prepared{tx}, "SELECT DISTINCT who FROM log WHERE who <> '' ORDER BY who", nil, func(r row) error {
		names = append(names, r.text(0))
		return nil
	})
	if err != nil {
		return nil, tx.fail(err)
	}
	return names, nil
}
