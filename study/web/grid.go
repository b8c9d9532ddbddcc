package web

import (
	"html/template"
	"io"
	"slices"
	"strings"

	"wane/study"
	"wane/study/shown"
)

// grid is a table on a page.
type grid struct {
	Caption string
	Heads   []gridHead
	Rows    [][]gridCell
	Empty   []string // columns that are not shown, since no row has anything in them
}

type gridHead struct {
	Text   string
	Number bool   // its cells are numbers
	Class  string // how wide a window must be to show the column: by its rank, as a terminal
}

type gridCell struct {
	Text, At string // At: where it leads; empty: nowhere
	State    string // the class of a state of a spot; empty: it is none
	Head     *gridHead
}

// Class says how a cell is set.
func (c *gridCell) Class() string {
	class := c.Head.Class
	if c.Head.Number {
		class += " number"
	} else if len(c.Text) <= shortText {
		class += " short"
	}
	if isNone(c.Text) {
		class += " none"
	}
	return strings.TrimSpace(class)
}

// Said is the text of a cell. A cell is a paragraph of its own, so that letters, digits and signs of numbers need no mark
// of their direction: a large table is half as many elements without them.
func (c *gridCell) Said() template.HTML {
	plain := strings.IndexFunc(c.Text, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(" .,-+±%/_°", r))
	}) < 0
	if plain {
		return template.HTML(c.Text)
	}
	return say(c.Text)
}

// shortText is how long a text may be that is not broken, in bytes.
const shortText = 18

// isNone reports whether a cell says nothing.
func isNone(text string) bool { return text == "" || text == "-" }

// gridOf is a table of rows in the columns that a table of the commands has. link says where the cell of a column
// leads; nil: nowhere.
func gridOf[R any](caption string, columns shown.List[R], rows []R, link func(name string, row R) string) *grid {
	g := &grid{Caption: caption, Rows: make([][]gridCell, len(rows))}
	columns = slices.DeleteFunc(slices.Clone(columns), func(c shown.Column[R]) bool {
		empty := len(rows) > 0 && !slices.ContainsFunc(rows, func(r R) bool { return !isNone(c.Words(r)) })
		if empty {
			g.Empty = append(g.Empty, c.Title())
		}
		return empty
	})
	g.Heads = make([]gridHead, len(columns))
	for i := range columns {
		g.Heads[i].Text, g.Heads[i].Class = columns[i].Title(), rankClass(columns[i].Rank)
	}
	for k, row := range rows {
		g.Rows[k] = make([]gridCell, len(columns))
		for i := range columns {
			c := &columns[i]
			cell := gridCell{Text: c.Words(row), Head: &g.Heads[i]}
			if c.States {
				cell.State = stateClass(cell.Text)
			}
			if link != nil {
				cell.At = link(c.Name, row)
			}
			if c.Value != nil {
				if _, isNumber := c.Value(row).(float64); isNumber {
					g.Heads[i].Number = true
				}
			}
			g.Rows[k][i] = cell
		}
	}
	return g
}

// rankClass is the class of a column that leaves a narrow window.
func rankClass(rank int) string {
	switch {
	case rank >= 6:
		return "rank-6"
	case rank >= 4:
		return "rank-4"
	}
	return ""
}

// stateClass is the class of a word that says how something stands.
func stateClass(word string) string {
	switch {
	case slices.Contains(study.States(), study.State(word)):
		return "state-" + word
	case word == shown.Trusted:
		return "state-good"
	case word == shown.NotToTrust:
		return "state-bad"
	}
	return ""
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
