package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study/desk"
	"wane/study/web"
)

// browser is headless Chromium with what it complained of.
type browser struct {
	t    *testing.T
	ctx  context.Context
	axe  string // axe-core, a library that finds faults of accessibility
	mu   sync.Mutex
	said []string
}

// newBrowser starts Debian's Chromium. WANE_AXE is the file axe.min.js of the npm package axe-core. Under CI both must
// be there; elsewhere a test is skipped without them.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	axe, err := os.ReadFile(os.Getenv("WANE_AXE"))
	if err != nil && os.Getenv("CI") == "" {
		t.Skip("WANE_AXE does not name axe.min.js of the npm package axe-core, with which pages are checked in a browser")
	}
	require.NoError(t, err)
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.WSURLReadTimeout(time.Minute))
	allocator, stop := chromedp.NewExecAllocator(t.Context(), options...)
	ctx, end := chromedp.NewContext(allocator)
	t.Cleanup(func() { end(); stop() })
	b := &browser{t: t, ctx: ctx, axe: string(axe)}
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.complain(fmt.Sprint("exception: ", e.ExceptionDetails.Text, e.ExceptionDetails.Exception))
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
				b.complain(fmt.Sprint("console: ", e.Args))
			}
		case *cdplog.EventEntryAdded:
			if e.Entry.Level == cdplog.EntryLevelError {
				b.complain(e.Entry.URL + ": " + e.Entry.Text)
			}
		case *network.EventLoadingFailed:
			if !e.Canceled {
				b.complain("not loaded: " + e.ErrorText)
			}
		}
	}))
	require.NoError(t, chromedp.Do(ctx, called(network.Enable, network.EnableParams{}), called(runtime.Enable, cdp.Empty{}),
		called(cdplog.Enable, cdp.Empty{})))
	return b
}

// called is a command of the protocol as an action.
func called[P, R any](command cdp.Command[P, R], of P) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, command, of)
		return err
	})
}

func (b *browser) complain(of string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.said = append(b.said, of)
}

// complaints are those since it was called last.
func (b *browser) complaints() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	said := b.said
	b.said = nil
	return said
}

// run does what a person does, within a minute.
func (b *browser) run(what string, actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	require.NoError(b.t, chromedp.Do(ctx, actions...), what)
}

// polled waits until an expression is true, on this page or on one that it leads to: while a page goes, asking it fails.
func polled(expression string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for {
			if is, err := chromedp.Evaluate[bool](expression)(ctx, t); err == nil && is {
				return nil
			}
			select {
			case <-ctx.Done():
				return fmt.Errorf("%s did not become true: %w", expression, ctx.Err())
			case <-time.After(100 * time.Millisecond):
			}
		}
	})
}

// look sets the size of the window and light or dark.
func look(width int64, scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Steps(chromedp.EmulateViewport(width, 900), called(emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}))
}

// audit is what axe-core finds of serious or critical impact, and whether the page is wider than its window.
const audit = `axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify({
	wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
	faults: r.violations.filter(v => v.impact === "serious" || v.impact === "critical")
		.map(v => v.id + ": " + v.nodes.map(n => n.html).slice(0, 3).join(" | "))}))`

// check looks at the page that is shown.
func (b *browser) check(what string) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](b.axe+";"+audit, func(p *runtime.EvaluateParams) {
		wait := true
		p.AwaitPromise = &wait
	}))
	require.NoError(b.t, err, what)
	var found struct {
		Wide   float64
		Faults []string
	}
	require.NoError(b.t, json.Unmarshal([]byte(text), &found))
	assert.Empty(b.t, found.Faults, what)
	assert.LessOrEqual(b.t, found.Wide, 0., "%s: the page is wider than its window", what)
	assert.Empty(b.t, b.complaints(), what)
}

