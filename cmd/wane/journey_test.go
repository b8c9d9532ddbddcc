package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web/webtest"
)

// serving runs wane serve, and returns the address that it prints. The command ends with the test.
func serving(t *testing.T, study string) (address string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	said, w := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"serve", "--study", study, "--listen", "127.0.0.1:0"}, io.Discard, w)
		w.Close()
	}()
	lines := bufio.NewScanner(said)
	require.True(t, lines.Scan())
	address = regexp.MustCompile(`http://\S+/`).FindString(lines.Text())
	require.NotEmpty(t, address, lines.Text())
	rest := make(chan []string, 1)
	go func() {
		var all []string
		for lines.Scan() {
			all = append(all, lines.Text())
		}
		rest <- all
	}()
	t.Cleanup(func() {
		stop()
		assert.Equal(t, exitDone, <-ended)
		assert.Equal(t, []string{"only this machine can open the pages; Ctrl-C ends"}, <-rest, "no fault of the program")
	})
	return address
}

// journey is a laboratory at its pages.
type journey struct {
	*webtest.Browser
	t      *testing.T
	folder string // with its files
}

// click clicks what leads to another page, and waits for that page.
func (j *journey) click(what, selector, says string) {
	j.t.Helper()
	j.Run(what, chromedp.WaitVisible(selector), chromedp.Click(selector), webtest.Says(says))
	j.Check(what)
}

// menu clicks an entry of the menu.
func (j *journey) menu(path, says string) {
	j.t.Helper()
	j.click(path, fmt.Sprintf(`nav[aria-label="Pages"] a[href=%q]`, path), says)
}

// written are cells of the table of results of the coupon that is shown: one for each row.
func (j *journey) written(column string) []string {
	j.t.Helper()
	return webtest.Value[[]string](j.Browser, fmt.Sprintf(
		`[...document.querySelectorAll('section[aria-labelledby="results"] td[data-head=%q]')].map(e => e.innerText)`, column))
}

// spoil makes mishaps in the tables and exports of wane demo: a date whose day and month are exchanged,
// an export that does not say its unit,
// a reading with the lamp flickering, and two labels that were exchanged.
func spoil(t *testing.T, folder string) {
	alter := func(name string, change func(string) string) {
		path := filepath.Join(folder, name)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		changed := change(string(data))
		require.NotEqual(t, string(data), changed, name)
		require.NoError(t, os.WriteFile(path, []byte(changed), 0o600))
	}
	alter("pulls.csv", func(s string) string { return strings.Replace(s, "2025-07-09", "2025-09-07", 1) })
	alter("exports/G01-pull0.csv", func(s string) string { return strings.ReplaceAll(s, " %R", "") })
	alter("exports/C05-pull3.csv", func(s string) string {
		return regexp.MustCompile(`(?m)^((?:[0-9.]+,){6})([0-9.]+),([0-9.]+),`).ReplaceAllString(s, "${1}5$2,5$3,")
	})
	alter("map.csv", func(s string) string {
		rows, err := csv.NewReader(strings.NewReader(s)).ReadAll()
		require.NoError(t, err)
		unit := slices.Index(rows[0], "unit")
		for _, r := range rows[1:] {
			switch r[0] {
			case "exports/A01-pull3.csv":
				r[2] = "A04"
			case "exports/A04-pull3.csv":
				r[2] = "A01"
			case "exports/G01-pull0.csv":
				r[unit] = ""
			}
		}
		var out strings.Builder
		require.NoError(t, csv.NewWriter(&out).WriteAll(rows))
		return out.String()
	})
}

// The journey of a laboratory by clicks and keys in the pages of wane serve: from an empty study over rosters, a rule,
// exports of which one asks a question, and readings that are judged, to results; mishaps that only results show are
// corrected; and to verdicts and the report. What comes out is what wane demo found, where nothing had gone wrong.
func TestJourneyInABrowser(t *testing.T) {
	t.Setenv("WANE_OPERATOR", "Ines")
	j := &journey{Browser: webtest.New(t), t: t, folder: t.TempDir()}
	require.NoError(t, demoIn(j.folder))
	code, demo, stderr := wane(t, "results", "--study", filepath.Join(j.folder, "demo.wane"), "--format", "csv")
	require.Equal(t, exitDone, code, stderr)
	spoil(t, j.folder)
	study := filepath.Join(j.folder, "mine.wane")
	code, _, stderr = wane(t, "new", study)
	require.Equal(t, exitDone, code, stderr)
	address := serving(t, study)
	j.Note("#progress-words")
	j.Run("the pages are opened", webtest.Look(1280, "light"), chromedp.Navigate(address),
		webtest.Says("No coupon is enrolled yet"))
	j.Check("the empty study")

	j.enrols()
	j.takesIn()
	j.judges()
	j.fits()
	j.findsMishaps()
	j.corrects()
	j.reports(address)

	_, mine, _ := wane(t, "results", "--study", study, "--format", "csv")
	assert.Equal(t, comparable(t, demo), comparable(t, mine), "what was found where nothing had gone wrong")
}

