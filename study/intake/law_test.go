package intake_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
)

// requireSameBits compares two slices to the last bit.
func requireSameBits(t *testing.T, want, got []float64) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.Equal(t, math.Float64bits(want[i]), math.Float64bits(got[i]), "position %d: want %v, got %v", i, want[i],
			got[i])
	}
}

// written is a made-up file and the numbers that it holds.
type written struct {
	nm     []float64
	curves [][]float64
}

// makeUp draws wavelengths and curves whose decimal forms are short enough to
// be written exactly.
func makeUp(random *rand.Rand, rows, columns int) written {
	w := written{curves: make([][]float64, columns)}
	nm := 350.0
	for range rows {
		nm += float64(1+random.IntN(40)) / 8 // eighths are exact in binary and in decimal
		w.nm = append(w.nm, nm)
		for c := range columns {
			w.curves[c] = append(w.curves[c], math.Round(random.Float64()*1e6)/1e6)
		}
	}
	return w
}

func (w written) text(sep, mark, end string) string {
	var b strings.Builder
	number := func(v float64) string {
		return strings.Replace(strconv.FormatFloat(v, 'f', -1, 64), ".", mark, 1)
	}
	b.WriteString("Sample: G07 \u00b5" + end + "nm")
	for c := range w.curves {
		fmt.Fprintf(&b, "%sR%d (fraction)", sep, c)
	}
	b.WriteString(end)
	for i, nm := range w.nm {
		b.WriteString(number(nm))
		for _, curve := range w.curves {
			b.WriteString(sep + number(curve[i]))
		}
		b.WriteString(end)
	}
	return b.String()
}

func encode(text, encoding string) string {
	switch encoding {
	case "UTF-8 with mark":
		return "\ufeff" + text
	case "Latin-1":
		return strings.ReplaceAll(text, "\u00b5", "\xb5")
	case "UTF-16 LE", "UTF-16 BE":
		return utf16(strings.ReplaceAll(text, "\u00b5", "u"), encoding == "UTF-16 BE", true)
	case "UTF-16 LE without mark", "UTF-16 BE without mark":
		return utf16(strings.ReplaceAll(text, "\u00b5", "u"), encoding == "UTF-16 BE without mark", false)
	}
	return text
}

// A written file reads back with the same numbers, whatever its dialect.
func TestReadReturnsWhatWasWritten(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	stated := text.Stated{Quantity: "R"}
	for _, sep := range []string{",", ", ", "\t", ";", " ; ", "  "} {
		for _, mark := range []string{".", ","} {
			if sep == "," && mark == "," {
				continue // nobody can tell: refused, see TestReadRefuses
			}
			for _, end := range []string{"\n", "\r\n", "\r"} {
				for _, encoding := range []string{"UTF-8", "UTF-8 with mark", "Latin-1", "UTF-16 LE", "UTF-16 BE",
					"UTF-16 LE without mark", "UTF-16 BE without mark"} {
					name := fmt.Sprintf("separator %q, mark %q, end %q, %s", sep, mark, end, encoding)
					w := makeUp(random, 60, 3)
					export, err := intake.Read(name, []byte(encode(w.text(sep, mark, end), encoding)), stated)
					require.NoError(t, err, name)
					require.Len(t, export.Spectra, 3, name)
					for c, s := range export.Spectra {
						requireSameBits(t, w.nm, s.NM)
						requireSameBits(t, w.curves[c], s.Values)
					}
				}
			}
		}
	}
}

// The order of the rows does not matter, nor the unit.
func TestReadIsIndependentOfOrderAndUnit(t *testing.T) {
	up, down := "nm,%R\n", []string{}
	micro := "um,R (0-1)\n"
	random := rand.New(rand.NewPCG(9, 10))
	for i := range 300 {
		nm, value := 350+i, random.IntN(9_999_999)
		row := fmt.Sprintf("%d,%d.%05d\n", nm, value/100000, value%100000)
		up += row
		down = append([]string{row}, down...)
		micro += fmt.Sprintf("%d.%03d,0.%07d\n", nm/1000, nm%1000, value)
	}
	want, err := intake.Read("up", []byte(up), text.Stated{})
	require.NoError(t, err)
	for name, s := range map[string]string{"down": "nm,%R\n" + strings.Join(down, ""),
		"micrometres and fractions": micro} {
		got, err := intake.Read(name, []byte(s), text.Stated{})
		require.NoError(t, err, name)
		requireSameBits(t, want.Spectra[0].NM, got.Spectra[0].NM)
		requireSameBits(t, want.Spectra[0].Values, got.Spectra[0].Values)
	}
}

