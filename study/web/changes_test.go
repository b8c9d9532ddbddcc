package web_test

import (
	"archive/zip"
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/web"
)

// plain is a roster of coupons that can be read and fitted.
const plain = "coupon,role,coating,supplier,lot,glass,glass_mm,exposure,back\n" +
	"A01,exposed,K,,,soda-lime,3.2,rack,matched\nA02,control,K,,,soda-lime,3.2,,matched\n"

// madeUpExport is an export of two curves whose values are about the level in percent.
func madeUpExport(level float64, unit string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "wavelength nm,first%s,second%s\n", unit, unit)
	for nm := 380; nm <= 1100; nm += 10 {
		fmt.Fprintf(&b, "%d,%.4f,%.4f\n", nm, level+0.001*float64(nm-380), level+0.0012*float64(nm-380))
	}
	return b.String()
}

const madeUpMap = "file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit\n" +
	"exports/a.csv,#2,A01,0,1,8,u,R,percent\nexports/a.csv,#3,A01,0,1,30,u,R,percent\n" +
	"exports/b.csv,#2,A02,0,1,8,u,R,percent\nexports/b.csv,#3,A02,0,1,30,u,R,percent\n"

// exportsOf are a map and exports; the second one reflects more than glass can, and is held.
func exportsOf() map[string]string {
	return map[string]string{"map.csv": madeUpMap, "exports/a.csv": madeUpExport(2, " %R"), "exports/b.csv": madeUpExport(60, " %R")}
}

