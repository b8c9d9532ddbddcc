package intake_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/text"
	"wane/study/intake/text/texttest"
)

// The seeds are made-up exports, one per dialect.
func seeds(t testing.TB) map[string][]byte { return texttest.Files(t, "testdata/made-up/*", 12) }

// states turns a byte into what a person states.
func states(choice byte) text.Stated {
	return text.Stated{
		Unit:           []string{"", "fraction", "percent"}[choice%3],
		WavelengthUnit: []string{"", "nm", "um"}[choice/3%3],
		Quantity:       []string{"", "R", "T"}[choice/9%3],
	}
}

func FuzzRead(f *testing.F) {
	for _, data := range seeds(f) {
		for _, choice := range []byte{0, 2 + 3 + 9, 1 + 6} {
			f.Add(data, choice)
		}
	}
	for _, c := range oncePanicked {
		f.Add([]byte(c.text), byte(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, choice byte) {
		checkLaw(t, data, states(choice))
	})
}

// answered turns a number into answers to what files may leave open.
func answered(choice uint64) text.Stated {
	pick := func(words ...string) string {
		n := uint64(len(words))
		w := words[choice%n]
		choice /= n
		return w
	}
	return text.Stated{
		Unit: pick("", "percent", "fraction"), WavelengthUnit: pick("", "nm", "um", "cm-1"), Quantity: pick("", "R"),
		Decimal: pick("", "comma", "point"), Thousands: pick("", "point", "comma", "space"), Block: pick("", "1", "2"),
		Axis: pick("", "1", "2"), Columns: pick("", "2", "2,3"), GroupBy: pick("", "", "1", "1,2", "1-3", "2"),
		Layout: pick("", "", "rows", "columns"), Overlap: pick("", "first", "average"),
		Declared: pick("", "ignore"), Filler: pick("", "missing", "keep"), RelativeTo: pick("", "absolute"), Range: pick("",
			"300-900"),
		InMap: pick("", "yes") != "",
	}
}

// Whatever is stated, the law of [FuzzRead] holds, and answers to what a file
// leaves open come to an end: nothing is asked twice.
func FuzzReadStated(f *testing.F) {
	for _, folder := range []string{"made-up", "dialects"} {
		for _, data := range texttest.Files(f, "testdata/"+folder+"/*", 12) {
			f.Add(data, uint64(0), uint64(0))
			f.Add(data, uint64(1+3+12), uint64(1))
		}
	}
	for _, c := range oncePanicked {
		f.Add([]byte(c.text), uint64(0), uint64(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, choice, answers uint64) {
		stated := answered(choice)
		if stated.Check() == nil && !stated.InMap {
			checkLaw(t, data, stated)
		}
		for range 2 * len(stated.Answers()) {
			_, err := intake.Read("fuzz.txt", data, stated)
			var refusal *study.Refusal
			if err == nil {
				return
			}
			require.ErrorAs(t, err, &refusal)
			if len(refusal.Choices) == 0 {
				return
			}
			c := refusal.Choices[answers%uint64(len(refusal.Choices))]
			answers /= 2
			before := stated
			if c.Value == "" {
				c.Value = "W1"
			}
			require.NoError(t, stated.Set(c.Name, c.Value))
			require.NotEqual(t, before, stated, "asked again: %v", err)
		}
		t.Fatal("asked without end")
	})
}

// An explanation says of any file what came of it, in lines of two columns.
func FuzzExplain(f *testing.F) {
	for _, data := range texttest.Files(f, "testdata/dialects/*", 12) {
		f.Add(data, uint64(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, choice uint64) {
		stated := answered(choice)
		ends := map[string]bool{}
		for _, l := range intake.Explain("fuzz.txt", data, stated) {
			require.Greater(t, len(l), 12)
			require.NotContains(t, l, "\n")
			head, _, _ := strings.Cut(l[:12], " ")
			ends[head] = true
		}
		_, err := intake.Read("fuzz.txt", data, stated)
		require.Equal(t, err != nil, ends["refused"])
		require.Equal(t, err != nil, ends["try"])
	})
}

// The seeds themselves must be taken, or the fuzzer starts from refusals only.
func TestSeedsAreTaken(t *testing.T) {
	for name, data := range seeds(t) {
		_, err := intake.Read(name, data, text.Stated{})
		require.NoError(t, err)
	}
}
