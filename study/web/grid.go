package web

import (
	"io"
	"slices"

	"wane/study/shown"
)

// grid is a table on a page.
type grid struct {
	Caption string
	Heads   []gridHead
	Rows    [][]gridCell
}

type gridHead struct {
	Text   string
	Number bool // its cells are numbers
}

type gridCell struct {
	Text, At string // At: where it leads; empty: nowhere
	State    bool   // it is a state of a spot
	Head     *gridHead
}

// gridOf is a table of rows in the columns that a table of the commands has. link says where the cell of a column leads;
// nil: nowhere.
func gridOf[R any](caption string, columns shown.List[R], rows []R, link func(name string, row R) string) *grid {
	g := &grid{Caption: caption, Heads: make([]gridHead, len(columns)), Rows: make([][]gridCell, len(rows))}
	for i := range columns {
		g.Heads[i].Text = columns[i].Title()
	}
	for k, row := range rows {
		cells := make([]gridCell, len(columns))
		for i := range columns {
			c := &columns[i]
			cells[i] = gridCell{Text: c.Words(row), State: c.States, Head: &g.Heads[i]}
			if link != nil {
				cells[i].At = link(c.Name, row)
			}
			if c.Value != nil {
				if _, isNumber := c.Value(row).(float64); isNumber {
					g.Heads[i].Number = true
				}
			}
		}
		g.Rows[k] = cells
	}
	return g
}

// rowsFile writes rows as the commands do, in all columns that programs get.
func rowsFile[R any](columns shown.List[R], rows []R) func(io.Writer, string) error {
	return func(w io.Writer, format string) error {
		own := slices.DeleteFunc(slices.Clone(columns), func(c shown.Column[R]) bool { return c.Value == nil })
		out := shown.NewRecords(w, format, own.Names(false))
		for _, row := range rows {
			cells := make([]any, len(own))
			for i := range own {
				cells[i] = own[i].Value(row)
			}
			if err := out.Write(cells...); err != nil {
				return err
			}
		}
		return out.Close()
	}
}

// countWords writes a number of things.
func countWords(n int, thing string) string { return shown.Count(n, thing) }
