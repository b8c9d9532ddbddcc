package table

import "wane/study"

// OfResults returns columns of results as columns of a table, whose cells [ResultCells] makes.
func OfResults(columns []study.Column) []Column {
	out := make([]Column, len(columns))
	for i, c := range columns {
		kind := Words
		switch {
		case c.Text != nil:
			kind = Text
		case c.Num != nil && c.Whole:
			kind = Whole
		case c.Num != nil:
			kind = Real
		}
		out[i] = Column{Name: c.Name, Kind: kind, Unit: c.Unit, About: c.About}
	}
	return out
}

// ResultCells puts the cells of a result into dst, one for each of columns.
func ResultCells(dst []any, columns []study.Column, r *study.Result) {
	for i, c := range columns {
		dst[i] = nil
		switch {
		case c.Text != nil:
			if text := c.Text(r); text != "" {
				dst[i] = text
			}
		case c.Words != nil:
			dst[i] = c.Words(r)
		case c.Num(r).Valid() && c.Whole:
			dst[i] = int64(c.Num(r))
		case c.Num(r).Valid():
			dst[i] = float64(c.Num(r))
		}
	}
}
