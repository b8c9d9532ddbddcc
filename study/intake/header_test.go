package intake_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
)

const threeRows = "400,4.12\n401,4.07\n402,4.03\n"

// An angle of incidence in the header is that of all curves, as one in a heading is.
func TestReadTakesTheAngleOfTheHeader(t *testing.T) {
	for line, want := range map[string]float64{
		"Angle: 60 deg": 60, "Angle of incidence: 60": 60, "AOI = 60": 60, "AOI (deg): 57.5": 57.5, "Incidence angle,8°": 8,
		"Incidence: 57,5 deg":            57.5,
		"Angle: 60 deg, Polarisation: p": 60, "[Sample]\nAngle: 8": 8, "[Detector]\nAngle=16": unstated,
		"[Polariser]\nAngle: 45": unstated,
		"Viewing angle: 60":      unstated, "Detector angle: 60": unstated, "Polariser angle: 90": unstated,
		"Polarizer: 0 deg": unstated, "Rotation: 30 deg": unstated,
		"Angle: 8, 60": unstated, "Angle: 8,60": unstated, "Angle: 95 deg": unstated, "Angle: near normal": unstated,
		"Angle step: 5": unstated,
	} {
		export, err := intake.Read("g.csv", []byte(line+"\nnm,G07 %R,G08 %R\n400,4,5\n401,4,5\n"), text.Stated{})
		require.NoError(t, err, line)
		for _, s := range export.Spectra {
			if math.IsNaN(want) {
				assert.True(t, math.IsNaN(s.AngleDeg), line)
				continue
			}
			assert.Equal(t, want, s.AngleDeg, line)
		}
	}
	stated, err := intake.Read("g.csv", []byte("Angle: 0\nnm,%R\n"+threeRows), text.Stated{Declared: "ignore"})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(stated.Spectra[0].AngleDeg), "what the header declares is wrong")
	for _, c := range []struct{ text, fault string }{
		{"Angle: 60\nnm,%R 8 deg\n", "g.csv:1: the heading says 8 degrees, the header says 60 degrees"},
		{"Angle: 60\nAOI: 8\nnm,%R\n", "g.csv:2: the header says 60, the header says 8"},
	} {
		_, err := intake.Read("g.csv", []byte(c.text+threeRows), text.Stated{})
		assert.EqualError(t, err, c.fault)
	}
	export, err := intake.Read("g.csv", []byte("Angle: 8\nnm,%R 8 deg\n"+threeRows), text.Stated{})
	require.NoError(t, err)
	assert.Equal(t, 8.0, export.Spectra[0].AngleDeg)
}

// A map or a profile that says another angle than the header is refused.
func TestPlaceHoldsTheAngleOfTheHeader(t *testing.T) {
	x, err := intake.Read("g.csv", []byte("Angle of incidence: 60\nnm,%R\n"+threeRows), text.Stated{})
	require.NoError(t, err)
	line := sheet.Line[placing.Placing]{File: "map.csv", Number: 2,
		Row: placing.Placing{MapRow: sheet.MapRow{File: "g.csv", Column: "#2",
			Place: study.Place{Coupon: "E1", Spot: "1", AngleDeg: 8, Polarisation: "u", Replicate: 1}}}}
	_, _, err = placing.Place([]sheet.Line[placing.Placing]{line}, x.Spectra, x.Skipped)
	assert.EqualError(t, err, `map.csv:2: the header of g.csv says 60 degrees for column "#2", but the map says 8 degrees`)
	line.Row.AngleDeg = 60
	placed, _, err := placing.Place([]sheet.Line[placing.Placing]{line}, x.Spectra, x.Skipped)
	require.NoError(t, err)
	assert.Len(t, placed, 1)
}

// What the header says of the values holds against the heading.
func TestReadHoldsTheHeaderAgainstTheHeading(t *testing.T) {
	for line, fault := range map[string]string{
		"Mode: %T":           "g.csv:1: the heading says reflectance, the header says transmittance",
		"Signal: counts":     `g.csv:1: line 1 says "Signal: counts", and the heading says reflectance`,
		"Data: 1-R":          `g.csv:1: the header says "Data: 1-R": this needs reflectance`,
		"Y axis: 100-%R":     `g.csv:1: the header says "Y axis: 100-%R": this needs reflectance`,
		"Ordinate: log(1/R)": `g.csv:1: the header says "Ordinate: log(1/R)": this needs reflectance`,
		"Factor: " +
			"x100": `g.csv:1: the header says "Factor: x100": it is not known whether it is in the values`,
		"Factor: 10": `g.csv:1: the header says "Factor: 10": it is not known whether it is in the values`,
		"Multiplied by " +
			"100": `g.csv:1: the header says "Multiplied by 100": it is not known whether it is in the values`,
		"Multiplied by: " +
			"100": `g.csv:1: the header says "Multiplied by: 100": it is not known whether it is in the values`,
		"YFACTOR=0.001": `g.csv:1: the header says "YFACTOR=0.001": it is not known whether it is in the values`,
		"Offset applied: +5 " +
			"%": `g.csv:1: the header says "Offset applied: +5 %": it is not known whether it is in the values`,
		"Interval 10 nm":               "g.csv:1: header says step 10, the mean step is 1",
		"npts=360":                     "g.csv:1: header says 360 points, 3 found",
		"Scan: 400-1000 nm":            "g.csv:1: header says range to 1000, the wavelengths run from 400 to 402",
		"From 402 nm to 350 nm":        "g.csv:1: header says range to 350, the wavelengths run from 400 to 402",
		"Start: 400 nm, Stop: 1200 nm": "g.csv:1: header says stop 1200, the wavelengths run from 400 to 402",
		"Start=400;Stop=402;Step=2":    "g.csv:1: header says step 2, the mean step is 1",
	} {
		_, err := intake.Read("g.csv", []byte(line+"\nnm,%R\n"+threeRows), text.Stated{})
		assert.EqualError(t, err, fault)
	}
	for _, line := range []string{
		"Mode: %R", "Factor: 1", "Signal: 30000 counts", "Ordinate scale: 0-100", "Multiplied by: 1", "Offset applied: 0",
		"Scan 3 of 9", "Scan: 2-4",
		"Start: 400 nm, Stop: 402 nm, Step: 1 nm", "Interval 1 nm", "Start 10:30, Stop 10:31", "Data: 2026-03-31",
		"Interval between scans 10 min", "npts=3",
		"From lab 2 to lab 3", "Points: 3, Start: 400, Stop: 402", "Scan: 400-402 nm",
	} {
		export, err := intake.Read("g.csv", []byte(line+"\nnm,%R\n"+threeRows), text.Stated{})
		require.NoError(t, err, line)
		requireSameBits(t, g07[0].values, export.Spectra[0].Values)
	}
}
