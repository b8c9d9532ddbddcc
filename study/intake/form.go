package intake

import (
	"wane/study/intake/text"
)

// form is how the spectra of a file stand: in columns beside their wavelengths, in rows below
// them, or with a row for each point. Its methods are the stages that follow the choice of the
// form, in their order.
type form interface {
	// surroundings returns the lines around the rows, and refuses what looks like a row among them.
	surroundings() (surroundings, error)
	// headings makes a heading for each column of the table.
	headings(surroundings) (headings, error)
	// plan decides what each column of the table holds.
	plan(headings) (plan, error)
	// table reads all rows as the layout says.
	table(headings, layout) (table, error)
	// located says where the numbers of the table stand in the file.
	located(headings) located
}

// headings is what is above the columns of the table, and what the header states.
type headings struct {
	around surroundings
	labelRow
	stated header
	kinds  []cellKind // how the numbers of each column are written
	points pointRows  // of one point per row
}

// findForm finds out how the spectra of the file stand: as a person states it, or as words,
// names and numbers in order show. An error comes with the rows that it is about.
func (r section) findForm() (form, grid, error) {
	switch {
	case r.want.GroupBy != nil:
		return r.inPoints()
	case r.Stated.Layout == text.InRows:
		return r.inRowsAsStated()
	case r.block.rows <= fewRows && r.want.Block == 0 && r.Stated.Layout == "":
		n, err := r.findNamed()
		if err != nil {
			return nil, r.gridOf(n), err
		}
		if below := r.mostBelow(); below.words > 0 && below.rows > max(n.rows, r.block.rows) {
			return r.inRowsBelow(below)
		}
		if n.rows > r.block.rows {
			return r.inNamedRows(n)
		}
	}
	if n, sure, ok := r.numberedRows(); ok && r.Stated.Layout == "" {
		if sure {
			return r.inRows(n)
		}
		return nil, r.gridOf(n), r.askLayout(n, true)
	}
	return r.inColumns()
}

// inRowsAsStated finds one spectrum per row, as is stated.
func (r section) inRowsAsStated() (form, grid, error) {
	n, err := r.findNamed()
	if err != nil {
		return nil, r.gridOf(n), err
	}
	if !n.across {
		n = named{}
	}
	if numbered, _, ok := r.numberedRows(); ok && numbered.rows > n.rows {
		n = numbered
	}
	if below := r.mostBelow(); below.rows > n.rows {
		n = below
	}
	if !n.across {
		return nil, grid{section: r}, r.Refuse(text.Nowhere,
			"put the wavelengths on the line right above the rows, split as these are, or state columns",
			"--layout is stated as rows, and no line of numbers in order stands above rows of as many")
	}
	return r.inRows(n)
}

// inNamedRows finds out what rows that begin with a name are.
func (r section) inNamedRows(n named) (form, grid, error) {
	if n.across && !r.cornerIsOther(n) {
		return r.inRows(n)
	}
	g := r.gridOf(n)
	if n.across {
		return nil, g, r.askLayout(n, false)
	}
	return nil, g, g.askGroups(n)
}
