package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake"
	"wane/study/intake/text"
)

const dialectsFolder = "../../study/intake/testdata/dialects/"

// askingOf reads a made-up file with what a person types.
func askingOf(t *testing.T, file, typed string) (*intake.Export, string, error) {
	var said strings.Builder
	a := &asker{bufio.NewReader(strings.NewReader(typed)), &said, t.Context()}
	export, err := (&desk.ExportReader{Ask: a.settle}).Read(dialectsFolder + file)
	return export, said.String(), err
}

func TestAskSettlesAnExport(t *testing.T) {
	for _, c := range []struct {
		file, typed string
		nm, values  []float64
		says        string
	}{
		{"5-repeats.csv", "1\n", []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403},
			"5-repeats.csv is read with --overlap first\n"},
		{"5-repeats.csv", "3\nfirst\n2\n", []float64{400, 401, 402}, []float64{0.0412, 0.0408, 0.0403},
			"\"first\" is not one of the numbers\n"},
		{"2-thousands-on-x.csv", "2\n1\n", []float64{1204, 1205, 1206}, []float64{0.04, 0.05, 0.06},
			"with --wavelength-unit nm\n"},
		{"6-relative.csv", "2\ntile W1\n", []float64{400, 401, 402}, []float64{0.0412, 0.0407, 0.0403},
			"with --relative-to 'tile W1'\n"},
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
	for _, c := range []struct{ file, typed string }{{"5-repeats.csv", ""}, {"5-repeats.csv", "\n"},
		{"6-relative.csv", "2\n\n"}, {"6-word.csv", "1\n"}} {
		_, _, err := askingOf(t, c.file, c.typed)
		var r *study.Refusal
		require.ErrorAs(t, err, &r)
		assert.Equal(t, dialectsFolder+c.file, r.File)
	}
}

// The angle is asked for where an export does not say it, until it is one; a curve whose
// heading gives it, and one of which nothing is answered, stay as they are.
func TestAskAsksForTheAngle(t *testing.T) {
	var said strings.Builder
	raw := []byte("nm;8 deg %R;G07 %R;G08 %R;G09 %R\n400;4,1;4,2;4,3;4,4\n401;4,1;4,2;4,3;4,5\n")
	export, err := intake.Read("G07.csv", raw, text.Stated{})
	require.NoError(t, err)
	a := &asker{bufio.NewReader(strings.NewReader("95\nsteep\n8,60\n57.5\n\n45 \n")), &said, t.Context()}
	a.angles(export.Spectra)
	var got []string
	for _, s := range export.Spectra {
		got = append(got, fmt.Sprint(s.AngleDeg))
	}
	assert.Equal(t, []string{"8", "57.5", "NaN", "45"}, got)
	assert.Contains(t, said.String(), `G07.csv: the angle of incidence of column 3 ("G07 %R") is not stated`)
	assert.Contains(t, said.String(), `"95" is not an angle from 0 to below 90 degrees`)
	assert.Contains(t, said.String(), `"8,60" is not an angle`)
	assert.Contains(t, said.String(), "column 3 of G07.csv is read as --angle 57.5\n")
	(*asker)(nil).angles(export.Spectra) // without --ask nothing is asked
}

// With --ask, quick reads a file whose angle nothing states once it is answered, and without
// an answer refuses it.
func TestQuickAsksForTheAngle(t *testing.T) {
	path := filepath.Join(t.TempDir(), "G07.csv")
	require.NoError(t, os.WriteFile(path, []byte("nm,%R\n400,4.1\n401,4.2\n402,4.1\n"), 0o644))
	for typed, angle := range map[string]float64{"8\n": 8, "\n": math.NaN()} {
		a := &asker{bufio.NewReader(strings.NewReader(typed)), io.Discard, t.Context()}
		quick, err := desk.NewQuick([]string{path}, desk.QuickOptions{Pane: desk.Pane{Glass: "soda-lime"}})
		require.NoError(t, err)
		spots, err := quick.Read(&desk.ExportReader{Ask: a.settle}, a.angles)
		if math.IsNaN(angle) {
			require.ErrorContains(t, err, "is not stated")
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, angle, spots[0].Spectra[0].AngleDeg)
	}
}

// A person who is asked can stop: nobody waits for an answer that does not come.
func TestAskEndsWithTheCommand(t *testing.T) {
	silent, typing := io.Pipe()
	defer typing.Close()
	ctx, cancel := context.WithCancel(t.Context())
	said := &waitFor{text: "which one, 1 to 2", then: cancel}
	a := &asker{bufio.NewReader(silent), said, ctx}
	read := &desk.ExportReader{Ask: a.settle}
	_, err := read.Read(dialectsFolder + "5-repeats.csv")
	require.ErrorIs(t, err, context.Canceled)
	_, err = read.Read(dialectsFolder + "5-repeats.csv")
	require.ErrorIs(t, err, context.Canceled, "nothing more is asked")
}

// waitFor is written to, and does something when a text comes.
type waitFor struct {
	text string
	then func()
}

func (w *waitFor) Write(p []byte) (int, error) {
	if strings.Contains(string(p), w.text) {
		w.then()
	}
	return len(p), nil
}
