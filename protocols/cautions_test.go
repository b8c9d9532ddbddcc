package protocols_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/protocols"
)

// On one page a caution stands once, though another protocol says it in more words. One that forbids what the other
// one asks for is not taken for it.
func TestCautionsTogether(t *testing.T) {
	const short = "Glass: edges cut. Wear cut-resistant gloves."
	const long = "Glass: its edges cut when it breaks. Wear cut-resistant gloves and a mask."
	for name, c := range map[string]struct{ of, want []string }{
		"the same":       {[]string{short, short}, []string{short}},
		"longer before":  {[]string{long, short}, []string{long}},
		"longer after":   {[]string{short, long}, []string{long}},
		"another danger": {[]string{short, "Height: use the fall protection."}, []string{short, "Height: use the fall protection."}},
		"forbidden there": {[]string{"Drill: wear gloves.", "Drill: wear no gloves at it."},
			[]string{"Drill: wear gloves.", "Drill: wear no gloves at it."}},
		"same words twice": {[]string{"Heat: burns. Wear gloves.", "Heat burns: wear gloves."},
			[]string{"Heat: burns. Wear gloves.", "Heat burns: wear gloves."}},
	} {
		assert.Equal(t, c.want, protocols.Together(c.of), name)
	}
}

// Beside the readings of coupons from each exposure, gloves and eye protection for cutting edges are named once.
func TestGlassEdgesAreNamedOnce(t *testing.T) {
	reading := protocols.Find("angle-reflectance")
	for _, p := range protocols.Library() {
		if p == reading {
			continue
		}
		n := 0
		for _, c := range protocols.Together(append(append([]string(nil), p.Cautions...), reading.Cautions...)) {
			n += strings.Count(c, "edges cut")
		}
		assert.Equal(t, 1, n, p.Name)
	}
}
