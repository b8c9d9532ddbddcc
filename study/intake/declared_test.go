package intake_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake"
	"wane/study/intake/text"
)

// A line that declares a range is compared with the wavelengths, which run from 400
// to 402 nm; one that is no such range says nothing.
func TestDeclaredRange(t *testing.T) {
	const from, to = "g.csv:1: header says range from 350, the wavelengths run from 400 to 402",
		"g.csv:1: header says range to 900, the wavelengths run from 400 to 402"
	const down = "g.csv:1: header says range from 900, the wavelengths run from 400 to 402"
	for line, fault := range map[string]string{
		"Range: 350,0 to 900,0": from, "Range 350-900 nm": from, "Range: 350 .. 900": from, "Range: 350...900": from,
		"Range=350 nm - 900 nm": from,
		"Range (nm): 350–900":   from, "\"Range\",\"350 to 900\"": from, "Scan range: 350.00 to 900.00 (nm)": from,
		"Wavelength range 0.35-0.9 µm": from,
		"range from 400 to 900":        to, "Range: 402 to 900": to, "Range: 900 to 400": down, "X range\t400 - 900": to,
		"Bereich: 350-900 nm": from, "Bereich von 350 bis 900 nm": from, "Wellenlängenbereich: 350 bis 900": from,
		"Wellenlängenbereich (nm): 350 - 900": from, "Plage: 350 à 900 nm": from, "Plage spectrale;350-900": from,
		"Bereich: 400-402 nm": "", "Plage: 400 - 402 nm": "", "Wellenlängenbereich: 400 bis 402": "",
		"Arbeitsbereich: 350-900": "", "Bereich: 0-100 %": "", "Bereich: 2 bis 5": "", "Plage horaire: 350-900": "",

		"Range: 400,0 to 402,0": "", "Range: 402 - 400": "", "Range 400-402 nm": "", "Range: 400 .. 402": "",
		"Wavelength range: 0.4-0.402 um": "",
		"Spectral range [nm]: 400 - 402": "", "Range: 399.6 to 402.4": "", // within half a step

		"Range: 0-100 %R": "", "Range: 0 to 2": "", "Range: 2": "", "Range: 350,900": "", "Range: 350 to": "",
		"Range: wide": "", "Range 350-900 nm in 3 scans": "",
		"Gain range: 350-900": "", "Range: 350 to 900 eV": "",
	} {
		raw := []byte(line + "\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n")
		_, err := intake.Read("g.csv", raw, text.Stated{})
		if fault == "" {
			require.NoError(t, err, line)
			continue
		}
		require.EqualError(t, err, fault, line)
		export, err := intake.Read("g.csv", raw, text.Stated{Declared: "ignore"})
		require.NoError(t, err, line)
		assert.Equal(t, []string{line, "nm,%R"}, export.Header)
	}
	// The ends are in the unit that the line gives, or else in that of the file.
	for _, line := range []string{"Range: 25000 to 20000 cm-1", "Range: 20000 - 25000", "Range: 400-500 nm"} {
		_, err := intake.Read("g.csv", []byte(line+"\ncm-1,%R\n25000,4.12\n20000,4.07\n"), text.Stated{})
		require.NoError(t, err, line)
	}
}

