package report_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// sunlight is a made-up figure of two pulls: bands of 100 nm from 300 to 900 nm, each of a fifth of the sunlight but
// the first.
func sunlight() *report.Sunlight {
	pull := func(name, dose string, pp ...float64) report.SunlightPull {
		p := report.SunlightPull{Name: name, Dose: dose, Spots: 2}
		for k, v := range pp {
			lo := 300 + 100*float64(k)
			p.Bands = append(p.Bands, report.SunlightChange{LoNM: lo, HiNM: lo + 100, PP: v, Share: 0.2})
		}
		p.Bands[0].Share = 0
		return p
	}
	return &report.Sunlight{Title: "Coupon E1: where in the solar spectrum its transmittance changed",
		Caption: []string{"Made up."}, Pulls: []report.SunlightPull{
			pull("pull 1", "90 days", 0, 0.1, 0.1, -0.1, -0.1, -0.2),
			pull("pull 2", "180 days", 0, 0.2, -0.1, -0.4, -0.4, -0.3)}}
}

// The running sum ends at the sum of the bands, by hand: 0.1 + 0.1 - 0.1 - 0.1 - 0.2 = -0.2 and -1.0; the legend says
// it, and the lines, read by the labels of their axis, end there.
func TestSunlightEndsAtItsSum(t *testing.T) {
	d := parse(t, sunlight())
	d.text(t, "−0.200 pp")
	d.text(t, "−1.000 pp")
	ends := map[int]float64{0: -0.2, 1: -1}
	for k, want := range ends {
		var sums []svgPath
		for _, p := range d.all(solid(report.Palette()[k]), "stroke-width:1.5") {
			if len(p.points) == 7 { // the running sum has a point for each end of a band
				sums = append(sums, p)
			}
		}
		require.Len(t, sums, 1)
		// In both panels all begins at zero: the first point is at the height of no change.
		line := sums[0].points
		ends[k] = (line[6][1] - line[0][1]) / want
		assert.Equal(t, line[0][1], line[1][1], "the first band changes nothing")
	}
	assert.InDelta(t, ends[0], ends[1], 1e-3*ends[0], "points per pp of both lines")
	assert.Greater(t, ends[0], 0.0, "what is lost is below")
	d.text(t, "Wavelength / nm")
	d.text(t, "n = 2 spots, 2 pulls.")
}

func TestSunlightThatCannotBeDrawn(t *testing.T) {
	write := func(f *report.Sunlight) error { return f.Write(&bytes.Buffer{}, "svg") }
	assert.ErrorContains(t, write(&report.Sunlight{}), "no change")
	f := sunlight()
	f.Pulls[1].Bands = nil
	assert.ErrorContains(t, write(f), `"pull 2" has no bands`)
	f = sunlight()
	f.Pulls[0].Bands[2].PP = math.NaN()
	assert.ErrorContains(t, write(f), "NaN pp")
	f = sunlight()
	f.Pulls[0].Bands[2].HiNM = 500
	assert.ErrorContains(t, write(f), "from 500 to 500 nm")
}
