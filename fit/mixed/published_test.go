package mixed_test

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/fit/mixed"
	"wane/fit/simultaneous"
)

// frame is a table of texts, by column.
type frame map[string][]string

func read(t testing.TB, name string) frame {
	file, err := os.Open("testdata/" + name + ".csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	f := frame{}
	for c, column := range rows[0] {
		for _, row := range rows[1:] {
			f[column] = append(f[column], row[c])
		}
	}
	return f
}

func (f frame) numbers(t testing.TB, column string) (v []float64) {
	for _, text := range f[column] {
		x, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		v = append(v, x)
	}
	return v
}

// levels are the groups of one column, or of several together, numbered in the order in which they come.
func (f frame) levels(columns ...string) (of []int) {
	var names []string
	for i := range f[columns[0]] {
		name := ""
		for _, c := range columns {
			name += f[c][i] + "\x00"
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		of = append(of, slices.Index(names, name))
	}
	return of
}

// is is 1 where a column has a value, else 0.
func (f frame) is(column, value string) (v []float64) {
	for _, text := range f[column] {
		x := 0.0
		if text == value {
			x = 1
		}
		v = append(v, x)
	}
	return v
}

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }

func times(a, b []float64) (v []float64) {
	for i, x := range a {
		v = append(v, x*b[i])
	}
	return v
}

func fitted(t testing.TB, m *mixed.Model) *mixed.Fit {
	f, err := m.Fit(context.Background())
	require.NoError(t, err)
	return f
}

// unit is the contrast of one coefficient.
func unit(n, at int) []float64 {
	w := make([]float64, n)
	w[at] = 1
	return w
}

// want is what R says of a fit: the REML criterion, the variances by term and at last of the residual, and estimate, standard
// error and degrees of freedom of each coefficient.
type want struct {
	criterion float64
	variances []float64
	contrasts map[int][3]float64
}

func (w *want) check(t *testing.T, f *mixed.Fit) {
	t.Helper()
	assert.InDelta(t, w.criterion, f.Deviance, 1e-6)
	for k, v := range w.variances {
		got := f.Residuals[0]
		if k < len(f.Terms) {
			got = f.Terms[k][0].At(0, 0)
		}
		assert.InDelta(t, v, got, 1e-5*v+1e-9, "variance %d", k)
	}
	for at, c := range w.contrasts {
		got := f.Contrast(unit(len(f.Coefficients), at))
		assert.InEpsilon(t, c[0], got.Estimate, 1e-7)
		assert.InEpsilon(t, c[1], got.SE, 1e-6)
		assert.InEpsilon(t, c[2], got.DoF, 1e-4)
	}
}

// Published data against lme4 1.1.31 and lmerTest 3.1.3, R 4.2.2 (testdata/mixed_models.R): sleepstudy, Penicillin,
// Pastes, Dyestuff and Dyestuff2 of lme4, Orthodont, Machines and Oats of nlme.
func TestAgainstLme4(t *testing.T) {
	t.Run("sleepstudy, slopes correlated with intercepts", func(t *testing.T) {
		d := read(t, "sleepstudy")
		y, days := d.numbers(t, "Reaction"), d.numbers(t, "Days")
		f := fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y)), days},
			Terms: []mixed.Term{{Name: "subject", Of: d.levels("Subject"), Columns: [][]float64{ones(len(y)), days}}}})
		(&want{1743.62827196, []float64{612.089748275, 654.941040682}, map[int][3]float64{
			0: {251.405105, 6.82455578, 17}, 1: {10.467286, 1.54578893, 17}}}).check(t, f)
		assert.InEpsilon(t, 35.071662344, f.Terms[0][0].At(1, 1), 1e-5)
		assert.InEpsilon(t, 9.604335475, f.Terms[0][0].At(0, 1), 1e-5)
	})
	t.Run("sleepstudy, intercepts", func(t *testing.T) {
		d := read(t, "sleepstudy")
		y := d.numbers(t, "Reaction")
		(&want{1786.46508539, []float64{1378.1785389, 960.4565768}, map[int][3]float64{
			0: {251.405105, 9.746716339, 22.8101983}, 1: {10.467286, 0.804221428, 161}}}).check(t, fitted(t, &mixed.Model{Y: y,
			X: [][]float64{ones(len(y)), d.numbers(t, "Days")}, Terms: []mixed.Term{{Name: "subject", Of: d.levels("Subject")}}}))
	})
	t.Run("Penicillin, crossed", func(t *testing.T) {
		d := read(t, "penicillin")
		y := d.numbers(t, "diameter")
		(&want{330.860588991, []float64{0.7169081768, 3.7309175883, 0.3024154627}, map[int][3]float64{
			0: {22.9722222, 0.808573361, 5.48709296}}}).check(t, fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y))},
			Terms: []mixed.Term{{Name: "plate", Of: d.levels("plate")}, {Name: "sample", Of: d.levels("sample")}}}))
	})
	t.Run("Pastes, nested", func(t *testing.T) {
		d := read(t, "pastes")
		y := d.numbers(t, "strength")
		(&want{246.990745853, []float64{8.4336666204, 1.6573090814, 0.6779999841}, map[int][3]float64{
			0: {60.0533333, 0.676870097, 9}}}).check(t, fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y))},
			Terms: []mixed.Term{{Name: "cask", Of: d.levels("batch", "cask")}, {Name: "batch", Of: d.levels("batch")}}}))
		// With the terms the other way round casks are eliminated inside their batch.
		(&want{246.990745853, []float64{1.6573090814, 8.4336666204, 0.6779999841}, nil}).check(t, fitted(t, &mixed.Model{Y: y,
			X:     [][]float64{ones(len(y))},
			Terms: []mixed.Term{{Name: "batch", Of: d.levels("batch")}, {Name: "cask", Of: d.levels("batch", "cask")}}}))
	})
	dyestuff := func(t *testing.T, name string) *mixed.Model {
		d := read(t, name)
		y := d.numbers(t, "Yield")
		return &mixed.Model{Y: y, X: [][]float64{ones(len(y))}, Terms: []mixed.Term{{Name: "batch", Of: d.levels("Batch")}}}
	}
	t.Run("Dyestuff", func(t *testing.T) {
		(&want{319.654276842, []float64{1764.049949, 2451.250011}, map[int][3]float64{0: {1527.5, 19.3834119, 5}}}).check(t,
			fitted(t, dyestuff(t, "dyestuff")))
	})
	t.Run("Dyestuff2, a variance of 0", func(t *testing.T) {
		f := fitted(t, dyestuff(t, "dyestuff2"))
		(&want{161.828277812, []float64{0, 13.80630963}, map[int][3]float64{0: {5.6656, 0.678388031, 29}}}).check(t, f)
		assert.Zero(t, f.Terms[0][0].At(0, 0))
	})
	// The closed form: a between-batch variance of (MS - 2500)/5 with MS the mean square of batches, 11271.5, and the
	// standard error √(MS/30).
	t.Run("Dyestuff, the variance within is known", func(t *testing.T) {
		m := dyestuff(t, "dyestuff")
		m.Known, m.NoResidual = slices.Repeat([]float64{2500}, len(m.Y)), true
		f := fitted(t, m)
		assert.InEpsilon(t, 1754.30, f.Terms[0][0].At(0, 0), 1e-8)
		assert.InEpsilon(t, 19.38341215, f.Contrast([]float64{1}).SE, 1e-8)
		assert.InEpsilon(t, 5, f.Contrast([]float64{1}).DoF, 1e-4, "as many as that mean square has")
	})
	t.Run("Orthodont", func(t *testing.T) {
		d := read(t, "orthodont")
		y, age, female := d.numbers(t, "distance"), d.numbers(t, "age"), d.is("Sex", "Female")
		(&want{433.757249201, []float64{3.298634033, 1.922054803}, map[int][3]float64{0: {16.340625, 0.9813122367, 103.986361},
			1: {0.784375, 0.0775011049, 79}, 2: {1.032102273, 1.5374208053, 103.986361},
			3: {-0.304829545, 0.1214208961, 79}}}).check(t, fitted(t, &mixed.Model{Y: y,
			X:     [][]float64{ones(len(y)), age, female, times(age, female)},
			Terms: []mixed.Term{{Name: "subject", Of: d.levels("Subject")}}}))
	})
	t.Run("Machines", func(t *testing.T) {
		d := read(t, "machines")
		y := d.numbers(t, "score")
		f := fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y)), d.is("Machine", "B"), d.is("Machine", "C")},
			Terms: []mixed.Term{{Name: "worker and machine", Of: d.levels("Worker", "Machine")},
				{Name: "worker", Of: d.levels("Worker")}}})
		(&want{215.687568008, []float64{13.9094556959, 22.8584501129, 0.9246296247}, map[int][3]float64{
			0: {52.35555556, 2.48583037, 8.52169553}, 1: {7.96666667, 2.17697539, 10}, 2: {13.91666667, 2.17697539, 10}}}).check(t, f)
		checkMaxT(t, f, [][]float64{{0, -1, 0}, {0, 0, -1}, {0, 1, -1}}, 10, []float64{0.0111, 0.0002, 0.0508},
			[]float64{0.0088, 0.0002, 0.0211})
		c := f.Contrast([]float64{0, 1, -1})
		assert.InEpsilon(t, -5.95, c.Estimate, 1e-8)
		assert.InEpsilon(t, 2.1769754, c.SE, 1e-6)
		assert.InEpsilon(t, 10, c.DoF, 1e-4)
	})
	t.Run("Oats", func(t *testing.T) {
		d := read(t, "oats")
		y := d.numbers(t, "yield")
		f := fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y)),
			d.is("Variety", "Marvellous"), d.is("Variety", "Victory"), d.is("nitro", "0.2"), d.is("nitro", "0.4"), d.is("nitro", "0.6")},
			Terms: []mixed.Term{{Name: "plot", Of: d.levels("Block", "Variety")}, {Name: "block", Of: d.levels("Block")}}})
		(&want{568.068755045, []float64{109.6929357, 214.4770657, 162.5588239}, map[int][3]float64{
			0: {79.91666667, 8.2203955, 10.93145814}, 1: {5.29166667, 7.07890391, 10}, 2: {-6.875, 7.07890391, 10},
			3: {19.5, 4.24995195, 51}}}).check(t, f)
		checkMaxT(t, f, [][]float64{{0, -1, 0, 0, 0, 0}, {0, 0, -1, 0, 0, 0}, {0, 1, -1, 0, 0, 0}}, 10, []float64{0.7419, 0.6104, 0.2458}, nil)
	})
}

