package shape

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit"
)

// The flags of a fit.
const (
	FlagScatter   = "scatter"    // the path lies farther from the shape than its errors explain
	FlagConstant  = "constant"   // all values are the same: how far they scatter is not known
	FlagNotTested = "not-tested" // so few pulls cannot tell the shape from others: it has no AICc
	// FlagSessionIsDose marks a value without an interval: it is of one pull, and what sessions are off is not known.
	FlagSessionIsDose = "session-is-dose"
	FlagAtEnd         = "at-the-end" // a parameter ran to the end of what is tried
	FlagOpen          = "open"       // the interval has no end on one side
)

// Fit is a shape along a path.
type Fit struct {
	Shape      Shape
	Parameters []Estimate
	Pulls      int     // after the baseline
	ChiSquare  float64 // of the path about the shape; where errors are not known, in units of their variance
	AICc       float64 // NaN: too few pulls
	Difference float64 // of AICc from that of the best shape

	x    []float64 // the parameters as they were found
	most float64
}

// At returns the change at x.
func (f *Fit) At(x float64) float64 { return f.Shape.form().at(f.x, x, f.most) }

// Found reports whether the path has told all parameters of the shape.
func (f *Fit) Found() bool {
	return len(f.x) > 0 && !slices.ContainsFunc(f.Parameters, func(e Estimate) bool { return math.IsNaN(e.Value) })
}

// FitAll fits all shapes to the path, in the order of AICc, those without it at the end. A shape that cannot be fitted
// stands there with the reason in the parameters.
func (p *Path) FitAll(ctx context.Context) ([]Fit, error) {
	var all []Fit
	for _, s := range Shapes() {
		f, err := p.Fit(ctx, s)
		if err != nil {
			return nil, err
		}
		all = append(all, *f)
	}
	criterion := func(f *Fit) float64 {
		if math.IsNaN(f.AICc) {
			return math.Inf(1)
		}
		return f.AICc
	}
	slices.SortStableFunc(all, func(a, b Fit) int { return cmp.Compare(criterion(&a), criterion(&b)) })
	for i := range all {
		all[i].Difference = all[i].AICc - all[0].AICc
	}
	return all, nil
}

// Fit fits a shape to the path by generalised least squares. Where the path cannot tell a parameter, its Why says so.
func (p *Path) Fit(ctx context.Context, s Shape) (*Fit, error) {
	k, n := len(p.X), len(s.form().params)
	f := &Fit{Shape: s, Pulls: k, ChiSquare: math.NaN(), AICc: math.NaN(), Difference: math.NaN(), most: p.X[k-1]}
	if doses := p.doses(); s != Linear && doses < n+2 {
		f.cannot(fmt.Sprintf("%s after the baseline cannot tell this shape, of %d parameters, from others", pulls(doses), n),
			fmt.Sprintf("read %s or more after the baseline, or use --shape linear", pulls(n+2)))
		return f, nil
	}
	w, err := p.weigh()
	if err != nil {
		return nil, err
	}
	sol, err := w.solve(ctx, p, s)
	if err != nil {
		return nil, err
	}
	f.x, f.ChiSquare = sol.parameters(), sol.cost()
	f.AICc = aicc(f.ChiSquare, k, n, p.Known)
	return f, sol.estimate(ctx, f)
}

// Bent reports whether the path lies farther from a straight line than its errors and the scatter of its units explain,
// as [FlagScatter] says. It is false where the errors are not known, or what sessions are off, or there is one pull.
func (p *Path) Bent() bool {
	if !p.sessions || p.doses() < 2 {
		return false
	}
	w, err := p.weigh()
	if err != nil {
		return false // errors that are stated to be none test nothing
	}
	s := solution{p: p, w: w, form: Linear.form()}
	return isFar(s.linearResult(w.linear(p, Linear, []float64{0})).Cost, float64(len(p.X)-1))
}

// isFar reports whether chi-square is above its quantile at Level; nu is its degrees of freedom.
func isFar(chiSquare, nu float64) bool {
	return nu > 0 && chiSquare > (distuv.ChiSquared{K: nu}).Quantile(Level)
}

// aicc returns the criterion of the package comment; NaN where there are too few pulls.
func aicc(chiSquare float64, k, n int, known bool) float64 {
	criterion := chiSquare
	if !known {
		criterion, n = float64(k)*math.Log(chiSquare/float64(k)), n+1
	}
	if k < n+2 || math.IsInf(criterion, 0) {
		return math.NaN()
	}
	p := float64(n)
	return criterion + 2*p + 2*p*(p+1)/(float64(k)-p-1)
}

// doses returns the number of different doses of the path.
func (p *Path) doses() int { return len(slices.Compact(slices.Clone(p.X))) }

// pulls counts pulls in words.
func pulls(n int) string {
	if n == 1 {
		return "1 pull"
	}
	return fmt.Sprintf("%d pulls", n)
}

// cannot says in the place of the parameters that the path does not tell them.
func (f *Fit) cannot(because, try string, flags ...string) {
	e := nothingOf("", "")
	e.Flags, e.Why = flags, Cannot(because, try)
	f.Parameters = []Estimate{e}
}

// nothingOf returns an estimate without any number.
func nothingOf(parameter, unit string) Estimate {
	nan := math.NaN()
	return Estimate{Parameter: parameter, Unit: unit, Value: nan, U: nan, Lower: nan, Upper: nan, DF: nan, At: nan}
}

