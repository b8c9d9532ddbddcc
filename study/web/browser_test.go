package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/desk"
	"wane/study/desk/demo"
	"wane/study/web"
	"wane/study/web/webtest"
)

// odd is a code that a page must escape, so long that it must be folded; oddAt is how addresses write it.
const (
	odd   = "A<b>1-of-the-longest-shelf-in-the-whole-laboratory"
	oddAt = "/coupons/A%3Cb%3E1-of-the-longest-shelf-in-the-whole-laboratory"
)

// furnished is the study of wane demo, and two coupons without results: one has an odd code, a picture and a reading that is
// set aside, the other one readings that are held.
func furnished(t *testing.T) *desk.Desk {
	t.Helper()
	_, d, err := demo.Run(t.Context(), filepath.Join(t.TempDir(), "demo"), 2, desk.Person{Name: "Ines", Now: day})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	var drawn bytes.Buffer
	require.NoError(t, png.Encode(&drawn, image.NewGray(image.Rect(0, 0, 300, 200))))
	const measured = "coupon,pull,spot,quantity,value,u,unit,method,date,operator,picture,note\n" +
		"A01,0,,haze,1.2,0.1,percent,hazemeter,2031-01-03,Ines,spot.png,\n"
	codes := strings.NewReplacer("A01", odd, "A02", "Z02")
	files := exportsOf()
	files["map.csv"], files["haze.csv"], files["spot.png"] = codes.Replace(madeUpMap), codes.Replace(measured), drawn.String()
	files["exports/a.csv"] = madeUpExport(50, " %R")
	files["coupons.csv"], files["exposures.csv"], files["pulls.csv"] = codes.Replace(plain), exposures, pulls
	folder := written(t, files)
	_, err = d.Enrol(t.Context(), []string{folder + "/coupons.csv", folder + "/exposures.csv", folder + "/pulls.csv"})
	require.NoError(t, err)
	in, err := d.Intake(t.Context(), folder+"/map.csv", []string{folder + "/exports"}, desk.IntakeOptions{})
	require.NoError(t, err)
	require.Len(t, in.Held, 4)
	measures, err := d.Measure(t.Context(), []string{folder + "/haze.csv"})
	require.NoError(t, err)
	require.Empty(t, measures.Refused)
	of := desk.Everything()
	of.Coupons = []string{odd}
	_, err = d.Review(t.Context(), of, study.Aside, "the lamp was off")
	require.NoError(t, err)
	return d
}

// topicsOfTheGuide are those that the command serves.
func topicsOfTheGuide(t *testing.T) (topics []web.Topic) {
	t.Helper()
	names, err := filepath.Glob("../../cmd/wane/guide/*.md")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		topics = append(topics, web.Topic{Name: strings.TrimSuffix(filepath.Base(name), ".md"), Text: string(text)})
	}
	return topics
}

// looked are the addresses at which a test looks, by the patterns of pages. A pattern without addresses is of no page of
// its own.
var looked = map[string][]string{
	"/{$}":                      nil, // leads to the page of today
	"/today":                    {"/today"},
	"/coupons":                  {"/coupons", "/coupons?find=nothing"},
	"/coupons/{coupon}":         {"/coupons/A01", oddAt, "/coupons/nobody"},
	"/coupons/{coupon}/spectra": {"/coupons/A01/spectra", oddAt + "/spectra"},
	"/coupons/{coupon}/{figure}": {"/coupons/A01/pulls", "/coupons/A01/fit", "/coupons/A01/structure", "/coupons/A01/material",
		"/coupons/A01/sunlight", "/coupons/A01/budget", "/coupons/Z02/pulls"},
	"/coupons/{coupon}/pictures/{sum}": nil, // a picture: the page of the coupon shows it
	"/coatings":                        {"/coatings"},
	"/coatings/compare":                {"/coatings/compare"},
	"/tint":                            {"/tint", "/tint?angles=8&lab=3,2,-9", "/tint?lab=3"},
	"/light":                           {"/light"},
	"/light/progress":                  nil, // a stream
	"/rules":                           {"/rules"},
	"/rules/{rule}":                    {"/rules/loss-year"},
	"/sessions":                        {"/sessions"},
	"/sessions/{session}":              {"/sessions/session-2025-01-10"},
	"/log":                             {"/log"},
	"/guide":                           {"/guide"},
	"/guide/{topic}":                   {"/guide/reading-results", "/guide/map"},
	"/name":                            {"/name"},
	"/enrol":                           {"/enrol"},
	"/measure":                         {"/measure"},
	"/events":                          {"/events"},
	"/intake":                          {"/intake"},
	"/intake/{tray}":                   {"plan", "places"}, // uploads, which have addresses drawn by chance
	"/intake/{tray}/progress":          nil,                // a stream
	"/judge":                           {"/judge"},
	"/judge/{reading}":                 {"held"},
	"/fit":                             {"/fit"},
	"/fit/progress":                    nil, // a stream
	"/move":                            {"/move?coupon=A01&pull=1"},
	"/amend":                           {"/amend?withdraw=coupon:A01"},
	"/report":                          {"/report"},
	"/report/progress":                 nil, // a stream
	"/report/{file}":                   nil, // made by the command, whose test looks at it
}