// A row that cannot be read refuses the file wherever it stands: none becomes
// part of the header or of what follows the rows.
func TestReadLosesNoRow(t *testing.T) {
	const n = 40
	good := make([]string, n)
	for i := range good {
		good[i] = fmt.Sprintf("%d,%d.%02d,%d.5", 400+i, 4+i%3, 7*i%100, i%5)
	}
	for name, broken := range map[string]func(cells []string) string{
		"a word for the first value":  func(c []string) string { return c[0] + ",OVER," + c[2] },
		"a word for the last value":   func(c []string) string { return c[0] + "," + c[1] + ",OVER" },
		"words for all values":        func(c []string) string { return c[0] + ",OVER,OVER" },
		"no wavelength":               func(c []string) string { return "," + c[1] + "," + c[2] },
		"NaN for the wavelength":      func(c []string) string { return "NaN," + c[1] + "," + c[2] },
		"dashes for the wavelength":   func(c []string) string { return "---," + c[1] + "," + c[2] },
		"a word for the wavelength":   func(c []string) string { return "OVER," + c[1] + "," + c[2] },
		"a cell too many":             func(c []string) string { return strings.Join(c, ",") + ",9" },
		"a cell too few":              func(c []string) string { return c[0] + "," + c[1] },
		"the wavelength alone":        func(c []string) string { return c[0] },
		"semicolons":                  func(c []string) string { return strings.Join(c, ";") },
		"tabs":                        func(c []string) string { return strings.Join(c, "\t") },
		"spaces":                      func(c []string) string { return strings.Join(c, " ") },
		"a NUL byte":                  func(c []string) string { return c[0] + "," + c[1] + "\x00," + c[2] },
		"an open quote":               func(c []string) string { return c[0] + ",\"" + c[1] + "," + c[2] },
		"a letter behind a number":    func(c []string) string { return c[0] + "," + c[1] + "x," + c[2] },
		"a unit behind a number":      func(c []string) string { return c[0] + "," + c[1] + "%," + c[2] },
		"the row before once more":    func(c []string) string { return "400,4.0,1.5\n400,4.0,1.5" },
		"two decimal points":          func(c []string) string { return c[0] + ",4.1.2," + c[2] },
		"an unknown word for nothing": func(c []string) string { return c[0] + "," + c[1] + ",N/A" },
	} {
		for _, i := range []int{0, 1, 2, n / 2, n - 3, n - 2, n - 1} {
			rows := append([]string{}, good...)
			rows[i] = broken(strings.Split(rows[i], ","))
			s := "made up\nnm,G07 %R,G08 %R\n" + strings.Join(rows, "\n") + "\n"
			_, err := intake.Read("g.txt", []byte(s), text.Stated{})
			var refusal *study.Refusal
			require.True(t, errors.As(err, &refusal), "%s in row %d: %v", name, i, err)
			assert.InDelta(t, 3+i, refusal.Line, 1, "%s in row %d: %v", name, i, err) // a repeated row is two lines
		}
	}
}

// checkLaw holds what is true of every file: the function does not panic, an
// error is a refusal with a fault and something to try, and spectra are sound
// and read back from a plain rewriting.
func checkLaw(t *testing.T, data []byte, stated text.Stated) {
	export, err := intake.Read("fuzz.txt", data, stated)
	if err != nil {
		var refusal *study.Refusal
		require.True(t, errors.As(err, &refusal))
		require.NotEmpty(t, refusal.Fault)
		require.NotEmpty(t, refusal.Try)
		require.Equal(t, "fuzz.txt", refusal.File)
		require.Nil(t, export)
		return
	}
	require.NotEmpty(t, export.Spectra)
	for _, s := range export.Spectra {
		require.NotEmpty(t, s.NM)
		require.Len(t, s.Values, len(s.NM))
		require.True(t, export.ByRow || len(s.NM) <= export.Rows)
		require.True(t, math.IsNaN(s.AngleDeg) || s.AngleDeg >= 0 && s.AngleDeg < 90)
		require.Contains(t, []string{"", "s", "p", "u"}, s.Polarisation)
		for i, nm := range s.NM {
			require.True(t, nm >= 50 && nm <= 100_000, "wavelength %v", nm)
			require.True(t, i == 0 || nm > s.NM[i-1], "%v after %v", nm, s.NM[max(i-1, 0)])
			require.True(t, math.Abs(s.Values[i]) <= 10, "value %v", s.Values[i])
		}
		checkRewriting(t, s)
	}
}

// checkRewriting writes a spectrum as plainly as can be and reads it again.
func checkRewriting(t *testing.T, s study.Spectrum) {
	if len(s.NM) == 1 {
		return // a curve with one point beside others: alone it is no spectrum
	}
	// Fractions, unless more than half of the values exclude that reading.
	unit, shift, above := "0-1", 0, 0
	for _, v := range s.Values {
		if v > 1.5 {
			above++
		}
	}
	if 2*above > len(s.Values) {
		unit, shift = "%", 2
	}
	var b strings.Builder
	fmt.Fprintf(&b, "wavelength (nm),%s (%s)\n", map[study.Quantity]string{"R": "Reflectance",
		"T": "Transmittance"}[s.Quantity], unit)
	for i, nm := range s.NM {
		mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(s.Values[i], 'e', -1, 64), "e")
		power, err := strconv.Atoi(exponent)
		require.NoError(t, err)
		fmt.Fprintf(&b, "%s,%se%d\n", strconv.FormatFloat(nm, 'g', -1, 64), mantissa, power+shift)
	}
	// Without its missing points a curve may have an end far from the others, of which a
	// person would be asked.
	all := strconv.FormatFloat(s.NM[0], 'f', -1, 64) + "-" + strconv.FormatFloat(s.NM[len(s.NM)-1], 'f', -1, 64)
	// which may have been stated
	again, err := intake.Read("again.txt", []byte(b.String()), text.Stated{Range: all, Filler: "keep"})
	require.NoError(t, err, b.String())
	require.Len(t, again.Spectra, 1)
	requireSameBits(t, s.NM, again.Spectra[0].NM)
	requireSameBits(t, s.Values, again.Spectra[0].Values)
}

func TestReadNeedsLittleMemory(t *testing.T) {
	var b strings.Builder
	b.WriteString("nm,%R\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "%.4f,%d\n", 300+float64(i)/100, i%97)
	}
	data := []byte(b.String())
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := intake.Read("made-up.csv", data, text.Stated{})
	runtime.ReadMemStats(&after)
	require.NoError(t, err)
	// Two numbers of 8 bytes a row, in rows of 12 bytes or more: less than twice
	// the file, and a file of 100 MB must fit into 200 MB.
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(2*len(data)))
}
