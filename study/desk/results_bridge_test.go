package desk

import (
	"context"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// Pull 0 was read on one instrument and pull 1 on another, which reads 4 % too high. A blank that was read on both at
// pull 1 bridges them: the change of a spot that has not changed is nearer to 0, and says so.
func TestBridgedInstruments(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start() // corrects by controls
	_, err := d.Enrol(ctx, []string{f.write("instruments.csv", instrumentHeader+"old,,,,,,\nnew,,,,,,\n"),
		f.write("sessions.csv", sessionHeader+"old-0,old,2026-01-01,,,,,\nold-1,old,2026-04-01,,,,,\nnew-1,new,2026-04-02,,,,,\n")})
	require.NoError(t, err)
	take := func(name, rows string) {
		in, err := d.Intake(ctx, f.write(name, rows), nil, IntakeOptions{Workers: 1})
		require.NoError(t, err)
		require.Empty(t, in.Refused)
		_, err = d.Fit(ctx, FitOptions{Workers: 1})
		require.NoError(t, err)
	}
	take("map.csv", sessionMapHeader+f.sessionExport("E1", 0, 118, "old-0", 1, 0, 1)+
		f.sessionExport("E1", 1, 118, "new-1", 1.04, 0, 2)+f.sessionExport("C1", 1, 110, "old-1", 1, 0, 3))
	row := func() *study.Result {
		for _, r := range results(t, d) {
			if r.Coupon == "E1" && r.Pull == 1 {
				return &r
			}
		}
		return nil
	}
	alone := row()
	assert.Contains(t, alone.Flags, study.FlagInstruments)

	// the same spot again, on the new instrument
	f.renamedExport("s/C1-1.csv", "s/old.csv")
	again := strings.ReplaceAll(f.sessionExport("C1", 1, 110, "new-1", 1.04, 0, 4), "new-1\n", "new-1,2\n")
	take("more.csv", strings.TrimSuffix(sessionMapHeader, "\n")+",replicate\n"+again)
	with := row()
	assert.Contains(t, with.Flags, study.FlagBridged)
	assert.NotContains(t, with.Flags, study.FlagInstruments)
	assert.Less(t, max(with.Change.Value, -with.Change.Value), max(alone.Change.Value, -alone.Change.Value)/2)
	assert.Greater(t, with.Change.U, alone.Change.U, "the offset is uncertain too")

	origins, err := d.TraceFile(ctx, "E1-1.csv")
	require.NoError(t, err)
	require.Len(t, origins, 1)
	k := slices.IndexFunc(origins[0].Results, func(r *study.Result) bool { return r.Coupon == "E1" && r.Pull == 1 })
	require.GreaterOrEqual(t, k, 0)
	assert.Equal(t, with.Change, origins[0].Results[k].Change, "as results have it")
}