// send sends a form with files, and these values.
func (s *served) send(page, to string, files map[string]string, values ...string) answered {
	s.t.Helper()
	of, err := url.ParseQuery(s.form(page, values...))
	require.NoError(s.t, err)
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name := range of {
		require.NoError(s.t, w.WriteField(name, of.Get(name)))
	}
	for name, data := range files {
		h := textproto.MIMEHeader{}
		h.Set("Content-Disposition", `form-data; name="files"; filename="`+strings.ReplaceAll(name, `\`, `\\`)+`"`)
		part, err := w.CreatePart(h)
		require.NoError(s.t, err)
		_, err = part.Write([]byte(data))
		require.NoError(s.t, err)
	}
	require.NoError(s.t, w.Close())
	return s.do("POST", to, body.String(), header("Content-Type", w.FormDataContentType()))
}

var lineOf = regexp.MustCompile(`name="line" value="([0-9]+)"`)

// post sends a form of a page as a browser does.
func (s *served) post(page, to string, values ...string) answered {
	s.t.Helper()
	found := lineOf.FindStringSubmatch(s.get(page).body)
	require.NotNil(s.t, found)
	return s.do("POST", to, s.form(page, append([]string{"line", found[1]}, values...)...))
}

// awaited loads a page until it says something.
func (s *served) awaited(page, says string) string {
	s.t.Helper()
	body := ""
	require.Eventually(s.t, func() bool {
		body = s.get(page).body
		return strings.Contains(body, says)
	}, 20*time.Second, 20*time.Millisecond, says)
	return body
}

// uploaded uploads exports and returns the address of their page.
func (s *served) uploaded(files map[string]string) string {
	s.t.Helper()
	got := s.send("/intake", "/intake", files)
	require.Equal(s.t, http.StatusSeeOther, got.StatusCode, got.body)
	return got.Header.Get("Location")
}

func headOf(t testing.TB, d *desk.Desk) study.Entry {
	t.Helper()
	head, err := d.Head(t.Context())
	require.NoError(t, err)
	return head
}

// written writes files into a folder.
func written(t *testing.T, files map[string]string) string {
	t.Helper()
	folder := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	return folder
}

// Each line of the log has the hash of all that was written so far: by the pages as by the operations of the commands.
func TestPagesWriteWhatTheCommandsWrite(t *testing.T) {
	byCommand, byPage := newStudy(t), newStudy(t)
	s, ctx := serve(t, byPage, web.Options{}), t.Context()
	same := func(step string) {
		t.Helper()
		want, got := headOf(t, byCommand), headOf(t, byPage)
		require.Equal(t, want.Summary, got.Summary, step)
		require.Equal(t, want.Hash, got.Hash, step)
	}
	rosters := map[string]string{"coupons.csv": plain, "exposures.csv": exposures, "pulls.csv": pulls}
	folder := written(t, rosters)
	_, err := byCommand.Enrol(ctx, []string{folder + "/coupons.csv", folder + "/exposures.csv", folder + "/pulls.csv"})
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, s.send("/enrol", "/enrol", rosters).StatusCode)
	same("enrol")

	folder = written(t, exportsOf())
	_, err = byCommand.Intake(ctx, folder+"/map.csv", []string{folder}, desk.IntakeOptions{})
	require.NoError(t, err)
	at := s.uploaded(exportsOf())
	plan := s.awaited(at, "can be taken in")
	assert.Contains(t, plan, "2 files with 4 curves")
	assert.Contains(t, plan, "would be held")
	assert.NotContains(t, plan, os.TempDir(), "people do not know the folder")
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/take").StatusCode)
	assert.Contains(t, s.awaited(at, "taken in: "), "held: 2 curves")
	same("intake")

	of := desk.Everything()
	of.Held = true
	held, err := byCommand.Judgements(ctx, of)
	require.NoError(t, err)
	require.Len(t, held, 2)
	of.Numbers = []int64{held[0].Number}
	_, err = byCommand.Review(ctx, of, study.Aside, "the lamp was off")
	require.NoError(t, err)
	number := fmt.Sprint(held[0].Number)
	got := s.post("/judge/"+number, "/judge", "readings", number, "act", "aside", "why", "the lamp was off")
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	assert.Equal(t, fmt.Sprintf("/judge/%d", held[1].Number), got.Header.Get("Location"), "the next one")
	same("review")

	to := desk.MoveTo{Pull: desk.AllPulls, AngleDeg: study.Null(), Spot: "2"}
	_, err = byCommand.Move(ctx, desk.MoveSelection{Selection: desk.Selection{Numbers: []int64{1}, AngleDeg: study.Null()}}, to,
		"it was the second spot", false)
	require.NoError(t, err)
	move := []string{"numbers", "1", "to-spot", "2", "why", "it was the second spot"}
	before := headOf(t, byPage)
	preview := s.post("/move", "/move", append(move, "act", "preview")...)
	assert.Contains(t, preview.body, `id="confirm"`)
	assert.Equal(t, before.Hash, headOf(t, byPage).Hash, "a preview writes nothing")
	require.Equal(t, http.StatusSeeOther, s.post("/move", "/move", append(move, "act", "move")...).StatusCode)
	same("move")

	folder = written(t, map[string]string{"corrections.csv": "coupon,supplier\nA01,maker\n"})
	_, err = byCommand.Amend(ctx, []string{folder + "/corrections.csv"}, "it was left out", false)
	require.NoError(t, err)
	amend := []string{"kind", "coupon", "key", "A01", "column", "supplier", "becomes", "maker", "why", "it was left out"}
	preview = s.post("/amend", "/amend", append(amend, "act", "preview")...)
	assert.Contains(t, preview.body, "becomes maker")
	require.Equal(t, http.StatusSeeOther, s.post("/amend", "/amend", append(amend, "act", "amend")...).StatusCode)
	same("amend")

	_, err = byCommand.Fit(ctx, desk.FitOptions{})
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, s.post("/fit", "/fit").StatusCode)
	s.awaited("/fit", "evaluated: ")
	same("fit")
}

