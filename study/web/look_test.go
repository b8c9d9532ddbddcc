package web_test

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"net/http"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/web"
	"wane/study/web/webtest"
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
		`<span><bdi dir="ltr">no coupon is enrolled: it says what <a href="/enrol">wane enrol</a> takes</bdi></span>`)
	assert.Contains(t, s.get("/coatings/compare").body, `<a href="/enrol">wane enrol</a> exposures.csv`)
	s = serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	assert.Contains(t, s.get("/today").body, `<a id="next-step" href="/guide/map">`)
}

// corner is the mean lightness of the first 8 by 8 pixels of an element, from 0 to 255.
func corner(t *testing.T, b *webtest.Browser, what, selector string) (sum float64) {
	t.Helper()
	picture, err := png.Decode(bytes.NewReader(webtest.Got(b, what, chromedp.Screenshot(selector))))
	require.NoError(t, err, what)
	from := picture.Bounds().Min
	for x := range 8 {
		for y := range 8 {
			c := color.GrayModel.Convert(picture.At(from.X+x, from.Y+y)).(color.Gray)
			sum += float64(c.Y) / 64
		}
	}
	return sum
}

// On a dark page a figure is dark, whether the system or the person chose it, and on a phone it is narrow.
func TestFiguresFollowTheScheme(t *testing.T) {
	b := webtest.New(t)
	s := serve(t, evaluated(t), web.Options{})
	loaded := webtest.Polled(`document.querySelector("img.drawn")?.complete ?? false`)
	for _, at := range []struct {
		scheme, theme string
		dark          bool
	}{{"light", "", false}, {"dark", "", true}, {"light", "dark", true}, {"dark", "light", false}} {
		what := fmt.Sprintf("system %s, chosen %q", at.scheme, at.theme)
		b.Run(what, webtest.Look(820, at.scheme), chromedp.Navigate(s.url+madeUp+"/pulls"), loaded)
		webtest.Value[string](b, `document.documentElement.dataset.theme = "`+at.theme+`"`)
		lightness := corner(t, b, what, "img.drawn")
		assert.Equal(t, at.dark, lightness < 60, "%s: lightness %g", what, lightness)
		assert.Equal(t, !at.dark, lightness > 240, "%s: lightness %g", what, lightness)
	}
	b.Run("a narrow figure", webtest.Look(390, "light"), chromedp.Navigate(s.url+madeUp+"/pulls"), loaded,
		webtest.Polled(`document.querySelector("img.drawn").currentSrc.endsWith("as=phone")`))
}

// Curves have colours, dashes and marks, in the legend too: those of the figures that are files.
func TestLegendsHaveDashes(t *testing.T) {
	b := webtest.New(t)
	s := serve(t, evaluated(t), web.Options{})
	b.Run("spectra", webtest.Look(1280, "light"), chromedp.Navigate(s.url+madeUp+"/spectra"),
		webtest.Polled(`document.querySelectorAll(".u-legend .sample").length >= 2`))
	dashes := webtest.Value[[]string](b, `[...document.querySelectorAll(".u-legend .sample path:first-child")]
		.map(e => e.getAttribute("stroke") + " " + e.getAttribute("stroke-dasharray"))`)
	assert.Equal(t, []string{"#3C48B4 none", "#B48478 9 3"}, dashes[:2])
	marks := webtest.Value[[]string](b, `[...document.querySelectorAll(".u-legend .sample path:last-child")].map(e => e.getAttribute("d"))`)
	assert.NotEqual(t, marks[0], marks[1])
}

// On a phone the menu is closed until a person opens it, by keys.
func TestMenuOfAPhone(t *testing.T) {
	b := webtest.New(t)
	s := serve(t, newStudy(t), web.Options{})
	const open = `getComputedStyle(document.getElementById("menu")).display !== "none"`
	b.Run("the menu is closed", webtest.Look(390, "light"), chromedp.Navigate(s.url+"/today"), webtest.Polled("!("+open+")"))
	b.Run("and opens by keys", chromedp.Focus("#menu-button"), chromedp.KeyEvent(kb.Enter), webtest.Polled(open))
	b.Check("the open menu")
	b.Run("and closes by a key", chromedp.KeyEvent(kb.Escape), webtest.Polled("!("+open+")"))
}

// A person draws on a picture where the surface and the white sheet are, and sees what films can have the tint.
func TestAreasAreDrawnOnAPicture(t *testing.T) {
	b := webtest.New(t)
	s := serve(t, evaluated(t), web.Options{})
	folder := written(t, map[string]string{"roof.png": string(spotBesideSheet(color.NRGBA{61, 70, 120, 255}, color.NRGBA{230, 228, 221, 255}))})
	b.Run("the picture", webtest.Look(1280, "light"), chromedp.Navigate(s.url+"/tint?angles=8"), chromedp.WaitVisible("#picture-form"),
		chromedp.SetUploadFiles("#picture", []string{filepath.Join(folder, "roof.png")}), chromedp.WaitVisible("#marked"))
	b.Check("the picture")
	for _, of := range []struct {
		field string
		x, y  float64
	}{{"spot", 4, 4}, {"sheet-area", 44, 4}} {
		box := webtest.Value[[]float64](b, `(() => {
			const c = document.getElementById("marked");
			c.scrollIntoView({block: "center"});
			const box = c.getBoundingClientRect();
			return [box.x, box.y, box.width / c.width];
		})()`)
		at := func(dx, dy float64) (float64, float64) { return box[0] + (of.x+dx)*box[2], box[1] + (of.y+dy)*box[2] }
		x, y := at(0, 0)
		x2, y2 := at(30, 30)
		b.Run(of.field, chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft),
			chromedp.MouseEvent(chromedp.MouseMoved, x2, y2, chromedp.ButtonLeft), chromedp.MouseEvent(chromedp.MouseReleased, x2, y2, chromedp.ButtonLeft),
			webtest.Polled(`document.getElementById("`+of.field+`").value !== ""`))
	}
	areas := webtest.Value[string](b, `document.getElementById("spot").value + " " + document.getElementById("sheet-area").value`)
	assert.Regexp(t, `^[345],[345],(29|30|31),(29|30|31) (43|44|45),[345],(29|30|31),(29|30|31)$`, areas)
	b.Run("compare", chromedp.Click("#read-picture"), webtest.Says("Thicknesses that cannot be excluded"))
	b.Check("what it can come from")
}

// What happened to a coupon is on its page with the note and the picture that were stated.
func TestEventsOfACoupon(t *testing.T) {
	s := serve(t, newStudy(t, coupons, exposures, pulls), web.Options{})
	require.Equal(t, http.StatusSeeOther, s.post("/events?coupon=A01", "/events", "coupon", "A01", "event", "damage", "pull", "1",
		"date", "2031-02-01", "by", "Ines", "note", "a scratch <b>", "picture", "rack/scratch.jpg").StatusCode)
	assert.Contains(t, s.get("/coupons/A01").body, `<bdi dir="ltr">2031-02-01 damage at pull 1, Ines, a scratch &lt;b&gt;, picture rack/scratch.jpg</bdi>`)
}