// comparable are the numbers of a table of results that do not depend on the spot with the lamp flickering.
func comparable(t *testing.T, table string) (rows []string) {
	all, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	require.NoError(t, err)
	for _, r := range all {
		if r[0] != "C05" {
			rows = append(rows, strings.Join(r, ","))
		}
	}
	return rows
}

func (j *journey) enrols() {
	var files []string
	for _, name := range []string{"coupons", "exposures", "pulls", "events", "instruments", "standards", "sessions", "check-readings"} {
		files = append(files, filepath.Join(j.folder, name+".csv"))
	}
	j.menu("/enrol", "All tables of one form are enrolled together")
	j.Run("rosters are chosen", chromedp.SetUploadFiles("#files", files))
	j.click("rosters", "#enrol", "enrolled: 1 exposure, 4 pulls, 27 coupons")
	j.menu("/rules", "The study has no rule")
	j.Run("the rule is dragged onto the page", webtest.Drop("[data-drop]", []string{filepath.Join(j.folder, "loss-year.yaml")}),
		webtest.Says("1 file: loss-year.yaml"))
	j.click("the rule before the data", "#add-rule", "added rule loss-year")
}

func (j *journey) takesIn() {
	exports, err := filepath.Glob(filepath.Join(j.folder, "exports", "*.csv"))
	require.NoError(j.t, err)
	j.menu("/intake", "Nothing is taken in yet")
	j.Run("exports and their map are dragged onto the page", webtest.Drop("[data-drop]", append(exports, filepath.Join(j.folder, "map.csv"))),
		webtest.Says(fmt.Sprintf("%d files: ", len(exports)+1)))
	j.click("what would happen", "#upload", "105 files with 840 curves can be taken in; 1 file asks something")
	const percent = `//article//div[contains(., "percent")][input[@type="radio"]]/label`
	j.Run("a question is answered", chromedp.Click(percent), chromedp.Click(`//article//button[contains(., "Answer")]`),
		webtest.Says("106 files with 848 curves can be taken in; 2 curves would be held"))
	j.Check("answered")
	j.click("taken in", "#take", "taken in: 106 exports with 848 curves; known already: 0; held: 2 curves; refused: 0")
}

// judges judges two readings by keys alone.
func (j *journey) judges() {
	at := func() string { return webtest.Value[string](j.Browser, "location.pathname") }
	leaves := func(path string) webtest.Action {
		return webtest.Polled(fmt.Sprintf("location.pathname !== %q && document.readyState === 'complete'", path))
	}
	j.Run("to the held readings", webtest.Reach("to-judge"), chromedp.KeyEvent(kb.Enter), webtest.Says("Judge the held readings one by one"))
	j.Check("held readings")
	j.Run("to the first", webtest.Reach("first"), chromedp.KeyEvent(kb.Enter), webtest.Says("1 of 2 held"))
	j.Check("a held reading")
	first := at()
	j.Run("to the next and back", chromedp.KeyEvent("n"), webtest.Says("2 of 2 held"), chromedp.KeyEvent("p"), webtest.Says("1 of 2 held"))
	j.Run("no reason, no judgement", chromedp.KeyEvent("s"), webtest.Polled("document.activeElement.id === 'why'"),
		chromedp.KeyEvent(kb.Escape))
	j.Run("the first is set aside", chromedp.KeyEvent("w"), chromedp.KeyEvent("The lamp flickered."+kb.Escape),
		chromedp.KeyEvent("s"), leaves(first), webtest.Says("set aside: 1; now fit"))
	second := at()
	j.Run("the second, too", chromedp.KeyEvent("w"), chromedp.KeyEvent("It was read while the lamp flickered."+kb.Escape),
		chromedp.KeyEvent("s"), leaves(second), webtest.Says("set aside: 1; now fit"))
	j.Check("all are judged")
	j.menu("/log", "It was read while the lamp flickered.")
}

