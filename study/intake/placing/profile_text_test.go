package placing_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/intake/placing"
	"wane/study/intake/text/texttest"
)

// What a pattern of a profile catches from the name of a file is looked at too.
func TestProfilesRefuseWhatHides(t *testing.T) {
	p, err := placing.ReadProfile("b.yaml",
		[]byte("profile: b\nfiles: \"{c}.csv\"\ncurves:\n"+
			"- {column: \"#2\", coupon: \"{c}\", pull: 0, spot: 1, angle: 8, polarisation: u}\n"))
	require.NoError(t, err)
	for _, c := range []string{"\u200b", "\u202e", "\x1b", "\n"} {
		_, err := p.Rules().For("A" + c + "1.csv")
		texttest.Refused(t, err, "b.yaml", "coupon of ")
		assert.NotContains(t, err.Error(), c)
		_, err = placing.ReadProfile("b.yaml",
			[]byte("profile: \"b"+strings.NewReplacer("\u200b", `\u200b`, "\u202e", `\u202e`, "\x1b", `\e`, "\n",
				`\n`).Replace(c)+"x\"\n"))
		texttest.Refused(t, err, "b.yaml", "profile: ")
	}
}
