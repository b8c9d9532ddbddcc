package report_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/report"
)

// madeSeries returns a made-up group of n coupons that lose about loss pp by the
// last dose, with a made-up interval where there is more than one.
func madeSeries(name, unit string, doses []float64, n int, loss float64) report.Series {
	s := report.Series{Name: name, DoseUnit: unit}
	for _, dose := range doses {
		share := 1 - math.Exp(-2*dose/doses[len(doses)-1])
		p := report.Point{Dose: dose, Mean: -loss * share, Lo: math.NaN(), Hi: math.NaN()}
		for i := range n {
			own := 0.3 * (float64(i+1)/float64(n+1) - 0.5)
			p.Coupons = append(p.Coupons,
				report.CouponChange{Coupon: fmt.Sprintf("%s-%02d", name, i+1), Change: p.Mean * (1 + own)})
		}
		if n > 1 {
			half := 0.2 * loss * share / math.Sqrt(float64(n))
			p.Lo, p.Hi = p.Mean-half, p.Mean+half
		}
		s.Points = append(s.Points, p)
	}
	return s
}

// changes returns the figure of n made-up groups of the given number of coupons.
func changes(n, coupons int, doses ...float64) *report.Changes {
	c := &report.Changes{
		Title: "Change of solar transmittance, rack 1", Corrected: true,
		Caption: []string{"Corrected by the mean change of the controls of each coating. Made-up data."},
	}
	for i := range n {
		c.Series = append(c.Series,
			madeSeries(fmt.Sprintf("Coating %d", i+1), "days", doses, coupons, 0.4+0.25*float64(i)))
	}
	return c
}

// The figure of a study says how its changes are corrected: on the axis, and in a line below.
func TestNewChangesSaysHowTheyAreCorrected(t *testing.T) {
	for _, c := range []struct {
		route     study.Route
		corrected bool
		caption   string // its last line
	}{
		{study.RouteNone, false, "Front surface, AM1.5"},
		{study.RouteControls, true, "Corrected by the mean change of the controls"},
		{study.RouteSession, true, "Corrected by a fit of each session"},
	} {
		f := report.NewChanges("lot", c.route)
		assert.Equal(t, "Change of solar transmittance by lot", f.Title)
		assert.Equal(t, c.corrected, f.Corrected, c.route)
		assert.Contains(t, f.Caption[len(f.Caption)-1], c.caption)
	}
}

// threeUnits returns a figure with three panels, the first coating in two of them.
func threeUnits() *report.Changes {
	c := changes(3, 6, 0, 90, 180, 365)
	c.Corrected = false
	c.Series = append(c.Series,
		madeSeries("Coating 4", "cycles", []float64{0, 1500, 3000}, 3, 1.2),
		madeSeries("Coating 1", "kWh/m2", []float64{0, 15, 60}, 4, 0.9))
	return c
}

// everyTwelfth returns twelve pulls over a year, in days.
func everyTwelfth() []float64 {
	var doses []float64
	for i := range 12 {
		doses = append(doses, 33*float64(i))
	}
	return doses
}

func TestChangesErrors(t *testing.T) {
	for name, c := range map[string]struct {
		format string
		change func(*report.Changes)
		want   string
	}{
		"unknown format": {"bmp", func(*report.Changes) {}, `report: a figure is written as svg, png, pdf or page, not as "bmp"`},
		"no groups":      {"svg", func(c *report.Changes) { c.Series = nil }, "report: there is no group to draw"},
		"no points": {"svg", func(c *report.Changes) { c.Series[1].Points = nil },
			`report: group "Coating 2" has no points`},
		"no unit": {"png", func(c *report.Changes) { c.Series[1].DoseUnit = " " },
			`report: group "Coating 2" has no dose unit`},
		"same names": {"png", func(c *report.Changes) { c.Series[1].Name = " Coating \n 1" },
			`report: two groups are named "Coating 1", both with doses in days`},
		"no names": {"png", func(c *report.Changes) { c.Series[0].Name, c.Series[1].Name = "", " " },
			`report: two groups are named "not stated", both with doses in days`},
		"interval above": {"svg",
			func(c *report.Changes) { c.Series[0].Points[1].Lo, c.Series[0].Points[1].Mean = -0.1, -0.25 },
			`report: the mean of group "Coating 1" at a dose of 90 days is -0.25 pp, outside its interval`},
		"interval below": {"svg",
			func(c *report.Changes) { c.Series[0].Points[1].Hi, c.Series[0].Points[1].Mean = -0.5, -0.25 },
			`report: the mean of group "Coating 1" at a dose of 90 days is -0.25 pp, outside its interval`},
	} {
		t.Run(name, func(t *testing.T) {
			f := changes(2, 3, 0, 90, 365)
			c.change(f)
			var buf bytes.Buffer
			assert.EqualError(t, f.Write(&buf, c.format), c.want)
			assert.Zero(t, buf.Len(), "bytes written before the error")
		})
	}
}