// Ends and steps are compared under the German and French words for them too.
func TestDeclaredEndsAndSteps(t *testing.T) {
	for line, fault := range map[string]string{
		"Anfang: 350 nm": "start 350", "Startwellenlänge: 350": "start 350", "Startwellenlänge (nm);350": "start 350",
		"Début: 350 nm": "start 350",
		"Ende: 900 nm":  "stop 900", "Endwellenlänge: 900": "stop 900", "Fin: 900 nm": "stop 900",
		"Start wavelength (nm): 350": "start 350",
		"Schrittweite: 5 nm":         "step 5", "Pas: 5 nm": "step 5", "Pas (nm): 5": "step 5",
		"Step size in nm: 5": "step 5",
		"Intervall: 5 nm":    "step 5",
	} {
		raw := []byte(line + "\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n")
		_, err := intake.Read("g.csv", raw, text.Stated{})
		require.ErrorContains(t, err, "g.csv:1: header says "+fault, line)
		_, err = intake.Read("g.csv", raw, text.Stated{Declared: "ignore"})
		require.NoError(t, err, line)
	}
	for _, line := range []string{
		"Anfang: 400 nm", "Startwellenlänge: 402", "Ende: 402", "Schrittweite: 1 nm", "Pas: 1", "Anfang: 10:30",
		"Ende: 31.03.2026", "Fin: 10h31", "Pas de blanchiment: 5", "Anfang der Lampe: 350", "Passe: 5",
		"Ende des Berichts 3", "Pasted: 5", "Fine: 5", "Intervall der Kalibrierung: 365",
	} {
		_, err := intake.Read("g.csv", []byte(line+"\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
		require.NoError(t, err, line)
	}
}

// A count is compared with the points whatever it is called; of a part of the instrument,
// of a setting or of another section it is left.
func TestDeclaredCountIsFoundByItsWords(t *testing.T) {
	for _, line := range []string{
		"Number of pixels: %d", "Number of Pixels in Spectrum: %d", "Number of Pixels in Processed Spectrum: %d",
		"Number of sampled pixels: %d", "Total points: %d", "Numero punti: %d", "Points per scan: %d", "Pixels\t%d",
		"X values: %d", "Number of X values,%d", "No. of points: %d", "Data points=%d", "Number of channels: %d",
		"Channels: %d", "Points: %d pixels", "Number of wavelengths: %d", "Anzahl Messpunkte: %d", "Anzahl der Pixel: %d",
		"Nombre de points: %d", "N\u00famero de puntos: %d", "Numero di punti: %d",
		"Point count: %d", "Pixel count: %d", "Num. of points: %d", "Nb points: %d", "Nb de points: %d", "# of points: %d",
		"Number of measurement points: %d", "Number of scan points: %d", "%d points",
		"# %d data points", "Valeurs X: %d", "Anzahl Wertepaare: %d", "Punktzahl: %d", "%d Messpunkte",
		"Aantal punten: %d", "[Spectrum]\nPoints: %d", "[Detector]\nPixels: 2048\n[Data]\nNumber of points: %d",
		"-- Smoothing --\nPoints: 15\n-- Scan --\nPoints: %d",
	} {
		texts := func(n int) []byte {
			rows := ""
			for i := range 40 {
				rows += fmt.Sprintf("%d,4.%02d\n", 400+i, 7*i%90)
			}
			return []byte(fmt.Sprintf(line, n) + "\nnm,%R\n" + rows)
		}
		_, err := intake.Read("g.csv", texts(40), text.Stated{})
		require.NoError(t, err, line)
		_, err = intake.Read("g.csv", texts(41), text.Stated{})
		require.ErrorContains(t, err, ": header says 41 points, 40 found", line)
		export, err := intake.Read("g.csv", texts(41), text.Stated{Declared: "ignore"})
		require.NoError(t, err, line)
		assert.Len(t, export.Spectra[0].NM, 40)
	}
	// A mark between thousands is none of a count.
	for _, line := range []string{"Points: 2,048", "Points: 2.048", "Number of pixels;2.048 pixels"} {
		_, err := intake.Read("g.csv", []byte(line+"\nnm;%R\n400;4.12\n401;4.07\n402;4.03\n"), text.Stated{})
		require.ErrorContains(t, err, "header says 2,048 points, 3 found", line)
	}
	for _, line := range []string{
		"[Smoothing]\nPoints: 15", "=== Smoothing ===\nPoints: 15", "*** Boxcar ***\nPoints: 5",
		"[Detector]\nNumber of pixels: 2048", "[Baseline]\nStart: 300\nStop: 900\nPoints: 601",
		"[Reference]\nX values: 601", "Smoothing points: 15", "Points in baseline: 601", "Number of scans: 5", "Number: 7",
		"Nr: 3", "Total: 12", "Count: 9", "Measurement points: 9", "Scan count: 5", "5 points averaged", "Spot 3 points",
		"5 point smoothing", "Peak count: 2", "Bits of pixel: 16", "Points of interest: 2", "Boxcar points: 5",
		"Channels: 2", "Number of channels: 2", "Pixel: 512", "Points per nm: 2", "Values: 1", "Rows: 7", "No: 7",
		"[Display]\nRange: 300 - 1100",
	} {
		_, err := intake.Read("g.csv", []byte(line+"\nnm,%R\n400,4.12\n401,4.07\n402,4.03\n"), text.Stated{})
		require.NoError(t, err, line)
	}
}
