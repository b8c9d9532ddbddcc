package ageing

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"wane/study"
)

// sample holds the errors of n values, each of another coupon.
type sample struct {
	n         int
	sum       []study.Weighted // the sum of the values
	variances float64          // the sum of their variances
}

// add adds the value of a coupon, given as a sum of results.
func (s *sample) add(terms []study.Weighted) {
	s.n++
	one := condensed(terms)
	if known(one) {
		s.variances += study.Covariance(one, one)
	}
	s.sum = condensed(append(s.sum, one...))
}

// join adds the values of another sample.
func (s *sample) join(o *sample) {
	s.n += o.n
	s.variances += o.variances
	s.sum = condensed(append(s.sum, o.sum...))
}

// mean returns the mean of the values as a sum of results.
func (s *sample) mean() []study.Weighted { return condensed(scaled(1/float64(s.n), s.sum)) }

// meanSharing returns the mean of the values as a sum of results, in which the part of its error that only these values
// have is an effect, own, so that all results that use the mean share it. With u² the variance of that part, s the
// standard deviation between the n values, and σ the part of s that their errors explain, see [sample.expected], the
// variance of the effect is
//
//	u² + max(0, s² - σ²)/n
//
// The second term has n - 1 degrees of freedom; u² counts as known.
func (s *sample) meanSharing(values []float64, own study.Effect) []study.Weighted {
	terms := s.mean()
	if len(terms) == 0 || !known(terms) {
		return terms
	}
	e, n := terms[0].Errors, float64(s.n)
	effect, v := study.Sensitivity{Effect: own}, e.OwnOf(0, 0)
	if observed, explained := variance(values), s.expected(); observed > explained {
		v += (observed - explained) / n
		effect.DoF = (n - 1) * square(v*n/(observed-explained))
	}
	effect.By[0] = math.Sqrt(v)
	e.Shared = append(e.Shared, effect)
	e.SetOwn(0, 0, 0)
	return terms
}

// expected returns the expected square of the standard deviation between the values by their errors alone, 0 for a
// single value. With V the mean of their variances, C the mean of the covariances of any two of them, and u² =
// V/n + C·(n - 1)/n the variance of their mean,
//
//	σ² = V - C = (Σ variances - n·u²) / (n - 1)
//
// So σ²/n of u² appears in the scatter of the values, and u² - σ²/n = C does not.
func (s *sample) expected() float64 {
	if s.n < 2 {
		return 0
	}
	n := float64(s.n)
	return max(0, (s.variances-study.Covariance(s.sum, s.sum)/n)/(n-1))
}

// condensed returns one term for many, see [study.Condense], and none for none. If the errors of one of them are not
// known, those of the term are not.
func condensed(terms []study.Weighted) []study.Weighted {
	switch {
	case len(terms) == 0:
		return nil
	case !known(terms):
		return []study.Weighted{{Errors: &study.Errors{}}}
	}
	return []study.Weighted{study.Condense(terms)}
}

// known reports whether the errors of all terms are known.
func known(terms []study.Weighted) bool {
	return !slices.ContainsFunc(terms, func(t study.Weighted) bool { return !t.Errors.Known() })
}

// variance returns the square of the standard deviation between the values, 0 for a single value.
func variance(values []float64) float64 {
	if len(values) < 2 {
		return 0
	}
	return stat.Variance(values, nil)
}

func square(x float64) float64 { return x * x }
