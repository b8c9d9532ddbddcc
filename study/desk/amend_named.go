package desk

import (
	"slices"
	"strings"

	"wane/study"
	"wane/study/store"
)

// kindsNamed are the kinds of rows that a person calls otherwise than the study file does.
var kindsNamed = map[string][]string{"event": {"coupon_event", "event"}, "dose": {"dose_reading"}}

// tablesNamed returns the tables of a kind of rows; none if there is no such kind.
func tablesNamed(kind string) []string {
	if tables := kindsNamed[kind]; tables != nil {
		return tables
	}
	if slices.Contains(store.KeyedTables(), kind) {
		return []string{kind}
	}
	return nil
}

// kindWords lists the kinds of rows that can be withdrawn.
func kindWords() string {
	words := store.KeyedTables()
	for word, tables := range kindsNamed {
		words = append(slices.DeleteFunc(words, func(w string) bool { return slices.Contains(tables, w) }), word)
	}
	slices.Sort(words)
	return strings.Join(words, ", ")
}

// findNamed finds a row that is named as coupon:A01 or event:A01/broken.
func (c *correcting) findNamed(name string) error {
	kind, key, ok := strings.Cut(name, ":")
	tables := tablesNamed(kind)
	if !ok || tables == nil {
		return &study.Refusal{Fault: study.Shown(name) + " does not name what is to be withdrawn",
			Try: "write a kind, a colon and the key, as coupon:A01, pull:roof/3 or session:S4; the kinds are " + kindWords()}
	}
	var all, found []store.KeyedRow
	for _, table := range tables {
		rows, err := c.tx.KeyedRows(table)
		if err != nil {
			return err
		}
		all = append(all, rows...)
	}
	for _, is := range []func(string) bool{
		func(k string) bool { return k == key },
		func(k string) bool { return kind == "event" && strings.HasPrefix(k, key+"/") },
	} {
		if len(found) == 0 {
			found = slices.DeleteFunc(slices.Clone(all), func(k store.KeyedRow) bool { return !is(k.Key) })
		}
	}
	switch {
	case len(found) > 1:
		return &study.Refusal{Fault: study.Shown(name) + " names " + namesUpTo(whatAre(found), mostNamed),
			Try: "write the whole key of one of them: " + kind + ":" + found[0].Key}
	case len(found) == 0:
		keys := make([]string, len(all))
		for i := range all {
			keys[i] = all[i].Key
		}
		return &study.Refusal{Fault: "there is no " + kind + " " + study.Shown(key),
			Try: study.DidYouMean(key, keys, "write the key as the table has it, its columns with / between them")}
	}
	row := found[0]
	if slices.ContainsFunc(c.touched, func(t touched) bool { return t.table == row.Of && t.number == row.Number }) {
		return &study.Refusal{Fault: row.What + " is named twice", Try: "name it once"}
	}
	c.touched = append(c.touched, touched{row.Of, row.Number, row.What})
	if row.Of == "coupon_event" {
		c.coupons = append(c.coupons, row.Parts[0])
	}
	c.steps = append(c.steps, func() ([]store.Correction, error) { return c.tx.Withdraw(row.Of, row.Number) })
	return nil
}

// whatAre returns what rows are, in words.
func whatAre(rows []store.KeyedRow) (words []string) {
	for _, r := range rows {
		words = append(words, r.What)
	}
	return words
}
