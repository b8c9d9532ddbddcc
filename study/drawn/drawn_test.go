package drawn_test

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/evaluate"
	"wane/study/report"
	"wane/study/series"
)

// seen is a made-up spot at a pull with curves at some angles, of which the sunlight of two bands passes.
func seen(pull, dose float64, spot string, blue, red float64, angles ...float64) *desk.SeenSpot {
	r := study.NewResult()
	r.Coupon, r.Spot, r.DoseUnit, r.Condition = "E1", spot, "kWh/m2", "cleaned"
	r.Pull, r.Dose, r.BaselinePull = study.Num(pull), study.Num(dose), 0
	s := &desk.SeenSpot{Row: &r, Seen: &evaluate.Seen{}}
	for _, a := range angles {
		s.Curves = append(s.Curves, film.FittedCurve{AngleDeg: a, NM: []float64{400, 500}, Measured: []float64{0.02, 0.03},
			Fitted: []float64{0.02, 0.03}, Band: []float64{0.001, 0.001}})
		s.Polarisation = append(s.Polarisation, "u")
	}
	s.Sunlight = []evaluate.SunlightBand{{LoNM: 300, HiNM: 700, T: blue, Share: 0.5},
		{LoNM: 700, HiNM: 2500, T: red, Share: 0.5}}
	return s
}

func refused(t *testing.T, err error) *study.Refusal {
	t.Helper()
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	require.NotEmpty(t, r.Try)
	return r
}

// A coupon that joined with its pull 3 before its pull 2, and a curve that is held: the pulls are in the order of their
// doses, and the caption says what is not drawn.
func TestPullsInTheOrderOfDoses(t *testing.T) {
	held := seen(2, 90, "2", 0, 0)
	held.Seen, held.Why = nil, &study.Refusal{Fault: "no reading of it counts", Try: "see what is held"}
	f, err := drawn.Pulls("E1", []*desk.SeenSpot{seen(0, 0, "1", 0.48, 0.47, 8, 60), seen(3, 45, "1", 0.48, 0.47, 60, 8),
		seen(2, 90, "1", 0.48, 0.47, 8), held}, true)
	require.NoError(t, err)
	assert.Equal(t, []report.PullName{{Name: "pull 0", Dose: "0 kWh/m²"}, {Name: "pull 3", Dose: "45 kWh/m²"},
		{Name: "pull 2", Dose: "90 kWh/m²"}}, f.Pulls)
	require.Len(t, f.Panels, 2)
	assert.Equal(t, []string{"8°, u", "60°, u"}, []string{f.Panels[0].Label, f.Panels[1].Label})
	var order []int
	for _, c := range f.Panels[0].Curves {
		order = append(order, c.Pull)
	}
	assert.Equal(t, []int{0, 1, 2}, order)
	assert.Contains(t, fmt.Sprint(f.Caption), "pull 2, spot 2")
	assert.Contains(t, fmt.Sprint(f.Caption), "fits of whole sessions")
	assert.NoError(t, f.Write(&bytes.Buffer{}, "svg"))

	_, err = drawn.Pulls("E1", []*desk.SeenSpot{held}, false)
	assert.Contains(t, refused(t, err).Fault, "no reading of it counts")
	_, err = drawn.Pulls("E1", nil, false)
	assert.Contains(t, refused(t, err).Fault, "coupon E1 has no reading")
}

// By hand: spot 1 loses 1 pp of the blue and gains 0.2 pp of the red, spot 2 loses 2 pp and gains nothing: the mean is
// -1.5 pp and +0.1 pp. A spot without a baseline does not count.
func TestSunlightIsTheMeanOverSpots(t *testing.T) {
	all := []*desk.SeenSpot{seen(0, 0, "1", 0.48, 0.47, 8), seen(0, 0, "2", 0.49, 0.47, 8),
		seen(1, 50, "1", 0.47, 0.472, 8), seen(1, 50, "2", 0.47, 0.47, 8), seen(1, 50, "3", 0.1, 0.1, 8)}
	f, err := drawn.Sunlight("E1", all, nil, false)
	require.NoError(t, err)
	require.Len(t, f.Pulls, 1)
	p := f.Pulls[0]
	assert.Equal(t, 2, p.Spots)
	assert.InDelta(t, -1.5, p.Bands[0].PP, 1e-12)
	assert.InDelta(t, 0.1, p.Bands[1].PP, 1e-12)
	assert.InDelta(t, -1.4, p.Sum(), 1e-12)
	_, err = drawn.Sunlight("E1", all[:2], nil, false)
	assert.Contains(t, refused(t, err).Fault, "no spot that was read at its baseline and after it")
	none := func(*study.Result) bool { return false }
	_, err = drawn.Sunlight("E1", all, none, false)
	refused(t, err)
}

