package store

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// Deed is what the rows are about that came under one line of the log.
type Deed struct {
	Coupons     []string // each once, in their order
	Exports     int      // that were taken in, with the names of the first and the last
	First, Last string
	Given       []Kept[Given]
	Added       []Added
}

// Added is how many rows a table got.
type Added struct {
	Table string
	Rows  int64
}

// String writes it as "coupon 12".
func (a Added) String() string { return fmt.Sprintf("%s %d", a.Table, a.Rows) }

// deedReader reads what a line of the log did.
type deedReader struct {
	ctx   context.Context
	q     querier
	line  int64
	spans [len(tables)]span
}

// span is the rows of a table that may have come under a line of the log: those with numbers above the first one, up to
// the last one.
type span struct{ above, upTo int64 }

// Deed returns what a line of the log did. Like [View.Units] it does not check rows.
func (v *View) Deed(line int64) (*Deed, error) {
	d := deedReader{ctx: v.ctx, q: v.q, line: line}
	err := d.readSpans()
	if err != nil {
		return nil, v.refuse(err)
	}
	deed, err := d.deed()
	return deed, v.refuse(err)
}

// Deed returns what the transaction has done until now.
func (tx *Tx) Deed() (*Deed, error) {
	d := deedReader{ctx: tx.ctx, q: prepared{tx}, line: tx.log}
	for i := range d.spans {
		d.spans[i] = span{tx.before[i], math.MaxInt64}
	}
	deed, err := d.deed()
	if err != nil {
		return nil, tx.fail(err)
	}
	return deed, nil
}

// readSpans reads where the rows of the line stand in each table, as far as the log says it.
func (d *deedReader) readSpans() error {
	for i := range d.spans {
		d.spans[i].upTo = math.MaxInt64
	}
	return logTable.eachRow(d.ctx, d.q, "FROM log WHERE number IN (?, ?) ORDER BY number", []any{d.line - 1, d.line},
		func(r row) error {
			l, err := lineOf(r)
			if err != nil || !l.counted {
				return err
			}
			for i, n := range l.totals {
				if l.number < d.line {
					d.spans[i].above = n
				} else {
					d.spans[i].upTo = n
				}
			}
			return nil
		})
}

func (d *deedReader) deed() (*Deed, error) {
	deed := &Deed{}
	for _, t := range tables {
		n, err := d.count(t)
		if err == nil && n > 0 {
			deed.Added = append(deed.Added, Added{t.name, n})
			err = d.coupons(t, &deed.Coupons)
		}
		if err != nil {
			return nil, err
		}
	}
	slices.Sort(deed.Coupons)
	deed.Coupons = slices.Compact(deed.Coupons)
	err := d.exports(deed)
	if err == nil {
		deed.Given, err = givenWhere(d.ctx, d.q, givenUnder, d.line)
	}
	return deed, err
}

// inSpan selects the rows of the line.
const inSpan = " id > ? AND id <= ? AND log = ?"

// ask hands what a query finds, whose last condition is inSpan of t, to yield.
func (d *deedReader) ask(t *table, query string, yield func(row)) error {
	s := d.spans[t.index]
	return ask(d.ctx, d.q, query, []any{s.above, s.upTo, d.line}, func(r row) error {
		yield(r)
		return nil
	})
}

func (d *deedReader) count(t *table) (n int64, err error) {
	err = d.ask(t, "SELECT count(*) FROM "+t.name+" WHERE"+inSpan, func(r row) { n = r.whole(0) })
	return n, err
}

// coupons appends the coupons that the rows of a table are about.
func (d *deedReader) coupons(t *table, codes *[]string) error {
	query := ""
	switch {
	case slices.Contains(t.columns, "coupon"):
		query = "SELECT DISTINCT coupon FROM " + t.name + " WHERE" + inSpan
	case t == reviewTable.table || t == holdTable.table:
		query = "SELECT DISTINCT coupon FROM reading WHERE id IN (SELECT reading FROM " + t.name + " WHERE" + inSpan + ")"
	default:
		return nil
	}
	return d.ask(t, query, func(r row) {
		if code := r.text(0); code != "" {
			*codes = append(*codes, code)
		}
	})
}

// exports counts the exports that were taken in.
func (d *deedReader) exports(deed *Deed) error {
	var first, last int64
	err := d.ask(intakeTable.table, "SELECT count(*), min(id), max(id) FROM intake WHERE"+inSpan, func(r row) {
		deed.Exports, first, last = int(r.whole(0)), r.whole(1), r.whole(2)
	})
	if err != nil || deed.Exports == 0 {
		return err
	}
	if deed.First, err = d.nameOfIntake(first); err == nil {
		deed.Last, err = d.nameOfIntake(last)
	}
	return err
}

// nameOfIntake returns the name of the export that a row of intake is of.
func (d *deedReader) nameOfIntake(number int64) (string, error) {
	e, err := exportTable.one(d.ctx, d.q, "FROM export WHERE id = (SELECT export FROM intake WHERE id = ?)", number)
	if err == nil && e == nil {
		err = &damage{table: "intake", row: number, fault: "its export is missing"}
	}
	if err != nil {
		return "", err
	}
	return e.Row.Name, nil
}
