package film

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// Remounted is the curve of one angle and polarisation in each placement of a series: one coupon, set down again and
// again for one spot in one session.
type Remounted struct {
	NM        []float64
	R         [][]float64 // one row a placement, each as long as NM, fractions
	TiltSlope []float64   // derivative of the reflectance by the angle of incidence, per degree, as long as NM
}

// ScatterRange is the standard deviation of an effect between placements, and its interval. A lower end of 0 means that
// the series does not tell the effect from none.
type ScatterRange struct{ SD, Lower, Upper float64 }

// PlacementScatter says how placements scatter.
type PlacementScatter struct {
	Factor ScatterRange // of the factor of each curve
	Tilt   ScatterRange // of the tilt that all angles of a placement have in common, degrees
	Zero   ScatterRange // of what adds to all curves of a placement, a fraction

	Placements  int
	NoiseSD     float64 // of one point by second differences, a fraction; root mean square over the curves
	NoiseFactor float64 // what its variance was multiplied by, so that it is that of the residuals
}

// LeastPlacements is the least number of placements that scatter is estimated from.
const LeastPlacements = 3

// MeasurePlacement estimates the scatter between placements from curves, one for each angle and polarisation of the
// series. With the mean curve r̄ over the placements, the generalised least squares of
//
//	r - r̄ = a_c·r̄ + b·slope + z
//
// over all curves c of a placement gives its factors a_c, tilt b and zero z with their covariance C. The standard
// deviations between placements are then those of [fit.REML], with one for all factors, and their intervals at level
// those of the profile likelihood.
//
// The curves are weighted by their noise, that of [Noise] in what placements differ by from the mean curve, as the root
// mean square. The variance of the residuals over it, and over the share of points that counts where neighbours are
// correlated, multiplies C.
//
// All R[m] are one placement. Fewer than three placements, curves without noise, and curves that do not distinguish
// factors, tilt and zero at all give an [*InputError]. MeasurePlacement panics if lengths differ or level is not
// between 0 and 1.
func MeasurePlacement(curves []Remounted, level float64) (*PlacementScatter, error) {
	if !(level > 0 && level < 1) {
		panic("film: the level of an interval lies between 0 and 1")
	}
	s, err := newRemountSeries(curves)
	if err != nil {
		return nil, err
	}
	vectors, factor, err := s.vectors()
	if err != nil {
		return nil, err
	}
	c := vectors[0].C.(*mat.SymDense) // of all
	c.ScaleSym(factor, c)
	component := make([]int, len(curves)+2) // factors, tilt, zero
	component[len(curves)], component[len(curves)+1] = 1, 2
	found, err := fit.REML(vectors, component)
	if err != nil {
		return nil, err
	}
	out := &PlacementScatter{Placements: s.placements, NoiseFactor: factor,
		NoiseSD: floats.Norm(s.sigma, 2) / math.Sqrt(float64(len(s.sigma)))}
	rise := distuv.ChiSquared{K: 1}.Quantile(level)
	for k, to := range []*ScatterRange{&out.Factor, &out.Tilt, &out.Zero} {
		i, err := found.Interval(k, rise)
		if err != nil {
			return nil, err
		}
		*to = ScatterRange{SD: found.SD[k], Lower: i.Lower, Upper: i.Upper}
	}
	return out, nil
}

// remountSeries is a series made ready.
type remountSeries struct {
	curves     []Remounted
	placements int
	points     int         // of one placement
	mean       [][]float64 // of each curve
	sigma      []float64   // noise of each curve
	design     *mat.Dense  // weighted by 1/sigma; a row a point, a column an effect
}

func newRemountSeries(curves []Remounted) (*remountSeries, error) {
	if len(curves) == 0 {
		return nil, &InputError{"series", "no curve is given", "give the curves of at least one angle"}
	}
	s := &remountSeries{curves: curves, placements: len(curves[0].R)}
	if s.placements < LeastPlacements {
		return nil, &InputError{"series", fmt.Sprintf("%d placements are too few to say how they scatter; "+
			"at least %d are needed", s.placements, LeastPlacements), "set the coupon down more often; 10 times are useful"}
	}
	for k := range curves {
		c := &curves[k]
		if len(c.R) != s.placements || len(c.TiltSlope) != len(c.NM) {
			panic("film: curves of a series differ in length")
		}
		mean := make([]float64, len(c.NM))
		for m, r := range c.R {
			one := Curve{NM: c.NM, R: r}
			what := fmt.Sprintf("curve %d of placement %d", k+1, m+1)
			if err := one.check(what); err != nil {
				return nil, err
			}
			if first := slices.IndexFunc(c.R, func(o []float64) bool { return slices.Equal(o, r) }); first < m {
				return nil, &InputError{what, fmt.Sprintf("its readings are those of placement %d", first+1),
					"give each placement once"}
			}
			floats.AddScaled(mean, 1/float64(s.placements), r)
		}
		sigma := c.noise(mean)
		if sigma == 0 {
			return nil, &InputError{fmt.Sprintf("curve %d", k+1), "its values are all equal, which is not a spectrum",
				"leave the curve out, or export it again"}
		}
		s.mean, s.sigma, s.points = append(s.mean, mean), append(s.sigma, sigma), s.points+len(c.NM)
	}
	s.fillDesign()
	return s, nil
}

