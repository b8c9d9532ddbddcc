package main

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The exit codes that outside programs rely on, and the shape of every message:
// two lines on stderr, nothing on stdout.
func TestExitCodes(t *testing.T) {
	const fresh, patchy, single = "../../testdata/exports/g07-fresh.csv", "../../testdata/exports/g07-patchy.csv",
		"../../testdata/exports/g18-one-angle.csv"
	for _, c := range []struct {
		line string
		code int
	}{
		{"quick " + fresh + " --back matched", exitDone},
		{"quick ../../testdata/exports/g15-remnant.csv --back matched", exitDone}, // flags or not
		{"plan --angles 8,60 --back matched --thickness 118 --porosity 0.36", exitDone},
		{"--help", exitDone},
		{"help", exitDone},
		{"help profile draft", exitDone},
		{"help nosuch", exitUsage},
		{"help quick nosuch", exitUsage},
		{"quick nowhere.csv --back matched", exitRefused},
		{"quick " + single + " --back matched", exitRefused},
		{"quick " + fresh + " --back matched --angle 8,30,45,50", exitRefused},
		{"quick " + fresh + " --back matched --unit fraction", exitRefused},
		{"quick " + fresh + " --back matched --glass nowhere.csv", exitRefused},
		{"quick " + fresh, exitUsage},
		{"quick " + fresh + " " + patchy + " --back matched --each", exitDone},
		{"quick " + fresh + " " + patchy + " --back matched", exitUsage},
		{"quick " + fresh + " " + patchy + " --back matched --one-spot", exitUsage}, // angles repeat
		{"quick " + fresh + " " + patchy + " --back matched --one-spot --replicates", exitDone},
		{"quick " + fresh + " " + patchy + " --back matched --one-spot --each", exitUsage},
		{"quick " + fresh + " --back matched --replicates", exitUsage},
		{"quick " + fresh + " nowhere.csv --back matched --each", exitRefused},
		{"quick " + fresh + " --back shiny", exitUsage},
		{"quick " + fresh + " --back matched --angle 95", exitUsage},
		{"quick " + fresh + " --back matched --angle 8,30", exitUsage},
		{"quick " + fresh + " --back matched --pin porosity=0.3 --pin index=1.3", exitUsage},
		{"quick " + fresh + " --back matched --glass crystal", exitUsage},
		{"quick " + fresh + " --back matched --angle eight", exitUsage},
		{"quick " + fresh + " --back coated", exitUsage},
		{"plan", exitUsage},
		{"plan --best 20 --back matched --thickness 118 --porosity 0.36", exitUsage},
		{"plan --angles 8 --back matched --glass nowhere.csv --thickness 118 --porosity 0.36", exitRefused},
		{"polish", exitUsage},
	} {
		t.Run(c.line, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			code := run(context.Background(), strings.Fields(c.line), &stdout, &stderr)
			assert.Equal(t, c.code, code, stderr.String())
			if code == exitDone {
				assert.NotEmpty(t, stdout.String())
				assert.Empty(t, stderr.String())
				return
			}
			assert.Empty(t, stdout.String())
			lines := strings.Split(strings.TrimSuffix(stderr.String(), "\n"), "\n")
			assert.Len(t, lines, 2)
			assert.True(t, strings.HasPrefix(lines[0], "wane: ") && len(lines[0]) > 15, lines[0])
			assert.True(t, strings.HasPrefix(lines[1], "  try: ") && len(lines[1]) > 10, lines[1])
		})
	}
}

// A command that is stopped says so and exits 1.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr bytes.Buffer
	code := run(ctx, []string{"quick", "../../testdata/exports/g07-fresh.csv", "--back", "matched"}, &stdout, &stderr)
	assert.Equal(t, exitRefused, code)
	assert.Empty(t, stdout.String())
	assert.Contains(t, stderr.String(), "wane: stopped before the end\n  try: ")
}

// Nobody reads what is printed: the command ends nevertheless when it is told to.
func TestPrintingEndsWithTheCommand(t *testing.T) {
	from, to := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	out := &patient{ctx, to}
	read := make(chan string)
	go func() {
		b := make([]byte, 5)
		_, err := io.ReadFull(from, b)
		assert.NoError(t, err)
		read <- string(b)
		cancel()
	}()
	n, err := out.Write([]byte("first"))
	require.NoError(t, err)
	assert.Equal(t, 5, n)
	assert.Equal(t, "first", <-read)
	_, err = out.Write([]byte("never read"))
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, from.Close())
}
