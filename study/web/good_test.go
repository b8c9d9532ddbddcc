package web_test

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

// What happened to a coupon, measurements with a picture, rules and verdicts are written by the pages as by the commands:
// each line of the log has the hash of all that was written so far.
func TestFormsWriteWhatTheCommandsWrite(t *testing.T) {
	byCommand, byPage := newStudy(t, plain, exposures, pulls), newStudy(t, plain, exposures, pulls)
	s, ctx := serve(t, byPage, web.Options{}), t.Context()
	same := func(step string, got answered) {
		t.Helper()
		require.Equal(t, http.StatusSeeOther, got.StatusCode, "%s: %s", step, got.body)
		want, is := headOf(t, byCommand), headOf(t, byPage)
		require.Equal(t, want.Summary, is.Summary, step)
		require.Equal(t, want.Hash, is.Hash, step)
	}
	const events = "coupon,event,pull,exposure,dose,date,by,note,picture\nA01,clean,1,,,2031-02-01,Ines,with water,\n"
	files := map[string]string{"events.csv": events, "spot.png": "\x89PNG\r\n\x1a\nmade up", "rule.yaml": "rule: loss\n" +
		"quantity: solar_T\nweighting: energy\ncondition: cleaned\nexposure: rack\ndose: 90\nby: coating\nlimit: 0.5\nunit: pp\nn: 1\nfailures: 0\n" +
		"share: 0.5\nconfidence: 0.5\nlooks: 1\n",
		"haze.csv": "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n" +
			"A01,0,,haze,1.2,0.1,percent,hazemeter,2031-01-03,Ines,spot.png,\n"}
	folder := written(t, files)

	_, err := byCommand.Enrol(ctx, []string{folder + "/events.csv"})
	require.NoError(t, err)
	got := s.post("/events?coupon=A01", "/events", "coupon", "A01", "event", "clean", "pull", "1", "date", "2031-02-01",
		"by", "Ines", "note", "with water")
	same("an event", got)
	assert.Contains(t, s.get(got.Header.Get("Location")).body, "with water")

	in, err := byCommand.Measure(ctx, []string{folder + "/haze.csv"})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	same("a measurement", s.send("/measure", "/measure", map[string]string{"haze.csv": files["haze.csv"], "spot.png": files["spot.png"]}))
	assert.Contains(t, s.get("/coupons/A01").body, "1.2")

	_, err = byCommand.AddRule(ctx, folder+"/rule.yaml")
	require.NoError(t, err)
	same("a rule", s.send("/rules", "/rules", map[string]string{"rule.yaml": files["rule.yaml"]}))
	_, err = byCommand.JudgeRules(ctx, nil)
	require.NoError(t, err)
	same("verdicts", s.post("/rules", "/rules/judge"))
	assert.Contains(t, s.get("/rules").body, "judged: 1 verdict", "of the one coating")
}

// zeros are as many as are read.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// Files of more than 256 MB together are refused, leave nothing behind, and the server goes on.
func TestFilesThatAreTooLarge(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	s := serve(t, newStudy(t), web.Options{})
	head := "--x\r\nContent-Disposition: form-data; name=\"files\"; filename=\"a.csv\"\r\n\r\n"
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.url+"/intake",
		io.MultiReader(strings.NewReader(head), io.LimitReader(zeros{}, 256<<20)))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	answer, err := s.client.Do(r)
	require.NoError(t, err)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	assert.Contains(t, string(body), "larger than 256 MB")
	assert.Contains(t, string(body), "Try:")
	left, err := os.ReadDir(temp)
	require.NoError(t, err)
	assert.Empty(t, left)
	assert.Equal(t, http.StatusOK, s.get("/today").StatusCode)
}

// uploadsOf are the addresses of forms that take files.
var uploadsOf = []string{"/enrol", "/measure", "/intake", "/amend", "/rules", "/enrol/from", "/tint", "/light"}

// Each form is the target of a fuzz test: of changes, of files, or the one of the name.
func TestEachFormIsFuzzed(t *testing.T) {
	_, changes := web.Patterns()
	fuzzed := append(append([]string{"/name"}, changesOf...), uploadsOf...)
	for _, pattern := range changes {
		assert.Contains(t, fuzzed, strings.ReplaceAll(pattern, "{tray}", "X"))
	}
}

