package drawn

import (
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/report"
)

// level is a quantity of the film as figures show it.
type level struct {
	axis     string
	of       func(*study.Result) study.Measure
	fromZero bool
}

var materialLeft = level{"Material left / nm", func(r *study.Result) study.Measure { return r.Solid }, true}

// structure is what the fit knows of the film.
var structure = []level{
	{"Thickness / nm", func(r *study.Result) study.Measure { return r.Thickness }, false},
	{"Porosity", func(r *study.Result) study.Measure { return r.Porosity }, false},
	{"Bare fraction", func(r *study.Result) study.Measure { return r.BareFraction }, true},
	{"Film index (550 nm)", func(r *study.Result) study.Measure { return r.FilmIndex }, false},
}

// MaterialLeft draws the material left of the spots of a coupon against the dose, or against the pull where it has no
// doses. Without any value it is refused.
func MaterialLeft(coupon string, rows []*study.Result) (*report.Levels, error) {
	return levels(coupon, "material left", rows, []level{materialLeft},
		"Material left: solid-equivalent thickness, (1 − bare fraction) × thickness × (1 − porosity).")
}

// Structure draws thickness, porosity, bare fraction and index of the film of each spot of a coupon against the dose,
// or against the pull where it has no doses. Without any value it is refused.
func Structure(coupon string, rows []*study.Result) (*report.Levels, error) {
	return levels(coupon, "structure of the film", rows, structure,
		"The equivalent uniform film of each spot. Where two of these cannot be separated, their bars are long: the product "+
			"that matters is the material left.")
}

func levels(coupon, what string, rows []*study.Result, of []level, caption string) (
	*report.Levels, error) {
	f := &report.Levels{Title: "Coupon " + coupon + ": " + what, Of: "spot", Caption: []string{caption}}
	f.Series = spotsOf(rows)
	dosed := slices.ContainsFunc(rows, func(r *study.Result) bool { return r.Dose.Valid() && r.DoseUnit != "" })
	undosed := false
	for _, l := range of {
		p := report.LevelPanel{Quantity: l.axis, FromZero: l.fromZero}
		for _, r := range rows {
			m := l.of(r)
			if !m.Value.Valid() || dosed && !r.Dose.Valid() {
				undosed = undosed || m.Value.Valid()
				continue
			}
			at := r.Pull
			if dosed {
				at, f.DoseUnit = r.Dose, r.DoseUnit
			}
			p.Points = append(p.Points, report.Level{Series: slices.Index(f.Series, r.Spot), Dose: float64(at),
				Value: float64(m.Value), U: float64(m.U)})
		}
		slices.SortStableFunc(p.Points, func(a, b report.Level) int {
			switch {
			case a.Dose < b.Dose:
				return -1
			case a.Dose > b.Dose:
				return 1
			}
			return 0
		})
		if len(p.Points) > 0 {
			f.Panels = append(f.Panels, p)
		}
	}
	if len(f.Panels) == 0 {
		return nil, nothing("see what there is: wane results "+coupon,
			"coupon %s has no %s to draw, or none that is asked for", coupon, what)
	}
	if undosed {
		f.Caption = append(f.Caption, "Readings without a dose are not drawn.")
	}
	return f, nil
}

// GroupsLeft draws the mean material left of groups against the dose. Groups with doses in another unit than the first
// one are not drawn, which the caption says. Without any value it is refused.
func GroupsLeft(by ageing.By, curves []ageing.Curve) (*report.Levels, error) {
	f := &report.Levels{Title: "Material left by " + string(by), Of: "group", Caption: []string{
		"Mean over the coupons of each group, as fitted; that of each coupon is the mean of its spots. Compare groups with " +
			"wane trend --quantity solid and wane compare, which have the uncertainty of the means."}}
	p := report.LevelPanel{Quantity: materialLeft.axis, FromZero: true}
	var others []string
	for _, c := range curves {
		if f.DoseUnit == "" {
			f.DoseUnit = c.DoseUnit
		}
		if c.DoseUnit != f.DoseUnit {
			others = append(others, c.Name)
			continue
		}
		f.Series = append(f.Series, c.Name)
		for i := range c.Points {
			if g := &c.Points[i]; g.Solid.Valid() && g.Dose.Valid() {
				p.Points = append(p.Points, report.Level{Series: len(f.Series) - 1, Dose: float64(g.Dose),
					Value: float64(g.Solid), U: float64(study.Null())})
			}
		}
	}
	if len(p.Points) == 0 {
		return nil, nothing("take exports in, run wane fit, and see wane results",
			"no group has material left at a known dose")
	}
	f.Panels = []report.LevelPanel{p}
	if len(others) > 0 {
		f.Caption = append(f.Caption, "Not drawn, since their doses are in another unit: "+strings.Join(others, ", ")+".")
	}
	return f, nil
}
