package intake_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake"
	"wane/study/intake/text"
)

// A first or last row far from all others, such as a year among settings, is asked about;
// the gap between two ranges that were measured is not.
func TestReadAsksAboutARowApart(t *testing.T) {
	var rows strings.Builder
	for nm := 400; nm <= 500; nm += 5 {
		fmt.Fprintf(&rows, "%d,4.%02d\n", nm, nm%97)
	}
	const head = "nm,%R\n"
	for name, c := range map[string]struct {
		text, at string
		ranges   []string
	}{
		"last":  {head + rows.String() + "2024,5\n", "23:1: 2024 nm", []string{"400-500", "400-2024"}},
		"first": {head + "141,1\n" + rows.String(), "2:1: 141 nm", []string{"400-500", "141-500"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := intake.Read("g.csv", []byte(c.text), text.Stated{})
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			assert.EqualError(t, err, "g.csv:"+c.at+" stands far from the other wavelengths, which run from 400-500")
			for i, want := range c.ranges {
				require.Equal(t, want, refusal.Choices[i].Value)
				export, err := intake.Read("g.csv", []byte(c.text), text.Stated{Range: want})
				require.NoError(t, err)
				assert.Len(t, export.Spectra[0].NM, 21+i)
			}
		})
	}
	export, err := intake.Read("g.csv", []byte(head+rows.String()+"555,4.1\n560,4.2\n565,4.1\n"), text.Stated{})
	require.NoError(t, err)
	assert.Len(t, export.Spectra[0].NM, 24)
}

// noisyEnds writes a made-up export of 71 points whose ends are noise, wilder than anything
// that can be measured, in so many points on each side.
func noisyEnds(head string, left, right int, more func(i int) string) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range 71 {
		value := 4 + 0.01*float64(i%7)
		switch {
		case i < left:
			value = []float64{3950, -1200, 380, -45.5, 2100}[i%5]
		case i >= 71-right:
			value = []float64{-260, 1820, 990, -5200}[i%4]
		}
		fmt.Fprintf(&b, "%.1f,%.2f%s\n", 350+2.5*float64(i), value, more(i))
	}
	return b.String()
}

// Noise at the ends that is wilder than anything that can be measured is refused with the
// range that fits; with it the file is read, and a profile drafted.
func TestReadNamesTheRangeWithinTheNoise(t *testing.T) {
	none := func(int) string { return "" }
	other := func(i int) string { // a second curve, whose noise begins earlier on the right
		if i >= 60 {
			return ",7000"
		}
		return fmt.Sprintf(",5.%d", i%9)
	}
	for name, c := range map[string]struct {
		text, calm string
		points     int
	}{
		// The points in are at 362.5 (the sixth) to 350 + 2.5·66 = 515; no integer lies
		// beyond 362.5 and within 360, as 362 does.
		"both ends":     {noisyEnds("nm,%R\n", 5, 4, none), "362-515", 62},
		"the left end":  {noisyEnds("nm,%R\n", 5, 0, none), "362-525", 66},
		"the right end": {noisyEnds("nm,%R\n", 0, 4, none), "350-515", 67},
		"two curves":    {noisyEnds("nm,G07 %R,G08 %R\n", 5, 4, other), "362-498", 55},
		"decimal commas": {strings.NewReplacer(",", ";", ".", ",").Replace(noisyEnds("nm,%R\n", 5, 4, none)), "362-515",
			62},
		"micrometres":       {inMicrometres(noisyEnds("nm,%R\n", 5, 4, none)), "362-515", 62},
		"another language":  {noisyEnds("Wellenlänge [nm],Reflexion [%]\n", 5, 4, none), "362-515", 62},
		"a spike":           {strings.Replace(noisyEnds("nm,%R\n", 0, 0, none), "400.0,4.06", "400.0,4060.00", 1), "", 0},
		"a stretch between": {noisyEnds("nm,%R\n", 5, 36, none), "", 0},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := intake.Read("g.csv", []byte(c.text), text.Stated{Quantity: "R"})
			var refusal *study.Refusal
			require.ErrorAs(t, err, &refusal)
			assert.Contains(t, refusal.Fault, "cannot be reflectance: the limit is 1,000 %")
			if c.calm == "" {
				assert.Empty(t, refusal.Choices)
				return
			}
			assert.True(t, strings.HasPrefix(refusal.Try, "state --range "+c.calm+", or "), refusal.Try)
			export, err := intake.Read("g.csv", []byte(c.text), text.Stated{Quantity: "R", Range: c.calm})
			require.NoError(t, err)
			for _, s := range export.Spectra {
				assert.Len(t, s.NM, c.points)
			}

			_, err = intake.Read("g.csv", []byte(c.text), text.Stated{Quantity: "R", Range: "351-520"})
			if c.points < 66 {
				require.ErrorAs(t, err, &refusal)
				assert.Contains(t, refusal.Try, "in place of 351-520")
			}
			draft, err := desk.DraftProfile("bench-1", "G07.csv", []byte(c.text))
			require.NoError(t, err)
			assert.Contains(t, draft, "# range: "+c.calm)
			assert.Contains(t, draft, "- column: ")
		})
	}
}

