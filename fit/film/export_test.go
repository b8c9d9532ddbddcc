package film

import (
	"context"
	"math/rand/v2"
)

// RandomStarts solves v's model from n starts drawn evenly within the bounds, optical
// thickness up to 400 nm and nuisances from their priors, and counts those that end
// below the fit's minimum and those that end at it.
func (v *Verdict) RandomStarts(ctx context.Context, n int, seed uint64) (lower, reached int, err error) {
	rng := rand.New(rand.NewPCG(seed, 1000))
	params := v.model.params(0)
	for range n {
		x := startVector(params)
		for i, p := range params {
			switch {
			case p.Fixed:
			case i == pTau:
				x[i] = scanThin * rng.Float64()
			case p.Prior.SD > 0:
				x[i] = min(max(p.Prior.Mean+p.Prior.SD*rng.NormFloat64(), p.Lower), p.Upper)
			default:
				x[i] = p.Lower + (p.Upper-p.Lower)*rng.Float64()
			}
		}
		s, err := v.model.solve(ctx, params, x)
		if err != nil {
			return 0, 0, err
		}
		switch rise := s.cost/v.chosen.cost - 1; {
		case rise < -1e-8:
			lower++
		case rise < 1e-8:
			reached++
		}
	}
	return lower, reached, nil
}

// FitPlainly fits a uniform film with the noise as declared, which is what outside
// programs do: only then, in Fit, do residuals that are too large raise the noise.
func FitPlainly(ctx context.Context, spot *Spot) (*Verdict, error) {
	f := NewFitter(spot.Setup)
	sigma, err := spot.noise()
	if err != nil {
		return nil, err
	}
	m, err := f.packedModel(spot, sigma, 0)
	if err != nil {
		return nil, err
	}
	m.coarse = m
	return m.plainly(ctx)
}

// plainly is the fit of the film by m.
func (m *model) plainly(ctx context.Context) (*Verdict, error) {
	s, err := m.fitFilm(ctx)
	if err != nil {
		return nil, err
	}
	return m.verdictOf(s), nil
}

// verdictOf is the verdict that says s of m.
func (m *model) verdictOf(s *solution) *Verdict {
	v := &Verdict{Model: ModelFilm, model: m, chosen: s}
	v.fillEquivalent()
	v.fillPhysical()
	v.fillQuality()
	return v
}

// Equivalent fits the uniform film to other curves of the set-up of v, with the weights of v and from its solution.
func (v *Verdict) Equivalent(ctx context.Context, spot *Spot) (*Verdict, error) {
	m, err := NewFitter(spot.Setup).fullModel(spot, v.model.sigma())
	if err != nil {
		return nil, err
	}
	m.coarse = m
	s, err := m.solve(ctx, m.params(0), append([]float64(nil), v.chosen.x...))
	if err != nil {
		return nil, err
	}
	if err := m.covariance(s); err != nil {
		return nil, err
	}
	return m.verdictOf(s), nil
}

// AgreementForTest returns whether the blanks and check standards of the session agree.
func (s *SessionFit) AgreementForTest() agreement { return s.agreement }
