package desk

import (
	"context"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// changeWords are changes as a person reads them.
func changeWords(all []Change) (words []string) {
	for _, c := range all {
		words = append(words, c.String())
	}
	return words
}

// A preview says what check and results would say otherwise, and that is what they say after the correction.
func TestPreviewOfVerdicts(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.amendable(study.RouteControls)
	for _, c := range []struct{ name, table, says string }{
		{"humidity", "session,humidity_percent\ns1,85\n", `^results of coupon E1, pull 1, spot 1: flags was .*, becomes .*humid`},
		{"check reading", "session,standard,angle_deg,polarisation,value\ns0,TILE,8,u,0.0622\n",
			`^session s0: check was trust, becomes do not trust \(TILE at 8 degrees, u: `},
		{"dose", "exposure,date,value\nroof,2026-03-01,29\n", `^results of coupon E1, pull 1, spot 1: dose was 90, becomes 89$`},
		{"role", "coupon,role,exposure\nC1,exposed,roof\n",
			`^results of coupon E1, pull 1, spot 1: corrected_change_pp was [-0-9.]+, becomes none$`},
	} {
		before := dump(t, d)
		table := []string{f.write("corrections.csv", c.table)}
		preview, err := d.Amend(ctx, table, "a slip of the pen", true)
		require.NoError(t, err, c.name)
		assert.Equal(t, before, dump(t, d), c.name)
		said := changeWords(preview.Verdicts)
		assert.True(t, anyMatches(said, c.says), "%s: %q", c.name, said)

		was := verdictsOf(t, d)
		done, err := d.Amend(ctx, table, "a slip of the pen", false)
		require.NoError(t, err, c.name)
		assert.Equal(t, said, changeWords(was.changesTo(verdictsOf(t, d))), c.name)
		assert.Subset(t, said, changeWords(done.Verdicts), c.name)
	}
}

// verdictsOf are the verdicts of the study as it is.
func verdictsOf(t *testing.T, d *Desk) (out *verdicts) {
	t.Helper()
	require.NoError(t, d.store.View(context.Background(), func(v *store.View) (err error) {
		out, err = d.verdicts(context.Background(), v, true)
		return err
	}))
	return out
}

// anyMatches reports whether one of the lines matches.
func anyMatches(lines []string, pattern string) bool {
	return slices.ContainsFunc(lines, regexp.MustCompile(pattern).MatchString)
}
