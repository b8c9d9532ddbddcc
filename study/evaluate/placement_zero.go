package evaluate

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
	"wane/fit/film"
	"wane/study"
)

// ZeroQuantity is the quantity of a check standard that is a light trap: what is read of it is stray and dark light.
const ZeroQuantity = "zero"

// ZeroScatter says how the zero of an instrument scatters between sessions, by its readings of light traps.
type ZeroScatter struct {
	film.ScatterRange               // fractions
	Mean              study.Measure // over the sessions
	Sessions          int
	Replicated        bool // whether some session has replicates, whose scatter is then no part of the SD
}

// About returns the root of the mean square of the zero about 0, the uncertainty where no light trap was read: that of
// the SD and, where the mean is more than 2u off 0, the mean.
func (z *ZeroScatter) About() (u float64, biased bool) {
	mean := float64(z.Mean.Value)
	if math.Abs(mean) <= 2*float64(z.Mean.U) {
		return z.SD, false
	}
	return math.Hypot(z.SD, mean), true
}

// leastSessions is the least number of sessions that the scatter of the zero is estimated from.
const leastSessions = 3

// MeasureZero estimates the scatter of an instrument's zero between sessions from its readings of light traps, by
// [fit.REML]. The zero of a session is the mean over angles and polarisations; those count that were read in every
// session with a light trap. Replicates of one of them in a session give the scatter of single readings, pooled over
// all sessions. It returns nil if there are fewer than three sessions, if they have no angle in common, and if all
// readings are equal, so that their steps hide the scatter.
func MeasureZero(roster *study.Roster, instrument string, level float64) (*ZeroScatter, error) {
	sessions, settings := trapReadings(roster, instrument)
	if len(sessions) < leastSessions || len(settings) == 0 {
		return nil, nil
	}
	squares, freedom := 0.0, 0.0
	for _, session := range sessions {
		for _, s := range settings {
			if n := float64(len(session[s])); n > 1 {
				squares += stat.Variance(session[s], nil) * (n - 1)
				freedom += n - 1
			}
		}
	}
	own := 0.0 // variance of a single reading
	if freedom > 0 {
		own = squares / freedom
	}
	vectors := make([]fit.Observed, len(sessions))
	for i, session := range sessions {
		mean, variance, n := 0.0, 0.0, float64(len(settings))
		for _, s := range settings {
			mean += stat.Mean(session[s], nil) / n
			variance += own / float64(len(session[s])) / (n * n)
		}
		vectors[i] = fit.Observed{Y: []float64{mean}, C: mat.NewSymDense(1, []float64{variance})}
	}
	found, err := fit.REML(vectors, []int{0})
	var equal *fit.ProblemError
	if errors.As(err, &equal) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	interval, err := found.Interval(0, distuv.ChiSquared{K: 1}.Quantile(level))
	if err != nil {
		return nil, err
	}
	return &ZeroScatter{
		ScatterRange: film.ScatterRange{SD: found.SD[0], Lower: interval.Lower, Upper: interval.Upper},
		Mean:         study.Measure{Value: study.Num(found.Mean[0]), U: study.Num(math.Sqrt(found.Cov.At(0, 0)))},
		Sessions:     len(sessions), Replicated: freedom > 0,
	}, nil
}

// trapSetting is a light trap at an angle and polarisation.
type trapSetting struct {
	standard string
	curveKey
}

// trapReadings returns the readings of light traps in the sessions of an instrument, in the order of session names, and
// the settings that all of these sessions have.
func trapReadings(roster *study.Roster, instrument string) (sessions []map[trapSetting][]float64,
	common []trapSetting) {
	trap, at := map[string]bool{}, map[string]map[trapSetting][]float64{}
	for i := range roster.Standards {
		if s := &roster.Standards[i]; s.Quantity == ZeroQuantity {
			trap[s.Standard] = true
		}
	}
	for i := range roster.Sessions {
		if s := &roster.Sessions[i]; s.Instrument == instrument {
			at[s.Session] = map[trapSetting][]float64{}
		}
	}
	for i := range roster.Checks {
		c := &roster.Checks[i]
		if session := at[c.Session]; session != nil && trap[c.Standard] {
			s := trapSetting{c.Standard, curveKey{c.AngleDeg, c.Polarisation}}
			session[s] = append(session[s], c.Value)
		}
	}
	names := make([]string, 0, len(at))
	count := map[trapSetting]int{}
	for name, session := range at {
		if len(session) > 0 {
			names = append(names, name)
		}
		for s := range session {
			count[s]++
		}
	}
	slices.Sort(names)
	for _, name := range names {
		sessions = append(sessions, at[name])
	}
	for s, n := range count {
		if n == len(names) {
			common = append(common, s)
		}
	}
	slices.SortFunc(common, func(a, b trapSetting) int {
		return cmp.Or(strings.Compare(a.standard, b.standard), a.curveKey.compare(b.curveKey))
	})
	return sessions, common
}