// noise returns the noise of one point: [Noise] of what each placement differs by from the mean curve, which has no
// fringes, as the root mean square over the placements; at least that of the rounding of the values.
func (c *Remounted) noise(mean []float64) float64 {
	n := float64(len(c.R))
	squares, rounding, off := 0.0, 0.0, make([]float64, len(mean))
	for _, r := range c.R {
		noise := Noise(c.NM, floats.SubTo(off, r, mean))
		squares += noise * noise / (n - 1) // a placement less the mean has the variance 1 - 1/n
		rounding = max(rounding, SmallestStep(r)/math.Sqrt(12))
	}
	return max(math.Sqrt(squares), rounding)
}

// fillDesign fills the design: a column for the factor of each curve, one for the tilt and one for the zero.
func (s *remountSeries) fillDesign() {
	n := len(s.curves)
	s.design = mat.NewDense(s.points, n+2, nil)
	at := 0
	for k := range s.curves {
		w := 1 / s.sigma[k]
		for i, r := range s.mean[k] {
			s.design.Set(at+i, k, w*r)
			s.design.Set(at+i, n, w*s.curves[k].TiltSlope[i])
			s.design.Set(at+i, n+1, w)
		}
		at += len(s.mean[k])
	}
}

// deviations returns the curves of placement m less the mean, over sigma.
func (s *remountSeries) deviations(m int) *mat.VecDense {
	out := mat.NewVecDense(s.points, nil)
	at := 0
	for k := range s.curves {
		for i, r := range s.curves[k].R[m] {
			out.SetVec(at+i, (r-s.mean[k][i])/s.sigma[k])
		}
		at += len(s.mean[k])
	}
	return out
}

// singular is the smallest share of the largest singular value of the design, with columns of length 1, at which its
// effects are distinguished at all.
const singular = 1e-6

// estimator returns the matrix that takes the deviations of a placement to its effects, by least squares.
func (s *remountSeries) estimator() (*mat.Dense, error) {
	effects := len(s.curves) + 2
	scaled, length := mat.DenseCopyOf(s.design), make([]float64, effects)
	for j := range length {
		column := scaled.ColView(j).(*mat.VecDense)
		if length[j] = mat.Norm(column, 2); length[j] == 0 {
			return nil, s.notDistinguished()
		}
		column.ScaleVec(1/length[j], column)
	}
	var d mat.SVD
	if !d.Factorize(scaled, mat.SVDThin) || d.Cond() > 1/singular {
		return nil, s.notDistinguished()
	}
	var u, v, g mat.Dense
	d.UTo(&u)
	d.VTo(&v)
	for j, value := range d.Values(nil) {
		column := v.ColView(j).(*mat.VecDense)
		column.ScaleVec(1/value, column)
	}
	for j := range length {
		row := v.RowView(j).(*mat.VecDense)
		row.ScaleVec(1/length[j], row)
	}
	g.Mul(&v, u.T())
	return &g, nil
}

// vectors returns factors, tilt and zero of each placement, with the covariance that noise gives them, the same matrix
// in all, and what it is to be multiplied by so that the noise is that of the residuals. The covariance is that of the
// noise of a placement alone: the noise of the mean curve moves all placements alike, and makes none of the scatter.
func (s *remountSeries) vectors() (vectors []fit.Observed, noiseFactor float64, err error) {
	g, err := s.estimator()
	if err != nil {
		return nil, 0, err
	}
	vectors = make([]fit.Observed, s.placements)
	squares, steps := 0.0, 0.0
	for m := range vectors {
		var effects, rest mat.VecDense
		y := s.deviations(m)
		effects.MulVec(g, y)
		rest.MulVec(s.design, &effects)
		rest.SubVec(y, &rest)
		vectors[m].Y = effects.RawVector().Data
		squares += mat.Dot(&rest, &rest)
		left := rest.RawVector().Data
		for k := range s.curves {
			n := len(s.mean[k])
			steps += stepsOf(left[:n])
			left = left[n:]
		}
	}
	c := mat.NewSymDense(len(s.curves)+2, nil)
	c.SymOuterK(1, g)
	for m := range vectors {
		vectors[m].C = c
	}
	return vectors, s.noiseFactor(squares, steps), nil
}

// noiseFactor returns what the variance of the noise is multiplied by, from the sum of squares of all residuals over
// sigma, and that of the differences of neighbours. A placement less the mean has the variance 1 - 1/M.
func (s *remountSeries) noiseFactor(squares, steps float64) float64 {
	freedom := float64((s.placements - 1) * (s.points - len(s.curves) - 2))
	rho := 1 - steps/(2*squares)
	if rho < correlationSigmas/math.Sqrt(freedom) {
		return squares / freedom
	}
	return squares / freedom * (1 + rho) / (1 - rho)
}

func (s *remountSeries) notDistinguished() error {
	return &InputError{"series", "its curves do not distinguish a factor, a tilt and a zero",
		"read several angles at each placement, one of them at 45 degrees or more"}
}