// Each page, on a desk and a tablet in light and on a phone in dark, has no finding of serious impact by axe-core, loads all
// that it names, writes no error to the console, and is no wider than its window. Where WANE_PAGES names a folder, the
// pages are kept there for a check of their HTML.
func TestPagesInABrowser(t *testing.T) {
	b := newBrowser(t)
	s := serve(t, evaluated(t), web.Options{})
	const coupon = "/coupons/A%3Cb%3E1"
	pages := []string{"/today", "/coupons", coupon, coupon + "/spectra", coupon + "/structure", coupon + "/material", "/coatings",
		"/coatings/compare", "/rules", "/enrol", "/measure", "/events", "/intake", "/judge", "/fit", "/move", "/amend", "/report",
		"/sessions", "/log", "/guide", "/name"}
	for _, figure := range []string{"pulls", "fit", "sunlight", "budget"} {
		pages = append(pages, coupon+"/"+figure, "/coupons/A02/"+figure) // A02 has no results
	}
	folder := os.Getenv("WANE_PAGES")
	for _, page := range pages {
		for i, at := range []struct {
			width  int64
			scheme string
		}{{1280, "light"}, {390, "dark"}, {820, "light"}} {
			b.run(page, look(at.width, at.scheme), chromedp.Navigate(s.url+page))
			b.check(fmt.Sprintf("%s, %d px, %s", page, at.width, at.scheme))
			if shots := os.Getenv("WANE_SHOTS"); shots != "" {
				picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
				require.NoError(t, err)
				name := fmt.Sprintf("%s-%d-%s.png", strings.NewReplacer("/", "-", "%", "").Replace(page[1:]), at.width, at.scheme)
				require.NoError(t, os.WriteFile(filepath.Join(shots, name), picture, 0o600))
			}
			if folder != "" && i == 0 {
				name := strings.NewReplacer("/", "-", "%", "").Replace(page[1:]) + ".html"
				require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(s.get(page).body), 0o600))
			}
		}
	}
}

// The journey of a laboratory by clicks and keys: from an empty study over rosters, exports, a reading that is judged, a spot
// that was named wrongly and is moved, and fits, to a report, in whose place a short page stands: the command makes it.
func TestJourneyInABrowser(t *testing.T) {
	b := newBrowser(t)
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
	says := func(text string) chromedp.Action[chromedp.Void] {
		return polled(fmt.Sprintf("document.querySelector('main')?.innerText.includes(%q) ?? false", text))
	}
	b.run("the empty study", look(1280, "light"), chromedp.Navigate(s.url+"/today"), chromedp.WaitVisible("main"))
	b.check("the empty study")

	b.run("rosters", chromedp.Click(`nav a[href="/enrol"]`), chromedp.WaitVisible("#enrol-form"),
		chromedp.SetUploadFiles("#files", files), chromedp.Click("#enrol"), says("enrolled: "))
	b.check("rosters")

	b.run("exports", chromedp.Navigate(s.url+"/intake"), chromedp.WaitVisible("#upload-form"),
		chromedp.SetUploadFiles("#files", []string{filepath.Join(exports, "map.csv"), filepath.Join(exports, "exports", "a.csv"),
			filepath.Join(exports, "exports", "b.csv")}),
		chromedp.Click("#upload"), chromedp.WaitVisible("#take"), says("would be held"))
	b.check("what would happen")
	b.run("take in", chromedp.Click("#take"), says("taken in: "))
	b.check("taken in")

	b.run("judge by keys", chromedp.Navigate(s.url+"/judge"), chromedp.Click(`main a[href^="/judge/"]`),
		chromedp.WaitVisible("#judge-form"))
	b.check("a held reading")
	b.run("a reason, and the key for setting aside", chromedp.SendKeys("#why", "the lamp was off"+kb.Escape),
		chromedp.KeyEvent("s"), polled(`!document.querySelector("#why") || document.querySelector("#why").value === ""`))
	b.run("the log says why", chromedp.Navigate(s.url+"/log"), says("the lamp was off"))

	b.run("the mishap", chromedp.Navigate(s.url+"/move"), chromedp.SendKeys("#numbers", "1"), chromedp.SendKeys("#to-spot", "2"),
		chromedp.SendKeys("#why", "it was the second spot"), chromedp.Click("#preview-move"), chromedp.WaitVisible("#confirm-form"))
	b.check("what the move would do")
	b.run("the move", chromedp.Click("#confirm"), chromedp.WaitNotPresent("#confirm-form"))
	b.run("the log says why", chromedp.Navigate(s.url+"/log"), says("it was the second spot"))

	b.run("fit", chromedp.Navigate(s.url+"/fit"), chromedp.Click("#fit"), says("evaluated: "))
	b.check("fitted")
	b.run("report", chromedp.Navigate(s.url+"/report"), chromedp.Click("#make-report"), polled(`document.querySelector("#open-report") !== null`))
	b.check("the report is made")
	b.run("the report", chromedp.Click("#open-report"), polled(`document.title === "by coating"`))
}
