package table

import "wane/study"

// OfResults returns columns of results as columns of a table, whose cells [ResultCells] makes.
func OfResults(columns []study.Column) []study.Field {
	out := make([]study.Field, len(columns))
	for i, c := range columns {
		kind := study.KindWords
		switch {
		case c.Text != nil:
			kind = study.KindText
		case c.Num != nil && c.Whole:
			kind = study.KindWhole
		case c.Num != nil:
			kind = study.KindReal
		}
		out[i] = study.Field{Name: c.Name, Kind: kind, Unit: c.Unit, About: c.About}
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
