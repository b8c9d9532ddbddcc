package store

import (
	"cmp"
	"fmt"
	"strings"

	"wane/study"
)

// keyed is what a table of rows that people find by a key has beside its columns. Its rows can be amended and
// withdrawn.
type keyed struct {
	keys     []int                              // the positions of the columns of the key; nothing bounds the value of the first
	describe func(r row) (string, error)        // names a row by its key
	noted    map[string]bool                    // columns that hold what the program notes, not what people write
	alike    func(column string, a, b any) bool // reports whether two cells that differ say the same
	verb     string                             // with which rows come in; empty: enrol
	again    string                             // what to try instead of a key that was withdrawn
	lasting  []int                              // columns of the key that stay when a row gets another one; none: it never does
}

// keyedBy makes the rows of the table keyed ones: what names a row, of which only the key is looked at.
func (t *tableOf[T]) keyedBy(what func(*T) string, keys ...string) *tableOf[T] {
	t.keyed = &keyed{noted: map[string]bool{}, alike: func(string, any, any) bool { return false },
		again: "enrol the right row under a name that is new"}
	for _, key := range keys {
		t.keyed.keys = append(t.keyed.keys, t.column(key))
	}
	t.keyed.describe = func(r row) (string, error) {
		v := new(T)
		err := t.read(r, v)
		return what(v), err
	}
	return t
}

// noting says which columns hold what the program notes.
func (t *tableOf[T]) noting(columns ...string) *tableOf[T] {
	for _, c := range columns {
		t.keyed.noted[t.columns[t.column(c)]] = true
	}
	return t
}

// taking says which cells that differ say the same.
func (t *tableOf[T]) taking(alike func(column string, a, b any) bool) *tableOf[T] {
	t.keyed.alike = alike
	return t
}

// afterWithdrawal says what to try instead of a key that was withdrawn.
func (t *tableOf[T]) afterWithdrawal(try string) *tableOf[T] {
	t.keyed.again = try
	return t
}

// takenBy says with which verb rows come in.
func (t *tableOf[T]) takenBy(verb string) *tableOf[T] {
	t.keyed.verb = verb
	return t
}

// lasting lets rows get another key, all but these columns of it.
func (t *tableOf[T]) lasting(columns ...string) *tableOf[T] {
	for _, column := range columns {
		t.keyed.lasting = append(t.keyed.lasting, t.column(column))
	}
	return t
}

// isKey reports whether a column is one of the key.
func (k *keyed) isKey(column int) bool {
	for _, i := range k.keys {
		if i == column {
			return true
		}
	}
	return false
}

// foundRow is a row that a key names.
type foundRow struct {
	now       row // nil: there is none
	withdrawn bool
}

// find returns the row with the key of r, as it is now.
func (tx *Tx) find(t *table, r row) (found foundRow, err error) {
	names, args := make([]string, len(t.keyed.keys)), make([]any, len(t.keyed.keys))
	for i, k := range t.keyed.keys {
		names[i], args[i] = t.columns[k]+" IS ?", r[k] // as = but that null is null
	}
	now, err := tx.corrections(tx.ctx, t)
	if err != nil {
		return found, err
	}
	tail := "FROM " + t.name + " WHERE " + strings.Join(names, " AND ")
	err = t.eachEnrolled(tx.ctx, prepared{tx}, tail, args, func(r row) error {
		found.now = append(row(nil), r...)
		return nil
	})
	if found.now != nil {
		found.withdrawn = !now.apply(found.now)
	}
	return found, err
}

// enrol adds v to the table unless the same is there. One of the same key that differs is refused.
func (t *tableOf[T]) enrol(tx *Tx, v *T) (added bool, err error) { return tx.enrol(t.table, t.row(v)) }

// enrol adds r to t unless the same is there.
func (tx *Tx) enrol(t *table, r row) (added bool, err error) {
	what, err := t.keyed.describe(r)
	if err != nil {
		return false, tx.fail(err)
	}
	err = tx.atomically(func() error {
		old, err := tx.find(t, r)
		switch {
		case err != nil:
			return err
		case old.withdrawn:
			return tx.refuseWithdrawn(t, what, old.now)
		case old.now != nil:
			return difference(t, what, old.now, r)
		}
		added = true
		if err = tx.insert(t, r); isConstraint(err) {
			return doesNotFit(what, err)
		}
		return err
	})
	return added && err == nil, err
}

// doesNotFit refuses a row that the study does not take.
func doesNotFit(what string, cause error) error {
	return &study.Refusal{
		Fault: what + " does not fit into the study: it names what is not enrolled, or a word or number cannot be",
		Try:   "enrol what it names with it; `wane help rosters` has the words",
		Cause: cause,
	}
}

// withdrawn refuses a row of which the key was taken out of the study.
func withdrawn(t *table, what string) error {
	return &study.Refusal{
		Fault: what + " was withdrawn, and what was withdrawn does not come back under the same name",
		Try:   t.keyed.again,
	}
}

// refuseWithdrawn refuses a row of which the key was taken out, and says if that was because it got another key. gone is the
// row as it was enrolled.
func (tx *Tx) refuseWithdrawn(t *table, what string, gone row) error {
	if len(t.keyed.lasting) == 0 {
		return withdrawn(t, what)
	}
	var line int64
	err := ask(tx.ctx, prepared{tx}, "SELECT log FROM withdrawal WHERE of = ? AND row = ?", []any{t.name, gone.whole(0)},
		func(r row) error { line = r.whole(0); return nil })
	if err != nil {
		return err
	}
	tail, args := "FROM "+t.name+" WHERE log = ?", []any{line}
	for _, i := range t.keyed.lasting {
		tail, args = tail+" AND "+t.columns[i]+" = ?", append(args, gone[i])
	}
	var now []string
	err = t.eachEnrolled(tx.ctx, prepared{tx}, tail+" ORDER BY id", args, func(r row) error {
		words, err := t.keyed.describe(r)
		now = append(now, words)
		return err
	})
	if err != nil || len(now) == 0 {
		return cmp.Or(err, withdrawn(t, what))
	}
	return &study.Refusal{Fault: fmt.Sprintf("%s was amended by line %d of the log, which made %s of it", what, line,
		strings.Join(now, " or ")), Try: "leave the row out: the study has the right one; or correct that one with `wane amend`"}
}

// difference refuses now, if it differs from old.
func difference(t *table, what string, old, now row) error {
	for i := len(headColumns); i < len(old); i++ {
		name := t.columns[i]
		if same(old[i], now[i]) || t.keyed.noted[name] || t.keyed.alike(name, old[i], now[i]) {
			continue
		}
		fault := fmt.Sprintf("%s is known already, and differs: %s was %s, and here it is %s", what, name, show(old[i]),
			show(now[i]))
		if _, packed := now[i].([]byte); packed {
			fault = what + " is known already, with other numbers"
		}
		return &study.Refusal{Fault: fault,
			Try: "give the row as it was; if this one is right, correct it with `wane amend` and the reason"}
	}
	return nil
}
