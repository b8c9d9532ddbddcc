package report

import (
	"fmt"
	"math"
)

// The largest distances between groups at the same dose.
const (
	stepShare   = 0.012 // of neighbours, as a share of the range of doses
	spreadShare = 0.06  // of the first from the last, as a share of the range of doses
	pullShare   = 0.5   // of the first from the last, as a share of the distance to the next pull
)

// room is the space for groups side by side at their doses.
type room struct {
	gaps    int                 // number of gaps between the groups
	doses   span                // of all pulls, one unit long for a single dose
	nearest map[float64]float64 // by dose: least distance to another dose of a series that has it
}

// newRoom returns the room of series that share a panel.
func newRoom(series []*Series) room {
	r := room{len(series) - 1, emptySpan(), map[float64]float64{}}
	for _, s := range series {
		for i, p := range s.Points {
			if !usable(p.Dose) {
				continue
			}
			r.doses = r.doses.with(p.Dose)
			for _, q := range s.Points[:i] {
				r.addPair(p.Dose, q.Dose)
				r.addPair(q.Dose, p.Dose)
			}
		}
	}
	r.doses = r.doses.orIfEmpty(span{0, 1})
	if r.doses.lo == r.doses.hi {
		r.doses = r.doses.padded(0, 1)
	}
	return r
}

// addPair adds two doses of one series.
func (r *room) addPair(a, b float64) {
	distance := math.Abs(a - b)
	if known, ok := r.nearest[a]; usable(distance) && distance > 0 && (!ok || distance < known) {
		r.nearest[a] = distance
	}
}

// step returns the distance between neighbouring groups at the dose.
func (r *room) step(dose float64) float64 {
	if r.gaps == 0 {
		return 0
	}
	length := r.doses.hi - r.doses.lo
	spread := spreadShare * length
	if next, ok := r.nearest[dose]; ok {
		spread = math.Min(spread, pullShare*next)
	}
	return math.Min(stepShare*length, spread/float64(r.gaps))
}

// ceil2 returns a positive v rounded up to two digits.
func ceil2(v float64) string {
	unit := math.Pow(10, math.Floor(math.Log10(v))-1)
	// 1e-9: a v of two digits keeps its value.
	return fmt.Sprintf("%.*f", decimalsOf(unit), math.Ceil(v/unit-1e-9)*unit)
}