func TestChangesHoldTheTexts(t *testing.T) {
	c := changes(2, 6, 0, 90, 365)
	c.Series[0].Points[2].Coupons = c.Series[0].Points[2].Coupons[:4]
	c.Series = append(c.Series, madeSeries("Single <one>", "days", []float64{0, 90}, 1, 0.3),
		madeSeries("", "days", []float64{0, 90}, 2, 0.3))
	for i := range c.Series[3].Points {
		c.Series[3].Points[i].Coupons = nil
	}
	d := parse(t, c)
	for _, want := range []string{
		c.Title, c.Caption[0], "Dose / days", "Corrected change of solar transmittance / pp", "Group",
		"Coating 1", "4 to 6 coupons", "Coating 2", "6 coupons", "Single <one>", "1 coupon", "not stated",
	} {
		d.text(t, want)
	}
	svg := string(drawSVG(t, c))
	assert.Contains(t, svg, "Marks: mean over the coupons")
	assert.Contains(t, svg, "95 % confidence interval")
	assert.Len(t, regexp.MustCompile(`(?m)^[0-9][^<\n]* coupons?$`).FindAllString(svg, -1), 3,
		"no count for the group without coupons")
	assert.NotContains(t, svg, "cannot be drawn")
	assert.NotContains(t, svg, "arrow head")
	assert.Contains(t, svg, "Coupons without a value at a dose: Coating 1-05 (365 days), Coating 1-06 (365 days).")

	c.Corrected = false
	parse(t, c).text(t, "Change of solar transmittance (as measured) / pp")
}

// A coupon that joined at another pull is not missed at the doses of those that began before, nor they at its own.
func TestCouponsAreMissedInTheirOwnHistory(t *testing.T) {
	c := changes(1, 3, 0, 90, 180, 365)
	late := madeSeries("Late", "days", []float64{275}, 1, 0.3).Points[0]
	late.Start = 1
	points := c.Series[0].Points
	points[0].Coupons = append(points[0].Coupons, report.CouponChange{Coupon: "Late-01"})
	c.Series[0].Points = slices.Insert(points, 3, late)
	assert.NotContains(t, string(drawSVG(t, c)), "Coupons without a value")

	c.Series[0].Points[1].Coupons = c.Series[0].Points[1].Coupons[:2]
	assert.Contains(t, string(drawSVG(t, c)), "Coupons without a value at a dose: Coating 1-03 (90 days).")
}

// One panel a unit, in the order in which the units come; a coating has one style
// and one entry in the legend.
func TestChangesOfSeveralUnits(t *testing.T) {
	d := parse(t, threeUnits())
	assert.Greater(t, d.label(t, "Dose / days"), d.label(t, "Dose / cycles"))
	assert.Greater(t, d.label(t, "Dose / cycles"), d.label(t, "Dose / (kWh/m²)"))
	d.text(t, "Coating 1")
	d.text(t, "4 to 6 coupons")
	for i, lines := range []int{2, 1, 1, 1} {
		assert.Len(t, meansOf(d, i), lines, "lines of coating %d", i+1)
	}
	assert.Contains(t, string(drawSVG(t, threeUnits())), "up to 4.4 days from their dose", "1.2 %% of 365 days")
}

