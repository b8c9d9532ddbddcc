package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// A spot that was read at two of the four angles of its pull 0 has the flag angles-differ, in results of
// single and of joint fits. So has a spot of which a reading was set aside. Other spots have not.
func TestAnglesOfPull0(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	rows := sessionMapHeader
	for pull := range 2 {
		session := fmt.Sprintf("s%d", pull)
		rows += f.sessionExport("C1", pull, 118, session, 1, 0, uint64(pull))
		own := strings.SplitAfter(f.sessionExport("E1", pull, 118, session, 1, 0, uint64(10+pull)), "\n")
		if pull == 1 {
			own = []string{own[0], own[3]} // 8 and 60 degrees
		}
		rows += strings.Join(own, "")
	}
	f.takeIn(d, "map.csv", rows)
	f.fit(d)
	marked := func(rows []study.Result) (places []string) {
		for _, r := range rows {
			if slices.Contains(r.Flags, study.FlagAngles) {
				places = append(places, fmt.Sprintf("%s at pull %v", r.Coupon, r.Pull))
			}
		}
		return places
	}
	assert.Equal(t, []string{"E1 at pull 1"}, marked(results(t, d)))
	assert.Equal(t, []string{"E1 at pull 1"}, marked(jointResults(t, d)))

	of := Everything()
	of.Filter, of.AngleDeg = atPull("C1", 1), 45
	_, err := d.Review(ctx, of, study.Aside, "a cloth lay in the beam")
	require.NoError(t, err)
	f.fit(d)
	assert.Equal(t, []string{"C1 at pull 1", "E1 at pull 1"}, marked(results(t, d)))
	sound, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, sound.Sound(), "%+v", sound)
}
