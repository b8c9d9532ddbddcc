package guard

import (
	"cmp"
	"slices"

	"wane/study"
)

// FilmComparison compares fitted films with those of earlier pulls, to find the coupons of two coatings that
// were all exchanged. Guards that compare readings do not find such an exchange, since all coupons of the
// session change alike.
//
// Let Δ be the median change of optical thickness and film index of the spots of a coating in a session, and e
// the way from the films of A to those of B at their last pulls. Two coatings are exchanged if
//
//	(ΔA - ΔB) / 2 ≈ e     ΔA·e / e·e >= 0.25     -ΔB·e / e·e >= 0.25
//
// The first condition removes the ageing that both have in common. The other two require that the films went in
// opposite directions, each towards the other; films that age go in one direction. The two coatings need not be
// on the same pane: two similar glasses give nearly the same fitted film. Lengths are in standard deviations,
// which include those of the change of a spot and of the films of a coating.
//
// It does not find these exchanges: between panes of different reflectance, such as fused silica and soda-lime,
// or bare panes of another thickness, since most of those fits are unclear; at pull 0, which has no history; of
// coatings with equal films; of fewer than half of the spots; among three coatings; and of films whose ageing
// since their last pull is nearly as large as the way between them.
type FilmComparison struct {
	coupons map[string]*guarded
	spots   map[fitSpot][]*fittedFilm // in the order of their pulls
	pulls   map[int][]*fittedFilm
}

type fitSpot struct{ coupon, spot string }

// fittedFilm is the film of a fit, as the comparison uses it.
type fittedFilm struct {
	study.Unit
	session   string
	film, u   [2]float64  // optical thickness in nm, film index
	last      *fittedFilm // film of the same spot at its last pull before
	judged    bool        // by a person: it is not found again
	exchanged bool
}

// NewFilmComparison returns a comparison without fits.
func (g *Guard) NewFilmComparison() *FilmComparison {
	return &FilmComparison{coupons: g.coupons, spots: map[fitSpot][]*fittedFilm{}, pulls: map[int][]*fittedFilm{}}
}

// Add adds a fit; the order of the fits does not matter. A fit without a known film is skipped. If a person has
// judged the readings of the fit, it counts in the comparison but is not found itself.
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

// Found returns the units whose coatings may have been exchanged, in their order.
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

// compareUnits compares units by coupon, pull, spot and condition.
func compareUnits(a, b study.Unit) int {
	return cmp.Or(cmp.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull), cmp.Compare(a.Spot, b.Spot),
		cmp.Compare(a.Condition, b.Condition))
}

// fitGroup is the group of a spot: spots of one group have the setting and the coating in common.
type fitGroup struct {
	setting fitSetting
	coating string
}

type fitSetting struct {
	session, exposure, condition string
	role                         study.Role
}

// sortedFitGroups returns the groups in a fixed order.
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

// groups returns the groups of spots at a pull that have a history, each in the order of its units, without
// groups of too few.
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

// lastFit returns the fit of the last pull before, in the nearest condition, that was not exchanged itself;
// nil if there is none.
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

// isNearerFit reports whether the fit o is of a later pull than other, or of the same pull in a condition
// nearer to that of s.
func isNearerFit(s, o, other *fittedFilm) bool {
	return cmp.Or(cmp.Compare(other.Pull, o.Pull),
		cmp.Compare(study.ConditionDistance(s.Condition, o.Condition), study.ConditionDistance(s.Condition, other.Condition)),
		cmp.Compare(o.Condition, other.Condition)) < 0
}
