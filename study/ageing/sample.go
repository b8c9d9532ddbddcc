package ageing

import (
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
