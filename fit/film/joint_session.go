package film

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// SessionFit is the joint fit of the spots of one session.
type SessionFit struct {
	*Joint
	agreement agreement // of blanks and check standards
}

// FitSession fits the spots of one session together, on workers goroutines; 0 means one for each processor.
// Blanks, check standards, controls and coupons correct the session and one another. Blanks, and standards
// without pins, count as bare. A spot whose single fit fails or is poor is not used: see [JointSpot].
//
// Members of several sessions give an [*InputError], and so does a session without anything that determines the
// scale: a blank, a standard or a prior.
func FitSession(ctx context.Context, members []Member, workers int) (*SessionFit, error) {
	return new(Fitters).Session(ctx, members, workers)
}

// Session is like [FitSession], with the fitters of f.
func (f *Fitters) Session(ctx context.Context, members []Member, workers int) (*SessionFit, error) {
	if len(members) == 0 {
		return nil, &InputError{"session", "no spot is given", "give the spots of one session"}
	}
	of := make([]Member, len(members))
	for i, m := range members {
		if m.Session != members[0].Session {
			return nil, &InputError{fmt.Sprintf("spot %d", i+1), fmt.Sprintf("it is of session %q, others of %q", m.Session,
				members[0].Session), "fit one session at a time"}
		}
		of[i] = m.bare()
		of[i].ownSkeleton = true
	}
	if err := checkScale(of, func(int) bool { return true }); err != nil {
		return nil, err
	}
	j, err := f.fitJointly(ctx, of, nil, workers)
	if err != nil {
		return nil, err
	}
	if err := checkScale(of, func(i int) bool { return j.Spots[i].Err == nil }); err != nil {
		return nil, err
	}
	return &SessionFit{j, j.checkAgreement()}, nil
}

// bare returns m with the pin that its role implies.
func (m Member) bare() Member {
	_, pinned := m.Spot.Pins[Bare]
	if m.Role == RoleBlank && !pinned || m.Role == RoleStandard && len(m.Spot.Pins) == 0 {
		s := *m.Spot
		if s.Pins = maps.Clone(s.Pins); s.Pins == nil {
			s.Pins = Pins{}
		}
		s.Pins[Bare] = 1
		m.Spot = &s
	}
	return m
}

// checkScale returns an error if neither a prior nor a member that is used determines the scale of the session.
func checkScale(members []Member, used func(i int) bool) error {
	for i, m := range members {
		_, pinned := m.Spot.Pins[Scale]
		if !math.IsInf(m.Spot.known().Session.UScale, 1) || used(i) && (m.reference() || pinned) {
			return nil
		}
	}
	return &InputError{"session", "nothing says what its scale is: it has no usable blank and no usable check " +
		"standard, and nothing is known of the reference beforehand",
		"read a dark blank or a check standard in the session, or state the uncertainty of the reference from its " +
			"certificate"}
}

// reference reports whether m is a blank or a check standard.
func (m *Member) reference() bool { return m.Role == RoleBlank || m.Role == RoleStandard }

// agreement says whether dark blanks and check standards agree on the session. They must
// agree before either corrects anything.
//
// With H and g the normal matrix and gradient of the shared parameters from blanks, M
// and m those from standards and priors, and M = L·Lᵀ, the eigenvectors u and
// eigenvalues λ of L⁻¹·H·L⁻ᵀ are independent directions in which both give an estimate,
// -u·L⁻¹·g/λ of variance 1/λ and -u·L⁻¹·m of variance 1. The squares of the differences
// over their variances, 1 + 1/λ, add to chi-square. Only directions with λ of at least
// 0.01 count: there the standard deviation by the blanks is at most ten times that by
// standards and priors.
type agreement struct {
	Tested bool // there are blanks and standards
	Agree  bool // P is at least 1 %; true where there is nothing to test
	Chi2   float64
	DoF    int
	P      float64 // of a larger chi-square
	Why    string
}

const (
	disagree         = 0.01 // probability below which blanks and standards disagree
	leastInformation = 0.01 // least λ of a direction that counts
)

