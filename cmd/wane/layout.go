package main

import (
	"bufio"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	pretty "github.com/jedib0t/go-pretty/v6/text"

	"wane/study"
)

// tableColumn is a column of a table for people.
type tableColumn struct {
	name string // for notes and --columns
	head string // what is above it; empty: the name

	// rank says when the column leaves a table that is too wide: the highest rank first, rank 1
	// never. Rank 0 is not shown unless --columns names it.
	rank int
	// paint says in which colour a cell is shown, on a screen that has colour; nil: in none.
	paint func(cell string) pretty.Color
	// fold is the width in cells to which the column may be folded; 0: it is not folded.
	fold int
}

func (c *tableColumn) title() string {
	if c.head != "" {
		return c.head
	}
	return c.name
}

const (
	columnGap   = 2   // spaces between columns
	leastFolded = 6   // cells that a column keeps where even the columns of rank 1 are too wide
	tableBlock  = 500 // rows that are laid out together
)

// tableWriter lays out rows of cells in columns, a block of rows at a time, each under the
// heads: so that a listing of any length streams. A table that is wider than the page is
// folded first; then columns leave it in the order of their ranks, and a note below says which.
type tableWriter struct {
	page    page
	out     *bufio.Writer
	indent  string
	remedy  string // how to see the columns that left the table
	columns []tableColumn
	cells   []string // of the block, row after row
	kept    []int    // the columns that are shown; nil before the first block
}

// tableRemedy says how to see the columns that left a table of one kind.
const tableRemedy = "see them in a wider terminal or with --format csv"

func newTable(p page, columns ...tableColumn) *tableWriter {
	return &tableWriter{
		page: p, out: bufio.NewWriter(p), columns: columns,
		remedy: tableRemedy,
	}
}

// foldedTable is a table in which no column has a name for --columns and all may be folded.
func foldedTable(p page, indent string, heads ...string) *tableWriter {
	columns := make([]tableColumn, len(heads))
	for i, h := range heads {
		columns[i] = tableColumn{head: h, rank: 1, fold: 2 * leastFolded}
	}
	t := newTable(p, columns...)
	t.indent = indent
	return t
}

// row adds a row of as many cells as there are columns. A cell that would hide something is
// quoted.
func (t *tableWriter) row(cells ...string) error {
	if len(cells) != len(t.columns) {
		panic("tableWriter: as many cells as columns")
	}
	for _, cell := range cells {
		t.cells = append(t.cells, study.Shown(cell))
	}
	if len(t.cells) < tableBlock*len(t.columns) {
		return nil
	}
	return t.block()
}

// end writes the rows that are left, and the note on columns that left the table.
func (t *tableWriter) end() error {
	if err := t.block(); err != nil {
		return err
	}
	if hidden := t.hidden(); len(hidden) > 0 {
		note := fmt.Sprintf("not shown in %d columns: %s; %s", t.page.width, strings.Join(hidden, ", "), t.remedy)
		for line := range strings.SplitSeq(wrapped(note, t.page.width-len(t.indent)), "\n") {
			fmt.Fprintln(t.out, t.indent+line)
		}
	}
	return t.out.Flush()
}

// hidden names the columns that left the table.
func (t *tableWriter) hidden() (names []string) {
	for i := range t.columns {
		if c := &t.columns[i]; t.kept != nil && !slices.Contains(t.kept, i) {
			names = append(names, cmp.Or(c.name, c.head))
		}
	}
	return names
}

