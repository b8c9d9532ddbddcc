package web

import (
	"io"
	"slices"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
	"wane/study/table"
)

// couponPage is what is known of one coupon.
type couponPage struct {
	Coupon   string
	Words    string // what it is
	Protocol []string
	Life     []string
	Rows     *grid
	Gaps     []string // pulls without results
	Changes  []string
	Film     *grid // the parameters of the film
	Measured []string
	Judged   []string
	Correct  []string
	Spectra  *spectraPage
	Figures  []figure
}

// figure is a figure of a page: drawn by script of data, or else a picture.
type figure struct {
	Caption string
	Data    string // the address of its numbers, as JSON
	Kind    string // curves: each row is one; rows: each row is a point
	X, Y    string // the names of what is drawn
	Picture string // as SVG; empty: there is none
	Files   []fileLink
}

// coupon is the page of a coupon.
func (s *Server) coupon(q *request) (answer, error) {
	code := q.PathValue("coupon")
	h, err := s.desk.History(q.Context(), code, desk.Moment{})
	if err != nil {
		return nil, absent(err)
	}
	v := &view{Name: "coupon", Title: code, Topic: "reading-results", Nav: couponsAt, File: code, Rows: resultsFile(h.Rows)}
	if q.format != "" {
		return v, nil
	}
	spectra, err := s.chooseSpectra(q, code)
	if err != nil {
		return nil, err
	}
	p := &couponPage{Coupon: code, Words: shown.CouponWords(h), Protocol: shown.ProtocolLines(h), Life: shown.LifeLines(h),
		Gaps: shown.GapLines(h), Changes: shown.ChangeLines(h), Measured: shown.MeasuredLines(h), Judged: shown.JudgedLines(h),
		Correct: shown.CorrectedLines(h), Spectra: spectra}
	all := shown.Results()
	p.Rows = gridOf("Results by pull and spot; values ± U (k=2)", shown.History().Table(), h.Rows, nil)
	p.Film = gridOf("The film of each spot; values ± U (k=2)", all.Pick("pull", "spot", "condition", "state", "thickness_nm",
		"porosity", "bare_fraction", "solid_nm", "optical_thickness_nm", "gain_pp"), h.Rows, nil)
	for _, y := range []struct{ name, caption string }{
		{"change_pp", "Change of solar transmittance against its baseline, in pp, over the dose"},
		{"solid_nm", "Material left, in nm, over the dose"}, {"thickness_nm", "Thickness, in nm, over the dose"},
		{"porosity", "Porosity over the dose"},
	} {
		if slices.ContainsFunc(h.Rows, func(r *study.Result) bool { return hasValue(r, y.name) }) {
			p.Figures = append(p.Figures, figure{Caption: y.caption, Data: fileAt(couponAt(code), "json", ""), Kind: "rows",
				X: "dose", Y: y.name})
		}
	}
	v.Data = p
	return v, nil
}

// hasValue reports whether a row has a value in a column.
func hasValue(r *study.Result, column string) bool {
	for _, c := range study.Columns() {
		if c.Name == column {
			return c.Num != nil && c.Num(r).Valid()
		}
	}
	return false
}

// resultsFile writes rows of results as wane results does.
func resultsFile(rows []*study.Result) func(io.Writer, string) error {
	return func(w io.Writer, format string) error {
		columns := study.Columns()
		out, cells := table.New(w, format, table.OfResults(columns)), make([]any, len(columns))
		for _, r := range rows {
			table.ResultCells(cells, columns, r)
			if err := out.Write(cells); err != nil {
				return err
			}
		}
		return out.Close()
	}
}