// checkAgreement compares blanks with check standards.
func (j *Joint) checkAgreement() agreement {
	t := j.fit
	slots, place := t.slotsOfReferences()
	n, blanks, standards := len(slots), 0, 0
	h, rest := make([]float64, n*n), make([]float64, n*n)
	g, m := mat.NewVecDense(max(n, 1), nil), mat.NewVecDense(max(n, 1), nil)
	for _, p := range t.parts {
		switch p.member.Role {
		case RoleBlank:
			blanks++
			p.arrow.complement(h, g.RawVector().Data, place(p))
		case RoleStandard:
			standards++
			p.arrow.complement(rest, m.RawVector().Data, place(p))
		}
	}
	switch {
	case blanks == 0 && standards == 0:
		return agreement{Agree: true, P: math.NaN(), Why: "there is neither a blank nor a check standard"}
	case standards == 0:
		return agreement{Agree: true, P: math.NaN(), Why: "there is no check standard for the blank to agree with"}
	case blanks == 0:
		return agreement{Agree: true, P: math.NaN(), Why: "there is no blank for the check standard to agree with"}
	case n == 0:
		return agreement{Agree: true, P: math.NaN(), Why: "nothing of the session is free"}
	}
	box := uniformSDs(t.params)
	for i, k := range slots {
		if p := t.params[k]; p.Prior.SD > 0 {
			rest[i*n+i] += t.inflation / p.Prior.SD / p.Prior.SD
			m.SetVec(i, m.AtVec(i)+t.inflation*(t.x[k]-p.Prior.Mean)/p.Prior.SD/p.Prior.SD)
		} else {
			rest[i*n+i] += t.inflation / box[k] / box[k]
		}
	}
	a := agreement{Tested: true}
	a.Chi2, a.DoF = agreementChi2(mat.NewSymDense(n, h), mat.NewSymDense(n, rest), g, m)
	a.Chi2 /= t.inflation
	a.P = 1
	if a.DoF > 0 {
		a.P = distuv.ChiSquared{K: float64(a.DoF)}.Survival(a.Chi2)
	}
	a.Agree = a.P >= disagree
	a.Why = fmt.Sprintf("blank and check standard agree on the session (chi-square %.3g of %d, probability %.2g)",
		a.Chi2, a.DoF, a.P)
	if !a.Agree {
		a.Why = fmt.Sprintf("blank and check standard disagree on the session (chi-square %.3g of %d, probability %.2g): "+
			"one of them is not what it is taken for", a.Chi2, a.DoF, a.P)
	}
	return a
}

// slotsOfReferences returns the shared parameters of blanks and check standards, and what gives the places of those of one
// of them in the list.
func (t *jointFit) slotsOfReferences() (slots []int, place func(p *part) []int) {
	for _, p := range t.parts {
		if p.member.reference() {
			slots = append(slots, p.at...)
		}
	}
	slices.Sort(slots)
	slots = slices.Compact(slots)
	return slots, func(p *part) (at []int) {
		for _, k := range p.at {
			i, _ := slices.BinarySearch(slots, k)
			at = append(at, i)
		}
		return at
	}
}

// agreementChi2 returns the chi-square of an [agreement] and its degrees of freedom. It is NaN if the
// decompositions fail.
func agreementChi2(h, rest *mat.SymDense, g, m *mat.VecDense) (chi2 float64, dof int) {
	n := h.SymmetricDim()
	var c mat.Cholesky
	if !c.Factorize(rest) {
		return math.NaN(), 0
	}
	var l mat.TriDense
	c.LTo(&l)
	var half, scaled mat.Dense
	var lg, lm mat.VecDense
	for _, err := range []error{half.Solve(&l, h), scaled.Solve(&l, half.T()), lg.SolveVec(&l, g), lm.SolveVec(&l, m)} {
		if err != nil {
			return math.NaN(), 0
		}
	}
	symmetric := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			symmetric.SetSym(i, k, (scaled.At(i, k)+scaled.At(k, i))/2)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(symmetric, true) {
		return math.NaN(), 0
	}
	var u mat.Dense
	e.VectorsTo(&u)
	for k, lambda := range e.Values(nil) {
		if lambda < leastInformation {
			continue
		}
		dof++
		d := mat.Dot(u.ColView(k), &lg)/lambda - mat.Dot(u.ColView(k), &lm)
		chi2 += d * d * lambda / (1 + lambda)
	}
	return chi2, dof
}