func TestFitOfOnePull(t *testing.T) {
	f, err := drawn.Fit("E1", []*desk.SeenSpot{seen(2, 90, "1", 0, 0, 8, 60), seen(2, 90, "2", 0, 0, 8)}, false)
	require.NoError(t, err)
	assert.Equal(t, "Coupon E1, pull 2, 90 kWh/m²", f.Title)
	assert.Equal(t, []string{"u, spot 1", "u, spot 1", "u, spot 2"}, f.Polarisation)
	f, err = drawn.Fit("E1", []*desk.SeenSpot{seen(2, 90, "1", 0, 0, 8)}, false)
	require.NoError(t, err)
	assert.Equal(t, "Coupon E1, pull 2, spot 1, 90 kWh/m²", f.Title)
}

func TestFilmAgainstTheDose(t *testing.T) {
	var rows []*study.Result
	for k, nm := range []float64{70, 65} {
		r := seen(float64(k), 50*float64(k), "1", 0, 0).Row
		r.Solid = study.Measure{Value: study.Num(nm), U: 1}
		rows = append(rows, r)
	}
	lost := seen(2, 100, "1", 0, 0).Row // without a value
	lost.Dose = study.Null()
	f, err := drawn.MaterialLeft("E1", append(rows, lost))
	require.NoError(t, err)
	require.Len(t, f.Panels, 1)
	assert.Equal(t, []report.Level{{Dose: 0, Value: 70, U: 1}, {Dose: 50, Value: 65, U: 1}}, f.Panels[0].Points)
	assert.NoError(t, f.Write(&bytes.Buffer{}, "pdf"))
	for _, r := range rows { // of a control
		r.Dose, r.DoseUnit = study.Null(), ""
	}
	f, err = drawn.MaterialLeft("E1", rows)
	require.NoError(t, err)
	assert.Empty(t, f.DoseUnit)
	assert.Equal(t, []report.Level{{Dose: 0, Value: 70, U: 1}, {Dose: 1, Value: 65, U: 1}}, f.Panels[0].Points)
	_, err = drawn.Structure("E1", rows)
	assert.Contains(t, refused(t, err).Fault, "coupon E1 has no structure of the film to draw")
	_, err = drawn.MaterialLeft("E1", []*study.Result{lost})
	refused(t, err)
}

// By hand: effects of 0.03 and 0.04 pp of one owner add to 0.05 pp; a variance of 0.0004 of its own is 0.02 pp.
func TestBudgetOfACoupon(t *testing.T) {
	data := &series.Data{Quantity: series.Quantity{Name: "solar_T", Unit: "pp"},
		Effects: []study.Effect{{Owner: study.OwnerSession}, {Owner: study.OwnerSession}},
		Coupons: []series.Coupon{{Coupon: "E1", Points: []series.Point{{Pull: 0, Baseline: true}, {Pull: 1,
			Change: series.Value{Value: -0.3, Errors: series.Errors{Known: true, Own: 0.0004,
				Shared: []series.Share{{Effect: 0, By: 0.03}, {Effect: 1, By: -0.04}}}}}}}}}
	f, err := drawn.CouponBudget(data, "E1")
	require.NoError(t, err)
	assert.Equal(t, []string{"session", "own noise and the rest"}, f.Owners)
	require.Len(t, f.Means, 1)
	assert.InDeltaSlice(t, []float64{0.05, 0.02}, f.Means[0].U, 1e-12)
	assert.Equal(t, "1 coupon, 1 change", f.Count)
	_, err = drawn.CouponBudget(data, "E2")
	assert.Contains(t, refused(t, err).Fault, "coupon E2 has no change whose errors are known")
}

// Rows of a card of tints are told apart by their begin, however long the name of a coating is.
func TestNamesOfTints(t *testing.T) {
	long := "A coating with a very long name that somebody typed in full"
	film := func(exposure string, pull int, kept study.Num) desk.TintFilm {
		return desk.TintFilm{Coating: long, Glass: "soda-lime", Exposure: exposure, Pull: pull, GainKept: kept,
			At: []desk.Tinted{{AngleDeg: 8}}}
	}
	names := func(films ...desk.TintFilm) (names []string) {
		for _, row := range drawn.Tints(&desk.TintCard{Angles: []float64{8}, Films: films}).Angles[0].Rows {
			names = append(names, row.Name)
		}
		return names
	}
	assert.Equal(t, []string{"1.00  pull 0, " + long, "-  pull 3, " + long}, names(film("roof", 0, 1), film("roof", 3, study.Null())))
	assert.Equal(t, []string{"1.00  pull 0, roof, " + long, "0.90  pull 0, chamber, " + long},
		names(film("roof", 0, 1), film("chamber", 0, 0.9)))
}
