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
	Image   string         // the address of the figure, where it is not in the page
	Refused *study.Refusal // there is nothing to draw
	Pull    string
	Pulls   []string // to choose from; nil: the figure is of all
}

// figureKind is a figure of a coupon. One that is slow to draw, or large, is fetched by the page that shows it.
type figureKind struct {
	at, name, topic string
	slow            bool
}

// couponFigures are the figures of a coupon by their addresses, with their names and topics of the guide.
var couponFigures = []figureKind{
	{"pulls", "All pulls", "reading-results", true},
	{"fit", "Fit and residuals", "reading-results", true},
	{"structure", "Structure of the film", "model", false},
	{"material", "Material left", "reading-results", false},
	{"sunlight", "Where in sunlight", "changes", true},
	{"budget", "What makes the uncertainty", "reading-results", true},
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
	v := &view{Name: "figure", Title: couponFigures[k].name + " of " + code, Topic: couponFigures[k].topic, Nav: couponsAt, Data: p,
		File: code + "-" + at, Rows: resultsFile(rows)}
	v.Figure = func(w io.Writer, format string) error {
		f, err := s.drawCoupon(q, code, at, p.Pull, rows)
		if err != nil {
			return err
		}
		return f.Write(w, format)
	}
	if q.format != "" {
		return v, nil
	}
	if couponFigures[k].slow {
		p.Image = withQuery(couponAt(code)+"/"+at+".svg", "pull", p.Pull)
		return v, nil
	}
	f, err := s.drawCoupon(q, code, at, p.Pull, rows)
	if errors.As(err, &p.Refused) {
		return v, nil
	}
	if err != nil {
		return nil, err
	}
	p.Picture, err = pictureOf(q.Context(), f)
	return v, err
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

// drawCoupon draws a figure of a coupon. Where there is nothing to draw it is refused.
func (s *Server) drawCoupon(q *request, code, at, pull string, rows []*study.Result) (drawing, error) {
	stamp, err := s.desk.Stamp(q.Context(), 0)
	if err != nil {
		return nil, err
	}
	switch at {
	case "structure", "material":
		of := drawn.Structure
		if at == "material" {
			of = drawn.MaterialLeft
		}
		f, err := of(code, rows)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	case "budget":
		data, err := s.desk.Series(q.Context(), "solar_T", desk.SeriesOptions{})
		if err != nil {
			return nil, err
		}
		f, err := drawn.CouponBudget(data, code)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	}
	return s.drawCurves(q, code, at, pull, stamp)
}

// drawCurves draws a figure that needs the curves of a coupon, which are fitted now.
func (s *Server) drawCurves(q *request, code, at, pull string, stamp study.Stamp) (drawing, error) {
	opt := desk.ResultsOptions{Coupon: code}
	if at == "fit" {
		opt.Keep = func(r *study.Result) bool { return strconv.Itoa(int(r.Pull)) == pull }
	}
	var spots []*desk.SeenSpot
	err := s.desk.Seen(q.Context(), opt, func(seen *desk.SeenSpot) error {
		spots = append(spots, seen)
		return nil
	})
	if err != nil {
		return nil, err
	}
	together := s.desk.Settings().Correction == study.RouteSession
	switch at {
	case "fit":
		f, err := drawn.Fit(code, spots, together)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	case "sunlight":
		f, err := drawn.Sunlight(code, spots, nil, together)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	}
	f, err := drawn.Pulls(code, spots, together)
	if err != nil {
		return nil, err
	}
	f.Stamp = stamp
	return f, nil
}
