package evaluate

import (
	"cmp"
	"maps"
	"slices"

	"wane/study"
)

// Repeat is one complete set of curves of a spot.
type Repeat struct {
	Session   string
	Placement int // a coupon set down once in its session, as the map numbers it
	Readings  []study.Reading
}

// Repeats divides the readings of one unit into complete sets of curves, in the order of session and placement: each
// has every angle and polarisation that the unit was read at, once. A placement that was read at all of them several
// times has several. incomplete counts the placements that lack a curve. What a placement is: see [PlacementsOf].
func Repeats(readings []study.Reading) (all []Repeat, incomplete int) {
	sessions, keys := map[string][]study.Reading{}, map[curveKey]bool{}
	for i := range readings {
		r := &readings[i]
		sessions[r.Session] = append(sessions[r.Session], *r)
		keys[curveKey{r.AngleDeg, r.Polarisation}] = true
	}
	order := slices.SortedFunc(maps.Keys(keys), curveKey.compare)
	for _, session := range slices.Sorted(maps.Keys(sessions)) {
		p := PlacementsOf(sessions[session])
		incomplete += len(p.LeftOut)
		if len(p.keys) < len(order) {
			incomplete += len(p.Numbers)
			continue
		}
		for i, mount := range p.byKey {
			repeats := len(mount[order[0]])
			for _, key := range order {
				repeats = min(repeats, len(mount[key]))
				slices.SortStableFunc(mount[key], func(a, b study.Reading) int { return cmp.Compare(a.Replicate, b.Replicate) })
			}
			for n := range repeats {
				one := Repeat{Session: session, Placement: p.Numbers[i]}
				for _, key := range order {
					one.Readings = append(one.Readings, mount[key][n])
				}
				all = append(all, one)
			}
		}
	}
	return all, incomplete
}
