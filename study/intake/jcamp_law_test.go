package intake_test

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
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

// steps is a made-up spectrum in equal steps, and how to write it.
type steps struct {
	form        string
	first, last string // abscissae
	decimals    int    // of the abscissae of rows
	factor      string // of the ordinates
	ordinates   []int64
	perRow      int
}

// letter writes a whole number with a letter for its sign and its first digit.
func letter(v int64, up, down string) string {
	digits := strconv.FormatInt(max(v, -v), 10)
	set := up
	if v < 0 {
		set = down
	}
	return string(set[digits[0]-'0']) + digits[1:]
}

// at returns the exact abscissa of a point.
func (s steps) at(i int) *big.Rat {
	first, _ := new(big.Rat).SetString(s.first)
	last, _ := new(big.Rat).SetString(s.last)
	step := last.Sub(last, first)
	return first.Add(first, step.Mul(step, big.NewRat(int64(i), int64(len(s.ordinates)-1))))
}

// value returns the float64 nearest to an ordinate as a fraction.
func (s steps) value(i int) float64 {
	factor, _ := new(big.Rat).SetString(s.factor)
	v, _ := factor.Mul(factor, new(big.Rat).SetInt64(s.ordinates[i])).Float64()
	return v
}

// rows writes the rows: in forms with differences each row but the first begins
// with the ordinate before as a check, and a row with a check is at the end.
func (s steps) rows() string {
	var b strings.Builder
	differs := strings.HasPrefix(s.form, "DIF")
	for i := 0; i < len(s.ordinates); {
		start := i
		if differs && i > 0 {
			start--
		}
		b.WriteString(s.at(start).FloatString(s.decimals))
		if differs {
			b.WriteString(letter(s.ordinates[start], "@ABCDEFGHI", "@abcdefghi"))
		}
		if start == i && differs {
			i++
		}
		end := min(i+s.perRow, len(s.ordinates))
		for i < end {
			item := s.item(i)
			times := 1
			for s.dups() && i+times < end && s.item(i+times) == item {
				times++
			}
			b.WriteString(item)
			if times > 1 {
				b.WriteString(letter(int64(times), " STUVWXYZs", ""))
			}
			i += times
		}
		b.WriteString("\n")
	}
	if differs {
		last := len(s.ordinates) - 1
		b.WriteString(s.at(last).FloatString(s.decimals) + letter(s.ordinates[last], "@ABCDEFGHI", "@abcdefghi"))
	}
	return b.String()
}

func (s steps) dups() bool { return strings.HasSuffix(s.form, "DUP") }

func (s steps) item(i int) string {
	v := s.ordinates[i]
	switch s.form {
	case "AFFN":
		return fmt.Sprintf(" %d", v)
	case "PAC":
		return fmt.Sprintf("%+d", v)
	case "SQZ", "SQZ with DUP":
		return letter(v, "@ABCDEFGHI", "@abcdefghi")
	}
	return letter(v-s.ordinates[i-1], "%JKLMNOPQR", "%jklmnopqr")
}

