package intake

import (
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// Long form: one point per row, with names that distinguish the curves.

// askGroups asks to confirm the columns that tell the curves of a long form
// apart.
func (r grid) askGroups(n named) error {
	before, err := r.outside(0, n.start, 1)
	if err != nil {
		return err
	}
	h, _, err := r.findHeading(before, n.cells)
	if err != nil {
		return err
	}
	words := make([]bool, n.cells)
	for l := range r.rows() {
		for j, kind := range r.dialect.kindsOfCells(nil, l.Text)[:n.cells] { // all have as many, or empty ones behind
			words[j] = words[j] || kind == word
		}
	}
	x := slices.IndexFunc(h.labels, heading.Label.IsX)
	if x < 0 {
		x = n.cells - 2
	}
	var groups []int
	for j := range words {
		if words[j] || j < x && h.labels[j].Role != heading.AsIndex {
			groups = append(groups, j+1)
		}
	}
	return r.Question(text.Position{Line: n.line}, []study.Choice{groupBy(groups, h)},
		"export each curve in columns of its own",
		"the rows begin with a name: each may be one point of one of several curves")
}

func groupBy(groups []int, h labelRow) study.Choice {
	var names []string
	for _, g := range groups {
		name := fmt.Sprintf("column %d", g)
		if text := h.labels[g-1].Text; text != "" {
			name += " (" + text + ")"
		}
		if names = append(names, name); len(names) == text.MostListed && len(groups) > text.MostListed {
			names = append(names, text.Count(len(groups)-text.MostListed, "more column"))
			break
		}
	}
	return study.Choice{Name: "group-by", Value: listOf(groups),
		Meaning: "the curves are distinguished by " + text.Joined(names, "and")}
}

// groupChoice offers to read rows of numbers as a long form if a column before
// the wavelengths changes where these go back, from row last to row i.
func (r located) groupChoice(t table, x, i, last int) []study.Choice {
	if r.locate != nil || x == 0 {
		return nil
	}
	var groups []int
	changes := false
	for j := range x {
		groups = append(groups, j+1)
		changes = changes || t.column(j)[i] != t.column(j)[last]
	}
	if !changes {
		return nil
	}
	return []study.Choice{{Name: "group-by", Value: listOf(groups),
		Meaning: "the curves are distinguished by the columns before the wavelengths"}}
}

// pointRows is what the rows of a long form hold.
type pointRows struct {
	named
	x      int
	values []int
	of     []int32 // the group of each row
	counts []int   // rows of each group
	names  [][]textCell
	lines  []text.Span // of each group
}

// pointsForm is one point per row.
type pointsForm struct {
	grid
	rows pointRows // without what the headings say
}

// inPoints finds a long form by the columns that a person states.
func (r section) inPoints() (form, grid, error) {
	var l pointRows
	for _, d := range r.namedDialects() {
		if n := r.longestRun(d, r.isPoint); n.rows > l.rows {
			l.named = n
		}
	}
	if l.rows == 0 {
		return nil, grid{section: r}, r.Refuse(text.Nowhere, "leave --group-by out, or correct it",
			"no rows contain numbers in the columns besides %s", text.CutList(listOf(r.want.GroupBy)))
	}
	for _, g := range r.want.GroupBy {
		l.groups = append(l.groups, g-1)
	}
	g := r.gridOf(l.named)
	return pointsForm{g, l}, g, nil
}

func (r *asker) isPoint(kinds []cellKind) bool { return isPointRow(kinds, r.want.GroupBy) }

func (r pointsForm) surroundings() (surroundings, error) { return r.around(r.rows.named, r.isPoint) }

func (r pointsForm) headings(s surroundings) (headings, error) {
	l := r.rows
	h, rest, err := r.findHeading(s.before, l.cells)
	if err != nil {
		return headings{}, err
	}
	stated, err := r.readHeader(rest)
	if err != nil {
		return headings{}, err
	}
	if err := r.findPointColumns(&l, h); err != nil {
		return headings{}, err
	}
	head, kinds := r.labelPoints(&l, h)
	return headings{around: s, labelRow: head, stated: stated, kinds: kinds, points: l}, nil
}

func (r pointsForm) plan(h headings) (plan, error) {
	p, err := r.planColumns(h.labelRow, h.stated, h.kinds)
	if err != nil {
		return p, err
	}
	p.byRow = true
	p.lines = make(map[int]text.Span, len(p.curves))
	for i := range p.curves {
		p.curves[i].number = i + 2
		p.lines[i+2] = h.points.lines[p.curves[i].column/(1+len(h.points.values))]
	}
	return p, nil
}

func (r pointsForm) table(h headings, l layout) (table, error) { return r.readPoints(&h.points, l) }

func (r pointsForm) located(h headings) located {
	return located{grid: r.grid, locate: h.points.locate}
}

// isPointRow reports whether every cell but those of the names holds a number or
// is missing, and two at least a number.
func isPointRow(kinds []cellKind, groupBy []int) bool {
	if len(kinds) < len(groupBy)+2 || slices.Max(groupBy) > len(kinds) {
		return false
	}
	numbers := 0
	for j, kind := range kinds {
		switch {
		case slices.Contains(groupBy, j+1):
		case kind == word:
			return false
		case kind > missing:
			numbers++
		}
	}
	return numbers >= 1
}

// findPointColumns finds the columns and counts the rows of each curve.
func (r grid) findPointColumns(l *pointRows, h labelRow) error {
	l.x = -1
	for j := range l.cells {
		isGroup := slices.Contains(l.groups, j)
		isX := r.want.Axis == j+1 || r.want.Axis == 0 && h.labels[j].IsX()
		switch {
		case isGroup && isX:
			return r.Refuse(text.Nowhere, "leave the column out of --group-by", "column %d contains wavelengths", j+1)
		case isX && l.x < 0:
			l.x = j
		case isGroup || h.labels[j].Role == heading.AsIndex:
		default:
			l.values = append(l.values, j)
		}
	}
	if l.x < 0 && len(l.values) > 0 {
		l.x, l.values = l.values[0], l.values[1:]
	}
	if len(l.values) == 0 {
		return r.Refuse(text.Nowhere, "leave a column of values out of --group-by", "no column of values remains")
	}
	return r.countGroups(l)
}

// countGroups counts the rows of each curve.
func (r grid) countGroups(l *pointRows) error {
	if l.rows > maxNumbers/2 || l.cells > text.MaxColumns {
		return r.Refuse(text.Position{Line: l.line}, "export fewer spectra into one file",
			"%s of %s are more than one export may contain", text.Count(l.rows, "row"), text.Count(l.cells, "cell"))
	}
	l.of = make([]int32, 0, l.rows)
	known := map[string]int32{}
	var key []byte
	for ln := range r.rows() {
		key = l.key(key[:0], ln.Text)
		g, ok := known[string(key)]
		if !ok {
			g = int32(len(known))
			known[string(key)] = g
			l.counts, l.lines = append(l.counts, 0), append(l.lines, text.Span{First: ln.Number})
			cells := r.textCells(r.dialect, ln.Text, l.cells)
			var names []textCell
			for _, j := range l.groups {
				names = append(names, cells[j])
			}
			l.names = append(l.names, names)
		}
		if len(known) > text.MaxColumns/(1+len(l.values)) {
			return r.Refuse(text.Position{Line: ln.Number}, "state other columns with --group-by, or cut the file",
				"the rows make more than %s curves", text.Figure(float64(len(known)-1)))
		}
		l.of = append(l.of, g)
		l.counts[g]++
		l.lines[g].Last = ln.Number
	}
	rows := slices.Max(l.counts)
	if rows == 1 {
		return r.Refuse(text.Position{Line: l.line}, "state other columns with --group-by",
			"each curve has one row: one point is not a spectrum")
	}
	if width := len(l.counts) * (1 + len(l.values)); rows > maxNumbers/width {
		return r.Refuse(text.Position{Line: l.line}, "export fewer spectra into one file",
			"%s with up to %s are more than one export may contain",
			text.Count(len(l.counts), "curve"), text.Count(rows, "point"))
	}
	return nil
}

// key appends the names of a row.
func (l *pointRows) key(key, content []byte) []byte {
	row, _ := l.dialect.trim(content)
	at := 0
	for j := range l.cells {
		c := l.dialect.next(row, at, 0)
		if slices.Contains(l.groups, j) {
			key = append(append(key, trimCell(row[at:c.end], l.dialect.sep)...), 0)
		}
		at = c.end + 1
	}
	return key
}

// labelPoints makes headings: for each curve its wavelengths and its values.
func (r grid) labelPoints(l *pointRows, h labelRow) (labelRow, []cellKind) {
	kinds := r.kindsOf(l.cells)
	head := labelRow{line: h.line, pairs: true}
	var groupHeads []heading.Label
	for _, j := range l.groups {
		groupHeads = append(groupHeads, h.labels[j])
	}
	byValue := make([][]heading.Label, len(l.values))
	for v, j := range l.values {
		byValue[v] = labelsOf(groupHeads, l.names, h.labels[j].Text)
		if plain := h.labels[j]; plain.Unit != "" || plain.Role != heading.AsValue {
			for i := range byValue[v] {
				byValue[v][i].Unit, byValue[v][i].Role = plain.Unit, plain.Role
			}
		}
	}
	x := h.labels[l.x]
	x.Wave = true
	var of []cellKind
	for g := range l.names {
		at := text.Position{Line: l.lines[g].First}
		head.labels, head.at, of = append(head.labels, x), append(head.at, h.at[l.x]), append(of, kinds[l.x])
		for v, j := range l.values {
			head.labels, head.at, of = append(head.labels, byValue[v][g].OfValues()), append(head.at, at), append(of, kinds[j])
		}
	}
	return head, of
}

// readPoints reads each row into the columns of its curve.
func (r grid) readPoints(l *pointRows, lay layout) (table, error) {
	t := table{slices.Max(l.counts), lay.width, nil}
	t.cells = make([]float64, t.rows*t.width)
	for i := range t.cells {
		t.cells[i] = math.NaN()
	}
	filled := make([]int, len(l.counts))
	d := l.dialect
	i := 0
	for ln := range r.rows() {
		g := int(l.of[i])
		first := g * (1 + len(l.values))
		row, from := d.trim(ln.Text)
		at, v := 0, 1
		for j := range l.cells {
			column := -1
			switch {
			case j == l.x:
				column = first
			case slices.Contains(l.values, j):
				column = first + v
				v++
			}
			shift := 0
			if column >= 0 {
				shift = lay.shifts[column]
			}
			c := d.next(row, at, shift)
			switch {
			case column < 0:
			case c.kind == missing && j == l.x:
				return t, r.Refuse(text.Position{Line: ln.Number}, text.ExportAgain+", or correct the row",
					"this row has no wavelength")
			case c.kind == missing:
			case c.kind == lay.kinds[column]:
				t.column(column)[filled[g]] = c.value
			default:
				return t, r.refuseCell(ln.Number, ln.Text, from+at, from+c.end, c.kind)
			}
			at = c.end + 1
		}
		filled[g]++
		i++
	}
	return t, nil
}

// locate returns the row and the cell of the file that a cell of the table comes
// from.
func (l *pointRows) locate(i, column int) (row, cell int) {
	width := 1 + len(l.values)
	cell = l.x
	if v := column % width; v > 0 {
		cell = l.values[v-1]
	}
	for row, g := range l.of {
		if int(g) != column/width {
			continue
		}
		if i == 0 {
			return row, cell
		}
		i--
	}
	return 0, cell
}
