package study_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

func TestFindTerm(t *testing.T) {
	terms := []study.Term{{Word: "held"}, {Word: "session-limits:", About: "NAME"}, {Word: "session"}}
	for word, want := range map[string]string{
		"held": "held", "session-limits:bare": "session-limits:", "session-limits:": "session-limits:", "session": "session",
	} {
		term, ok := study.FindTerm(terms, word)
		require.True(t, ok, word)
		assert.Equal(t, want, term.Word)
	}
	for _, word := range []string{"", "held:", "held-up", "session-limits", "sessions"} {
		_, ok := study.FindTerm(terms, word)
		assert.False(t, ok, word)
	}
	assert.Equal(t, "session-limits:NAME", terms[1].Form())
	assert.Equal(t, "held", terms[0].Form())
}
