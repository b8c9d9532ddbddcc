package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/guard"
)

// Every flag that a result can carry has its sentence and its line in the
// guide.
func TestFlagsAreDocumented(t *testing.T) {
	page, err := os.ReadFile("guide/reading-results.md")
	require.NoError(t, err)
	for _, term := range evaluate.Flags() {
		assert.Equal(t, term.Meaning, flagMeaning(term.Form()), term.Word)
		assert.True(t, strings.Contains(string(page), "| `"+term.Form()+"`"), term.Word)
	}
	assert.Equal(t, "not documented", flagMeaning("no-such-flag"))
}

// The constants whose names begin with flag are the words of the table, each once.
func TestEveryFlagIsExplained(t *testing.T) {
	var words []string
	for _, file := range []string{"../../fit/film/verdict_flag.go", "../../study/flag.go",
		"../../study/evaluate/leached.go"} {
		words = append(words, flagConstants(t, file)...)
	}
	require.GreaterOrEqual(t, len(words), 30)
	var explained []string
	for _, term := range evaluate.Flags() {
		explained = append(explained, term.Word)
	}
	assert.ElementsMatch(t, words, explained)
}

// flagConstants returns the values of the constants of a Go file whose names begin with flag, in any case.
func flagConstants(t *testing.T, file string) (words []string) {
	parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	require.NoError(t, err)
	ast.Inspect(parsed, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		for i, name := range spec.Names {
			if strings.HasPrefix(strings.ToLower(name.Name), "flag") {
				word, err := strconv.Unquote(spec.Values[i].(*ast.BasicLit).Value)
				require.NoError(t, err)
				words = append(words, word)
			}
		}
		return false
	})
	return words
}

// The tables are written in the voice of the messages: lower case, no full stop, and every word
// comes with what to do about it.
func TestTermsAreWhole(t *testing.T) {
	for what, terms := range map[string][]study.Term{
		"flags": evaluate.Flags(), "states": evaluate.States(), "guards": guard.Kinds(),
	} {
		for _, term := range terms {
			assert.NotEmpty(t, term.Meaning, "%s: %s", what, term.Word)
			assert.NotEmpty(t, term.Remedy, "%s: %s", what, term.Word)
			assert.Equal(t, strings.HasSuffix(term.Word, ":"), term.About != "", "%s: %s", what, term.Word)
			for _, text := range []string{term.Meaning, term.Limit, term.Remedy} {
				assert.Equal(t, strings.TrimSpace(text), text, "%s: %s", what, term.Word)
				assert.False(t, strings.HasSuffix(text, "."), "%s: %s: %s", what, term.Word, text)
				assert.NotContains(t, text, "%!", "%s: %s", what, term.Word)
				if text != "" {
					assert.Equal(t, strings.ToLower(text[:1]), text[:1], "%s: %s: %s", what, term.Word, text)
				}
			}
		}
	}
}