// inMicrometres writes the wavelengths of an export in nm as micrometres.
func inMicrometres(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		x, rest, _ := strings.Cut(line, ",")
		if nm, err := strconv.ParseFloat(x, 64); err == nil {
			x = strconv.FormatFloat(nm/1000, 'f', 4, 64)
		} else {
			x = "um"
		}
		b.WriteString(x + "," + rest)
	}
	return b.String()
}

// The same holds of a JCAMP-DX file.
func TestReadJCAMPNamesTheRangeWithinTheNoise(t *testing.T) {
	var points strings.Builder
	for line := range strings.Lines(strings.TrimPrefix(noisyEnds("nm,%R\n", 5, 4, func(int) string { return "" }),
		"nm,%R\n")) {
		x, y, _ := strings.Cut(strings.TrimSpace(line), ",")
		percent, err := strconv.ParseFloat(y, 64)
		require.NoError(t, err)
		fmt.Fprintf(&points, "%s, %g\n", x, percent/100)
	}
	s := "##TITLE= G07\n##JCAMP-DX= 4.24\n##DATA TYPE= UV/VIS SPECTRUM\n##XUNITS= NANOMETERS\n##YUNITS= " +
		"REFLECTANCE\n##NPOINTS= 71\n##XYPOINTS= (XY..XY)\n" + points.String() + "##END=\n"
	_, err := intake.Read("g.jdx", []byte(s), text.Stated{})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	require.True(t, strings.HasPrefix(refusal.Try, "state --range 362-515, or "), "%v: %s", err, refusal.Try)
	export, err := intake.Read("g.jdx", []byte(s), text.Stated{Range: "362-515"})
	require.NoError(t, err)
	assert.Len(t, export.Spectra[0].NM, 62)
	draft, err := desk.DraftProfile("bench-1", "G07.jdx", []byte(s))
	require.NoError(t, err)
	assert.Contains(t, draft, "# range: 362-515")
}

// A row apart is asked about in the unit that the numbers are read in, with ranges in nm,
// and a unit that nobody states comes first.
func TestReadAsksAboutARowApartInAnyUnit(t *testing.T) {
	rows := func(head string, number func(i int) string, stray string) []byte {
		text := head + ",%R\n"
		for i := range 21 {
			text += fmt.Sprintf("%s,4.1%d\n", number(i), i)
		}
		return []byte(text + stray + ",5\n")
	}
	micro := rows("um", func(i int) string { return fmt.Sprintf("0.%d", 400+5*i) }, "2.024")
	numbers := rows("cm-1", func(i int) string { return strconv.Itoa(25000 - 250*i) }, "2000")
	for name, c := range map[string]struct {
		text         []byte
		fault, calm  string
		first, after float64
	}{
		"micrometres": {micro, "2024 nm stands far from the other wavelengths, which run from 400-500", "400-500", 400, 500},
		// 1e7/25000 and 1e7/20000 exactly.
		"wavenumbers": {numbers, "2000 cm-1 stands far from the other wavelengths, which run from 20000-25000", "400-500",
			400, 500},
	} {
		_, err := intake.Read("g.csv", c.text, text.Stated{})
		var refusal *study.Refusal
		require.ErrorAs(t, err, &refusal, name)
		assert.Equal(t, c.fault, refusal.Fault)
		require.NotEmpty(t, refusal.Choices, name)
		require.Equal(t, c.calm, refusal.Choices[0].Value)
		export, err := intake.Read("g.csv", c.text, text.Stated{Range: c.calm})
		require.NoError(t, err, name)
		nm := export.Spectra[0].NM
		assert.Equal(t, []float64{c.first, c.after, 21}, []float64{nm[0], nm[len(nm)-1], float64(len(nm))})
	}
	_, err := intake.Read("g.csv", rows("Wavelength", func(i int) string { return strconv.Itoa(400 + 5*i) }, "2024"),
		text.Stated{})
	require.ErrorContains(t, err, "the unit of wavelength is not stated (the numbers run from 400 to 2024)")
}
