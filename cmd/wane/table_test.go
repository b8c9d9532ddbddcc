package main

import (
	"bytes"
	"context"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// What rounds to zero is written without a sign, and nothing else loses its own.
func TestZeroHasNoSign(t *testing.T) {
	minus := study.Num(0)
	minus = -minus
	for want, got := range map[string]string{
		"0.000": decimal(-0.0004, 3), "-0.001": decimal(-0.0005001, 3), "-0.10": decimal(-0.1, 2),
		"0": decimal(minus, 0), "0.0": decimal(minus, 1), "-": decimal(study.Null(), 3),
		"0.000 ± 0.012":  plusMinus(study.Measure{Value: -0.0004, U: 0.006}, 1, ""),
		"-0.001 ± 0.012": plusMinus(study.Measure{Value: -0.0006, U: 0.006}, 1, ""),
		"0 pp":           plusMinus(study.Measure{Value: minus, U: study.Null()}, 1, "pp"),
	} {
		assert.Equal(t, want, got)
	}
	assert.Equal(t, "0", figures(minus))
	assert.Equal(t, "0", string(appendNum(nil, minus, "")))
	assert.Equal(t, "-1e-09", string(appendNum(nil, -1e-9, "")), "for programs nothing is rounded")
	text, err := minusZeroRecords(minus)
	require.NoError(t, err)
	assert.NotContains(t, text, "-")
}

func minusZeroRecords(v study.Num) (string, error) {
	var out bytes.Buffer
	r := newRecords(&out, "csv", []string{"x"})
	err := r.Write(orNil(v))
	if err == nil {
		err = r.Close()
	}
	return out.String(), err
}

// signedZero is a zero with a minus sign.
var signedZero = regexp.MustCompile(`(^|[^0-9.e])-0(\.0*)?([^0-9.]|$)`)

// No listing of the made-up study, which has changes that round to zero from below, prints
// a zero with a sign.
func TestNoListingPrintsMinusZero(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "demo")
	listing := func(args ...string) string {
		var stdout, stderr bytes.Buffer
		require.Equal(t, exitDone, run(context.Background(), args, &stdout, &stderr), stderr.String())
		return stdout.String()
	}
	all := map[string]string{"demo": listing("demo", folder)}
	made := filepath.Join(folder, "demo.wane")
	for _, format := range formats {
		all["groups "+format] = listing("results", "--by", "coating", "--study", made, "--format", format)
		all["results "+format] = listing("results", "--study", made, "--format", format)
		all["check "+format] = listing("check", "--study", made, "--format", format)
		all["trace "+format] = listing("trace", "C01", "--study", made, "--format", format)
	}
	blank := "../../testdata/exports/b01-blank.csv"
	all["blank"] = listing("quick", blank, "--back", "matched", "--ladder", "--intervals", "profile", "--influence")
	for name, text := range all {
		require.NotEmpty(t, text, name)
		for _, line := range bytes.Split([]byte(text), []byte("\n")) {
			assert.False(t, signedZero.Match(line), "%s: %s", name, line)
		}
	}
}
