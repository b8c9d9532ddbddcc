package intake

// Wavelengths and values in columns.

// columnsForm is wavelengths and values in columns.
type columnsForm struct {
	grid
	width int // cells of a row
}

// inColumns takes wavelengths and values in columns.
func (r section) inColumns() (form, grid, error) {
	g := grid{section: r}
	err := r.checkBlock()
	if err != nil {
		return nil, g, err
	}
	if g.dialect, err = r.findDialect(); err != nil {
		return nil, g, err
	}
	f := columnsForm{g, g.findWidth()}
	return f, g, r.checkSize(f.width)
}

func (r columnsForm) surroundings() (s surroundings, err error) {
	if s.before, err = r.outside(r.window.start, r.block.start, r.window.line); err != nil {
		return s, err
	}
	if s.after, err = r.outside(r.block.end, r.window.end, r.block.last); err != nil {
		return s, err
	}
	if len(s.before) > 0 {
		if err := r.checkStuck(s.before[len(s.before)-1], r.width); err != nil {
			return s, err
		}
	}
	if err := r.checkBefore(s.before, r.width); err != nil {
		return s, err
	}
	return s, r.checkAfter(s.after, r.width)
}

func (r columnsForm) headings(s surroundings) (headings, error) {
	if err := r.askNumbers(s.before, r.width); err != nil {
		return headings{}, err
	}
	h, rest, err := r.findHeading(s.before, r.width)
	if err != nil {
		return headings{}, err
	}
	if h.line > 0 {
		h.labels[0] = ofCorner(h.labels[0])
	}
	h.doubtLetters()
	stated, err := r.readHeader(rest)
	return headings{around: s, labelRow: h, stated: stated, kinds: r.kindsOf(r.width)}, err
}

func (r columnsForm) plan(h headings) (plan, error) {
	return r.planColumns(h.labelRow, h.stated, h.kinds)
}

func (r columnsForm) table(_ headings, l layout) (table, error) { return r.readRows(l) }

func (r columnsForm) located(headings) located { return located{grid: r.grid} }