// asks is a study and exports of which one does not say the unit of its values.
func asking(t *testing.T) (*desk.Desk, *served, string) {
	d := newStudy(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	files := exportsOf()
	files["map.csv"] = strings.ReplaceAll(madeUpMap, ",percent", ",")
	files["exports/a.csv"], files["exports/b.csv"] = madeUpExport(0.02, ""), madeUpExport(0.03, "")
	return d, s, s.uploaded(files)
}

func TestQuestionsAreAnsweredByChoice(t *testing.T) {
	d, s, at := asking(t)
	plan := s.awaited(at, "2 files ask something")
	assert.Contains(t, plan, "The same for 1 other file")
	assert.Equal(t, http.StatusUnprocessableEntity, s.post(at, at+"/answer", "file", "exports/a.csv", "choice", "99").StatusCode)
	choice := regexp.MustCompile(`value="([0-9]+)" required><label [^>]*><bdi>unit</bdi> <bdi>fraction`).FindStringSubmatch(plan)
	require.NotNil(t, choice, plan)
	got := s.post(at, at+"/answer", "file", "exports/a.csv", "choice", choice[1], "alike", "yes")
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	s.awaited(at, "2 files with 4 curves can be taken in")
	head := headOf(t, d)
	assert.Equal(t, "enrol", head.Verb, "nothing is taken in yet")
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/take").StatusCode)
	s.awaited(at, "taken in: 2 exports with 4 curves")
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/remove").StatusCode)
	assert.Equal(t, http.StatusNotFound, s.get(at).StatusCode)
}

// Curves whose places no map says are placed on the page.
func TestAMapIsWrittenOnThePage(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	at := s.uploaded(map[string]string{"a.csv": madeUpExport(2, " %R")})
	assert.Contains(t, s.get(at).body, "Where the curves belong")
	of, err := url.ParseQuery(s.form(at))
	require.NoError(t, err)
	for i, angle := range []string{"8", "30"} {
		for name, value := range map[string]string{"file": "a.csv", "column": fmt.Sprintf("#%d", i+2), "coupon": "A01", "pull": "0",
			"spot": "1", "angle_deg": angle, "polarisation": "u", "quantity": "R", "unit": "", "session": "", "condition": ""} {
			of.Add(name+"[]", value)
		}
	}
	got := s.do("POST", at+"/map", of.Encode())
	require.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	s.awaited(at, "1 file with 2 curves can be taken in")
}

// In two tabs a reading is judged: who comes second is told who did what, and nothing is written.
func TestTheSecondOfTwoTabsIsTold(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	folder := written(t, exportsOf())
	_, err := d.Intake(t.Context(), folder+"/map.csv", []string{folder}, desk.IntakeOptions{})
	require.NoError(t, err)
	s, other := serve(t, d, web.Options{}), serve(t, d, web.Options{})
	held, err := d.Judgements(t.Context(), desk.Everything())
	require.NoError(t, err)
	number := fmt.Sprint(held[0].Number)
	page := "/judge/" + number
	seen := lineOf.FindStringSubmatch(s.get(page).body)[1]
	second := s.form(page, "line", seen, "readings", number, "act", "release", "why", "it looks right")

	require.Equal(t, http.StatusSeeOther, other.do("POST", "/name", other.form("/name", "name", "Ravi")).StatusCode)
	require.Equal(t, http.StatusSeeOther, other.post(page, "/judge", "readings", number, "act", "aside", "why", "a finger mark").StatusCode)
	head := headOf(t, d)
	assert.Equal(t, "Ravi", head.Who, "two browsers are two operators")

	got := s.do("POST", "/judge", second)
	assert.Equal(t, http.StatusConflict, got.StatusCode)
	assert.Contains(t, got.body, "Ravi")
	assert.Contains(t, got.body, "a finger mark")
	assert.Equal(t, head.Hash, headOf(t, d).Hash, "nothing was written")
	assert.Equal(t, http.StatusSeeOther, s.post(page, "/judge", "readings", number, "act", "release", "why", "I spoke to Ravi").StatusCode)
}

// What would be refused as a command is refused as a form, with what to try, and writes nothing.
func TestRefusedChangesWriteNothing(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	head := headOf(t, d)
	for name, got := range map[string]answered{
		"no table":      s.send("/enrol", "/enrol", nil),
		"no roster":     s.send("/enrol", "/enrol", map[string]string{"a.csv": "x,y\n1,2\n"}),
		"one bad row":   s.send("/enrol", "/enrol", nil, "text", "exposure,pull,dose,date\nrack,3,120,2031-05-01\nrack,4,1,2031-06-01\n"),
		"no reason":     s.post("/move", "/move", "numbers", "1", "to-spot", "2", "act", "move"),
		"no reading":    s.post("/move", "/judge", "readings", "77", "act", "release", "why", "because"),
		"no act":        s.post("/move", "/judge", "readings", "1", "act", "x", "why", "because"),
		"no coupon":     s.post("/events", "/events", "coupon", "nobody", "event", "clean", "pull", "1"),
		"no key":        s.post("/amend", "/amend", "kind", "pull", "key", "rack", "column", "date", "becomes", "x", "why", "so", "act", "amend"),
		"no such row":   s.post("/amend", "/amend", "withdraw", "coupon:nobody", "why", "so", "act", "amend"),
		"no rule":       s.send("/rules", "/rules", map[string]string{"r.yaml": "rule: [\n"}),
		"nothing to do": s.send("/measure", "/measure", map[string]string{"m.csv": "coupon,pull\n"}),
	} {
		assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode, name)
		assert.Contains(t, got.body, "Try:", name)
		assert.NotContains(t, got.body, "wane-upload-", name)
	}
	assert.Equal(t, head.Hash, headOf(t, d).Hash)
}

