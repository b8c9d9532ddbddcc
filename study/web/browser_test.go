package web_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"wane/study/desk"
	"wane/study/web"
	"wane/study/web/webtest"
)

// Each page, on a desk and a tablet in light and on a phone in dark, has no finding of serious impact by axe-core, loads all
// that it names, writes no error to the console, and is no wider than its window. Where WANE_PAGES names a folder, the
// pages are kept there for a check of their HTML.
func TestPagesInABrowser(t *testing.T) {
	b := webtest.New(t)
	s := serve(t, evaluated(t), web.Options{})
	const coupon = "/coupons/A%3Cb%3E1"
	pages := []string{"/today", "/coupons", coupon, coupon + "/spectra", coupon + "/structure", coupon + "/material", "/coatings",
		"/coatings/compare", "/rules", "/enrol", "/measure", "/events", "/intake", "/judge", "/fit", "/move", "/amend", "/report",
		"/sessions", "/log", "/guide", "/name", "/tint", "/tint?angles=8&lab=3,2,-9", "/tint?lab=3", "/light"}
	for _, figure := range []string{"pulls", "fit", "sunlight", "budget"} {
		pages = append(pages, coupon+"/"+figure, "/coupons/A02/"+figure) // A02 has no results
	}
	for _, page := range pages {
		for i, at := range []struct {
			width  int64
			scheme string
		}{{1280, "light"}, {390, "dark"}, {820, "light"}} {
			b.Run(page, webtest.Look(at.width, at.scheme), chromedp.Navigate(s.url+page))
			b.Check(fmt.Sprintf("%s, %d px, %s", page, at.width, at.scheme))
			name := strings.NewReplacer("/", "-", "%", "", "?", "-", "&", "-").Replace(page[1:])
			b.Picture(fmt.Sprintf("%s-%d-%s", name, at.width, at.scheme))
			if i == 0 {
				webtest.Keep(t, name, s.get(page).body)
			}
		}
	}
}

// The journey of a laboratory by clicks and keys: from an empty study over rosters, exports, a reading that is judged, a spot
// that was named wrongly and is moved, and fits, to a report, in whose place a short page stands: the command makes it.
func TestJourneyInABrowser(t *testing.T) {
	b := webtest.New(t)
	d := newStudy(t)
	s := serve(t, d, web.Options{Report: func(_ context.Context, _ *desk.Desk, of web.ReportWanted) (*web.Report, error) {
		return &web.Report{Page: []byte("<!doctype html><html lang=en><title>by " + of.By + "</title><p>Made up."), Folder: "tables"}, nil
	}})
	rosters := written(t, map[string]string{"coupons.csv": plain, "exposures.csv": exposures, "pulls.csv": pulls})
	exports := written(t, exportsOf())
	var files []string
	for _, name := range []string{"coupons.csv", "exposures.csv", "pulls.csv"} {
		files = append(files, filepath.Join(rosters, name))
	}
	b.Run("the empty study", webtest.Look(1280, "light"), chromedp.Navigate(s.url+"/today"), chromedp.WaitVisible("main"))
	b.Check("the empty study")

	b.Run("rosters", chromedp.Click(`nav a[href="/enrol"]`), chromedp.WaitVisible("#enrol-form"),
		chromedp.SetUploadFiles("#files", files), chromedp.Click("#enrol"), webtest.Says("enrolled: "))
	b.Check("rosters")

	b.Run("exports", chromedp.Navigate(s.url+"/intake"), chromedp.WaitVisible("#upload-form"),
		chromedp.SetUploadFiles("#files", []string{filepath.Join(exports, "map.csv"), filepath.Join(exports, "exports", "a.csv"),
			filepath.Join(exports, "exports", "b.csv")}),
		chromedp.Click("#upload"), chromedp.WaitVisible("#take"), webtest.Says("would be held"))
	b.Check("what would happen")
	b.Run("take in", chromedp.Click("#take"), webtest.Says("taken in: "))
	b.Check("taken in")

	b.Run("judge by keys", chromedp.Navigate(s.url+"/judge"), chromedp.Click(`main a[href^="/judge/"]`),
		chromedp.WaitVisible("#judge-form"))
	b.Check("a held reading")
	b.Run("a reason, and the key for setting aside", chromedp.SendKeys("#why", "the lamp was off"+kb.Escape),
		chromedp.KeyEvent("s"), webtest.Polled(`!document.querySelector("#why") || document.querySelector("#why").value === ""`))
	b.Run("the log says why", chromedp.Navigate(s.url+"/log"), webtest.Says("the lamp was off"))

	b.Run("the mishap", chromedp.Navigate(s.url+"/move"), chromedp.SendKeys("#numbers", "1"), chromedp.SendKeys("#to-spot", "2"),
		chromedp.SendKeys("#why", "it was the second spot"), chromedp.Click("#preview-move"), chromedp.WaitVisible("#confirm-form"))
	b.Check("what the move would do")
	b.Run("the move", chromedp.Click("#confirm"), chromedp.WaitNotPresent("#confirm-form"))
	b.Run("the log says why", chromedp.Navigate(s.url+"/log"), webtest.Says("it was the second spot"))

	b.Run("fit", chromedp.Navigate(s.url+"/fit"), chromedp.Click("#fit"), webtest.Says("evaluated: "))
	b.Check("fitted")
	b.Run("report", chromedp.Navigate(s.url+"/report"), chromedp.Click("#make-report"), webtest.Polled(`document.querySelector("#open-report") !== null`))
	b.Check("the report is made")
	b.Run("the report", chromedp.Click("#open-report"), webtest.Polled(`document.title === "by coating"`))
}