// checkMaxT holds the adjusted p of several contrasts to those of R: by the multivariate t, which are Monte Carlo, and after Holm.
func checkMaxT(t *testing.T, f *mixed.Fit, weights [][]float64, dof float64, maxT, holm []float64) {
	t.Helper()
	n, p := len(weights), len(f.Coefficients)
	r := mat.NewSymDense(n, nil)
	var raw []float64
	for i, w := range weights {
		c := f.Contrast(w)
		raw = append(raw, 2*distuv.StudentsT{Sigma: 1, Nu: c.DoF}.Survival(math.Abs(c.Estimate/c.SE)))
		for j := range i + 1 {
			v := mat.Inner(mat.NewVecDense(p, w), f.Cov, mat.NewVecDense(p, weights[j]))
			r.SetSym(i, j, v/(c.SE*f.Contrast(weights[j]).SE))
		}
	}
	m := oneVariance(r, dof)
	for i, w := range weights {
		c := f.Contrast(w)
		assert.InDelta(t, maxT[i], m.Adjusted(2*distuv.StudentsT{Sigma: 1, Nu: dof}.Survival(math.Abs(c.Estimate/c.SE))), 2e-4)
	}
	if holm != nil {
		assert.InDeltaSlice(t, holm, simultaneous.Holm(raw), 1e-4)
	}
}

