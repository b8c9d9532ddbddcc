package web

import (
	"errors"
	"io"
	"slices"
	"strconv"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
)

// figurePage is one figure of a coupon.
type figurePage struct {
	Coupon  string
	Figures []entry // of the coupon
	Picture picture
	Image   *image         // the figure, where it is not in the page
	Refused *study.Refusal // there is nothing to draw
	Pull    string
	Pulls   []string // to choose from; nil: the figure is of all
}

// figureKind is a figure of a coupon. One that is slow to draw, or large, is fetched by the page that shows it.
type figureKind struct {
	at, name string
	slow     bool
}

// couponFigures are the figures of a coupon by their addresses, with their names.
var couponFigures = []figureKind{
	{"pulls", "All pulls", true},
	{"fit", "Fit and residuals", true},
	{"structure", "Structure of the film", false},
	{"material", "Material left", false},
	{"sunlight", "Where in sunlight", true},
	{"budget", "What makes the uncertainty", true},
}

// figuresOf lists the pages of a coupon as links; now is the part of the address behind the coupon.
func figuresOf(coupon, now string) []entry {
	all := []entry{{Name: coupon, At: couponAt(coupon), Now: now == ""},
		{Name: "Spectra", At: couponAt(coupon) + "/spectra", Now: now == "spectra"}}
	for _, f := range couponFigures {
		all = append(all, entry{Name: f.name, At: couponAt(coupon) + "/" + f.at, Now: f.at == now})
	}
	return all
}

// couponFigure is the page of one figure of a coupon.
func (s *Server) couponFigure(q *request) (answer, error) {
	code, at := q.PathValue("coupon"), q.PathValue("figure")
	k := slices.IndexFunc(couponFigures, func(f figureKind) bool { return f.at == at })
	if k < 0 {
		return nil, absent(&study.Refusal{Fault: "there is no figure " + study.Shown(at) + " of a coupon",
			Try: "open the page of the coupon: it has links to all its figures"})
	}
	var rows []*study.Result
	err := s.desk.Results(q.Context(), desk.ResultsOptions{Coupon: code}, func(r *study.Result) error {
		rows = append(rows, r)
		return nil
	})
	if err == nil && len(rows) == 0 {
		_, err = s.desk.SpectraOf(q.Context(), code) // one that is not enrolled is refused
	}
	if err != nil {
		return nil, absent(err)
	}
	p := &figurePage{Coupon: code, Figures: figuresOf(code, at)}
	if at == "fit" {
		p.choosePull(q, rows)
	}
	v := &view{Name: "figure", Title: couponFigures[k].name + " of " + code, Topic: "reading-figures", Nav: couponsAt,
		Data: p,
		File: code + "-" + at, Rows: resultsFile(rows)}
	v.Figure = func(w io.Writer, format string) error {
		f, err := drawn.OfCoupon(q.Context(), s.desk, at, p.options())
		if err != nil {
			return err
		}
		return f.Write(w, format)
	}
	if q.format != "" {
		return v, nil
	}
	if couponFigures[k].slow && hasFigure(at, rows) {
		p.Image = imageOf(couponAt(code)+"/"+at, v.Title+": the file as CSV has its numbers", "pull", p.Pull)
		return v, nil
	}
	f, err := drawn.OfCoupon(q.Context(), s.desk, at, p.options())
	if errors.As(err, &p.Refused) {
		return v, nil
	}
	if err != nil {
		return nil, err
	}
	p.Picture, err = pictureOf(q.Context(), f)
	return v, err
}

// hasFigure reports whether the rows of a coupon have what a slow figure draws. Without it the page is made at once, and
// says what is missing.
func hasFigure(at string, rows []*study.Result) bool {
	if at != "budget" {
		return len(rows) > 0
	}
	return slices.ContainsFunc(rows, func(r *study.Result) bool { return !r.IsBaseline() && r.Change.Value.Valid() })
}

// choosePull takes the pull that is asked for, else the last one.
func (p *figurePage) choosePull(q *request, rows []*study.Result) {
	for _, r := range rows {
		p.Pulls = addOnce(p.Pulls, strconv.Itoa(int(r.Pull)))
	}
	if p.Pull = q.URL.Query().Get("pull"); !slices.Contains(p.Pulls, p.Pull) && len(p.Pulls) > 0 {
		p.Pull = p.Pulls[len(p.Pulls)-1]
	}
}

// options choose the rows that the figure is of.
func (p *figurePage) options() desk.ResultsOptions {
	opt := desk.ResultsOptions{Coupon: p.Coupon}
	if p.Pull != "" {
		opt.Keep = func(r *study.Result) bool { return strconv.Itoa(int(r.Pull)) == p.Pull }
	}
	return opt
}
