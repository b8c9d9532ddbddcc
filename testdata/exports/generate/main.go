// Command generate writes the made-up export samples of testdata/exports: no
// instrument and no coupon stands behind them. Each is simulated from a film by
// the general stack and pane of wane/optics, with Gaussian noise, a reference
// error of its session and, in some, patches, and written the way some
// instrument might.
//
//	go run ./testdata/exports/generate
package main

import (
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode/utf16"

	"wane/optics"
)

const folder = "testdata/exports"

// sample is one made-up export and the spot it was made from.
type sample struct {
	file                string
	thickness, porosity float64 // nm, fraction
	bare, scale, noise  float64 // fractions
	back                optics.Back
	angles              []float64
	lo, hi, step        float64 // nm
	write               func(nm []float64, percent [][]float64) []byte
}

func samples() []sample {
	four := []float64{8, 30, 45, 60}
	return []sample{
		{"g07-fresh.csv", 124, 0.34, 0, 1.004, 0.0003, optics.Matched, four, 380, 1100, 2, commas},
		{"g07-patchy.csv", 117, 0.36, 0.12, 0.993, 0.0004, optics.Matched, four, 380, 1100, 2, commas},
		{"g11-thinned.txt", 82, 0.33, 0.01, 1.006, 0.0004, optics.Matched, four, 1100, 350, 5, decimalCommas},
		{"g15-remnant.csv", 12, 0.35, 0, 0.997, 0.0004, optics.Matched, four, 380, 1100, 2, commas},
		{"g18-one-angle.csv", 118, 0.35, 0.10, 1.002, 0.0004, optics.Matched, []float64{8}, 380, 1100, 2, noAngle},
		{"g21-bare-back.txt", 110, 0.38, 0.04, 1.003, 0.0003, optics.Bare, []float64{8, 12}, 360, 1100, 4, utf16Tabs},
		{"b01-blank.csv", 0, 0, 1, 1.003, 0.0003, optics.Matched, four, 380, 1100, 2, commas},
	}
}

func main() {
	log.SetFlags(0)
	for seed, s := range samples() {
		data, err := s.export(rand.New(rand.NewPCG(uint64(seed), 2026)))
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, s.file), data, 0o644)
		}
		if err != nil {
			log.Fatalf("could not write %s: %v", s.file, err)
		}
	}
}

// export simulates the sample; values are in percent.
func (s *sample) export(rng *rand.Rand) ([]byte, error) {
	var nm []float64
	n := int(math.Round(math.Abs(s.hi-s.lo)/s.step)) + 1
	for i := range n {
		nm = append(nm, s.lo+float64(i)*math.Copysign(s.step, s.hi-s.lo))
	}
	var percent [][]float64
	for _, angle := range s.angles {
		r, err := s.reflectance(nm, angle)
		if err != nil {
			return nil, err
		}
		for i := range r {
			r[i] = 100 * (s.scale*r[i] + s.noise*rng.NormFloat64())
		}
		percent = append(percent, r)
	}
	return s.write(nm, percent), nil
}

// reflectance of the patchy pane: the shares with and without film add.
func (s *sample) reflectance(nm []float64, angle float64) ([]float64, error) {
	out := make([]float64, len(nm))
	for i := range nm {
		film, err := s.film(nm[i])
		if err != nil {
			return nil, err
		}
		pane := optics.Pane{Films: []optics.Film{film}, Glass: optics.SodaLime(), GlassMM: 3.2, Back: s.back}
		coated, _, err := pane.RT(nil, nil, nm[i:i+1], angle, optics.U)
		if err != nil {
			return nil, err
		}
		pane.Films = nil
		bare, _, err := pane.RT(nil, nil, nm[i:i+1], angle, optics.U)
		if err != nil {
			return nil, err
		}
		out[i] = (1-s.bare)*coated[0] + s.bare*bare[0]
	}
	return out, nil
}

func (s *sample) film(nm float64) (optics.Film, error) {
	solid, err := optics.FusedSilica().At(nm)
	if err != nil {
		return optics.Film{}, err
	}
	eps := optics.Bruggeman.Mix(solid*solid, 1, s.porosity)
	index := optics.Constant("porous silica", complex(math.Sqrt(real(eps)), 0))
	return optics.Film{Index: index, ThicknessNM: s.thickness}, nil
}

// rows writes one line a wavelength.
func rows(nm []float64, columns [][]float64, places int, cell, end string, comma bool) string {
	var b strings.Builder
	for i := range nm {
		fields := []string{strconv.FormatFloat(nm[i], 'f', 1, 64)}
		for _, c := range columns {
			fields = append(fields, strconv.FormatFloat(c[i], 'f', places, 64))
		}
		line := strings.Join(fields, cell)
		if comma {
			line = strings.ReplaceAll(line, ".", ",")
		}
		b.WriteString(line + end)
	}
	return b.String()
}

func commas(nm []float64, percent [][]float64) []byte {
	return []byte("Made-up export; no instrument stands behind it\nSample: see the file's name\n" +
		"Reflectance relative to a calibrated mirror\n\n" +
		"Wavelength (nm),8 deg %R,30 deg %R,45 deg %R,60 deg %R\n" + rows(nm, percent, 4, ",", "\n", false))
}

func noAngle(nm []float64, percent [][]float64) []byte {
	return []byte("Made-up export; no instrument stands behind it\nWavelength (nm),%R\n" +
		rows(nm, percent, 4, ",", "\n", false))
}

func decimalCommas(nm []float64, percent [][]float64) []byte {
	return []byte("Erfundene Messung\r\n\r\nnm;8 deg;30 deg;45 deg;60 deg\r\n[nm];[%R];[%R];[%R];[%R]\r\n" +
		rows(nm, percent, 3, ";", "\r\n", true))
}

func utf16Tabs(nm []float64, percent [][]float64) []byte {
	text := "\ufeffMade-up export\r\nWavelength / nm\t8° %R\t12° %R\r\n" + rows(nm, percent, 4, "\t", "\r\n", false)
	var out []byte
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return out
}
