package shape

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit"
)

// parameter returns parameter j with its interval.
func (s *solution) parameter(ctx context.Context, f *Fit, j int, nu float64) (Estimate, error) {
	q := s.form.params[j]
	e := nothingOf(q.name, s.p.unitOf(q.kind))
	e.Value = f.x[j]
	by := s.uncertainty(j, f.ChiSquare, nu)
	e.DF, e.Method = by.df, by.method
	switch {
	case math.IsNaN(by.u):
		return e, nil
	case by.u == 0:
		e.DF, e.Flags = math.NaN(), []string{FlagConstant}
		return e, nil
	}
	half := quantileOf(by.df) * by.u
	ends := span{s.result.X[j] - half, s.result.X[j] + half}
	if f.Shape != Linear {
		profile, err := s.profile(ctx, j, s.rise(&by, j, f.ChiSquare, nu))
		if err != nil {
			return e, err
		}
		if ends = profile; by.units {
			ends = profile.over(span{s.result.X[j] - half, s.result.X[j] + half})
		}
		if math.IsNaN(ends.lower) || math.IsNaN(ends.upper) {
			e.Flags = append(e.Flags, FlagOpen)
		}
	}
	e.U, e.Lower, e.Upper = by.u, ends.lower, ends.upper
	if q.logged {
		e.U, e.Lower, e.Upper = by.u*e.Value, math.Exp(ends.lower), math.Exp(ends.upper)
	}
	return e, nil
}

// span is an interval of what is fitted; NaN: it has no end on this side.
type span struct{ lower, upper float64 }

// over returns the interval that covers both; without an end where one has none.
func (s span) over(o span) span { return span{min(s.lower, o.lower), max(s.upper, o.upper)} }

// rise returns by how much the cost rises at the ends of the profile. That of several units is by the errors and by the
// scatter about the shape alone: what units scatter beyond is not in the cost.
func (s *solution) rise(by *spread, j int, chiSquare, nu float64) float64 {
	if !by.units {
		return square(quantileOf(by.df)*by.u) / s.cov.At(j, j)
	}
	if !s.p.Known {
		return square(quantileOf(nu)) * chiSquare / nu
	}
	return square(quantileOf(math.NaN())) * max(1, chiSquare/nu)
}

func square(x float64) float64 { return x * x }

// profile returns the profile interval of what is fitted; without ends where it cannot be followed.
func (s *solution) profile(ctx context.Context, j int, rise float64) (span, error) {
	none := span{math.NaN(), math.NaN()}
	interval, err := fit.Profile(ctx, s.problem, s.result, j, rise, nil)
	if ctx.Err() != nil {
		return none, ctx.Err()
	}
	if err != nil {
		return none, nil
	}
	ends := span{interval.Lower, interval.Upper}
	if interval.LowerOpen {
		ends.lower = math.NaN()
	}
	if interval.UpperOpen {
		ends.upper = math.NaN()
	}
	return ends, nil
}

// spread is an uncertainty of what is fitted, with its degrees of freedom.
type spread struct {
	u, df  float64 // NaN: not known
	method string
	units  bool // by the scatter between units
}

// uncertainty returns that of what is fitted as parameter j.
func (s *solution) uncertainty(j int, chiSquare, nu float64) spread {
	p, v, nan := s.p, s.cov.At(j, j), math.NaN()
	gain := mat.NewVecDense(len(p.X), mat.Row(nil, j, s.gain))
	about := math.Sqrt(v * chiSquare / nu)
	if p.unsure() != nil || !p.sessions && nu <= 0 {
		return spread{nan, nan, "least squares, errors of sessions not known", false}
	}
	if p.alone {
		return spread{nan, nan, "gls, of one coupon", false}
	}
	if p.Units < 2 {
		switch {
		case !p.Known:
			return spread{about, nu, "least squares, scatter about the shape", false}
		case !p.sessions:
			return spread{max(about, math.Sqrt(v)), nu, "gls, scatter about the shape", false}
		case isFar(chiSquare, nu):
			return spread{about, nu, "gls, scatter about the shape", false}
		}
		return spread{math.Sqrt(v), welch(v, p.few(gain)), "gls, errors by the law", false}
	}
	u, df := p.between(gain)
	if !p.sessions && about > u {
		return spread{about, nu, "gls, scatter about the shape", false}
	}
	if p.Units < p.Coupons {
		return spread{u, df, "gls, scatter of lots", true}
	}
	return spread{u, df, "gls, scatter of coupons", true}
}

// between returns the uncertainty of Σ gain·y of the mean path by the scatter between units and by what they share, and
// its degrees of freedom, as the package comment says; 0 where they do not scatter. There are two units at least.
func (p *Path) between(gain mat.Vector) (u, df float64) {
	z := make([]float64, p.Units)
	mean := 0.0
	for i, y := range p.each {
		z[i] = mat.Dot(gain, mat.NewVecDense(len(y), y))
		mean += z[i] / float64(p.Units)
	}
	n, scatter := float64(p.Units), 0.0
	for _, v := range z {
		scatter += (v - mean) * (v - mean) / ((n - 1) * n)
	}
	if scatter == 0 {
		return 0, math.NaN()
	}
	v, few := scatter, scatter*scatter/(n-1)
	if p.Known {
		v += max(0, mat.Inner(gain, p.law, gain)-mat.Inner(gain, p.expected(), gain)/n)
		few += p.few(gain)
	}
	return math.Sqrt(v), welch(v, few)
}

// few returns the sum of v²/df over the parts v of the variance of Σ gain·y whose degrees of freedom df are known.
func (p *Path) few(gain mat.Vector) (sum float64) {
	if len(p.dof) == 0 {
		return 0
	}
	by := map[int]float64{}
	var effects []int
	for k, v := range p.mean {
		for _, s := range v.Shared {
			if p.dof[s.Effect] > 0 {
				if _, there := by[s.Effect]; !there {
					effects = append(effects, s.Effect)
				}
				by[s.Effect] += gain.AtVec(k) * s.By
			}
		}
	}
	for _, e := range effects {
		sum += math.Pow(by[e], 4) / p.dof[e]
	}
	return sum
}

// welch returns the degrees of freedom of a variance after Welch and Satterthwaite; NaN where all of it is known.
func welch(v, few float64) float64 {
	if few == 0 {
		return math.NaN()
	}
	return v * v / few
}
