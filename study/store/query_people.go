package store

import (
	"slices"

	"wane/study"
)

// BroughtIn returns the lines of the log under which a row of the table called name came into the study, the first one
// first. A reading came in with the first reading of its column, and once more where it was moved. A row that is not
// there is a [*study.Failure].
func (tx *Tx) BroughtIn(name string, number int64) (lines []study.Entry, err error) {
	query := "SELECT log FROM " + name + " WHERE id = ?"
	if name == readingTable.name {
		query = `SELECT r.log FROM reading r JOIN reading now ON now.id = ?
			AND (r.export, r.column_number) = (now.export, now.column_number) AND r.id <= now.id ORDER BY r.id`
	}
	var numbers []int64
	err = ask(tx.ctx, prepared{tx}, query, []any{number}, func(r row) error {
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
		if line, err = lineNumbered(tx.ctx, prepared{tx}, n); err == nil {
			lines = append(lines, line)
		}
	}
	if err == nil {
		var there *Origin
		if there, err = originOf(tx.ctx, prepared{tx}, name, number); there != nil {
			there.Verb += " in " + there.Study
			lines = append(lines, there.Entry)
		}
	}
	if err != nil {
		return nil, tx.fail(err)
	}
	return lines, nil
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
