package intake_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"wane/study/intake"
)

// The seeds are made-up exports, one per dialect.
func seeds(t testing.TB) map[string][]byte {
	names, err := filepath.Glob(filepath.Join("testdata", "made-up", "*"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(names), 12, "the seeds of the fuzzer are missing")
	files := map[string][]byte{}
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		files[name] = data
	}
	return files
}

// states turns a byte into what a person states.
func states(choice byte) intake.Stated {
	return intake.Stated{
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
	f.Fuzz(func(t *testing.T, data []byte, choice byte) {
		checkLaw(t, data, states(choice))
	})
}

// The seeds themselves must be taken, or the fuzzer starts from refusals only.
func TestSeedsAreTaken(t *testing.T) {
	for name, data := range seeds(t) {
		_, err := intake.Read(name, data, intake.Stated{})
		require.NoError(t, err)
	}
}
