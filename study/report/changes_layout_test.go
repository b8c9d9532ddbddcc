package report_test

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// meansOf returns the lines of the means of group i, without that of the legend,
// which is level.
func meansOf(d *drawing, i int) [][][2]float64 {
	var out [][][2]float64
	for _, p := range d.all(solid(report.Palette()[i%8]) + ":1.5") {
		if p.points[0][1] != p.points[len(p.points)-1][1] {
			out = append(out, p.points)
		}
	}
	return out
}

// stemsOf returns the bars of group i: lower and upper end.
func stemsOf(t *testing.T, d *drawing, i int) [][2][2]float64 {
	t.Helper()
	var out [][2][2]float64
	for _, p := range d.all(solid(report.Palette()[i]) + ":1.1") {
		if p.points[0][0] != p.points[1][0] {
			continue // ends, not stems
		}
		for k := 0; k < len(p.points); k += 2 {
			require.Equal(t, p.points[k][0], p.points[k+1][0], "a bar is upright")
			out = append(out, [2][2]float64{p.points[k], p.points[k+1]})
		}
	}
	return out
}

// endsOf returns the ends of the bars of group i, lower and upper in turn: left
// side, tip, right side.
func endsOf(d *drawing, i int) [][3][2]float64 {
	var out [][3][2]float64
	for _, p := range d.all(solid(report.Palette()[i]) + ":1.1") {
		for k := 0; k+2 < len(p.points) && p.points[0][0] != p.points[1][0]; k += 3 {
			out = append(out, [3][2]float64(p.points[k:k+3]))
		}
	}
	return out
}

// axes reads values off a drawing with one panel, by two labels of each axis.
type axes struct{ x0, y0, perDose, perPP float64 }

// readAxes takes labels of doses and of changes; a change of 0 is at the zero line.
func readAxes(t *testing.T, d *drawing, dose, lower, upper string) axes {
	t.Helper()
	middle := func(label string) float64 { s := d.text(t, label); return s.x + s.width/2 }
	number := func(label string) float64 {
		v, err := strconv.ParseFloat(strings.ReplaceAll(label, "−", "-"), 64)
		require.NoError(t, err)
		return v
	}
	a := axes{x0: middle("0")}
	a.perDose = (middle(dose) - a.x0) / number(dose)
	a.perPP = (d.label(t, upper) - d.label(t, lower)) / (number(upper) - number(lower))
	zero := d.all("stroke:#555555;stroke-width:0.8")
	require.Len(t, zero, 1)
	a.y0 = zero[0].points[0][1]
	return a
}

func (a axes) dose(x float64) float64   { return (x - a.x0) / a.perDose }
func (a axes) change(y float64) float64 { return (y - a.y0) / a.perPP }

func TestChangesStandAtTheirLabels(t *testing.T) {
	nan := math.NaN()
	c := &report.Changes{Series: []report.Series{{Name: "A", DoseUnit: "hours", Points: []report.Point{
		{Dose: 0, Mean: 0, Lo: 0, Hi: 0, Coupons: []report.CouponChange{{"A-1", 0}, {"A-2", 0}}},
		{Dose: 100, Mean: -0.5, Lo: -0.75, Hi: -0.25, Coupons: []report.CouponChange{{"A-1", -0.4}, {"A-2", -0.6}}},
		{Dose: 300, Mean: -0.7, Lo: nan, Hi: nan, Coupons: []report.CouponChange{{"A-2", -0.7}}},
		{Dose: 400, Mean: -0.8, Lo: -0.9, Hi: -0.7,
			Coupons: []report.CouponChange{{"A-2", -0.85}, {"A-1", -0.75}, {"A-3", -0.8}}},
	}}}}
	d := parse(t, c)
	a := readAxes(t, d, "400", "−0.8", "0.0")
	read := func(points [][2]float64) [][2]float64 {
		var out [][2]float64
		for _, p := range points {
			out = append(out, [2]float64{a.dose(p[0]), a.change(p[1])})
		}
		return out
	}
	// 0.02 pt: coordinates are written with five digits. 400 hours are about 430 pt
	// and 0.8 pp about 270 pt.
	same := func(want, got [][2]float64, what string) {
		require.Len(t, got, len(want), what)
		for i := range want {
			assert.InDelta(t, want[i][0], got[i][0], 0.05, "dose of point %d of %s", i+1, what)
			assert.InDelta(t, want[i][1], got[i][1], 2e-4, "change at point %d of %s", i+1, what)
		}
	}
	require.Len(t, meansOf(d, 0), 1)
	same([][2]float64{{0, 0}, {100, -0.5}, {300, -0.7}, {400, -0.8}}, read(meansOf(d, 0)[0]), "the mean")

	stems := stemsOf(t, d, 0)
	require.Len(t, stems, 3, "no bar without an interval")
	for i, want := range [][][2]float64{{{0, 0}, {0, 0}}, {{100, -0.75}, {100, -0.25}}, {{400, -0.9}, {400, -0.7}}} {
		same(want, read(stems[i][:]), fmt.Sprintf("bar %d", i+1))
	}

	coupons := d.all(faint(report.Palette()[0]), "stroke-width:0.6")
	require.Len(t, coupons, 2, "a coupon seen once has no line")
	same([][2]float64{{0, 0}, {100, -0.4}, {400, -0.75}}, read(coupons[0].points), "coupon A-1")
	same([][2]float64{{0, 0}, {100, -0.6}, {300, -0.7}, {400, -0.85}}, read(coupons[1].points), "coupon A-2")
	dots := d.longest(t, faint(report.Palette()[0]), "stroke-width:1.5")
	assert.Len(t, dots, 2*8, "every coupon at every pull has its dot")
}

