package report_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/report"
)

// characteristic is the figure of a rule of one coupon: the chances are the shares themselves and, with 5 % that pass
// at the limit, 0.05 + 0.95 of them.
func characteristic() *report.Characteristic {
	f := &report.Characteristic{Rule: "loss-1", Coupons: 1, Share: 0.8}
	for _, q := range []float64{0, 0.2, 0.5, 0.8, 1} {
		f.Points = append(f.Points, report.CharacteristicPoint{Share: q, Accepted: 0.05 + 0.95*q, Certain: q})
	}
	return f
}

func TestACharacteristicIsDrawnWhereItIs(t *testing.T) {
	d := parse(t, characteristic())
	var lines [][][2]float64
	for _, p := range d.all("stroke-width:1.5") {
		if len(p.points) == 5 {
			lines = append(lines, p.points)
		}
	}
	require.Len(t, lines, 2)
	certain, most := lines[0], lines[1]
	width, height := certain[4][0]-certain[0][0], certain[4][1]-certain[0][1]
	for i, q := range []float64{0, 0.2, 0.5, 0.8, 1} {
		assert.InDelta(t, q, (certain[i][0]-certain[0][0])/width, 1e-3)
		assert.InDelta(t, q, (certain[i][1]-certain[0][1])/height, 1e-3)
		assert.InDelta(t, 0.05+0.95*q, (most[i][1]-certain[0][1])/height, 1e-3)
	}
	for _, label := range []string{"Operating characteristic of the rule loss-1", "with error: at most", "without error",
		"Share of the product that conforms / %"} {
		d.text(t, label)
	}
}

func TestACharacteristicThatCannotBeDrawn(t *testing.T) {
	f := characteristic()
	assert.ErrorContains(t, f.Write(&bytes.Buffer{}, "bmp"), "bmp")
	f.Points[1].Accepted = math.NaN()
	assert.ErrorContains(t, f.Write(&bytes.Buffer{}, "svg"), "is no share and no chance")
	f.Points = f.Points[:1]
	assert.ErrorContains(t, f.Write(&bytes.Buffer{}, "svg"), "two points or more")
	f = characteristic()
	f.Share = math.NaN()
	var a, b bytes.Buffer
	require.NoError(t, f.Write(&a, "png"))
	require.NoError(t, f.Write(&b, "png"))
	assert.Equal(t, a.Bytes(), b.Bytes(), "equal figures give equal bytes")
}