// unitOf returns the unit of a kind of parameter.
func (p *Path) unitOf(k kind) string {
	switch k {
	case change:
		return p.Unit
	case rate:
		return RateUnit(p.Unit, p.XUnit)
	case dose:
		return p.XUnit
	}
	return ""
}

// RateUnit returns the unit of a change per unit of dose: pp/day.
func RateUnit(unit, per string) string {
	switch per {
	case "days", "hours", "cycles":
		per = per[:len(per)-1]
	default:
		per = "(" + per + ")"
	}
	if unit == "" {
		unit = "1"
	}
	return unit + "/" + per
}

// weights are the working covariance of a path, by its Cholesky factor.
type weights struct{ l mat.TriDense }

// weigh returns the weights of the path. Where units scatter about their own multiples of the mean path more than their
// errors explain, the own part of the covariance is larger by as much.
func (p *Path) weigh() (*weights, error) {
	k := len(p.X)
	v := mat.NewSymDense(k, nil)
	if p.Known {
		v.CopySym(p.law)
		if excess := p.excess(); excess > 0 {
			expected := p.expected()
			expected.ScaleSym(excess/float64(p.Units), expected)
			v.AddSym(v, expected)
		}
	} else {
		for i := range k {
			for j := range i + 1 {
				v.SetSym(i, j, 1)
			}
			v.SetSym(i, i, 2)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(v) {
		return nil, Cannot("the errors of its changes are stated to be none, or all one",
			"state the uncertainty of its values, and see wane results --format csv")
	}
	w := &weights{}
	chol.LTo(&w.l)
	return w, nil
}

// expected returns the covariance with which the units would scatter by their errors alone.
func (p *Path) expected() *mat.SymDense {
	n := float64(p.Units)
	e := mat.NewSymDense(len(p.X), nil)
	e.ScaleSym(-n, p.law)
	e.AddSym(e, p.sumLaws)
	e.ScaleSym(1/(n-1), e)
	return e
}

// excess returns by how many times the expected covariance the units scatter beyond it, about their own multiples of
// the mean path; 0 where it cannot be said or they do not.
func (p *Path) excess() float64 {
	k, n := len(p.X), p.Units
	if n < 2 || k < 2 {
		return 0
	}
	var chol mat.Cholesky
	if !chol.Factorize(p.expected()) {
		return 0
	}
	mean := mat.NewVecDense(k, p.Y)
	var along mat.VecDense
	if err := chol.SolveVecTo(&along, mean); err != nil {
		return 0
	}
	length := mat.Dot(mean, &along)
	if !(length > 0) {
		return 0
	}
	sum := 0.0
	for _, y := range p.each {
		off := mat.NewVecDense(k, slices.Clone(y))
		off.AddScaledVec(off, -mat.Dot(off, &along)/length, mean)
		var solved mat.VecDense
		if err := chol.SolveVecTo(&solved, off); err != nil {
			return 0
		}
		sum += mat.Dot(off, &solved)
	}
	return max(0, sum/float64((n-1)*(k-1))-1)
}

// whiten stores L⁻¹v in dst, which may be v, and returns it; nil is allocated.
func (w *weights) whiten(dst, v []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(v))
	}
	for i := range v {
		sum := v[i]
		for j := range i {
			sum -= w.l.At(i, j) * dst[j]
		}
		dst[i] = sum / w.l.At(i, i)
	}
	return dst
}

// quantileOf returns the quantile of Student's t for a two-sided interval at Level; of the normal distribution for NaN.
func quantileOf(df float64) float64 {
	if math.IsNaN(df) || df > 1e6 {
		return distuv.UnitNormal.Quantile((1 + Level) / 2)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile((1 + Level) / 2)
}

// problem returns the least squares of a shape, with logarithms of the parameters that are positive.
func (w *weights) problem(p *Path, s Shape, start []float64) *fit.Problem {
	form := s.form()
	k := len(p.X)
	first, last := p.X[0], p.X[k-1]
	params := make([]fit.Param, len(form.params))
	for i, q := range form.params {
		params[i] = fit.Param{Name: q.name, Start: start[i], Lower: math.Inf(-1), Upper: math.Inf(1)}
		switch {
		case q.kind == dose && q.logged:
			params[i].Lower, params[i].Upper = math.Log(first/leastScale), math.Log(last*mostScale)
		case q.logged:
			params[i].Lower, params[i].Upper = math.Log(leastExponent), math.Log(mostExponent)
		case q.kind == dose:
			params[i].Lower, params[i].Upper = first, p.X[k-2]
		}
	}
	natural := make([]float64, len(params))
	return &fit.Problem{Params: params, Points: k, Residuals: func(dst, x []float64) {
		toNatural(natural, form.params, x)
		for i := range k {
			dst[i] = form.at(natural, p.X[i], last) - p.Y[i]
		}
		w.whiten(dst, dst)
	}}
}

// The ends of what is tried: a scale up to so many times the largest dose, and down to the first one over so many; an
// exponent between these. Common practice, no source.
const (
	mostScale     = 50
	leastScale    = 20
	leastExponent = 0.1
	mostExponent  = 10
)

// toNatural takes the exponential of what is fitted as a logarithm.
func toNatural(dst []float64, params []param, x []float64) {
	for i, q := range params {
		if dst[i] = x[i]; q.logged {
			dst[i] = math.Exp(x[i])
		}
	}
}