// Groups at one dose keep the order of the legend and stand apart by more than the
// width of a bar, around their dose and not far on the way to another pull; no
// further than the figure says, and it does not say much more.
func TestGroupsStandSideBySide(t *testing.T) {
	for name, c := range map[string]struct {
		doses  []float64
		groups int
		lower  string  // a label of changes
		apart  float64 // least distance of bars at the last pull, points
	}{
		"three groups":             {[]float64{0, 90, 180, 365}, 3, "−0.2", 4},
		"eight groups":             {[]float64{0, 90, 180, 365}, 8, "−0.5", 2},
		"eight groups, many pulls": {everyTwelfth(), 8, "−0.5", 2},
		"pulls close at first":     {[]float64{0, 1, 3, 10, 30, 100, 365}, 3, "−0.2", 4},
	} {
		t.Run(name, func(t *testing.T) {
			figure := changes(c.groups, 4, c.doses...)
			d := parse(t, figure)
			a := readAxes(t, d, "350", c.lower, "0.0")
			var furthest float64
			stems := make([][][2][2]float64, c.groups)
			for i := range stems {
				stems[i] = stemsOf(t, d, i)
				require.Len(t, stems[i], len(c.doses))
			}
			for k, dose := range c.doses {
				sum := 0.0
				for i := range stems {
					x := a.dose(stems[i][k][0][0])
					sum += x
					furthest = math.Max(furthest, math.Abs(x-dose))
					for _, other := range c.doses {
						if other != dose {
							assert.LessOrEqual(t, math.Abs(x-dose), math.Abs(other-dose)/4+0.05,
								"group %d at %g, on the way to %g", i+1, dose, other)
						}
					}
					if i > 0 {
						assert.Greater(t, stems[i][k][0][0], stems[i-1][k][0][0], "order of groups at %g", dose)
					}
				}
				// 0.05 days: coordinates are written with five digits.
				assert.InDelta(t, dose, sum/float64(c.groups), 0.05, "middle of the groups")
			}
			last := len(c.doses) - 1
			for i := 1; i < c.groups; i++ {
				assert.Greater(t, stems[i][last][0][0]-stems[i-1][last][0][0], c.apart, "points")
			}
			said := regexp.MustCompile(`up to ([0-9.]+) days`).FindSubmatch(drawSVG(t, figure))
			require.NotNil(t, said)
			most, err := strconv.ParseFloat(string(said[1]), 64)
			require.NoError(t, err)
			assert.LessOrEqual(t, furthest, most+0.05, "days")
			// Rounded up to two digits: by a tenth at most.
			assert.GreaterOrEqual(t, furthest, most/1.1-0.05, "days")
			assert.LessOrEqual(t, furthest, 0.03*c.doses[last]+0.05, "as the comment of Write promises, days")
		})
	}
	assert.NotContains(t, string(drawSVG(t, changes(1, 4, 0, 90, 365))), "side by side",
		"one group stands at its doses")
}

// An interval of two coupons can be many times as long as the changes differ. It is
// cut at the edge, and said to be; the means keep half of the panel.
func TestLongBarsAreCut(t *testing.T) {
	c := changes(1, 2, 0, 90, 365)
	whole := parse(t, c)
	c.Series[0].Points[1].Lo, c.Series[0].Points[2].Hi = -40, 40
	d := parse(t, c)
	assertInside(t, d)
	assert.Contains(t, string(drawSVG(t, c)), "arrow head there: 2.")
	lower, upper := extent(meansOf(d, 0)[0])
	low, high := extent(meansOf(whole, 0)[0])
	// 0.45: the axis grows by half at each end, and by its margins.
	assert.Greater(t, upper-lower, 0.45*(high-low), "points")

	bottom, top := math.Inf(1), math.Inf(-1)
	for _, p := range d.all("stroke:#555555") {
		lower, upper := extent(p.points)
		bottom, top = math.Min(bottom, lower), math.Max(top, upper)
	}
	stems := stemsOf(t, d, 0)
	assert.Greater(t, stems[1][0][1], bottom, "above the axis of doses")
	assert.Less(t, stems[1][0][1], bottom+10, "down to the edge, points")
	assert.InDelta(t, top, stems[2][1][1], 0.02, "up to the edge, points")
	ends := endsOf(d, 0)
	require.Len(t, ends, 6)
	for k, end := range ends {
		cut := map[int]float64{2: 1, 5: -1}[k] // sides above the lower tip, below the upper
		assert.Equal(t, cut > 0, end[0][1] > end[1][1]+1, "end %d", k)
		assert.Equal(t, cut < 0, end[0][1] < end[1][1]-1, "end %d", k)
		assert.Equal(t, end[0][1], end[2][1], "end %d is even", k)
	}
}

