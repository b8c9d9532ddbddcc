package evaluate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"wane/fit/film"
	"wane/study"
)

// curveKey is what one curve of a placement has of its own.
type curveKey struct {
	angleDeg     float64
	polarisation string
}

func (k curveKey) String() string { return fmt.Sprintf("%g degrees, %s", k.angleDeg, k.polarisation) }

func (k curveKey) compare(l curveKey) int {
	return cmp.Or(cmp.Compare(k.angleDeg, l.angleDeg), strings.Compare(k.polarisation, l.polarisation))
}

// Placements are the readings of one spot of a coupon in one session, by the times that the coupon was set down.
type Placements struct {
	Numbers   []int     // of those that have all curves of the series, rising
	LeftOut   []int     // of the others, rising
	AnglesDeg []float64 // rising

	keys  []curveKey
	byKey []map[curveKey][]study.Reading // in the order of Numbers
}

// mountOf returns the number of the placement that a reading belongs to. Where the map states mountings, they are the
// placements, and replicates are of one of them; else each replicate of the series is taken for one.
func mountOf(r *study.Reading, stated bool) int {
	if stated {
		return max(1, r.Mounting)
	}
	return r.Replicate
}

// PlacementsOf sorts the readings of one spot in one session by placements.
func PlacementsOf(readings []study.Reading) *Placements {
	p, mounts := &Placements{}, map[int]map[curveKey][]study.Reading{}
	stated := slices.ContainsFunc(readings, func(r study.Reading) bool { return r.Mounting > 1 })
	for i := range readings {
		r := &readings[i]
		m, key := mountOf(r, stated), curveKey{r.AngleDeg, r.Polarisation}
		if mounts[m] == nil {
			mounts[m] = map[curveKey][]study.Reading{}
		}
		mounts[m][key] = append(mounts[m][key], *r)
		p.keys, p.AnglesDeg = append(p.keys, key), append(p.AnglesDeg, r.AngleDeg)
	}
	slices.SortFunc(p.keys, curveKey.compare)
	p.keys = slices.Compact(p.keys)
	slices.Sort(p.AnglesDeg)
	p.AnglesDeg = slices.Compact(p.AnglesDeg)
	for _, m := range slices.Sorted(maps.Keys(mounts)) {
		if len(mounts[m]) < len(p.keys) {
			p.LeftOut = append(p.LeftOut, m)
			continue
		}
		p.Numbers, p.byKey = append(p.Numbers, m), append(p.byKey, mounts[m])
	}
	return p
}

// Placement estimates how placements scatter. Several readings of a placement at one angle and polarisation are
// averaged. The slopes by tilt are those of the surface fitted to the mean curves. level is that of the intervals,
// between 0 and 1: see [film.MeasurePlacement].
//
// Fewer than [film.LeastPlacements], wavelengths that differ between placements, and readings that cannot be evaluated
// give a [*study.Refusal].
func (e *Evaluator) Placement(ctx context.Context, p *Placements, level float64) (*film.PlacementScatter, error) {
	curves, series, err := p.series()
	if err != nil {
		return nil, err
	}
	_, verdict, err := e.fit(ctx, curves, nil)
	if err != nil {
		return nil, err
	}
	slopes, err := verdict.TiltSlopes(curves)
	if err != nil {
		return nil, refusal(err)
	}
	for k := range series {
		series[k].TiltSlope = slopes[k]
	}
	scatter, err := film.MeasurePlacement(series, level)
	var in *film.InputError
	if errors.As(err, &in) {
		return nil, &study.Refusal{Fault: in.Fault, Try: in.Try}
	}
	return scatter, err
}

// series returns the mean curves of the placements, and the curves themselves without their slopes.
func (p *Placements) series() (means []film.Curve, series []film.Remounted, err error) {
	var all []study.Reading
	for _, mount := range p.byKey {
		for _, key := range p.keys {
			all = append(all, mount[key]...)
		}
	}
	if err := new(Conditions).CheckGeometry(all); err != nil {
		return nil, nil, err
	}
	for _, key := range p.keys {
		one := film.Remounted{}
		for _, mount := range p.byKey {
			if one.NM == nil {
				one.NM = mount[key][0].NM
			}
			mean := make([]float64, len(one.NM))
			for _, r := range mount[key] {
				if !slices.Equal(r.NM, one.NM) {
					return nil, nil, &study.Refusal{Fault: fmt.Sprintf("the wavelengths at %v differ between placements", key),
						Try: "read the whole series with the same range and step"}
				}
				floats.AddScaled(mean, 1/float64(len(mount[key])), r.Values)
			}
			one.R = append(one.R, mean)
		}
		pol, native, err := Beam(key.polarisation)
		if err != nil {
			return nil, nil, err
		}
		mean := make([]float64, len(one.NM))
		for _, r := range one.R {
			floats.AddScaled(mean, 1/float64(len(one.R)), r)
		}
		series = append(series, one)
		means = append(means, film.Curve{NM: one.NM, R: mean, AngleDeg: key.angleDeg, Pol: pol, Native: native})
	}
	return means, series, nil
}