// oneVariance is the distribution of statistics whose variances are one estimate.
func oneVariance(r *mat.SymDense, dof float64) *simultaneous.Apart {
	v, dofs := simultaneous.Variances{DoF: []float64{dof}}, make([]float64, r.SymmetricDim())
	for i := range dofs {
		dofs[i], v.Share = dof, append(v.Share, []float64{1})
	}
	return simultaneous.NewApart(r, v, dofs)
}

// The threads that broke, by tension: Tukey's differences by multcomp 1.4.22 (testdata/mixed_models.R), whose quantile is Monte
// Carlo, and qtukey(.95, 3, 51)/sqrt 2 of R 4.2.2.
func TestWarpbreaks(t *testing.T) {
	d := read(t, "warpbreaks")
	y := d.numbers(t, "breaks")
	f := fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y)), d.is("tension", "M"), d.is("tension", "H")}})
	checkMaxT(t, f, [][]float64{{0, 1, 0}, {0, 0, 1}, {0, -1, 1}}, 51, []float64{0.03842, 0.00143, 0.46308}, []float64{0.02943, 0.00150, 0.23861})
	assert.InEpsilon(t, 3.960193, f.Contrast([]float64{0, 1, 0}).SE, 1e-6)
	assert.InEpsilon(t, 51, f.Contrast([]float64{0, 1, 0}).DoF, 1e-6)
	half := mat.NewSymDense(3, []float64{1, 0.5, -0.5, 0.5, 1, 0.5, -0.5, 0.5, 1})
	assert.InDelta(t, 2.41398, simultaneous.Factor(oneVariance(half, 51).Alone(0.05), 51), 5e-4)
}