func (s steps) text() string {
	least, most := 0, 0
	for i, v := range s.ordinates {
		if v < s.ordinates[least] {
			least = i
		}
		if v > s.ordinates[most] {
			most = i
		}
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	return jcamp(s.rows(), "FIRSTX= "+s.first, "LASTX= "+s.last, "DELTAX=", "XFACTOR= 1", "YFACTOR= "+s.factor,
		fmt.Sprintf("NPOINTS= %d", len(s.ordinates)), "FIRSTY= "+number(s.value(0)), "MINY= "+number(s.value(least)),
		"MAXY= "+number(s.value(most)))
}

// What is written in any form reads back to the last bit; the reference is math/big.
func TestReadJCAMPReturnsWhatWasWritten(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	for _, form := range []string{"AFFN", "PAC", "SQZ", "SQZ with DUP", "DIF", "DIFDUP"} {
		for round := range 60 {
			s := steps{
				form: form, factor: []string{"0.0001", "9.536743164E-07", "1.0E-06", "0.000124652"}[round%4],
				first: []string{"350", "399.98765", "750.5", "4E+02"}[random.IntN(4)], last: []string{"1000.25", "1200",
					"2499.99"}[random.IntN(3)],
				decimals: random.IntN(4), perRow: 1 + random.IntN(40),
			}
			v := int64(random.IntN(1_000))
			for range 5 + random.IntN(300) {
				if random.IntN(3) > 0 { // else as before, for DUP
					v = int64(random.IntN(10_000)) - 500
				}
				s.ordinates = append(s.ordinates, v)
			}
			for i := 0; i+4 < len(s.ordinates); i += 15 { // no flat stretch of a saturated detector
				s.ordinates[i] = int64(600 + i)
			}
			words := s.text()
			export, err := intake.Read("g.jdx", []byte(words), text.Stated{})
			require.NoError(t, err, words)
			got := export.Spectra[0]
			require.Len(t, got.NM, len(s.ordinates))
			for i := range got.NM {
				nm, _ := s.at(i).Float64()
				require.Equal(t, nm, got.NM[i], words)
				require.Equal(t, s.value(i), got.Values[i], words)
			}
		}
	}
}

// Whatever single byte of the rows of a file with differences changes or goes
// away, the file is refused or holds the same numbers: none is read wrong. All
// differences count into the last check, so this is the strength of the form.
func TestReadJCAMPFindsDamage(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "jcamp", "written-difdup.jdx"))
	require.NoError(t, err)
	want := readFixture(t, "written-difdup.jdx").Spectra[0]
	start := strings.Index(string(data), "(X++(Y..Y))\n") + len("(X++(Y..Y))\n")
	end := strings.Index(string(data), "\n##END")
	refused, same := 0, 0
	check := func(s string) {
		export, err := intake.Read("g.jdx", []byte(s), text.Stated{})
		if err != nil {
			refused++
			return
		}
		require.Equal(t, want.NM, export.Spectra[0].NM, s)
		require.Equal(t, want.Values, export.Spectra[0].Values, s)
		same++
	}
	for i := start; i < end; i++ {
		check(string(data[:i]) + string(data[i+1:]))
		for _, c := range []byte("07@Aa%JjST?.,;- \nE") {
			if c != data[i] {
				check(string(data[:i]) + string(c) + string(data[i+1:]))
			}
		}
	}
	t.Logf("%d refused, %d read the same", refused, same)
	assert.Greater(t, refused, 5000)
}

// Numbers that a header rounds, or that a factor of a few digits leaves open, pass
// their checks; one further off does not.
func TestReadJCAMPAllowsForRounding(t *testing.T) {
	for _, c := range []struct {
		factor, first string
		taken         bool
	}{
		// 900000 of 2^-20, which is 9.5367431640625e-07, are 0.8583068847...
		{"9.5367431640625E-07", "0.8583068848", true},
		{"9.5367E-07", "0.8583068848", true}, // 0.858303
		{"9.5367E-07", "0.85831", true},
		{"9.5367E-07", "0.85832", false},
		{"9.5367E-07", "0.8583168848", false},
		{"9.54E-07", "0.8583068848", false}, // three digits are meant
		{"9.5367431640625E-07", "0.86", true},
		{"9.5367431640625E-07", "0.85", false},
	} {
		_, err := intake.Read("g.jdx", []byte(jcamp("400 900000 800000", "YFACTOR= "+c.factor, "NPOINTS= 2", "LASTX= 401",
			"FIRSTY= "+c.first, "MINY=", "MAXY=")), text.Stated{})
		assert.Equal(t, c.taken, err == nil, "%s, %s: %v", c.factor, c.first, err)
	}
}

