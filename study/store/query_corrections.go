package store

import "cmp"

// Corrections hands all corrections that were ever made to yield, in the order in which they came: Number is that of
// the row of amendment or withdrawal.
func (v *View) Corrections(yield func(Kept[Correction]) error) error {
	made, err := v.amendments()
	if err != nil {
		return v.refuse(err)
	}
	gone, err := v.withdrawals()
	if err != nil {
		return v.refuse(err)
	}
	for len(made)+len(gone) > 0 {
		first := &made
		if len(made) == 0 || len(gone) > 0 && cmp.Less(gone[0].Line, made[0].Line) {
			first = &gone
		}
		if err := yield((*first)[0]); err != nil {
			return err
		}
		*first = (*first)[1:]
	}
	return nil
}

// amendments returns the amendments, each with what was there before.
func (v *View) amendments() (all []Kept[Correction], err error) {
	last := map[place]row{} // rows after the amendments until then
	err = amendmentTable.each(v.ctx, v.q, "", nil, func(k *Kept[amendmentRow]) error {
		at := place{k.Row.of, k.Row.row}
		c := Correction{Of: k.Row.of, Row: k.Row.row, Field: k.Row.field, Is: k.Row.value}
		all = append(all, Kept[Correction]{c, k.Number, k.Line})
		last[at] = nil
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i := range all {
		c := &all[i].Row
		t, at := tableCalled(c.Of), place{c.Of, c.Row}
		if t == nil || t.at(c.Field) < 0 {
			return nil, &damage{table: amendmentTable.name, row: all[i].Number, fault: "it is of what is not amended"}
		}
		if last[at] == nil {
			if last[at], err = v.asEnrolled(t, c.Row); err != nil {
				return nil, err
			}
		}
		now := last[at]
		if c.What, err = t.keyed.describe(now); err != nil {
			return nil, err
		}
		c.Key, c.Was = t.keyOf(now), now[t.column(c.Field)]
		now[t.column(c.Field)] = c.Is
	}
	return all, nil
}

func (v *View) withdrawals() (all []Kept[Correction], err error) {
	err = withdrawalTable.each(v.ctx, v.q, "", nil, func(k *Kept[withdrawalRow]) error {
		all = append(all, Kept[Correction]{Correction{Of: k.Row.of, Row: k.Row.row}, k.Number, k.Line})
		return nil
	})
	if err != nil {
		return nil, err
	}
	followed := map[place]bool{}
	var whole []Kept[Correction]
	for _, k := range all {
		c := &k.Row
		t := tableCalled(c.Of)
		if t == nil {
			return nil, &damage{table: withdrawalTable.name, row: k.Number, fault: "it is of what is not withdrawn"}
		}
		r, err := v.asEnrolled(t, c.Row)
		if err != nil {
			return nil, err
		}
		c.Key = t.keyOf(r)
		if c.What, err = t.keyed.describe(r); err != nil {
			return nil, err
		}
		changed, err := v.withAnotherKey(t, r, &k, followed)
		if err != nil {
			return nil, err
		}
		if len(changed) == 0 {
			changed = []Kept[Correction]{k}
		}
		whole = append(whole, changed...)
	}
	return whole, nil
}

// place is a row of a table.
type place struct {
	of  string
	row int64
}

// withAnotherKey returns what changed when a row was withdrawn because another one, with another key, took its place: the
// first one that came under the same line of the log, and has followed no other. It returns nothing if there is none.
func (v *View) withAnotherKey(t *table, enrolled row, k *Kept[Correction], followed map[place]bool) (all []Kept[Correction],
	err error) {
	if len(t.keyed.lasting) == 0 {
		return nil, nil
	}
	now, err := correctionsOf(v.ctx, v.q, t)
	if err != nil {
		return nil, err
	}
	now.overlay(enrolled)
	tail, args := "FROM "+t.name+" WHERE log = ?", []any{k.Line}
	for _, i := range t.keyed.lasting {
		tail, args = tail+" AND "+t.columns[i]+" = ?", append(args, enrolled[i])
	}
	found := false
	err = t.eachEnrolled(v.ctx, v.q, tail+" ORDER BY id", args, func(next row) error {
		at := place{t.name, next.whole(0)}
		if found || followed[at] {
			return nil
		}
		found, followed[at] = true, true
		for i := len(headColumns); i < len(t.columns); i++ {
			if !same(enrolled[i], next[i]) {
				c := k.Row
				c.Field, c.Was, c.Is = t.columns[i], enrolled[i], next[i]
				all = append(all, Kept[Correction]{c, k.Number, k.Line})
			}
		}
		return nil
	})
	return all, err
}

// asEnrolled returns a row as it was enrolled.
func (v *View) asEnrolled(t *table, number int64) (found row, err error) {
	err = t.eachEnrolled(v.ctx, v.q, "FROM "+t.name+" WHERE id = ?", []any{number}, func(r row) error {
		found = append(row(nil), r...)
		return nil
	})
	if err == nil && found == nil {
		err = &damage{table: t.name, row: number, fault: "it is missing, and it was corrected"}
	}
	return found, err
}
