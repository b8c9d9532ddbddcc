package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// rowsOf prints rows R.
type rowsOf[R any] struct {
	columns listing[R]
	table   *tableWriter
	records *records // for programs
}

// open begins a listing of chosen columns.
func openRows[R any](l listing[R], p page, format string) *rowsOf[R] {
	out := &rowsOf[R]{columns: l}
	if format != "table" {
		out.records = newRecords(p, format, l.Names(false))
		return out
	}
	columns := make([]tableColumn, len(l))
	for i := range l {
		columns[i] = tableColumn{name: l[i].Name, head: l[i].Head, rank: l[i].Rank, fold: l[i].Fold}
		if l[i].States {
			columns[i].paint = stateColour
		}
	}
	out.table = newTable(p, columns...)
	out.table.remedy = "see them with --columns NAME,..., in a wider terminal or with --format csv"
	return out
}

func (o *rowsOf[R]) write(row R) error {
	if o.records != nil {
		cells := make([]any, len(o.columns))
		for i := range o.columns {
			cells[i] = o.columns[i].Value(row)
		}
		return o.records.Write(cells...)
	}
	cells := make([]string, len(o.columns))
	for i := range o.columns {
		cells[i] = o.columns[i].Words(row)
	}
	return o.table.row(cells...)
}

func (o *rowsOf[R]) end() error {
	if o.records != nil {
		return o.records.Close()
	}
	return o.table.end()
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
	completeLists(cmd, "columns", func() []string { return l.Names(o.format == "table") })
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
	order := slices.DeleteFunc(slices.Clone(l), func(c column[R]) bool { return c.Rank < 2 })
	slices.Reverse(order)
	slices.SortStableFunc(order, func(a, b column[R]) int { return b.Rank - a.Rank })
	var leave, tables []string
	for _, c := range order {
		leave = append(leave, c.Name)
	}
	for _, c := range l {
		if c.Value == nil {
			tables = append(tables, c.Name)
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
