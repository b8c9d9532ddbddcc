package desk

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// What to try after a refused cell or row can be followed: words of rosters are written as they are
// listed, in small letters, and it says which cells may be empty.
func TestEnrolSaysWhatToTry(t *testing.T) {
	repellent := func(cell string) string {
		return strings.TrimSuffix(couponHeader, "\n") + ",water_repellent\nE9,exposed,m,K,1,soda-lime,,matched,roof," +
			cell + "\n"
	}
	const joins = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,1,two beams,,,860,\n"
	for _, c := range []struct{ name, text, fault, try string }{
		{"no", repellent("no"), `"no" is not one of yes`, "write yes, or leave it empty"},
		{"a capital", repellent("Yes"), `"Yes" is not one of yes`, "write yes, or leave it empty"},
		{"capitals", repellent("YES"), `"YES" is not one of yes`, "write yes, or leave it empty"},
		{"a capital elsewhere", couponHeader + "E9,Exposed,m,K,1,soda-lime,,matched,roof\n",
			`"Exposed" is not one of exposed`,
			"write one of exposed, control, blank, blank-exposed"},
		{"a condition", sessionHeader + "s0,bench-1,2026-01-01,,,,,wet\n", `"wet" is not one of as_found`,
			"write one of as_found, rinsed, cleaned, or leave it empty"},
		{"day first", pullHeader + "roof,2,180,1.7.2026\n", `"1.7.2026" can be read in two ways: 2026-07-01 or 2026-01-07`,
			"write the year first, as 2026-07-01 or 2026-01-07"},
		{"joins without a step", joins, "nothing says how large the step at a join may be",
			"give the standard uncertainty of the step at a join"},
		{"another row", couponHeader + "E1,exposed,m,K,2,soda-lime,3.2,matched,roof\n",
			"is known already, and differs: lot was \"1\", and here it is \"2\"",
			"correct it with `wane amend` and the reason"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			d := f.start()
			_, err := d.Enrol(context.Background(), []string{f.write("r.csv", c.text)})
			var r *study.Refusal
			require.True(t, errors.As(err, &r), "%v", err)
			assert.Contains(t, err.Error(), c.fault)
			assert.Contains(t, r.Try, c.try)
		})
	}
	for _, cell := range []string{"", "yes"} {
		f := newFolder(t)
		_, err := f.start().Enrol(context.Background(), []string{f.write("r.csv", repellent(cell))})
		assert.NoError(t, err, cell)
	}
}
