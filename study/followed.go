package study

// Followed is a quantity of results whose changes are followed over the pulls.
type Followed struct {
	Of     func(*Result) *Measure
	Factor float64 // from the unit of Of to that of changes

	// Output is the quantity where its errors are kept effect by effect. Split says that they are; else its standard
	// uncertainty is all that is known, and counts as that of errors that no other result shares.
	Output Output
	Split  bool
}

// FollowedSolarT returns the solar transmittance, in pp.
func FollowedSolarT() Followed {
	return Followed{Of: func(r *Result) *Measure { return &r.SolarT }, Factor: 100, Output: OutSolarT, Split: true}
}

// Value returns the quantity of a result in the unit of changes; null where it does not apply.
func (q *Followed) Value(r *Result) Num { return Num(q.Factor) * q.Of(r).Value }

// Term returns the quantity of a fit as a term of a sum of results, in the unit of changes. Where it is not split, the
// fit is one of [Followed.Fits].
func (q *Followed) Term(f *Fit, weight float64) Weighted {
	if !q.Split {
		return Weighted{Errors: f.Following, Weight: q.Factor * weight}
	}
	return Weighted{Errors: &f.Errors, Output: q.Output, Weight: q.Factor * weight}
}

// Fits returns the fits with what [Followed.Term] needs: the fits themselves where the errors are kept effect by effect,
// else copies.
func (q *Followed) Fits(fits []*Fit) []*Fit {
	if q.Split {
		return fits
	}
	out := make([]*Fit, len(fits))
	for i, f := range fits {
		g := *f
		g.Following = &Errors{}
		if u := q.Of(&f.Result).U; u.Valid() {
			g.Following.SetOwn(0, 0, float64(u*u))
		}
		out[i] = &g
	}
	return out
}
