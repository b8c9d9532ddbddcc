package main

import (
	"bufio"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake"
)

const dialectsFolder = "../../study/intake/testdata/dialects/"

// askingOf reads a made-up file with what a person types.
func askingOf(t *testing.T, file, typed string) (*intake.Export, string, error) {
	data, err := os.ReadFile(dialectsFolder + file)
	require.NoError(t, err)
	var said strings.Builder
	a := &asker{bufio.NewReader(strings.NewReader(typed)), &said}
	export, err := a.readExport(file, data, &intake.Stated{})
	return export, said.String(), err
}

func TestAskSettlesAnExport(t *testing.T) {
	for _, c := range []struct {
		file, typed string
		nm, values  []float64
		says        string
	}{
		{"5-repeats.csv", "1\n", []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}, "5-repeats.csv is read with --overlap first\n"},
		{"5-repeats.csv", "3\nfirst\n2\n", []float64{400, 401, 402}, []float64{0.0412, 0.0408, 0.0403}, "\"first\" is none of them\n"},
		{"2-thousands-on-x.csv", "2\n1\n", []float64{1204, 1205, 1206}, []float64{0.04, 0.05, 0.06}, "with --wavelength-unit nm\n"},
		{"6-relative.csv", "2\ntile W1\n", []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}, "with --relative-to 'tile W1'\n"},
		{"4-baseline.csv", "1\n", []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403}, "with --columns 2,3\n"},
	} {
		export, said, err := askingOf(t, c.file, c.typed)
		require.NoError(t, err, said)
		assert.Equal(t, c.nm, export.Spectra[0].NM)
		assert.Equal(t, c.values, export.Spectra[0].Values)
		assert.Contains(t, said, c.says)
		assert.NotContains(t, said, "--relative-to :", "a choice without a value is shown as NAME")
	}
}

func TestAskLeavesWhatIsNotAnswered(t *testing.T) {
	for _, c := range []struct{ file, typed string }{{"5-repeats.csv", ""}, {"5-repeats.csv", "\n"}, {"6-relative.csv", "2\n\n"}, {"6-word.csv", "1\n"}} {
		_, _, err := askingOf(t, c.file, c.typed)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Equal(t, c.file, r.File)
	}
}
