//go:build unix

package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A reader that has enough, such as head, ends a command well, whether it prints at the end or
// as it goes.
func TestReaderThatHasEnough(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "demo")
	require.NoError(t, demoIn(folder))
	for _, line := range []string{"results --format csv", "trace A01", "export --spectra", "--help"} {
		from, to, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, from.Close())
		t.Setenv("WANE_STUDY", filepath.Join(folder, "demo.wane"))
		var said bytes.Buffer
		assert.Equal(t, exitDone, run(context.Background(), strings.Fields(line), to, &said), line)
		assert.Empty(t, said.String(), line)
		require.NoError(t, to.Close())
	}
}

// Colour is for the words that say how something stands, and takes no place.
func TestColourOfStates(t *testing.T) {
	var colour, none bytes.Buffer
	for _, p := range []page{{&colour, screen{colour: true}}, {&none, screen{}}} {
		w := newTable(p, tableColumn{name: "coupon", rank: 1}, tableColumn{name: "state", rank: 1, paint: stateColour},
			tableColumn{name: "pull", rank: 1})
		require.NoError(t, w.row("A01", "thinned", "1"))
		require.NoError(t, w.row("thinned", "-", "2"))
		require.NoError(t, w.end())
	}
	assert.Equal(t, "coupon   state    pull\nA01      thinned  1\nthinned  -        2\n", none.String())
	assert.Equal(t, strings.Replace(none.String(), "thinned  1", "\x1b[33mthinned\x1b[0m  1", 1), colour.String())
}

// Only a terminal has colour and a width; COLUMNS states a width for any stream.
func TestScreenOfAPipe(t *testing.T) {
	from, to, err := os.Pipe()
	require.NoError(t, err)
	t.Setenv("COLUMNS", "")
	assert.Equal(t, screen{}, screenOf(to))
	t.Setenv("COLUMNS", "93")
	assert.Equal(t, screen{width: 93}, screenOf(to))
	t.Setenv("COLUMNS", "-3")
	assert.Equal(t, screen{}, screenOf(&bytes.Buffer{}))
	require.NoError(t, from.Close())
	require.NoError(t, to.Close())
}
