package intake_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// A row above the headings may state the angle of each column.
func TestReadAnglesOfColumns(t *testing.T) {
	for _, c := range []struct {
		name, heading string
		want          [2]float64
	}{
		{"a row of numbers", "Angle (deg),8,60\nnm,%R,%R", [2]float64{8, 60}},
		{"a row of angles", "Angle,8 deg,60 deg\nnm,%R,%R", [2]float64{8, 60}},
		{"a row of incidence", "AOI [°],8,57.5\nnm,s-pol %R,p-pol %R", [2]float64{8, 57.5}},
		{"below a row of polarisations", "Polarisation,p,s\nAngle (deg),8,60\nnm,%R,%R", [2]float64{8, 60}},
		{"above a row of polarisations", "Angle of incidence,8,60\nPolarisation,p,s\nnm,%R,%R", [2]float64{8, 60}},
		{"below samples", "Sample,G07,G08\nAngle (deg),8,60\nnm,%R,%R", [2]float64{8, 60}},
		{"that agrees with the headings", "Angle,8,60\nnm,8 deg %R,60 deg %R", [2]float64{8, 60}},
		{"names that are numbers", ",7,8\nnm,30 deg %R,60 deg %R", [2]float64{30, 60}},
		{"radians", "Angle (rad),0.1,0.2\nnm,%R,%R", [2]float64{unstated, unstated}},
		{"a detector", "Detector angle,8 deg,60 deg\nnm,%R,%R", [2]float64{unstated, unstated}},
		{"a polariser", "Polariser,45 deg,60 deg\nnm,%R,%R", [2]float64{unstated, unstated}},
		{"a row that also says something else", "Angle,8,none\nnm,%R,%R", [2]float64{unstated, unstated}},
	} {
		t.Run(c.name, func(t *testing.T) {
			export, err := intake.Read("g.txt", []byte(c.heading+"\n400,4.12,5\n401,4.07,6\n"), text.Stated{})
			require.NoError(t, err)
			require.Len(t, export.Spectra, 2)
			for i, s := range export.Spectra {
				if math.IsNaN(c.want[i]) {
					assert.True(t, math.IsNaN(s.AngleDeg), "got %v", s.AngleDeg)
					continue
				}
				assert.Equal(t, c.want[i], s.AngleDeg)
			}
		})
	}
	t.Run("that contradicts the headings", func(t *testing.T) {
		_, err := intake.Read("g.txt", []byte("Angle,8,60\nnm,30 deg %R,30 deg %R\n400,4,5\n401,4,6\n"), text.Stated{})
		require.EqualError(t, err, `g.txt:2:4: heading "8 30 deg %R" gives two angles`)
	})
}
