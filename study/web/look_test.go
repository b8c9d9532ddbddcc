package web_test

import (
	"bytes"
	"image/png"
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
)

const madeUp = "/coupons/A%3Cb%3E1"

// A figure that a page names is drawn for wide and for narrow windows, with its own style for dark ones; the file that a
// person keeps is another one.
func TestFiguresThatPagesName(t *testing.T) {
	s := serve(t, evaluated(t), web.Options{})
	page := s.get(madeUp + "/pulls").body
	assert.Contains(t, page, `<source media="(max-width: 40rem)" srcset="`+madeUp+`/pulls.svg?as=phone">`)
	assert.Contains(t, page, `src="`+madeUp+`/pulls.svg?as=page"`)
	wide, narrow, file := s.get(madeUp+"/pulls.svg?as=page"), s.get(madeUp+"/pulls.svg?as=phone"), s.get(madeUp+"/pulls.svg")
	for _, got := range []answered{wide, narrow} {
		assert.Equal(t, http.StatusOK, got.StatusCode)
		assert.Contains(t, got.body, "prefers-color-scheme:dark")
		assert.Equal(t, "image/svg+xml", got.Header.Get("Content-Type"))
	}
	assert.Contains(t, wide.body, `viewBox="0 0 640 `)
	assert.Contains(t, narrow.body, `viewBox="0 0 276 `)
	assert.NotContains(t, file.body, "prefers-color-scheme")
}

// What is to be done next is a link to the page that does it, as are commands in what a page advises.
func TestNextStepsAreLinks(t *testing.T) {
	s := serve(t, newStudy(t), web.Options{})
	assert.Contains(t, s.get("/today").body, `<a id="next-step" href="/guide/rosters">Guide: rosters</a> `+
		`<span><bdi>no coupon is enrolled: it says what <a href="/enrol">wane enrol</a> takes</bdi></span>`)
	assert.Contains(t, s.get("/coatings/compare").body, `<a href="/enrol">wane enrol</a> exposures.csv`)
	s = serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	assert.Contains(t, s.get("/today").body, `<a id="next-step" href="/guide/map">`)
}

// corner takes a picture of an element, and returns the mean lightness of its first 8 by 8 pixels, from 0 to 255.
func (b *browser) corner(what, selector string) (sum float64) {
	b.t.Helper()
	taken, err := chromedp.Run(b.ctx, chromedp.Screenshot(selector))
	require.NoError(b.t, err, what)
	picture, err := png.Decode(bytes.NewReader(taken))
	require.NoError(b.t, err, what)
	from := picture.Bounds().Min
	for x := range 8 {
		for y := range 8 {
			r, g, bl, _ := picture.At(from.X+x, from.Y+y).RGBA()
			sum += float64(r>>8+g>>8+bl>>8) / 3 / 64
		}
	}
	return sum
}

// On a dark page a figure is dark, whether the system or the person chose it; curves have dashes and marks, in the legend
// too; and on a phone the menu is closed until a person opens it, by keys.
func TestLooksInABrowser(t *testing.T) {
	b := newBrowser(t)
	s := serve(t, evaluated(t), web.Options{})
	loaded := polled(`document.querySelector("img.drawn")?.complete ?? false`)
	for _, at := range []struct {
		scheme, theme string
		dark          bool
	}{{"light", "", false}, {"dark", "", true}, {"light", "dark", true}, {"dark", "light", false}} {
		b.run(at.scheme+at.theme, look(820, at.scheme), chromedp.Navigate(s.url+madeUp+"/pulls"), loaded)
		_, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`(document.documentElement.dataset.theme = "`+at.theme+`", true)`))
		require.NoError(t, err)
		lightness := b.corner(at.scheme+at.theme, "img.drawn")
		assert.Equal(t, at.dark, lightness < 60, "%v: lightness %g", at, lightness)
		assert.Equal(t, !at.dark, lightness > 240, "%v: lightness %g", at, lightness)
	}
	b.run("a narrow figure", look(390, "light"), chromedp.Navigate(s.url+madeUp+"/pulls"), loaded,
		polled(`document.querySelector("img.drawn").currentSrc.endsWith("as=phone")`))

	b.run("spectra", look(1280, "light"), chromedp.Navigate(s.url+madeUp+"/spectra"),
		polled(`document.querySelectorAll(".u-legend .sample").length >= 2`))
	dashes, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll(".u-legend .sample path:first-child")]
		.map(e => e.getAttribute("stroke") + " " + e.getAttribute("stroke-dasharray"))`))
	require.NoError(t, err)
	assert.Equal(t, []string{"#3C48B4 none", "#B48478 9 3"}, dashes[:2], "the styles of the figures that are files")

	const open = `getComputedStyle(document.getElementById("menu")).display !== "none"`
	b.run("the menu is closed", look(390, "light"), chromedp.Navigate(s.url+"/today"), polled("!("+open+")"))
	b.run("and opens by keys", chromedp.Focus("#menu-button"), chromedp.KeyEvent(kb.Enter), polled(open))
	b.check("the open menu")
	b.run("and closes by a key", chromedp.KeyEvent(kb.Escape), polled("!("+open+")"))
}