// Groups are told apart as curves are: by the colours and dashes of the palette.
func TestChangesUseTheStyles(t *testing.T) {
	d := parse(t, changes(10, 3, 0, 90, 180, 365))
	for i := range 10 {
		_, dashes, _ := report.StyleOf(i)
		style := solid(report.Palette()[i%8]) + ":1.5"
		if lengths := strings.Trim(fmt.Sprint(dashes), "[]"); lengths != "" {
			style += ";stroke-dasharray:" + strings.ReplaceAll(lengths, " ", ",")
		}
		lines := 0
		for _, p := range d.paths {
			if strings.HasSuffix(p.style, style) {
				lines++
			}
		}
		assert.Equal(t, 2, lines, "lines of group %d, in the panel and in the legend: %s", i+1, style)
	}
}

// The code of each coupon stands at the right edge, with a line to it from the last value
// of that coupon; no two lie on one another, and the panel grows to hold sixty.
func TestCouponsAreNamed(t *testing.T) {
	for name, c := range map[string]*report.Changes{
		"few":   changes(2, 3, 0, 90, 365),
		"sixty": changes(3, 20, 0, 90, 365),
		"one":   changes(1, 1, 0, 90),
		"units": threeUnits(),
	} {
		t.Run(name, func(t *testing.T) {
			height := parse(t, c).height
			c.Named = true
			d := parse(t, c)
			assertInside(t, d)
			assertApart(t, d)
			assert.GreaterOrEqual(t, d.height, height)
			for _, s := range c.Series {
				for _, coupon := range s.Points[0].Coupons {
					if strings.HasPrefix(coupon.Coupon, "Coating 1") && name == "units" {
						continue // in two panels
					}
					at := d.text(t, coupon.Coupon)
					assert.Greater(t, at.x, 0.6*d.width)
				}
			}
		})
	}
}

// A line from a value to a name begins at that value.
func TestNamesBelongToTheirCoupons(t *testing.T) {
	c := changes(1, 3, 0, 90, 365)
	c.Named = true
	d := parse(t, c)
	leaders := d.all(faint(report.Palette()[0]), "stroke-width:0.5")
	require.Len(t, leaders, 3)
	axes := readAxes(t, d, "200", "−0.4", "0.0")
	for _, leader := range leaders {
		at := leader.points[1]
		var nearest string
		for _, coupon := range c.Series[0].Points[2].Coupons {
			if text := d.text(t, coupon.Coupon); math.Abs(text.y+text.height/3-at[1]) < 1 {
				nearest = coupon.Coupon
				// 0.002 pp: coordinates are written with five digits.
				assert.InDelta(t, coupon.Change, axes.change(leader.points[0][1]), 0.002, coupon.Coupon)
			}
		}
		assert.NotEmpty(t, nearest, "the name at the end of the line")
	}
}

func TestChangesLayout(t *testing.T) {
	long := strings.Repeat("a name of many words at 45 °C ", 12)
	names := changes(2, 3, 0, 90)
	names.Title, names.Caption = long, []string{long, "", strings.Repeat("w", 500), "last"}
	names.Series[0].Name, names.Series[1].Name = long, strings.Repeat("w", 300)
	units := changes(2, 3, 0, 90)
	units.Series[0].DoseUnit, units.Series[1].DoseUnit = long, strings.Repeat("w", 300)
	gains := changes(3, 4, 0, 90)
	for _, s := range gains.Series {
		p := &s.Points[1]
		p.Mean, p.Lo, p.Hi = 0.5, 0.4, 0.6
	}
	for name, c := range map[string]*report.Changes{
		"one coupon":           changes(1, 1, 0, 90, 365),
		"three groups":         changes(3, 6, 0, 90, 180, 365),
		"eight full groups":    changes(8, 60, everyTwelfth()...),
		"forty groups":         changes(40, 2, 0, 90),
		"three units":          threeUnits(),
		"long texts":           names,
		"long units":           units,
		"no texts":             {Series: changes(2, 3, 0, 90).Series},
		"one pull":             changes(3, 4, 90),
		"baseline only":        changes(3, 4, 0),
		"no change":            {Series: []report.Series{madeSeries("A", "days", []float64{0, 90}, 4, 0)}},
		"very small change":    {Series: []report.Series{madeSeries("A", "days", []float64{0, 90}, 4, 1e-5)}},
		"gains":                gains,
		"large doses":          changes(3, 4, 0, 250000, 900000),
		"small doses":          changes(3, 4, 0, 0.001, 0.003),
		"largest drawn change": {Series: []report.Series{madeSeries("A", "days", []float64{0, 90}, 4, 7e5)}},
	} {
		t.Run(name, func(t *testing.T) {
			d := parse(t, c)
			assertInside(t, d)
			assertApart(t, d)
		})
	}
}
