package web_test

import (
	"cmp"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/web"
	"wane/study/web/webtest"
)

// benchServed serves the study of WANE_BENCH_FILE, else the small one of the tests, and waits until what pages show of the
// whole study is made. WANE_BENCH_COUPON is the coupon whose pages are asked for.
func benchServed(b *testing.B) (s *served, pages []string) {
	b.Helper()
	var d *desk.Desk
	coupon := "A%3Cb%3E1"
	if path := os.Getenv("WANE_BENCH_FILE"); path != "" {
		var err error
		d, err = desk.OpenToRead(b.Context(), path, desk.Person{Name: "Ines", Now: day})
		require.NoError(b, err)
		b.Cleanup(func() { require.NoError(b, d.Close()) })
		coupon = cmp.Or(os.Getenv("WANE_BENCH_COUPON"), "P000031")
	} else {
		d = evaluated(b)
	}
	s = serve(b, d, web.Options{Guide: []web.Topic{{Name: "words", Text: "# Words\n"}}})
	of := "/coupons/" + coupon
	pages = []string{"/today", "/coupons", "/coupons?part=50", of, of + "/spectra", of + "/spectra.json?spot=1&angle=8&thin=700",
		of + "/structure", of + "/material", of + "/fit", of + "/pulls.svg", of + "/fit.svg", of + "/sunlight.svg", of + "/budget.svg",
		of + ".json", "/coatings", "/coatings.svg", "/coatings/compare", "/rules", "/sessions", "/judge", "/intake", "/enrol", "/measure",
		"/events", "/fit", "/move", "/amend", "/report", "/log", "/guide", "/name"}
	for _, page := range pages {
		for r := s.get(page); r.Header.Get("Wane-Up-To") != "" || r.StatusCode == 503; r = s.get(page) {
			time.Sleep(200 * time.Millisecond)
		}
	}
	return s, pages
}

// BenchmarkPages asks for each page, and for the files that pages show, once what is kept of the whole study is made:
//
//	WANE_BENCH_FILE=/tmp/kept.wane go test ./study/web -run '^$' -bench Pages -benchtime 20x
//
// BenchmarkKeeping of study/desk makes such a study of 10,000 coupons.
func BenchmarkPages(b *testing.B) {
	s, pages := benchServed(b)
	for _, page := range pages {
		b.Run(strings.TrimPrefix(page, "/"), func(b *testing.B) {
			s.visits.take()
			for b.Loop() {
				r := s.get(page)
				require.Equal(b, 200, r.StatusCode)
			}
			all := s.visits.take()
			slices.SortFunc(all, func(x, y web.Visit) int { return cmp.Compare(x.Took, y.Took) })
			b.ReportMetric(all[len(all)/2].Took.Seconds()*1e3, "ms-server")
			b.ReportMetric(float64(all[0].Bytes)/1e3, "kB")
		})
	}
}

// BenchmarkFirstPaint says when Chromium first paints a page, from the begin of the navigation, by its PerformancePaintTiming.
// The files of the pages are in its cache.
func BenchmarkFirstPaint(b *testing.B) {
	s, pages := benchServed(b)
	const painted = `(performance.getEntriesByType("paint")[0] || {startTime: 0}).startTime`
	browser := webtest.New(b)
	for _, page := range pages {
		if strings.Contains(page, ".svg") || strings.Contains(page, ".json") {
			continue
		}
		b.Run(strings.TrimPrefix(page, "/"), func(b *testing.B) {
			var paints []float64
			for b.Loop() {
				browser.Run(page, chromedp.Navigate(s.url+page), webtest.Polled(painted+" > 0"))
				paints = append(paints, webtest.Value[float64](browser, painted))
			}
			slices.Sort(paints)
			b.ReportMetric(paints[len(paints)/2], "ms-first-paint")
			b.ReportMetric(paints[len(paints)-1], "ms-most")
		})
	}
}
