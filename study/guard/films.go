package guard

import (
	"cmp"
	"slices"

	"wane/study"
)

// FilmComparison compares what was found of films with what was found of them before: a full
// exchange of the coupons of two coatings is no news to guards that look at readings, since
// all of a session go the same way.
//
// Films of two coatings are exchanged if those of either went to where the other's were at
// their last pull. With Δ the median change of optical thickness and film index of a coating's
// spots in a session, and e the way from the films of A to those of B by their last pulls,
//
//	(ΔA - ΔB) / 2 ≈ e     ΔA·e / e·e >= 0.25     -ΔB·e / e·e >= 0.25
//
// Ageing that both have in common falls out of the first, and films that lose go to one side,
// where the others demand that they went to opposite ones: only films that age in
// opposite ways, each towards the other, look so. They need not lie on the same pane: the film that
// is found hardly depends on which of two like glasses it is evaluated with. Lengths are in
// standard deviations: of the change of a spot, and of the films of a coating among one another.
//
// It cannot tell an exchange between panes that read differently, as of fused silica and soda-lime,
// or bare ones of another thickness: most that is evaluated as on the other is unclear. Nor one at
// pull 0, which has no history; one of coatings whose films are alike; one of fewer than half of the
// spots, or of three coatings round; and one of films that have aged by most of what lies between
// them since their last pull.
type FilmComparison struct {
	coupons map[string]*guarded
	spots   map[fitSpot][]*fittedFilm // in the order of their pulls
	pulls   map[int][]*fittedFilm
}

type fitSpot struct{ coupon, spot string }

// fittedFilm is what the comparison of films keeps of a fit.
type fittedFilm struct {
	study.Unit
	session   string
	film, u   [2]float64  // optical thickness in nm, film index
	last      *fittedFilm // of its spot before
	judged    bool        // by a person, so that it is not found again
	exchanged bool
}

// NewFilmComparison begins one by what the guard knows.
func (g *Guard) NewFilmComparison() *FilmComparison {
	return &FilmComparison{coupons: g.coupons, spots: map[fitSpot][]*fittedFilm{}, pulls: map[int][]*fittedFilm{}}
}

// Add takes in a fit, in any order. Those of which nothing is known of a film are left out.
// One of readings that a person has judged is evidence, and is not found.
func (l *FilmComparison) Add(f *study.Fit, judged bool) {
	r := &f.Result
	c := l.coupons[f.Coupon]
	if c == nil || !c.Role.Coated() || f.Session == "" || r.State == study.Unclear || r.State == study.Stripped ||
		!r.OpticalThickness.U.Valid() || !r.FilmIndex.U.Valid() || !(r.OpticalThickness.Value > 0) {
		return
	}
	s := &fittedFilm{Unit: f.Unit, session: f.Session, judged: judged,
		film: [2]float64{float64(r.OpticalThickness.Value), float64(r.FilmIndex.Value)},
		u:    [2]float64{float64(r.OpticalThickness.U), float64(r.FilmIndex.U)}}
	k := fitSpot{f.Coupon, f.Spot}
	l.spots[k] = append(l.spots[k], s)
	l.pulls[f.Pull] = append(l.pulls[f.Pull], s)
}

// UnitConcern is a concern about all readings of a unit.
type UnitConcern struct {
	study.Unit
	study.Concern
}

// Found returns the units of coatings that may have been exchanged, in their order.
func (l *FilmComparison) Found() (found []UnitConcern) {
	for _, pull := range sortedKeys(l.pulls) {
		groups := l.groups(pull)
		for _, k := range sortedFitGroups(groups) {
			for _, o := range sortedFitGroups(groups) {
				if k.setting != o.setting || k.coating >= o.coating {
					continue
				}
				e := exchangeOf(groups[k], groups[o])
				if !e.is() {
					continue
				}
				found = append(found, e.found(groups[k], 1, o.coating)...)
				found = append(found, e.found(groups[o], -1, k.coating)...)
			}
		}
	}
	slices.SortStableFunc(found, func(a, b UnitConcern) int { return compareUnits(a.Unit, b.Unit) })
	return slices.CompactFunc(found, func(a, b UnitConcern) bool { return a.Unit == b.Unit })
}

func compareUnits(a, b study.Unit) int {
	return cmp.Or(cmp.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull), cmp.Compare(a.Spot, b.Spot),
		cmp.Compare(a.Condition, b.Condition))
}

// fitGroup is what spots that are compared have in common: the setting, and the coating.
type fitGroup struct {
	setting fitSetting
	coating string
}

type fitSetting struct {
	session, exposure, condition string
	role                         study.Role
}

func sortedFitGroups(groups map[fitGroup][]*fittedFilm) []fitGroup {
	keys := make([]fitGroup, 0, len(groups))
	for k := range groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b fitGroup) int {
		s, o := a.setting, b.setting
		return cmp.Or(cmp.Compare(s.session, o.session), cmp.Compare(s.exposure, o.exposure),
			cmp.Compare(s.condition, o.condition), cmp.Compare(s.role, o.role),
			cmp.Compare(a.coating, b.coating))
	})
	return keys
}

// groups gathers the spots at a pull that have a history, each group in the order of its
// units, and leaves out those of too few.
func (l *FilmComparison) groups(pull int) map[fitGroup][]*fittedFilm {
	groups := map[fitGroup][]*fittedFilm{}
	for _, s := range l.pulls[pull] {
		if s.last = lastFit(s, l.spots[fitSpot{s.Coupon, s.Spot}]); s.last == nil {
			continue
		}
		c := l.coupons[s.Coupon]
		k := fitGroup{fitSetting{s.session, c.Exposure, s.Condition, c.Role}, coatingOf(c)}
		groups[k] = append(groups[k], s)
	}
	for k, of := range groups {
		coupons := make([]string, len(of))
		for i, s := range of {
			coupons[i] = s.Coupon
		}
		if len(of) < exchangeUnits || countDistinct(coupons) < exchangeCoupons {
			delete(groups, k)
			continue
		}
		slices.SortFunc(of, func(a, b *fittedFilm) int { return compareUnits(a.Unit, b.Unit) })
	}
	return groups
}

// coatingOf names a coating with its supplier, if one is known.
func coatingOf(c *guarded) string {
	if c.Supplier == "" {
		return c.Coating
	}
	return c.Coating + " (" + c.Supplier + ")"
}

// lastFit returns the fit of the last pull before, in the nearest condition, that was not
// exchanged itself; nil if there is none.
func lastFit(s *fittedFilm, of []*fittedFilm) (last *fittedFilm) {
	for _, o := range of {
		if o.Pull >= s.Pull || o.exchanged {
			continue
		}
		if last == nil || isNearerFit(s, o, last) {
			last = o
		}
	}
	return last
}

// isNearerFit reports whether a fit is of a later pull than another, or of the same in a condition that
// is nearer to that of s.
func isNearerFit(s, o, other *fittedFilm) bool {
	return cmp.Or(cmp.Compare(other.Pull, o.Pull),
		cmp.Compare(study.ConditionDistance(s.Condition, o.Condition), study.ConditionDistance(s.Condition, other.Condition)),
		cmp.Compare(o.Condition, other.Condition)) < 0
}