// fits evaluates what is new: the page says how far it is, while it goes on.
func (j *journey) fits() {
	j.menu("/fit", "212 spots to fit")
	j.click("fit", "#fit", "evaluated: 212 spots")
	noted := j.Noted()
	assert.Greater(j.t, len(slices.Compact(slices.Clone(noted))), 1, "how far it is changes: %q", noted)
	require.NotEmpty(j.t, noted)
	assert.Equal(j.t, "212 of 212 spots", noted[len(noted)-1], "%q", noted)
}

// shows finds a coupon, and shows its page.
func (j *journey) shows(coupon string) {
	j.menu("/coupons", "1 to 27 of 27 coupons")
	j.Run("find "+coupon, chromedp.SendKeys("#find", coupon+kb.Enter), webtest.Says("1 to 1 of 1 found"))
	j.click(coupon, fmt.Sprintf(`main table a[href="/coupons/%s"]`, coupon), "coating-A of maker-A")
}

// findsMishaps sees in results what no guard could: a date is wrong, and A01 lost as much as only the other lot did.
func (j *journey) findsMishaps() {
	j.shows("A01")
	dates := j.written("date")
	require.Len(j.t, dates, 8, "4 pulls of 2 spots")
	assert.Equal(j.t, "2025-09-07", dates[4])
	assert.Equal(j.t, "-0.605 ± 0.036", j.written("corrected / pp")[6])
}

// corrects corrects the date and the labels, with reasons, and fits what that changes.
func (j *journey) corrects() {
	j.menu("/move", "Readings that are in the wrong place")
	j.click("to rows that were enrolled", `main p a[href="/amend"]`, "Rows are found by their keys")
	j.Run("the date", chromedp.Focus("#kind"), chromedp.KeyEvent("pull"), chromedp.SendKeys("#key", "roof/2"),
		chromedp.SendKeys("#column", "date"), chromedp.SendKeys("#becomes", "2025-07-09"), chromedp.SendKeys("#why", "Day and month were exchanged."))
	j.click("what it would do", "#preview-amend", "2025-07-09")
	j.click("the date is corrected", "#confirm", "amended: 1 change; no fit becomes stale")

	j.menu("/move", "Readings that are in the wrong place")
	j.Run("the labels", chromedp.SendKeys("#pull", "3"), chromedp.SendKeys("#exchange", "A01,A04"),
		chromedp.SendKeys("#why", "The labels of A01 and A04 were exchanged at the bench."))
	j.click("what the move would do", "#preview-move", "Readings that would move")
	j.click("the readings are moved", "#confirm", "moved: 16 readings; now fit")

	j.menu("/fit", "spots to fit")
	j.click("fit again", "#fit", "evaluated: 4 spots; up to date already: 208")
	j.shows("A01")
	assert.Equal(j.t, "2025-07-09", j.written("date")[4])
	assert.Equal(j.t, "-0.349 ± 0.037", j.written("corrected / pp")[6], "as wane demo finds it")
}

// reports judges by the rule and makes the report, which is the one of wane report.
func (j *journey) reports(address string) {
	j.menu("/rules", "loss-year")
	j.click("verdicts", "#judge-rules", "coating-A")
	j.menu("/report", "Make a report")
	j.click("the report is made", "#make-report", "The report that was made last")
	j.Run("the report", chromedp.Click("#open-report"), webtest.Polled(`location.pathname === "/report/report.html" && document.readyState === "complete"`))
	assert.Empty(j.t, j.Complaints())
	text := webtest.Value[string](j.Browser, "document.body.innerText")
	for _, says := range []string{"coating-A", "reject", "loss-year", "Day and month were exchanged.", "The lamp flickered.",
		"The labels of A01 and A04 were exchanged at the bench.", "Ines"} {
		assert.Contains(j.t, text, says)
	}
	answer, err := http.Get(address + "report/report.html")
	require.NoError(j.t, err)
	defer answer.Body.Close()
	page, err := io.ReadAll(answer.Body)
	require.NoError(j.t, err)
	webtest.Keep(j.t, "report-made", string(page))
	kept := filepath.Join(j.folder, "kept.html") // as the server gives it, no script can run in it, not even one that checks it
	require.NoError(j.t, os.WriteFile(kept, page, 0o600))
	j.Run("the report that is kept", chromedp.Navigate("file://"+kept))
	j.Check("the report that is kept")
}
