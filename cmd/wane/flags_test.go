package main

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/fit/film"
	"wane/study/evaluate"
)

// Every flag that a result can carry has its sentence and its line in the
// guide.
func TestFlagsAreDocumented(t *testing.T) {
	page, err := os.ReadFile("guide/reading-results.md")
	require.NoError(t, err)
	for _, flag := range append(film.Flags(), evaluate.Flags()...) {
		assert.NotEqual(t, "not documented", flagMeaning(flag), flag)
		word := flag
		if strings.HasSuffix(flag, ":") {
			assert.NotEqual(t, "not documented", flagMeaning(flag+"bare"), flag)
			word = flag + "NAME"
		}
		assert.True(t, strings.Contains(string(page), "| `"+word), flag)
	}
	assert.Equal(t, "not documented", flagMeaning("no-such-flag"))
}
