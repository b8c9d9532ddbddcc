// Package shown says how rows of a study are shown: in which columns, under which names, and in which
// words. Commands and pages take them from here, so that both say the same.
//
// A [List] is the columns of one kind of row. Each [Column] has a value for programs (CSV and JSON), a cell
// for people (a table), or both. Start with a list such as [Status], or make one of [Value] columns.
// Numbers in words have the decimal places of their uncertainty; NaN is "-".
package shown

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// Column is one column of a list of rows R.
type Column[R any] struct {
	Name string // in CSV and JSON, and where a person names columns
	Head string // what is above it in a table; empty: the name

	// Rank says when the column leaves a table that is too wide: the highest rank first, rank 1
	// never. Rank 0 is not shown unless a person names it.
	Rank int
	Fold int // the width in cells to which the column may be folded; 0: it is not folded

	States bool // its cells are states of spots, which have colours

	Value func(R) any    // in CSV and JSON: a text, words, a number, a boolean or nil; nil: it is of tables only
	Cell  func(R) string // in a table; nil: the value in words
}

// List is the columns of rows R. CSV and JSON have those with a value in their order;
// a table has those with a rank.
type List[R any] []Column[R]

// Value returns a column that a table shows only where a person names it.
func Value[R any](name string, value func(R) any) Column[R] {
	return Column[R]{Name: name, Value: value}
}

// Cell returns a column of the table only.
func Cell[R any](name string, rank int, head string, cell func(R) string) Column[R] {
	return Column[R]{Name: name, Rank: rank, Head: head, Cell: cell}
}

// Ranked makes the column one of the table, too.
func (c Column[R]) Ranked(rank int, head string, cell func(R) string) Column[R] {
	c.Rank, c.Head, c.Cell = rank, head, cell
	return c
}

// Folded lets the column be folded to so many cells.
func (c Column[R]) Folded(cells int) Column[R] {
	c.Fold = cells
	return c
}

// OfStates shows the column in the colours of states.
func (c Column[R]) OfStates() Column[R] {
	c.States = true
	return c
}

// Title is what is above the column in a table.
func (c *Column[R]) Title() string {
	if c.Head != "" {
		return c.Head
	}
	return c.Name
}

// Words is the cell of a row in a table.
func (c *Column[R]) Words(row R) string {
	if c.Cell != nil {
		return c.Cell(row)
	}
	return InWords(c.Value(row))
}

// Names are those of the columns that CSV and JSON, or with table a table, can show.
func (l List[R]) Names(table bool) (names []string) {
	for i := range l {
		if table || l[i].Value != nil {
			names = append(names, l[i].Name)
		}
	}
	return names
}

// Pick returns the columns of these names. It panics if one is not there.
func (l List[R]) Pick(names ...string) (picked List[R]) {
	for _, name := range names {
		i := slices.IndexFunc(l, func(c Column[R]) bool { return c.Name == name })
		if i < 0 {
			panic("shown: no column " + name)
		}
		picked = append(picked, l[i])
	}
	return picked
}

// Table returns the columns that a table shows by itself.
func (l List[R]) Table() (columns List[R]) {
	return slices.DeleteFunc(slices.Clone(l), func(c Column[R]) bool { return c.Rank == 0 })
}

// leastFolded is half of the cells to which a column that is named may be folded.
const leastFolded = 6

// Choose returns the columns that a format (table, csv or json) shows: those that are named, in their order, or
// if none is those that it shows by itself. A name that is not there is wrong usage.
func (l List[R]) Choose(format string, named []string) (List[R], error) {
	if len(named) == 0 {
		if format == "table" {
			return l.Table(), nil
		}
		return slices.DeleteFunc(slices.Clone(l), func(c Column[R]) bool { return c.Value == nil }), nil
	}
	var chosen List[R]
	for _, name := range named {
		i := slices.IndexFunc(l, func(c Column[R]) bool { return c.Name == name })
		switch {
		case i < 0:
			return nil, &desk.UsageError{Fault: fmt.Sprintf("there is no column %q", name), Try: study.DidYouMean(name,
				l.Names(format == "table"), "use a name from the first line of --format csv")}
		case l[i].Value == nil && format != "table":
			return nil, &desk.UsageError{Fault: fmt.Sprintf("column %q exists only in the table, not in --format %s", name,
				format), Try: "leave it out, or use --format table"}
		}
		c := l[i]
		c.Rank, c.Fold = 1, max(c.Fold, 2*leastFolded)
		if slices.ContainsFunc(chosen, func(o Column[R]) bool { return o.Title() == c.Title() }) {
			c.Head = c.Name
		}
		chosen = append(chosen, c)
	}
	return chosen, nil
}

// InWords is a value for programs as a table shows it.
func InWords(value any) string {
	switch v := value.(type) {
	case nil:
		return "-"
	case float64:
		return fmt.Sprintf("%.6g", v)
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case []string:
		return strings.Join(v, " ")
	}
	return Dash(fmt.Sprint(value))
}
