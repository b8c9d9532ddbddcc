package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"strings"
)

// totals are the numbers of rows of all tables but the log.
type totals [len(tables)]int64

// String writes those that are not 0 as "study=1 exposure=2 ...".
func (c totals) String() string {
	var words []string
	for _, t := range tables {
		if n := c[t.index]; n > 0 {
			words = append(words, t.name+"="+strconv.FormatInt(n, 10))
		}
	}
	return strings.Join(words, " ")
}

func (c totals) sum() (all int64) {
	for _, n := range c {
		all += n
	}
	return all
}

// totalsOf reads what a line of the log says.
func totalsOf(number int64, text string) (c totals, err error) {
	for _, word := range strings.Fields(text) {
		name, value, _ := strings.Cut(word, "=")
		n, err := strconv.ParseInt(value, 10, 64)
		known := false
		for _, t := range tables {
			if t.name == name {
				c[t.index], known = n, true
			}
		}
		if err != nil || !known {
			return c, &damage{table: "log", row: number, fault: fmt.Sprintf("%q counts no table", word)}
		}
	}
	return c, nil
}

// CountRows returns how many rows all tables have, and how many of them are readings, current or not.
func (v *View) CountRows() (all, readings int64, err error) {
	found, err := checkTotals(v.ctx, v.q)
	if err != nil {
		return 0, 0, v.refuse(err)
	}
	last, err := lastLine(v.ctx, v.q)
	return found.sum() + last.number, found[readingTable.index], v.refuse(err)
}

// checkTotals compares how many rows the tables have with what the log says: no row is
// missing, and none is there that no line accounts for. Of tables that grow it reads no
// rows, only their indexes: with 900,000 readings of 225,000 exports it takes 12 ms.
func checkTotals(ctx context.Context, q querier) (found totals, err error) {
	last, err := lastLine(ctx, q)
	if err != nil {
		return found, err
	}
	lines, err := countOf(ctx, q, logTable.name)
	if err == nil && lines != last.number {
		err = &damage{table: "log", row: 0,
			fault: fmt.Sprintf("%d lines are there, numbered up to %d", lines, last.number)}
	}
	if err != nil {
		return found, err
	}
	for _, t := range tables {
		n, err := countOf(ctx, q, t.name)
		if err != nil {
			return found, err
		}
		highest, err := lastNumber(ctx, q, t)
		if err != nil {
			return found, err
		}
		found[t.index] = n
		if last.counted && n != last.totals[t.index] {
			return found, &damage{table: t.name, row: 0,
				fault: fmt.Sprintf("the log counts %d rows, %d are there", last.totals[t.index], n)}
		}
		if n != highest {
			return found, &damage{table: t.name, row: 0,
				fault: fmt.Sprintf("%d rows are there, numbered up to %d", n, highest)}
		}
	}
	if last.counted {
		return found, nil
	}
	// No line was written since the log began to count: all lines together say it.
	sum, err := number(ctx, q, "SELECT coalesce(sum(rows), 0) FROM log")
	if err == nil && sum != found.sum() {
		err = &damage{table: "log", row: 0,
			fault: fmt.Sprintf("it counts %d rows in all, %d are there", sum, found.sum())}
	}
	return found, err
}

func countOf(ctx context.Context, q querier, table string) (int64, error) {
	return number(ctx, q, "SELECT count(*) FROM "+table)
}

// lastNumber returns the number of the last row of t, 0 if it is empty.
func lastNumber(ctx context.Context, q querier, t *table) (int64, error) {
	return number(ctx, q, fmt.Sprintf("SELECT coalesce(max(%s), 0) FROM %s", t.columns[0], t.name))
}

// number returns the one number that a query finds.
func number(ctx context.Context, q querier, query string) (n int64, err error) {
	rows, err := q.QueryContext(ctx, query)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	if !rows.Next() {
		return 0, firstError(rows.Err(), sql.ErrNoRows)
	}
	return n, rows.Scan(&n)
}

// count makes sure, once for each time that a study is opened, that it is complete.
func (s *Store) count(ctx context.Context, q querier) error {
	if s.counted.Load() {
		return nil
	}
	if _, err := checkTotals(ctx, q); err != nil {
		return err
	}
	s.counted.Store(true)
	return nil
}

// Complete makes sure that no row is missing of those that the history counts. That one is
// is a [*study.Failure].
func (s *Store) Complete(ctx context.Context) error {
	return s.snapshot(ctx, func(q *sql.Tx) error { return s.count(ctx, q) })
}