// block lays out the rows that are there.
func (t *tableWriter) block() error {
	n := len(t.columns)
	if len(t.cells) == 0 {
		return nil
	}
	need := make([]need, n)
	for i, cell := range t.cells {
		need[i%n].add(cell)
	}
	room := t.page.width - len(t.indent)
	if t.page.width == 0 {
		room = 0
	}
	kept, folded := fitColumns(t.columns, t.kept, need, room)
	t.kept = kept
	w := table.NewWriter()
	w.SetStyle(plainStyle())
	pick := func(cell func(int) string) table.Row {
		row := make(table.Row, len(kept))
		for k, i := range kept {
			row[k] = cell(i)
		}
		return row
	}
	w.AppendHeader(pick(func(i int) string { return t.columns[i].title() }))
	for ; len(t.cells) > 0; t.cells = t.cells[n:] {
		w.AppendRow(pick(func(i int) string { return t.cells[i] }))
	}
	configs := make([]table.ColumnConfig, len(kept))
	for k := range kept {
		configs[k] = table.ColumnConfig{Number: k + 1, WidthMax: folded[k], WidthMaxEnforcer: pretty.WrapSoft}
		if of := t.columns[kept[k]].paint; of != nil && t.page.colour {
			configs[k].Transformer = func(cell any) string { return painted(fmt.Sprint(cell), of(fmt.Sprint(cell))) }
		}
	}
	w.SetColumnConfigs(configs)
	for line := range strings.SplitSeq(w.Render(), "\n") {
		if _, err := fmt.Fprintln(t.out, strings.TrimRight(t.indent+line, " ")); err != nil {
			return err
		}
	}
	t.cells = nil
	return t.out.Flush()
}

// plainStyle separates columns by spaces and nothing else.
func plainStyle() table.Style {
	return table.Style{
		Name:    "plain",
		Box:     table.BoxStyle{PaddingRight: strings.Repeat(" ", columnGap)},
		Options: table.OptionsNoBordersAndSeparators,
	}
}

// cellWidth is the width of a text in the cells of a terminal: 2 for a wide character, 0 for
// one that combines with the one before it.
func cellWidth(s string) int { return pretty.StringWidthWithoutEscSequences(s) }

// need is how many cells a column needs: whole for its widest text, and number for its widest
// number, which is never broken.
type need struct{ whole, number int }

func (n *need) add(text string) {
	n.whole = max(n.whole, cellWidth(text))
	for word := range strings.FieldsSeq(text) {
		if strings.Trim(word, "0123456789.,;+-e°") == "" {
			n.number = max(n.number, len(word))
		}
	}
}

// fitColumns chooses among columns those that fit room, and says how wide each of these may
// be; room 0 is any. kept are the columns that are left from blocks before, nil in the first.
func fitColumns(columns []tableColumn, kept []int, need []need, room int) (fit, folded []int) {
	if kept == nil {
		for i := range columns {
			kept = append(kept, i)
		}
	}
	kept = slices.Clone(kept)
	natural := func(i int) int { return max(need[i].whole, cellWidth(columns[i].title())) }
	least := func(i int) int {
		body := need[i].whole
		if fold := columns[i].fold; fold > 0 {
			body = min(body, max(fold, need[i].number))
		}
		return max(body, longestWord(columns[i].title()))
	}
	for room > 0 && sum(kept, least) > room {
		i := firstToLeave(columns, kept)
		if i < 0 {
			least = func(i int) int { return min(natural(i), max(leastFolded, need[i].number)) }
			break
		}
		kept = slices.Delete(kept, i, i+1)
	}
	folded = make([]int, len(kept))
	for k, i := range kept {
		folded[k] = natural(i)
	}
	for total := sum(kept, natural); room > 0 && total > room; total-- {
		widest := -1
		for k, i := range kept {
			if folded[k] > least(i) && (widest < 0 || folded[k] > folded[widest]) {
				widest = k
			}
		}
		if widest < 0 {
			break
		}
		folded[widest]--
	}
	return kept, folded
}

// sum is the width of a line of columns.
func sum(columns []int, width func(int) int) int {
	total := -columnGap
	for _, i := range columns {
		total += width(i) + columnGap
	}
	return total
}

// firstToLeave returns the place in kept of the column of the highest rank, the last of these;
// -1 if all must stay.
func firstToLeave(columns []tableColumn, kept []int) int {
	first := -1
	for k, i := range kept {
		if rank := columns[i].rank; rank > 1 && (first < 0 || rank >= columns[kept[first]].rank) {
			first = k
		}
	}
	return first
}

// wrapped breaks a text into lines of at most width cells.
func wrapped(s string, width int) string {
	lines := strings.Split(pretty.WrapSoft(s, width), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}

func longestWord(s string) int {
	longest := 0
	for _, word := range strings.Fields(s) {
		longest = max(longest, cellWidth(word))
	}
	return longest
}