// addresses are all addresses at which the test looks, in the order of the patterns.
func addresses(t *testing.T, b *webtest.Browser, s *served, d *desk.Desk) (all []string) {
	t.Helper()
	patterns, _ := web.Patterns()
	for _, p := range patterns {
		require.Contains(t, looked, p, "a page at which no test looks")
		all = append(all, looked[p]...)
	}
	of := desk.Everything()
	of.Held = true
	held, err := d.Judgements(t.Context(), of)
	require.NoError(t, err)
	asks := exportsOf()
	asks["map.csv"] = strings.NewReplacer("A01", odd, "A02", "Z02", ",percent", ",").Replace(madeUpMap)
	asks["exports/a.csv"] = madeUpExport(4, "")
	for word, address := range map[string]string{"held": fmt.Sprintf("/judge/%d", held[0].Number),
		"plan": uploadedBy(b, s, written(t, asks)), "places": uploadedBy(b, s, written(t, map[string]string{"b.csv": madeUpExport(4, " %R")}))} {
		all[slices.Index(all, word)] = address
	}
	return all
}

// uploadedBy uploads the files of a folder in the browser, and returns the address of their page.
func uploadedBy(b *webtest.Browser, s *served, folder string) string {
	var files []string
	for _, pattern := range []string{"/*.csv", "/exports/*.csv"} {
		some, _ := filepath.Glob(folder + pattern) // the pattern is right
		files = append(files, some...)
	}
	b.Run("upload", chromedp.Navigate(s.url+"/intake"), chromedp.SetUploadFiles("#files", files), chromedp.Click("#upload"),
		webtest.Says("Remove the uploaded files"))
	return webtest.Value[string](b, "location.pathname")
}

// Each page, on a desk, a tablet and a phone, in light and in dark, has no finding of serious impact by axe-core, loads all
// that it names, writes no error to the console, and is no wider than its window. The list of routes says which pages there
// are. Where WANE_PAGES names a folder, the pages are kept there for a check of their HTML.
func TestPagesInABrowser(t *testing.T) {
	b := webtest.New(t)
	d := furnished(t)
	s := serve(t, d, web.Options{Guide: topicsOfTheGuide(t)})
	b.Missing(s.url + "/coupons/nobody")
	for i, address := range addresses(t, b, s, d) {
		name := fmt.Sprintf("%02d%s", i, strings.NewReplacer("/", "-", "%", "", "?", "-", ":", "-", "&", "-").Replace(address))
		for _, scheme := range []string{"light", "dark"} {
			b.Run(address, webtest.Look(1280, scheme), chromedp.Navigate(s.url+address))
			b.Run(address, webtest.Polled(`document.readyState === "complete" && !document.querySelector("[data-making]")`))
			for _, width := range []int64{1280, 820, 390} {
				b.Run(address, webtest.Look(width, scheme))
				b.Picture(fmt.Sprintf("%s-%d-%s", name, width, scheme))
				b.Check(fmt.Sprintf("%s, %d px, %s", address, width, scheme))
			}
		}
		text := webtest.Value[string](b, "fetch(location.href).then(answer => answer.text())")
		assert.Contains(t, text, "<!DOCTYPE html>")
		webtest.Keep(t, name, text)
	}
}