// fine holds that an answer is a page without a fault of the program, markup of others, or the folder of uploads.
func (s *served) fine(got answered, at string) {
	s.t.Helper()
	assert.Less(s.t, got.StatusCode, 500, at)
	assert.NotContains(s.t, got.body, "<script>alert", at)
	assert.NotContains(s.t, got.body, "wane-upload-", at)
	for _, v := range s.visits.take() {
		assert.NoError(s.t, v.Fault, at)
	}
}

// Whatever is in an uploaded file, and whatever its name, the server answers, and goes on.
func FuzzUploads(f *testing.F) {
	for i, seed := range []struct{ name, data string }{{"coupons.csv", plain}, {"haze.csv", "coupon,pull,spot\nA01,0,1\n"},
		{"a.csv", madeUpExport(2, " %R")}, {"corrections.csv", "coupon,supplier\nA01,maker\n"}, {"r.yaml", "rule: &a [*a]"},
		{"s.wane", "SQLite format 3\x00"}, {"p.png", "\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR\xff\xff\xff\xff\xff\xff\xff\xff"},
		{"l.csv", "wavelength_nm,value\nNaN,<script>alert(1)</script>\n"}, {"e.zip", "PK\x03\x04"}, {"m.xlsx", "PK\x05\x06"}} {
		f.Add(uint8(i), seed.name, seed.data)
		f.Add(uint8(i), "../<script>alert(1)<.csv", seed.data)
	}
	shared := serve(f, newStudy(f, plain, exposures, pulls), web.Options{})
	f.Fuzz(func(t *testing.T, which uint8, name, data string) {
		s := shared.in(t)
		if strings.ContainsFunc(name, func(c rune) bool { return c < ' ' || c == '"' }) {
			t.Skip("no browser sends it so")
		}
		to := uploadsOf[int(which)%len(uploadsOf)]
		got := s.send("/move", to, map[string]string{name: data}, "act", "amend", "why", "made up", "angles", "8", "light", "D65")
		s.fine(got, to)
		if at := got.Header.Get("Location"); to == "/intake" && got.StatusCode == http.StatusSeeOther {
			s.fine(s.get(at), "what would happen")
			s.fine(s.post(at, at+"/take"), "take")
			s.fine(s.get(at), "what happened")
			s.post(at, at+"/remove")
		}
	})
}

// Whatever a form says of exports that were uploaded, the server answers, and goes on.
func FuzzTrays(f *testing.F) {
	acts := []string{"answer", "map", "place", "forget", "take", "replace", "remove"}
	f.Add(uint8(0), "file", "exports/a.csv", "choice", "0")
	f.Add(uint8(0), "file", "exports/a.csv", "choice", "99999999999999999999")
	f.Add(uint8(1), "file[]", "exports/a.csv", "column[]", "#2")
	f.Add(uint8(1), "file[]", "/etc/passwd", "coupon[]", "<script>alert(1)</script>")
	f.Add(uint8(2), "map", "../../map.csv", "sheet", "#")
	f.Add(uint8(2), "map", "exports/a.csv", "profile", "")
	f.Add(uint8(3), "file", "\x00", "", "")
	f.Add(uint8(4), "why", "\u202e", "", "")
	f.Add(uint8(5), "why", "made up", "file", "exports/b.csv")
	f.Add(uint8(6), "", "", "", "")
	shared := serve(f, newStudy(f, plain, exposures, pulls), web.Options{})
	files := exportsOf()
	files["map.csv"] = strings.ReplaceAll(madeUpMap, ",percent", ",")
	files["exports/a.csv"] = madeUpExport(3, "")
	f.Fuzz(func(t *testing.T, which uint8, name, value, name2, value2 string) {
		s := shared.in(t)
		at := s.uploaded(files)
		act := acts[int(which)%len(acts)]
		s.fine(s.do("POST", at+"/"+act, s.form("/move", "line", "1", name, value, name2, value2)), fmt.Sprint(act, name, name2))
		s.fine(s.get(at), "after "+act)
		if act != "remove" {
			s.post("/move", at+"/remove")
		}
	})
}
