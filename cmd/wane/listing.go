package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
)

// column is one column of a listing of rows R.
type column[R any] struct {
	tableColumn
	value func(R) any    // in CSV and JSON: a text, words, a number, a boolean or nil; nil: it is of tables only
	cell  func(R) string // in a table; nil: the value in words
}

// listing is the columns of rows R. CSV and JSON have those with a value in their order;
// a table has those with a rank.
type listing[R any] []column[R]

// valueColumn is a column that a table shows only where --columns names it.
func valueColumn[R any](name string, value func(R) any) column[R] {
	return column[R]{tableColumn: tableColumn{name: name}, value: value}
}

// ranked makes the column one of the table, too.
func (c column[R]) ranked(rank int, head string, cell func(R) string) column[R] {
	c.rank, c.head, c.cell = rank, head, cell
	return c
}

// folded lets the column be folded to so many cells.
func (c column[R]) folded(cells int) column[R] {
	c.fold = cells
	return c
}

// painted shows the column in the colours of states.
func (c column[R]) painted() column[R] {
	c.paint = stateColour
	return c
}

// words is the cell of a row in a table.
func (c *column[R]) words(row R) string {
	if c.cell != nil {
		return c.cell(row)
	}
	return inWords(c.value(row))
}

// cellColumn is a column of the table only.
func cellColumn[R any](name string, rank int, head string, cell func(R) string) column[R] {
	return column[R]{tableColumn: tableColumn{name: name, rank: rank, head: head}, cell: cell}
}

// names are those of the columns that CSV and JSON, or with table a table, can show.
func (l listing[R]) names(table bool) (names []string) {
	for i := range l {
		if table || l[i].value != nil {
			names = append(names, l[i].name)
		}
	}
	return names
}

// pick returns the columns of these names.
func (l listing[R]) pick(names ...string) (picked listing[R]) {
	for _, name := range names {
		i := slices.IndexFunc(l, func(c column[R]) bool { return c.name == name })
		if i < 0 {
			panic("listing: no column " + name)
		}
		picked = append(picked, l[i])
	}
	return picked
}

// choose returns the columns that a format shows: those that are named, in their order, or if
// none is those that it shows by itself.
func (l listing[R]) choose(format string, named []string) (listing[R], error) {
	var chosen listing[R]
	if len(named) == 0 {
		for _, c := range l {
			if format == "table" && c.rank > 0 || format != "table" && c.value != nil {
				chosen = append(chosen, c)
			}
		}
		return chosen, nil
	}
	for _, name := range named {
		i := slices.IndexFunc(l, func(c column[R]) bool { return c.name == name })
		switch {
		case i < 0:
			return nil, usagef(study.DidYouMean(name, l.names(format == "table"),
				"use a name from the first line of --format csv"),
				"there is no column %q", name)
		case l[i].value == nil && format != "table":
			return nil, usagef("leave it out, or use --format table",
				"column %[2]q exists only in the table, not in --format %[1]s", format, name)
		}
		c := l[i]
		c.rank, c.fold = 1, max(c.fold, 2*leastFolded)
		if slices.ContainsFunc(chosen, func(o column[R]) bool { return o.title() == c.title() }) {
			c.head = c.name
		}
		chosen = append(chosen, c)
	}
	return chosen, nil
}

// rowsOf prints rows R.
type rowsOf[R any] struct {
	columns listing[R]
	table   *tableWriter
	records *records // for programs
}

// open begins a listing of chosen columns.
func (l listing[R]) open(p page, format string) *rowsOf[R] {
	out := &rowsOf[R]{columns: l}
	if format != "table" {
		out.records = newRecords(p, format, l.names(false))
		return out
	}
	columns := make([]tableColumn, len(l))
	for i := range l {
		columns[i] = l[i].tableColumn
	}
	out.table = newTable(p, columns...)
	out.table.remedy = "see them with --columns NAME,..., in a wider terminal or with --format csv"
	return out
}

func (o *rowsOf[R]) write(row R) error {
	if o.records != nil {
		cells := make([]any, len(o.columns))
		for i := range o.columns {
			cells[i] = o.columns[i].value(row)
		}
		return o.records.write(cells...)
	}
	cells := make([]string, len(o.columns))
	for i := range o.columns {
		cells[i] = o.columns[i].words(row)
	}
	return o.table.row(cells...)
}

func (o *rowsOf[R]) end() error {
	if o.records != nil {
		return o.records.end()
	}
	return o.table.end()
}

// inWords is a value for programs as a table shows it.
func inWords(value any) string {
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
	return dash(fmt.Sprint(value))
}

// listOptions are the flags of every listing.
type listOptions struct {
	format  string
	columns string
	named   []string // of columns
}

// bindListing binds --format and --columns to a command that lists rows of l, and lets its
// help say which columns leave a narrow terminal.
func bindListing[R any](cmd *cobra.Command, o *listOptions, l listing[R]) {
	bindFormat(cmd, &o.format)
	cmd.Flags().StringVar(&o.columns, "columns", "", "only these columns, in this order: NAME,...")
	completeLists(cmd, "columns", func() []string { return l.names(o.format == "table") })
}

// check reads the flags.
func (o *listOptions) check(cmd *cobra.Command) error {
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	o.named = nil
	if !cmd.Flags().Changed("columns") {
		return nil
	}
	for name := range strings.SplitSeq(o.columns, ",") {
		if name = strings.TrimSpace(name); name == "" {
			return usagef("name columns, separated by commas: --columns coupon,pull",
				"--columns %q has an empty name", o.columns)
		}
		if slices.Contains(o.named, name) {
			return usagef("name it once", "--columns names %q twice", name)
		}
		o.named = append(o.named, name)
	}
	return nil
}

// columnsHelp says how a table of l fits a terminal.
func columnsHelp[R any](l listing[R]) string {
	order := slices.DeleteFunc(slices.Clone(l), func(c column[R]) bool { return c.rank < 2 })
	slices.Reverse(order)
	slices.SortStableFunc(order, func(a, b column[R]) int { return b.rank - a.rank })
	var leave, tables []string
	for _, c := range order {
		leave = append(leave, c.name)
	}
	for _, c := range l {
		if c.value == nil {
			tables = append(tables, c.name)
		}
	}
	help := "If a table is too wide for the terminal, long cells are folded, and then columns are dropped in this " +
		"order: " +
		strings.Join(leave, ", ") + "; a note below the table names them. --columns NAME,... shows the columns that you " +
		"name, in your order, in every format. The names are those in the first line of --format csv"
	if len(tables) > 0 {
		help += "; in a table also " + strings.Join(tables, ", ")
	}
	return "\n" + wrapped(help+".", helpWidth) + "\n"
}

// helpWidth is the width of the texts of help.
const helpWidth = 86

// writeLine prints a line below a table.
func writeLine(w io.Writer, line string) error {
	_, err := fmt.Fprintln(w, line)
	return err
}

// writeLines is writeLine for each line that is not empty.
func writeLines(w io.Writer, lines ...string) error {
	for _, line := range lines {
		if line == "" {
			continue
		}
		if err := writeLine(w, line); err != nil {
			return err
		}
	}
	return nil
}