// changesOf are the addresses of forms.
var changesOf = []string{"/enrol", "/measure", "/events", "/intake", "/intake/X/place", "/intake/X/map", "/intake/X/answer",
	"/intake/X/forget", "/intake/X/take", "/intake/X/remove", "/judge", "/fit", "/move", "/amend", "/rules", "/rules/judge",
	"/report", "/enrol/from", "/intake/X/replace"}

func TestNoChangeForAnotherSiteOrWithoutAToken(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	head := headOf(t, d)
	form := s.form("/enrol", "text", "exposure,pull,dose,date\nrack,3,120,2031-05-01\n")
	for _, to := range changesOf {
		assert.Equal(t, http.StatusForbidden, s.do("POST", to, form, header("Sec-Fetch-Site", "cross-site")).StatusCode, to)
		assert.Equal(t, http.StatusForbidden, s.do("POST", to, form, header("Origin", "http://evil.example")).StatusCode, to)
		assert.Equal(t, http.StatusForbidden, s.do("POST", to, "text=x").StatusCode, to)
	}
	read := serve(t, d, web.Options{ReadOnly: true})
	for _, to := range changesOf {
		assert.Equal(t, http.StatusForbidden, read.do("POST", to, read.form("/name")).StatusCode, to)
	}
	assert.Equal(t, head.Hash, headOf(t, d).Hash)
}

