package desk

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"wane/optics"
	"wane/optics/colour"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
	"wane/study/tint"
)

// TintOptions say which card of tints is made.
type TintOptions struct {
	Light   colour.Light
	Angles  []float64 // in degrees, 0 to below 90; nil: those that the study was read at
	Coating string    // the one that is wanted; empty: all
	Most    int       // rows; the others are counted
}

// TintCard is the tints of the films of a study.
type TintCard struct {
	Light  colour.Light
	Angles []float64
	Films  []TintFilm // those that keep most of their gain first
	More   int        // films that are not among them
}

// TintFilm is the mean film of a coating at a pull, of the spots that have one.
type TintFilm struct {
	Coating, Glass, Exposure string
	Pull, Coupons, Spots     int
	GainKept                 study.Num // a fraction; NaN: unknown
	tint.Film
	MostNM float64 // to which its ribbons go
	At     []Tinted
}

// Tinted is a film at one angle.
type Tinted struct {
	AngleDeg float64
	Now      tint.Tint
	Ribbon   []tint.At
}

// ribbonStep is the step of ribbons, in nm.
const ribbonStep = 2

// TintFilms is what cards and comparisons of tints begin with: the films of a study, the glasses and the angles.
type TintFilms struct {
	all    []TintFilm
	roster *study.Roster
	angles []float64 // that the study was read at
	mixing string
}

// TintFilms gathers the films of a study from all its results.
func (d *Desk) TintFilms(ctx context.Context) (*TintFilms, error) {
	f := &TintFilms{mixing: d.Settings().Mixing}
	err := d.view(ctx, 0, func(v *store.View) (err error) {
		f.roster, err = v.Roster()
		return err
	})
	if err != nil {
		return nil, err
	}
	if f.all, err = d.tintFilms(ctx, f.roster); err != nil {
		return nil, err
	}
	f.angles, err = d.anglesRead(ctx, f.roster)
	return f, err
}

// of returns the films of a coating, of all if it is empty. Without one it is refused.
func (f *TintFilms) of(coating, what string) ([]TintFilm, error) {
	films := slices.DeleteFunc(slices.Clone(f.all), func(one TintFilm) bool { return coating != "" && one.Coating != coating })
	if len(films) == 0 {
		return nil, &study.Refusal{Fault: "no film is known " + what,
			Try: "take in readings and run wane fit; a name of a coating is that of wane results --by coating"}
	}
	return films, nil
}

// TintCard makes the card of the films, glasses and angles of a study. It is refused where no film is known.
func (d *Desk) TintCard(ctx context.Context, opt *TintOptions) (*TintCard, error) {
	f, err := d.TintFilms(ctx)
	if err != nil {
		return nil, err
	}
	return f.Card(opt)
}

// Card is [Desk.TintCard] of films that were gathered.
func (f *TintFilms) Card(opt *TintOptions) (card *TintCard, err error) {
	card = &TintCard{Light: opt.Light, Angles: opt.Angles}
	if card.Films, err = f.of(opt.Coating, "of which a tint could be shown"); err != nil {
		return nil, err
	}
	if opt.Most > 0 && len(card.Films) > opt.Most {
		card.More = len(card.Films) - opt.Most
		card.Films = card.Films[:opt.Most]
	}
	if card.Angles == nil {
		card.Angles = f.angles
	}
	views := map[string][]*tint.View{}
	for i := range card.Films {
		one := &card.Films[i]
		if views[one.Glass] == nil {
			if views[one.Glass], err = f.views(one.Glass, card.Angles, opt.Light); err != nil {
				return nil, err
			}
		}
		for _, v := range views[one.Glass] {
			at := Tinted{AngleDeg: v.AngleDeg}
			if at.Now, err = v.Of(one.Film); err == nil {
				at.Ribbon, err = v.Ribbon(one.Porosity, one.Bare, one.MostNM, ribbonStep)
			}
			if err != nil {
				return nil, err
			}
			one.At = append(one.At, at)
		}
	}
	return card, nil
}

// views are the views of a glass at angles.
func (f *TintFilms) views(glass string, angles []float64, light colour.Light) ([]*tint.View, error) {
	k := slices.IndexFunc(f.roster.Coupons, func(c study.Coupon) bool { return c.Glass == glass }) // of a coupon that was read
	setup, err := evaluate.CouponSetup(&f.roster.Coupons[k], f.mixing, f.roster)
	if err != nil {
		return nil, err
	}
	solid, err := setup.Coating.Solid()
	if err != nil {
		return nil, err
	}
	var views []*tint.View
	for _, angle := range angles {
		v, err := tint.NewView(setup.Glass.Index, solid, setup.Coating.Mixing, angle, light)
		var out *optics.RangeError
		if errors.As(err, &out) {
			return nil, &study.Refusal{
				Fault: "the index of the glass " + study.Shown(glass) + " is not known from 380 to 780 nm, which a person sees",
				Try:   "name a coating on another glass with --coating", Cause: err}
		}
		if err != nil {
			return nil, err
		}
		views = append(views, v)
	}
	return views, nil
}