// A balanced made-up study of three coatings, six coupons and five pulls, with the session crossed, an intercept of each coupon
// and a slope of each coupon whose variance is that of its coating, against lmerTest (testdata/unequal_variances_example.R);
// it is close to Welch's t on the slopes of the coupons.
func TestASlopeVarianceOfEachCoating(t *testing.T) {
	d := read(t, "unequal_variances_example")
	y, at := d.numbers(t, "y"), d.numbers(t, "t")
	n := len(y)
	coupon := d.levels("coupon")
	m := &mixed.Model{Y: y, X: [][]float64{ones(n), d.is("coat", "2"), d.is("coat", "3"), at, times(at, d.is("coat", "2")),
		times(at, d.is("coat", "3"))}, Terms: []mixed.Term{{Name: "coupon", Of: coupon}}}
	for _, coat := range []string{"1", "2", "3"} {
		of := slices.Clone(coupon)
		for i, is := range d.is("coat", coat) {
			if is == 0 {
				of[i] = -1
			}
		}
		m.Terms = append(m.Terms, mixed.Term{Name: "slope of coating " + coat, Of: of, Columns: [][]float64{at}})
	}
	m.Terms = append(m.Terms, mixed.Term{Name: "session", Of: d.levels("sess")})
	f := fitted(t, m)
	assert.InDelta(t, -499.70192724, f.Deviance, 1e-6)
	for k, v := range []float64{1.558034745e-03, 6.862253847e-02, 5.764458711e-04, 2.521188303e-05, 4.083632016e-04} {
		assert.InEpsilon(t, v, f.Terms[k][0].At(0, 0), 1e-5, m.Terms[k].Name)
	}
	assert.InEpsilon(t, 1.767580935e-05, f.Residuals[0], 1e-5)
	for _, c := range []struct {
		weights                   []float64
		se, df, t, welch, welchDF float64
	}{
		{[]float64{0, 0, 0, 0, 1, 0}, 0.10743645171, 5.088129659, 0.8063746183, 0.8060316256, 5.088277843},
		{[]float64{0, 0, 0, 0, 0, 1}, 0.10700803159, 5.007840338, 0.6023985126, 0.6021468516, 5.007835904},
		{[]float64{0, 0, 0, 0, -1, 1}, 0.01047393864, 5.880368919, -2.1169255844, -2.113389529, 5.880634898},
	} {
		got := f.Contrast(c.weights)
		assert.InEpsilon(t, c.se, got.SE, 1e-5)
		assert.InEpsilon(t, c.df, got.DoF, 1e-4)
		assert.InDelta(t, c.t, got.Estimate/got.SE, 1e-5)
		assert.InDelta(t, c.welch, got.Estimate/got.SE, 5e-3, "Welch")
		assert.InDelta(t, c.welchDF, got.DoF, 1e-3, "Welch")
	}
}

// A variance of the residual for each sex. Source: R 4.2.2, nlme 3.1-162, lme with varIdent on Orthodont
// (testdata/residual_kinds.R).
func TestResidualKindsAgainstNlme(t *testing.T) {
	d := read(t, "orthodont")
	y, female := d.numbers(t, "distance"), d.is("Sex", "Female")
	age := d.numbers(t, "age")
	kinds := make([]int, len(y))
	for i := range age {
		age[i] -= 11
		kinds[i] = int(female[i])
	}
	f := fitted(t, &mixed.Model{Y: y, X: [][]float64{ones(len(y)), female, age, times(age, female)}, Residuals: kinds,
		Terms: []mixed.Term{{Name: "subject", Of: d.levels("Subject")}}})
	assert.InEpsilon(t, 415.220479573, f.Deviance, 1e-9)
	assert.InEpsilon(t, 3.41351900064, f.Terms[0][0].At(0, 0), 1e-5)
	assert.InEpsilon(t, 2.788308358085, f.Residuals[0], 1e-5)
	assert.InEpsilon(t, 0.610430891667, f.Residuals[1], 1e-5)
	for at, want := range [][2]float64{{24.96875, 0.5068651256846}, {-2.321022727273, 0.7623028231226},
		{0.784375, 0.0933459352035}, {-0.304829545455, 0.1071827854192}} {
		c := f.Contrast(unit(4, at))
		assert.InEpsilon(t, want[0], c.Estimate, 1e-8)
		assert.InEpsilon(t, want[1], c.SE, 1e-6)
	}
}