func TestChangesLeaveOut(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		put  func(*report.Point)
		want int
	}{
		"no interval":           {func(p *report.Point) { p.Lo, p.Hi = nan, nan }, 0},
		"no coupons":            {func(p *report.Point) { p.Coupons = nil }, 0},
		"a dose":                {func(p *report.Point) { p.Dose = nan }, 1},
		"an infinite dose":      {func(p *report.Point) { p.Dose = math.Inf(1) }, 1},
		"a dose too large":      {func(p *report.Point) { p.Dose = -math.MaxFloat64 }, 1},
		"a mean":                {func(p *report.Point) { p.Mean = nan }, 1},
		"a mean too large":      {func(p *report.Point) { p.Mean, p.Hi = 1e6, 1e6 }, 1},
		"an infinite mean":      {func(p *report.Point) { p.Mean, p.Lo = math.Inf(-1), math.Inf(-1) }, 1},
		"the lower end":         {func(p *report.Point) { p.Lo = nan }, 1},
		"the upper end":         {func(p *report.Point) { p.Hi = nan }, 1},
		"infinite ends":         {func(p *report.Point) { p.Lo, p.Hi = math.Inf(-1), math.Inf(1) }, 1},
		"a coupon":              {func(p *report.Point) { p.Coupons[2].Change = nan }, 1},
		"an infinite coupon":    {func(p *report.Point) { p.Coupons[2].Change = math.Inf(1) }, 1},
		"a coupon too large":    {func(p *report.Point) { p.Coupons[2].Change = math.MaxFloat64 }, 1},
		"two values of a point": {func(p *report.Point) { p.Coupons[2].Change, p.Lo = nan, nan }, 1},
		"everything of a point": {func(p *report.Point) {
			*p = report.Point{Dose: nan, Mean: nan, Lo: nan,
				Hi: nan}
		}, 1},
		"a number just too much": {func(p *report.Point) { p.Coupons[2].Change = -1e6 }, 1},
	} {
		t.Run(name, func(t *testing.T) {
			some, all := changes(2, 3, 0, 90, 365), changes(2, 3, 0, 90, 365)
			c.put(&some.Series[1].Points[1])
			for _, s := range all.Series {
				for i := range s.Points {
					c.put(&s.Points[i])
				}
			}
			for f, want := range map[*report.Changes]int{some: c.want, all: 6 * c.want} {
				assertInside(t, parse(t, f))
				note := fmt.Sprintf("(not finite, or too large): %d.", want)
				assert.Equal(t, want > 0, strings.Contains(string(drawSVG(t, f)), note), note)
				if name == "a coupon too large" {
					require.NoError(t, f.Write(&bytes.Buffer{}, "png"))
				}
			}
		})
	}
}

// The figure of another quantity names it with its unit; a fitted curve takes the place of the line between the means, and
// the limit is a level line over the whole panel.
func TestChangesOfAnyQuantity(t *testing.T) {
	c := report.NewChangesOf("haze", "pp", "coating", study.RouteControls)
	c.Series = []report.Series{madeSeries("A", "days", []float64{0, 100, 200}, 4, 1)}
	plain := parse(t, c)
	plain.text(t, "Corrected change of haze / pp")
	assert.Len(t, meansOf(plain, 0), 1)
	assert.NotContains(t, string(drawSVG(t, c)), "limit")

	c.Limit = -0.6
	for x := 0.0; x <= 200; x += 10 {
		c.Series[0].Fitted = append(c.Series[0].Fitted, report.At{Dose: x, Change: -0.5 * x / 100})
	}
	d := parse(t, c)
	assertInside(t, d)
	assertApart(t, d)
	fitted := meansOf(d, 0)
	require.Len(t, fitted, 1, "one line of the group")
	assert.Len(t, fitted[0], 21)
	a := readAxes(t, d, "200", "−1.0", "0.0")
	for k, at := range fitted[0] {
		assert.InDelta(t, -0.5*float64(k)/10, a.change(at[1]), 2e-3)
	}
	limits := d.all("stroke:#222222", "stroke-dasharray:6,2,1,2")
	require.Len(t, limits, 1)
	assert.InDelta(t, -0.6, a.change(limits[0].points[0][1]), 2e-3)
	assert.Equal(t, limits[0].points[0][1], limits[0].points[1][1])

	c.Quantity, c.Unit, c.Corrected = "film index", "", false
	parse(t, c).text(t, "Change of film index (as measured)")
}