// tintFilms are the mean films of the coatings on each glass at each pull, of exposed coupons, the one that keeps most of
// its gain first.
func (d *Desk) tintFilms(ctx context.Context, roster *study.Roster) (films []TintFilm, err error) {
	type key struct {
		coating, glass, exposure string
		pull                     int
	}
	type sums struct {
		film                 TintFilm
		kept, keptN          float64
		nm, porosity, patchy float64
		coupons              map[string]bool
	}
	glassOf := map[string]string{}
	for i := range roster.Coupons {
		glassOf[roster.Coupons[i].Coupon] = roster.Coupons[i].Glass
	}
	all, most := map[key]*sums{}, map[string]float64{}
	err = d.Results(ctx, ResultsOptions{}, func(r *study.Result) error {
		known := r.Thickness.Value.Valid() && r.Porosity.Value.Valid() && r.Porosity.Value >= 0 && r.Porosity.Value < 1
		if study.Role(r.Role) != study.Exposed || !known {
			return nil
		}
		k := key{r.Coating, glassOf[r.Coupon], r.Exposure, int(r.Pull)}
		s := all[k]
		if s == nil {
			s = &sums{coupons: map[string]bool{}, film: TintFilm{Coating: k.coating, Glass: k.glass,
				Exposure: k.exposure, Pull: k.pull}}
			all[k] = s
		}
		s.film.Spots++
		s.coupons[r.Coupon] = true
		s.nm, s.porosity = s.nm+float64(r.Thickness.Value), s.porosity+float64(r.Porosity.Value)
		if r.BareFraction.Value.Valid() {
			s.patchy += min(max(float64(r.BareFraction.Value), 0), 1)
		}
		if r.GainKept.Value.Valid() {
			s.kept, s.keptN = s.kept+float64(r.GainKept.Value), s.keptN+1
		}
		most[r.Coating] = max(most[r.Coating], float64(r.Thickness.Value))
		return nil
	})
	for _, s := range all {
		n := float64(s.film.Spots)
		f := s.film
		f.Coupons, f.GainKept = len(s.coupons), study.Num(s.kept/s.keptN)
		f.Film = tint.Film{ThicknessNM: max(s.nm/n, 0), Porosity: s.porosity / n, Bare: s.patchy / n}
		f.MostNM = math.Ceil(1.15*most[f.Coating]/10) * 10
		films = append(films, f)
	}
	slices.SortFunc(films, func(a, b TintFilm) int {
		kept := func(f *TintFilm) float64 {
			if f.GainKept.Valid() {
				return float64(f.GainKept)
			}
			return math.Inf(-1)
		}
		return cmp.Or(cmp.Compare(kept(&b), kept(&a)), cmp.Compare(a.Coating, b.Coating), cmp.Compare(a.Glass, b.Glass),
			cmp.Compare(a.Exposure, b.Exposure), cmp.Compare(a.Pull, b.Pull))
	})
	return films, err
}

// mostCouponsAsked is of how many coupons the angles are looked up; all were read at the same, mostly.
const mostCouponsAsked = 50

// anglesRead are the angles that coupons were read at, in their order.
func (d *Desk) anglesRead(ctx context.Context, roster *study.Roster) (angles []float64, err error) {
	var codes []string
	for i := range roster.Coupons {
		if c := &roster.Coupons[i]; c.Role == study.Exposed && len(codes) < mostCouponsAsked {
			codes = append(codes, c.Coupon)
		}
	}
	err = d.view(ctx, 0, func(v *store.View) error {
		return v.FitsOf(codes, func(f *study.Fit) error {
			angles = append(angles, f.AnglesDeg...)
			return nil
		})
	})
	slices.Sort(angles)
	return slices.Compact(angles), err
}

// TintMatch is what the films of one coating say to a measured tint.
type TintMatch struct {
	Coating, Glass string
	Of             tint.Range // the films that were tried
	Intervals      []tint.Interval
	Nearest        tint.Interval
}

// Margins of the films that are tried beyond those that were found.
const (
	marginOfPorosity = 0.03
	leastBare        = 0.3
)

// TintMatches says for each coating which thicknesses a tint that was measured at an angle cannot exclude.
func (d *Desk) TintMatches(ctx context.Context, opt *TintOptions, measured tint.Measured) ([]TintMatch, error) {
	f, err := d.TintFilms(ctx)
	if err != nil {
		return nil, err
	}
	return f.Matches(opt, measured)
}

// Matches is [Desk.TintMatches] of films that were gathered.
func (f *TintFilms) Matches(opt *TintOptions, measured tint.Measured) (matches []TintMatch, err error) {
	films, err := f.of(opt.Coating, "with which a tint could be compared")
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(films, func(a, b TintFilm) int {
		return cmp.Or(cmp.Compare(a.Coating, b.Coating), cmp.Compare(a.Glass, b.Glass))
	})
	for i := range films {
		one := &films[i]
		if last := len(matches) - 1; last < 0 || matches[last].Coating != one.Coating || matches[last].Glass != one.Glass {
			matches = append(matches, TintMatch{Coating: one.Coating, Glass: one.Glass,
				Of: tint.Range{MostNM: one.MostNM, LoPorosity: one.Porosity, HiPorosity: one.Porosity, MostBare: leastBare}})
		}
		of := &matches[len(matches)-1].Of
		of.LoPorosity = max(0, min(of.LoPorosity, one.Porosity-marginOfPorosity))
		of.HiPorosity = min(0.95, max(of.HiPorosity, one.Porosity+marginOfPorosity))
		of.MostBare = max(of.MostBare, one.Bare)
	}
	for i := range matches {
		m := &matches[i]
		views, err := f.views(m.Glass, opt.Angles, opt.Light)
		if err != nil {
			return nil, err
		}
		if m.Intervals, m.Nearest, err = views[0].Match(measured, m.Of); err != nil {
			return nil, err
		}
	}
	return matches, nil
}
