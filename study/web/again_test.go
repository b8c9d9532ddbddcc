package web_test

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/web"
)

// Exports that were placed wrongly are replaced as by the command: first it is shown, then it is done, with a reason.
func TestExportsAreReplaced(t *testing.T) {
	byCommand, byPage := newStudy(t, plain, exposures, pulls), newStudy(t, plain, exposures, pulls)
	s, ctx := serve(t, byPage, web.Options{}), t.Context()
	first, then := exportsOf(), exportsOf()
	then["map.csv"] = strings.ReplaceAll(madeUpMap, "a.csv,#2,A01,0,1,8", "a.csv,#2,A01,0,2,8")
	for _, d := range []*desk.Desk{byCommand, byPage} {
		folder := written(t, first)
		_, err := d.Intake(ctx, folder+"/map.csv", []string{folder}, desk.IntakeOptions{})
		require.NoError(t, err)
	}
	folder := written(t, then)
	_, err := byCommand.Replace(ctx, folder+"/map.csv", []string{folder}, desk.IntakeOptions{}, "it was the second spot", false)
	require.NoError(t, err)

	at := s.uploaded(then)
	plan := s.awaited(at, `<details id="replacing" open><summary>They are in the study already, but in the wrong place`)
	assert.Contains(t, plan, `<a href="/intake">wane intake --map MAP --replace --why TEXT</a>`)
	head := headOf(t, byPage)
	got := s.post(at, at+"/replace", "act", "replace")
	assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode, "without a reason")
	got = s.post(at, at+"/replace", "act", "preview", "why", "it was the second spot")
	assert.Equal(t, http.StatusOK, got.StatusCode)
	for _, says := range []string{"replaced or added: 1 curve; as before: 3", `id="confirm-form"`, "<q><bdi>it was the second spot</bdi></q>"} {
		assert.Contains(t, got.body, says)
	}
	assert.Equal(t, head.Hash, headOf(t, byPage).Hash, "nothing is changed yet")
	got = s.post(at, at+"/replace", "act", "replace", "why", "it was the second spot")
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	assert.Contains(t, s.get(at).body, "replaced or added: 1 curve")
	assert.Equal(t, headOf(t, byCommand).Hash, headOf(t, byPage).Hash)

	at = s.uploaded(map[string]string{"a.csv": madeUpExport(2, " %R")})
	got = s.post(at, at+"/replace", "act", "preview", "why", "it was the second spot")
	assert.Contains(t, got.body, "nothing says where the curves belong")
}

// Answers that a person chose are kept as a profile of the name that the person gives.
func TestAnswersAreKeptAsAProfile(t *testing.T) {
	d, s, at := asking(t)
	plan := s.awaited(at, "2 files ask something")
	assert.NotContains(t, plan, "save-profile", "nothing is answered yet")
	choice := regexp.MustCompile(`value="([0-9]+)" required><label [^>]*><bdi>unit</bdi> <bdi>fraction`).FindStringSubmatch(plan)
	require.NotNil(t, choice)
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/answer", "file", "exports/a.csv", "choice", choice[1], "alike", "yes").StatusCode)
	assert.Contains(t, s.awaited(at, "2 files with 4 curves can be taken in"), `name="save-profile"`)
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/take", "save-profile", "bench-fractions").StatusCode)
	page := s.awaited(at, "taken in: 2 exports with 4 curves")
	assert.Contains(t, page, "kept as version 1 of profile bench-fractions")
	kept, err := d.Profile(t.Context(), "bench-fractions", 0)
	require.NoError(t, err)
	assert.Contains(t, kept.Text, "unit: fraction")
}

// A study of another laboratory is merged as by the command; what is no study, or another table, is refused.
func TestAStudyIsMerged(t *testing.T) {
	other, path := studyAt(t, plain, exposures, pulls)
	require.NoError(t, other.Close())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	d := newStudy(t)
	s := serve(t, d, web.Options{})
	head := headOf(t, d)
	for says, files := range map[string]map[string]string{
		"no file is chosen":  nil,
		"2 files are chosen": {"a.wane": string(data), "b.wane": string(data)},
		"other.wane: ":       {"other.wane": plain},
	} {
		got := s.send("/enrol", "/enrol/from", files)
		assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode, says)
		assert.Contains(t, got.body, says)
		assert.NotContains(t, got.body, "wane-upload-")
	}
	assert.Equal(t, head.Hash, headOf(t, d).Hash)
	got := s.send("/enrol", "/enrol/from", map[string]string{filepath.Base(path): string(data)})
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	assert.Contains(t, s.get("/enrol").body, "merged: 2 coupons, 0 exports")
	assert.Contains(t, s.get("/coupons").body, "of 2 coupons")
	assert.Contains(t, headOf(t, d).Summary, "merged study "+filepath.Base(path))
}