func TestUploadsThatAreNoExports(t *testing.T) {
	d := newStudy(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	head := headOf(t, d)
	files := exportsOf()
	files["exports/a.csv"], files["exports/b.csv"] = "\x00\x01\x02 no export", ""
	at := s.uploaded(files)
	assert.Contains(t, s.awaited(at, "0 files with 0 curves"), "Try:")
	require.Equal(t, http.StatusSeeOther, s.post(at, at+"/take").StatusCode)
	s.awaited(at, "refused: 2")

	// A bomb: a member of more bytes than a file may have.
	var bomb bytes.Buffer
	z := zip.NewWriter(&bomb)
	w, err := z.Create("a.csv")
	require.NoError(t, err)
	zeros := make([]byte, 1<<20)
	for range 101 {
		_, err = w.Write(zeros)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	at = s.uploaded(map[string]string{"big.zip": bomb.String(), "map.csv": strings.ReplaceAll(madeUpMap, "exports/", "big.zip/")})
	assert.Contains(t, s.awaited(at, "0 files with 0 curves"), "100 MiB")
	assert.Equal(t, head.Hash, headOf(t, d).Hash)
}

// A name of an upload leads to no place but its own folder, which goes when the server ends.
func TestNamesOfUploadsLeadNowhere(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	s := serve(t, newStudy(t), web.Options{})
	at := s.uploaded(map[string]string{"../../../etc/escaped.csv": madeUpExport(2, " %R"), `..\..\windows.csv`: "x", "/abs.csv": "x",
		"C:\\d\\e.csv": "x", ".hidden/f.csv": "x"})
	body := s.get(at).body
	assert.Contains(t, body, "etc/escaped.csv")
	assert.NotContains(t, body, "..")
	inside, err := filepath.Glob(temp + "/wane-upload-*/*")
	require.NoError(t, err)
	assert.Len(t, inside, 4, inside)
	for _, name := range []string{"a\x00b.csv", "a\u202eb.csv", strings.Repeat("n", 201)} {
		got := s.send("/intake", "/intake", map[string]string{name: "x"})
		assert.Contains(t, []int{http.StatusUnprocessableEntity, http.StatusBadRequest}, got.StatusCode, "%q", name)
	}
	other := serve(t, newStudy(t), web.Options{})
	assert.Equal(t, http.StatusNotFound, other.get(at).StatusCode, "the files of another browser")
}

func TestTheServerRemovesUploadsAtItsEnd(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	t.Run("served", func(t *testing.T) {
		serve(t, newStudy(t), web.Options{}).uploaded(map[string]string{"a.csv": madeUpExport(2, " %R")})
	})
	left, err := filepath.Glob(temp + "/wane-upload-*")
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestTooLargeAnUpload(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	got := s.post("/move", "/judge", "why", strings.Repeat("a", 1<<20))
	assert.Contains(t, got.body, "larger than 1 MB")
	files := map[string]string{}
	for i := range 1001 {
		files[fmt.Sprintf("%d.csv", i)] = "x"
	}
	got = s.send("/intake", "/intake", files)
	assert.Contains(t, []int{http.StatusUnprocessableEntity, http.StatusBadRequest}, got.StatusCode)
	assert.Contains(t, got.body, "zip file")
	assert.Equal(t, http.StatusOK, s.get("/today").StatusCode)
}

func TestAStudyThatWasReplacedIsNotWritten(t *testing.T) {
	d, path := studyAt(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	form := s.form("/enrol", "text", "exposure,pull,dose,date\nrack,3,120,2031-05-01\n")
	require.NoError(t, os.Rename(path, path+".away"))
	got := s.do("POST", "/enrol", form)
	assert.Equal(t, http.StatusServiceUnavailable, got.StatusCode)
	require.NoError(t, os.Rename(path+".away", path))
	assert.Equal(t, "enrol", headOf(t, d).Verb)
	assert.Equal(t, http.StatusSeeOther, s.do("POST", "/enrol", form).StatusCode, "it is back")
}

func TestTheSecondPersonIsAskedFor(t *testing.T) {
	d, err := desk.New(t.Context(), filepath.Join(t.TempDir(), "two.wane"), study.Settings{Correction: study.RouteNone,
		Mixing: "bruggeman", TwoPeople: true}, desk.Person{Name: "Ines", Now: day})
	require.NoError(t, err)
	t.Cleanup(func() { _ = d.Close() })
	folder := written(t, map[string]string{"c.csv": plain, "e.csv": exposures, "p.csv": pulls})
	_, err = d.Enrol(t.Context(), []string{folder + "/c.csv", folder + "/e.csv", folder + "/p.csv"})
	require.NoError(t, err)
	s := serve(t, d, web.Options{})
	amend := []string{"kind", "coupon", "key", "A01", "column", "supplier", "becomes", "maker", "why", "it was left out", "act", "amend"}
	got := s.post("/amend", "/amend", amend...)
	assert.Equal(t, http.StatusUnprocessableEntity, got.StatusCode)
	require.Equal(t, http.StatusSeeOther, s.do("POST", "/name", s.form("/name", "name", "Ravi")).StatusCode)
	got = s.post("/amend", "/amend", amend...)
	assert.Equal(t, http.StatusSeeOther, got.StatusCode, got.body)
	assert.Contains(t, headOf(t, d).Summary, "brought in by Ines")
}

// The name is kept by the browser: a server that is started again knows it.
func TestTheBrowserKeepsTheName(t *testing.T) {
	d := newStudy(t)
	s := serve(t, d, web.Options{})
	got := s.do("POST", "/name", s.form("/name", "name", "Ravi Ünal"))
	var kept *http.Cookie
	for _, c := range got.Cookies() {
		if c.Name == "wane-name" {
			kept = c
		}
	}
	require.NotNil(t, kept)
	assert.True(t, kept.HttpOnly)
	again := serve(t, d, web.Options{})
	assert.Contains(t, again.do("GET", "/name", "", func(r *http.Request) { r.AddCookie(kept) }).body, "Ravi Ünal")
	forged := serve(t, d, web.Options{})
	assert.Contains(t, forged.do("GET", "/name", "", func(r *http.Request) {
		r.AddCookie(&http.Cookie{Name: "wane-name", Value: "a%0Ab"})
	}).body, "Ines")
}

func TestTheReportIsShownAndKept(t *testing.T) {
	made := func(_ context.Context, _ *desk.Desk, of web.ReportWanted) (*web.Report, error) {
		if of.For == "nobody" {
			return nil, &study.Refusal{Fault: "no such reader", Try: "choose another"}
		}
		return &web.Report{Page: []byte("<!doctype html><title>" + of.By + "</title>"), Folder: "report-tables",
			Tables: []desk.ReportTable{{Name: "t.csv", CSV: []byte("a\n")}}}, nil
	}
	s := serve(t, newStudy(t), web.Options{Report: made})
	assert.Equal(t, http.StatusNotFound, s.get("/report/report.html").StatusCode)
	require.Equal(t, http.StatusSeeOther, s.post("/report", "/report", "by", "lot").StatusCode)
	s.awaited("/report", "Open the page")
	page := s.get("/report/report.html")
	assert.Contains(t, page.body, "<title>lot")
	assert.Contains(t, page.Header.Get("Content-Security-Policy"), "sandbox")
	packed := s.get("/report/report.zip").body
	z, err := zip.NewReader(strings.NewReader(packed), int64(len(packed)))
	require.NoError(t, err)
	assert.Equal(t, "report-tables/t.csv", z.File[1].Name)
	require.Equal(t, http.StatusSeeOther, s.post("/report", "/report", "for", "nobody").StatusCode)
	s.awaited("/report", "no such reader")
}

// Whatever is in the fields of a form, the server answers, and goes on.
func FuzzChanges(f *testing.F) {
	f.Add(uint8(10), "readings", "1-", "why", "<script>alert(1)</script>")
	f.Add(uint8(12), "numbers", "1-99999999999", "to-angle", "NaN")
	f.Add(uint8(12), "numbers", "1-1000000", "to-spot", "2")
	f.Add(uint8(0), "text", "coupon,role\n\"", "sheet", "#")
	f.Add(uint8(13), "kind", "pull", "key", "////")
	f.Add(uint8(13), "withdraw", "coupon:\x00", "why", "\u202e")
	f.Add(uint8(14), "text", "rule: &a [*a]", "", "")
	f.Add(uint8(2), "coupon", "=cmd|x", "event", "\n")
	f.Add(uint8(1), "text", "coupon,pull,spot\n,,", "files", "x")
	f.Add(uint8(16), "by", "../..", "for", "x")
	shared := serve(f, newStudy(f, plain, exposures, pulls), web.Options{})
	f.Fuzz(func(t *testing.T, which uint8, name, value, name2, value2 string) {
		s := shared.in(t)
		to := changesOf[int(which)%len(changesOf)]
		got := s.do("POST", to, s.form("/move", name, value, name2, value2))
		assert.Less(t, got.StatusCode, 500, to)
		assert.NotContains(t, got.body, "<script>alert")
		assert.NotContains(t, got.body, "wane-upload-")
		for _, v := range s.visits.take() {
			assert.NoError(t, v.Fault, to)
		}
	})
}

// Another process writes the study: the page says so after a while, and the form can be sent again.
func TestAStudyThatIsLocked(t *testing.T) {
	t.Parallel() // it waits, and does nothing
	d, path := studyAt(t, plain, exposures, pulls)
	s := serve(t, d, web.Options{})
	form := s.form("/enrol", "text", "exposure,pull,dose,date\nrack,3,120,2031-05-01\n")
	other, err := sql.Open("sqlite", "file:"+path+"?mode=rw")
	require.NoError(t, err)
	defer other.Close()
	held, err := other.Conn(t.Context())
	require.NoError(t, err)
	_, err = held.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)
	got := s.do("POST", "/enrol", form)
	assert.Equal(t, http.StatusServiceUnavailable, got.StatusCode)
	assert.Contains(t, got.body, "Try:")
	_, err = held.ExecContext(t.Context(), "ROLLBACK")
	require.NoError(t, err)
	require.NoError(t, held.Close())
	assert.Equal(t, http.StatusSeeOther, s.do("POST", "/enrol", form).StatusCode)
}
