package drawn

import (
	"context"
	"fmt"
	"io"

	"wane/study"
	"wane/study/desk"
)

// Figure is a figure of study/report.
type Figure interface {
	// Write draws it in a format, see report.Formats, report.FormatPage and report.FormatNarrow.
	Write(w io.Writer, format string) error
}

// Kind is a figure of a coupon: by its name commands and pages ask for it.
type Kind struct{ Name, Question string }

// CouponKinds are the figures of a coupon, each with the question that it answers. The one named fit is of one pull,
// which Keep of its options chooses.
func CouponKinds() []Kind {
	return []Kind{
		{"pulls", "What was read of this coupon, and does the model follow it?"},
		{"fit", "Does the fit of one pull leave anything?"},
		{"material", "How much of the coating is left?"},
		{"structure", "Did it become thinner, denser or bare?"},
		{"sunlight", "Where in the sunlight was it lost?"},
		{"budget", "Which measurement should become better?"},
	}
}

// OfCoupon makes a figure of the coupon of the options by the name of its kind, with its stamp. pulls, fit and
// sunlight fit the curves of each spot at each pull now, about 15 ms each. Where there is nothing to draw it is
// refused.
func OfCoupon(ctx context.Context, d *desk.Desk, kind string, opt desk.ResultsOptions) (Figure, error) {
	stamp, err := d.Stamp(ctx, opt.AsOf)
	if err != nil {
		return nil, err
	}
	f, err := ofCoupon(ctx, d, kind, opt, stamp)
	if err != nil {
		return nil, err
	}
	if now, err := d.Stamp(ctx, opt.AsOf); err != nil || now.Line != stamp.Line {
		if err == nil {
			err = nothing("run it again", "another process has just changed the study")
		}
		return nil, err
	}
	return f, nil
}

func ofCoupon(ctx context.Context, d *desk.Desk, kind string, opt desk.ResultsOptions, stamp study.Stamp) (
	Figure, error) {
	switch kind {
	case "material", "structure":
		return filmOf(ctx, d, kind, opt, stamp)
	case "budget":
		return budgetOf(ctx, d, opt, stamp)
	case "pulls", "fit", "sunlight":
		return curvesOf(ctx, d, kind, opt, stamp)
	}
	return nil, fmt.Errorf("drawn: there is no figure %q of a coupon", kind)
}

// filmOf makes a figure of the film against the dose.
func filmOf(ctx context.Context, d *desk.Desk, kind string, opt desk.ResultsOptions, stamp study.Stamp) (Figure, error) {
	var rows []*study.Result
	err := d.Results(ctx, opt, func(r *study.Result) error {
		rows = append(rows, r)
		return nil
	})
	if err != nil {
		return nil, err
	}
	of := MaterialLeft
	if kind == "structure" {
		of = Structure
	}
	f, err := of(opt.Coupon, rows)
	if err != nil {
		return nil, err
	}
	f.Stamp = stamp
	return f, nil
}

// budgetOf makes the figure of the budget of the change of solar transmittance.
func budgetOf(ctx context.Context, d *desk.Desk, opt desk.ResultsOptions, stamp study.Stamp) (Figure, error) {
	data, err := d.Series(ctx, "solar_T", desk.SeriesOptions{AsOf: opt.AsOf, Coupon: opt.Coupon})
	if err != nil {
		return nil, err
	}
	f, err := CouponBudget(data, opt.Coupon)
	if err != nil {
		return nil, err
	}
	f.Stamp = stamp
	return f, nil
}

// curvesOf makes a figure of curves. That of sunlight needs the baseline beside the rows that are wanted.
func curvesOf(ctx context.Context, d *desk.Desk, kind string, opt desk.ResultsOptions, stamp study.Stamp) (
	Figure, error) {
	keep, see := opt.Keep, d.Seen
	if kind == "sunlight" {
		opt.Keep, see = nil, d.SeenInSunlight
	}
	var spots []*desk.SeenSpot
	err := see(ctx, opt, func(s *desk.SeenSpot) error {
		spots = append(spots, s)
		return nil
	})
	if err != nil {
		return nil, err
	}
	together := d.Settings().Correction == study.RouteSession
	switch kind {
	case "sunlight":
		f, err := Sunlight(opt.Coupon, spots, keep, together)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	case "fit":
		f, err := Fit(opt.Coupon, spots, together)
		if err != nil {
			return nil, err
		}
		f.Stamp = stamp
		return f, nil
	}
	f, err := Pulls(opt.Coupon, spots, together)
	if err != nil {
		return nil, err
	}
	f.Stamp = stamp
	return f, nil
}
