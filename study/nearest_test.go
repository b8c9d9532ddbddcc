package study

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Distances that can be counted by hand; kitten and sitting are the usual example of the
// literature (from memory).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "abc", 0}, {"kitten", "sitting", 3}, {"resluts", "results", 1},
		{"A01", "A10", 1}, {"ä", "a", 1}, {"flaw", "lawn", 2},
	} {
		assert.Equal(t, c.want, distance([]rune(c.a), []rune(c.b)), "%s %s", c.a, c.b)
		assert.Equal(t, c.want, distance([]rune(c.b), []rune(c.a)), "%s %s", c.b, c.a)
	}
}

func TestNearest(t *testing.T) {
	verbs := []string{"results", "review", "trace", "check", "log"}
	for word, want := range map[string]string{
		"resluts": "results", "reviews": "review", "Trace": "trace", "che": "check", "re": "", "polish": "", "lgo": "log",
		"": "",
	} {
		assert.Equal(t, want, Nearest(word, verbs), word)
	}
	assert.Equal(t, "A01", Nearest("a01", []string{"A02", "A01"}))
	assert.Equal(t, "A01", Nearest("A1", []string{"A01", "AK1", "A10", "B01"}), "only zeros differ")
	assert.Equal(t, "s-2031-05", Nearest("S-2031-5", []string{"s-2031-04", "s-2031-05"}))
	assert.Equal(t, "A1", Nearest("a1", []string{"A01", "A1"}))
	assert.Equal(t, "roof", Nearest("rof", []string{"chamber", "roof", "room"}))
	assert.Equal(t, "A01", Nearest("A1", []string{"A01", "A001"}), "the nearer one")
	assert.Empty(t, Nearest("x", []string{"u", "unit"}), "no character agrees")
	assert.Empty(t, Nearest("A09", []string{"A02", "A01"}), "both are as near")
	assert.Equal(t, "A02", Nearest("A09", []string{"A02", "A02", "B01"}))
	assert.Equal(t, "did you mean trace? otherwise x", DidYouMean("trce", verbs, "x"))
	assert.Equal(t, "x", DidYouMean("polish", verbs, "x"))
}
