package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
)

// A report has what people did to a study, whatever came of it: what they corrected, moved, set aside and let in again.
func TestReportOfWhatPeopleDid(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.amendable(study.RouteControls)
	_, err := d.Amend(ctx, []string{f.write("lot.csv", "coupon,lot\nE1,2\n")}, "the label says 2", false)
	require.NoError(t, err)
	_, err = d.Review(ctx, Selection{Numbers: []int64{1, 2}, AngleDeg: study.Null()}, study.Aside, "soiled")
	require.NoError(t, err)
	_, err = d.Review(ctx, Selection{Numbers: []int64{2}, AngleDeg: study.Null()}, study.Counted, "it was clean")
	require.NoError(t, err)
	of := MoveSelection{Selection: Everything()}
	of.Numbers = []int64{3}
	_, err = d.Move(ctx, of, MoveTo{Spot: "9", Pull: AllPulls, AngleDeg: study.Null()}, "the mask was on spot 9", false)
	require.NoError(t, err)
	f.enrol(d, "end.csv", "coupon,event,pull,date,note\nE1,broken,1,2026-04-02,a storm\n")

	r, err := d.Report(ctx, ageing.ByCoating)
	require.NoError(t, err)
	require.NoError(t, d.Unchanged(ctx, r))
	assert.Equal(t, "amended.wane", r.Study)
	require.Len(t, r.Corrected, 2)
	assert.Equal(t, []Change{{`coupon "E1"`, "lot", "1", "2"}}, r.Corrected[0].Changes)
	assert.Equal(t, "the label says 2", r.Corrected[0].Line.Why)
	require.Len(t, r.Corrected[1].Moves, 1)
	assert.Equal(t, "9", r.Corrected[1].Moves[0].To.Spot)
	assert.Equal(t, int64(3), r.Corrected[1].Moves[0].Number)

	standings := map[int64]study.Standing{}
	for _, j := range r.Judged {
		standings[j.Number] = j.Standing
		assert.NotEmpty(t, j.Reviews, "reading %d", j.Number)
	}
	assert.Equal(t, map[int64]study.Standing{1: study.Aside, 2: study.Counted}, standings)
	var verbs []string
	for _, e := range r.Deeds {
		verbs = append(verbs, e.Verb)
	}
	assert.Equal(t, []string{"amend", "review", "review", "move"}, verbs)

	require.Len(t, r.Ended, 1)
	assert.Equal(t, "a storm", r.Ended[0].Note)
	require.Len(t, r.Traps, 1)
	assert.Equal(t, "s1", r.Traps[0].Session.Session)
	assert.Len(t, r.Sessions, 2)
	var last study.Entry
	require.NoError(t, d.Log(ctx, func(e study.Entry) error { last = e; return nil }))
	assert.Equal(t, last, r.Last)
	sums := map[string]string{}
	for _, file := range r.Files {
		sums[file.Name] = file.SHA256
	}
	for _, name := range []string{"coupons.csv", "map.csv", "lot.csv", "end.csv"} {
		data, err := os.ReadFile(filepath.Join(f.path, name))
		require.NoError(t, err)
		sum := sha256.Sum256(data)
		assert.Equal(t, hex.EncodeToString(sum[:]), sums[name], name)
	}

	f.enrol(d, "more.csv", pullHeader+"roof,7,900,2029-04-01\n")
	refusedBy(t, d.Unchanged(ctx, r), "the study changed while the report was made")
}
