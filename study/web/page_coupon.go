package web

import (
	"errors"
	"io"
	"slices"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
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
	Figures  []entry  // pages with figures
	Over     []figure // over the dose
	Pictures []picture
	Photos   []photo
	InLight  string // the address of its results in other light
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
	v := &view{Name: "coupon", Title: code, Topic: "reading-results", Nav: couponsAt, File: code,
		Rows: resultsFile(h.Rows)}
	if q.format != "" {
		return v, nil
	}
	spectra, err := s.chooseSpectra(q, code)
	if err != nil {
		return nil, err
	}
	p := &couponPage{Coupon: code, Words: shown.CouponWords(h), Protocol: shown.ProtocolLines(h), Life: shown.LifeLines(h),
		Gaps: shown.GapLines(h), Changes: shown.ChangeLines(h), Measured: shown.MeasuredLines(h),
		Judged: shown.JudgedLines(h), Photos: photosOf(code, h), InLight: withQuery(lightAt, "coupon", code),
		Correct: shown.CorrectedLines(h), Spectra: spectra}
	all := shown.Results()
	p.Rows = gridOf("Results by pull and spot; values ± U (k=2)", shown.History().Table(), h.Rows, nil)
	p.Film = gridOf("The film of each spot; values ± U (k=2)", all.Pick("pull", "spot", "condition", "state",
		"thickness_nm",
		"porosity", "bare_fraction", "solid_nm", "optical_thickness_nm", "gain_pp"), h.Rows, nil)
	p.Figures = figuresOf(code, "")
	if slices.ContainsFunc(h.Rows, func(r *study.Result) bool { return r.Change.Value.Valid() }) {
		p.Over = append(p.Over, figure{Caption: "Change of solar transmittance against the baseline over the dose; bars: ± U (k = 2)",
			Data: fileAt(couponAt(code), "json", ""), Kind: "rows", X: "dose", Y: "change_pp"})
	}
	if err := p.draw(s, q, h); err != nil {
		return nil, err
	}
	v.Data = p
	return v, nil
}

// draw draws what became of the film.
func (p *couponPage) draw(s *Server, q *request, h *desk.History) error {
	f, err := drawn.Structure(p.Coupon, h.Rows)
	var nothing *study.Refusal
	if errors.As(err, &nothing) {
		return nil // the rows say so
	}
	if err != nil {
		return err
	}
	if f.Stamp, err = s.desk.Stamp(q.Context(), 0); err != nil {
		return err
	}
	one, err := pictureOf(q.Context(), f)
	p.Pictures = append(p.Pictures, one)
	return err
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
