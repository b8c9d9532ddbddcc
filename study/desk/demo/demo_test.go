package demo

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/scenario"
)

// tester is the person of the tests, with a clock that does not move.
func tester() desk.Person {
	return desk.Person{Name: "tester", Now: func() time.Time { return time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC) }}
}

// The demo's truth is recovered: at least 90 % of the corrected changes lie in
// their 95 % intervals, and no coating is off by more than 0.05 pp in the mean.
func TestDemoRecoversItsTruth(t *testing.T) {
	demo, d, err := Run(context.Background(), filepath.Join(t.TempDir(), "demo"), 2, tester())
	require.NoError(t, err)
	defer func() { require.NoError(t, d.Close()) }()
	assert.Equal(t, 27, demo.Enrolled.Coupons)
	assert.Equal(t, 106, demo.TakenIn.Files)
	assert.Equal(t, 848, demo.TakenIn.Curves)
	assert.Equal(t, 212, demo.Fitted.Fits)

	c, err := Compare(context.Background(), demo.Truth, d)
	require.NoError(t, err)
	require.Equal(t, 104, c.Changes)
	assert.GreaterOrEqual(t, c.Within, c.Changes*9/10)
	require.Len(t, c.Found, 12)
	for i, g := range c.Found {
		require.Equal(t, c.True[i].Group, g.Group)
		assert.InDelta(t, float64(c.True[i].Change), float64(g.Change), 0.05, "%s, pull %d", g.Group, g.Pull)
	}
	// what the scenario says: one thins, one loses patches, one holds
	last := map[string]ageing.Group{}
	for _, g := range c.Found {
		last[g.Group] = g
	}
	assert.Greater(t, last["coating-A"].States[study.Thinned], 6)
	assert.Greater(t, last["coating-B"].States[study.Patchy], 6)
	assert.Equal(t, 12, last["coating-C"].States[study.Full])
	assert.Less(t, float64(last["coating-A"].Change), -0.2)
	assert.Less(t, float64(last["coating-B"].Change), -0.2)
	assert.InDelta(t, 0, float64(last["coating-C"].Change), 0.02)

	// a rule that was there before: two coupons lose too much, one coating passes, one has a coupon that joined late
	require.Len(t, demo.Rules, 1)
	assert.False(t, demo.Rules[0].AfterTheFact)
	var verdicts []string
	for _, v := range demo.Rules[0].Now {
		verdicts = append(verdicts, v.Group+" "+v.Row.Verdict)
	}
	assert.Equal(t, []string{"coating-A reject", "coating-B accept", "coating-C undecided"}, verdicts)

	v, err := d.Verify(context.Background(), desk.VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)
	assert.GreaterOrEqual(t, v.Reproduced, 20)
	assert.Zero(t, v.Due)
}

// A folder that no demo made does not change; one that a demo made is replaced.
func TestDemoReplacesOnlyItsOwnFolder(t *testing.T) {
	own := t.TempDir()
	keep := filepath.Join(own, "thesis.txt")
	require.NoError(t, os.WriteFile(keep, []byte("years of work"), 0o644))
	_, _, err := Run(context.Background(), own, 1, tester())
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.FileExists(t, keep)

	made := filepath.Join(t.TempDir(), "demo")
	_, err = writeFolder(made, scenario.New())
	require.NoError(t, err)
	mine := filepath.Join(made, "mine.wane")
	require.NoError(t, os.WriteFile(mine, []byte("my own study"), 0o644))
	err = clearFolder(made)
	require.ErrorAs(t, err, &r)
	assert.Contains(t, err.Error(), "the folder has mine.wane, which no demo wrote")
	assert.FileExists(t, filepath.Join(made, "coupons.csv"))
	require.NoError(t, os.Remove(mine))
	require.NoError(t, clearFolder(made))
	left, err := os.ReadDir(made)
	require.NoError(t, err)
	assert.Empty(t, left)
}
