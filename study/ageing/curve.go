package ageing

import (
	"cmp"
	"slices"

	"wane/study"
)

// Curve is the change of a group of coupons against the dose, in one exposure and one condition.
type Curve struct {
	Name     string // the group; also the exposure or the condition, where the curves have several
	DoseUnit string
	Points   []Group // with a dose and a change, in the order of pulls
}

// Curves puts groups together into curves, in the order of group, exposure and condition. Groups without
// a dose or without a change are in no curve.
func Curves(groups []Group) []Curve {
	exposures, conditions := map[string]bool{}, map[string]bool{}
	for i := range groups {
		exposures[groups[i].Exposure], conditions[groups[i].Condition] = true, true
	}
	ofCurve := func(a, b Group) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Exposure, b.Exposure),
			cmp.Compare(a.Condition, b.Condition))
	}
	points := slices.DeleteFunc(slices.Clone(groups), func(g Group) bool { return !g.Dose.Valid() || !g.Change.Valid() })
	slices.SortStableFunc(points, func(a, b Group) int { return cmp.Or(ofCurve(a, b), cmp.Compare(a.Pull, b.Pull)) })
	var curves []Curve
	for i, g := range points {
		if i == 0 || ofCurve(points[i-1], g) != 0 {
			name := g.Group
			if len(exposures) > 1 {
				name += ", " + g.Exposure
			}
			if len(conditions) > 1 && g.Condition != "" {
				name += ", " + g.Condition
			}
			curves = append(curves, Curve{Name: name, DoseUnit: g.DoseUnit})
		}
		c := &curves[len(curves)-1]
		c.Points = append(c.Points, g)
	}
	return curves
}

// Distrusted counts the spots of groups, each at each pull, that depend on a session that is not trusted.
type Distrusted struct {
	Spots       int // of all groups
	Suspect     int // read in such a session
	SuspectBase int // compared with a pull 0 that was read in such a session
}

// CountDistrusted adds up what groups say of their spots.
func CountDistrusted(groups []Group) (d Distrusted) {
	for i := range groups {
		d.Spots += groups[i].Spots
		d.Suspect += groups[i].Flags[study.FlagSessionNotTrusted]
		d.SuspectBase += groups[i].Flags[study.FlagBaselineNotTrusted]
	}
	return d
}

// CountStates returns in which states the spots of a group are, and how many in each: in the order of
// [study.States], then those without a state.
func (g *Group) CountStates() (counts []StateCount) {
	for _, s := range append(study.States(), "") {
		if n := g.States[s]; n > 0 {
			counts = append(counts, StateCount{s, n})
		}
	}
	return counts
}

// StateCount is the number of spots in a state.
type StateCount struct {
	State study.State // empty: without one
	Spots int
}