// jcampSeeds are the made-up files.
func jcampSeeds(t testing.TB) map[string][]byte {
	names, err := filepath.Glob(filepath.Join("testdata", "jcamp", "*.jdx"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(names), 13, "the seeds of the fuzzer are missing")
	files := map[string][]byte{}
	for _, name := range names {
		if files[name], err = os.ReadFile(name); err != nil {
			require.NoError(t, err)
		}
	}
	return files
}

func TestJCAMPSeedsAreTaken(t *testing.T) {
	for name, data := range jcampSeeds(t) {
		export, err := intake.Read(name, data, text.Stated{})
		require.NoError(t, err)
		assert.True(t, strings.HasPrefix(export.Separator, "JCAMP-DX ("), name)
		checkLaw(t, data, text.Stated{})
	}
}

func FuzzJCAMP(f *testing.F) {
	for _, data := range jcampSeeds(f) {
		for _, choice := range []byte{0, 2 + 3 + 9, 1 + 6} {
			f.Add(data, choice)
		}
	}
	for _, rows := range classic {
		f.Add([]byte(jcamp(rows)), byte(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, choice byte) {
		checkLaw(t, append([]byte("##TITLE="), strings.TrimPrefix(string(data), "##TITLE=")...), states(choice))
	})
}

// Files made to ask for memory get none: 200 MB must do for a file of 100 MB, so
// less than twice the file, and little for a small one.
func TestReadJCAMPNeedsLittleMemory(t *testing.T) {
	long := steps{form: "DIFDUP", first: "350", last: "2500", decimals: 4, factor: "0.0001", perRow: 60}
	for i := range 100_000 {
		long.ordinates = append(long.ordinates, int64(400+i%97+i%13*7))
	}
	var pairs strings.Builder
	for i := range 100_000 {
		fmt.Fprintf(&pairs, "%d.%04d,%d\n", 400+i/10000, i%10000, i%3)
	}
	for _, c := range []struct {
		name, text string
		most       uint64 // bytes allocated
		taken      bool
	}{
		{"one point in 12 bytes", jcamp(pairs.String(), "XYDATA= (XY..XY)", "NPOINTS= 100000", "LASTX= 409.9999",
			"FIRSTY= 0", "MINY= 0", "MAXY= 0.02", "DELTAX="), 2 * 100_000 * 12, true},
		{"NPOINTS of 1e12", jcamp(tenPoints, "NPOINTS= 1E12"), 1 << 18, false},
		{"a count of 1e14", jcamp("400AS00000000000000"), 1 << 18, false},
		{"many counts", jcamp("400" + strings.Repeat("AS99", 2000)), 1 << 18, false},
		{"a line of digits", jcamp("400 " + strings.Repeat("7", 5_000_000)), 1 << 18, false},
		{"a line of letters", jcamp("400" + strings.Repeat("A", 5_000_000)), 1 << 18, false},
		{"a long private record", jcamp(tenPoints, "$TEXT= "+strings.Repeat("words ", 1_000_000)), 2 * 6_000_000, true},
		{"a long title", jcamp(tenPoints, "TITLE= "+strings.Repeat("R 8 deg ", 600_000)), 2 * 5_000_000, false},
		{"many blocks", strings.Repeat("##TITLE=\n", 100_000), 1 << 22, false},
		{"nested blocks", strings.Repeat("##TITLE=\n##BLOCKS= 1\n", 100_000), 1 << 24, false},
	} {
		data := []byte(c.text)
		least, err := uint64(math.MaxUint64), error(nil)
		for range 3 { // what a collection takes out of a pool in the meantime is allocated again
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err = intake.Read("g.jdx", data, text.Stated{})
			runtime.ReadMemStats(&after)
			least = min(least, after.TotalAlloc-before.TotalAlloc)
		}
		if c.taken {
			require.NoError(t, err, c.name)
		} else {
			var refusal *study.Refusal
			require.True(t, errors.As(err, &refusal), c.name)
		}
		assert.Less(t, least, c.most, c.name)
	}
	// A point in DIFDUP takes two bytes of the file and 16 of memory: the bound is
	// that of all numbers, 24 MB.
	export, err := intake.Read("g.jdx", []byte(long.text()), text.Stated{})
	require.NoError(t, err)
	assert.Len(t, export.Spectra[0].NM, 100_000)
}

// The points of a file that repeats more than 1.5 million, each given by less than a
// byte, are not read.
func TestReadJCAMPRefusesTooManyPoints(t *testing.T) {
	row := "400" + strings.Repeat("AA", 3000) + "\n"
	_, err := intake.Read("g.jdx", []byte(jcamp(strings.Repeat(row, 251))), text.Stated{})
	require.EqualError(t, err,
		"g.jdx:268:4: the rows give more than the 1,500,000 points that a file of this size may contain")
}

func BenchmarkReadJCAMP(b *testing.B) {
	data, err := os.ReadFile(filepath.Join("testdata", "jcamp", "written-difdup.jdx"))
	require.NoError(b, err)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		export, err := intake.Read("written-difdup.jdx", data, text.Stated{})
		if err != nil || len(export.Spectra[0].NM) != 401 {
			require.NoError(b, err)
			require.Len(b, export.Spectra[0].NM, 401)
		}
	}
}
