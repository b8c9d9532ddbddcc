// Package webtest is a browser for tests of the study pages.
package webtest

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Action is what a person does, or waits for.
type Action = chromedp.Action[chromedp.Void]

// Browser is headless Chromium with one tab, and what it complained of.
type Browser struct {
	t    testing.TB
	ctx  context.Context
	axe  string // axe-core, a library that finds faults of accessibility
	mu   sync.Mutex
	said []string

	missing string                // a complaint that is none
	noting  page.ScriptIdentifier // of what notes texts
}

// New starts Debian's Chromium. WANE_AXE is the file axe.min.js of the npm package axe-core. Under CI both must be there;
// elsewhere a test is skipped without them.
func New(t testing.TB) *Browser {
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
	b := &Browser{t: t, ctx: ctx, axe: string(axe)}
	require.NoError(t, chromedp.Listen(ctx, b.hear))
	require.NoError(t, chromedp.Do(ctx, called(network.Enable, network.EnableParams{}), called(runtime.Enable, cdp.Empty{}),
		called(cdplog.Enable, cdp.Empty{})))
	return b
}

// hear keeps what the browser complains of.
func (b *Browser) hear(event any) {
	said := ""
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		said = fmt.Sprint("exception: ", e.ExceptionDetails.Text, e.ExceptionDetails.Exception)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			said = fmt.Sprint("console: ", e.Args)
		}
	case *cdplog.EventEntryAdded:
		if e.Entry.Level == cdplog.EntryLevelError {
			said = e.Entry.URL + ": " + e.Entry.Text
		}
	case *network.EventLoadingFailed:
		if !e.Canceled {
			said = "not loaded: " + e.ErrorText
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if said != "" && said != b.missing {
		b.said = append(b.said, said)
	}
}

// Complaints are those since it was called last.
func (b *Browser) Complaints() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	said := b.said
	b.said = nil
	return said
}

// Missing says from now on that an address leads to no page, of which the browser complains.
func (b *Browser) Missing(address string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.missing = address + ": Failed to load resource: the server responded with a status of 404 (Not Found)"
}

// Run does what a person does, within a minute.
func (b *Browser) Run(what string, actions ...Action) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		require.NoError(b.t, err, "%s; the page says: %s", what, Value[string](b, "location + ' ' + document.body.innerText.slice(0, 3000)"))
	}
}

// Got is the value of an action, which must have one within a minute.
func Got[T any](b *Browser, what string, of chromedp.Action[T]) T {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, time.Minute)
	defer stop()
	value, err := chromedp.Run(ctx, of)
	require.NoError(b.t, err, what)
	return value
}

// Value is the value of an expression on the page that is shown, which may be a promise.
func Value[T any](b *Browser, expression string) T {
	b.t.Helper()
	return Got(b, expression[max(0, len(expression)-200):], chromedp.Evaluate[T](expression, func(p *runtime.EvaluateParams) {
		wait := true
		p.AwaitPromise = &wait
	}))
}

// called is a command of the protocol as an action.
func called[P, R any](command cdp.Command[P, R], of P) Action {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, command, of)
		return err
	})
}

// Polled waits until an expression is true, on this page or on one that it leads to: while a page goes, asking it fails.
func Polled(expression string) Action {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for {
			if is, err := chromedp.Evaluate[bool](expression)(ctx, t); err == nil && is {
				return nil
			}
			select {
			case <-ctx.Done():
				return fmt.Errorf("%s did not become true: %w", expression, ctx.Err())
			case <-time.After(20 * time.Millisecond):
			}
		}
	})
}

// Says waits until a page is loaded, with its scripts, and says a text. Where the page offers newer figures, it is loaded
// again by its link.
func Says(text string) Action {
	return Polled(fmt.Sprintf(`(() => {
		const newer = document.querySelector("[data-again]");
		if (document.readyState !== "complete") { return false; }
		if (document.querySelector("main").innerText.includes(%q)) { return true; }
		if (newer?.innerText.startsWith("Newer figures")) { newer.querySelector("a").click(); }
		return false;
	})()`, text))
}

// Reach presses the tabulator until an element has the focus, as who works without a mouse does.
func Reach(id string) Action {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		for range 200 {
			if _, err := chromedp.KeyEvent(kb.Tab)(ctx, t); err != nil {
				return err
			}
			if is, err := chromedp.Evaluate[string]("document.activeElement.id")(ctx, t); err != nil || is == id {
				return err
			}
		}
		return fmt.Errorf("the tabulator does not lead to %s", id)
	})
}

// Note notes each text that an element has, on whatever page, until [Browser.Noted] is called.
func (b *Browser) Note(selector string) {
	b.t.Helper()
	script := fmt.Sprintf(`addEventListener("DOMContentLoaded", () => {
		const of = document.querySelector(%q);
		if (!of) { return; }
		const note = () => sessionStorage.setItem("noted", JSON.stringify(
			JSON.parse(sessionStorage.getItem("noted") || "[]").concat(of.textContent)));
		note();
		new MutationObserver(note).observe(of, {childList: true, characterData: true, subtree: true});
	});`, selector)
	b.noting = Got(b, "note", func(ctx context.Context, t *chromedp.Target) (page.ScriptIdentifier, error) {
		added, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument,
			page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		return added.Identifier, err
	})
}

// Noted are the texts that were noted, in their order.
func (b *Browser) Noted() []string {
	b.t.Helper()
	b.Run("noted", called(page.RemoveScriptToEvaluateOnNewDocument,
		page.RemoveScriptToEvaluateOnNewDocumentParams{Identifier: b.noting}))
	return Value[[]string](b, `JSON.parse(sessionStorage.getItem("noted") || "[]")`)
}

// Look sets the size of the window and light or dark.
func Look(width int64, scheme string) Action {
	return chromedp.Steps(chromedp.EmulateViewport(width, 900), called(emulation.SetEmulatedMedia,
		emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}))
}

// Drop drags files from outside of the browser onto an element, and lets them go there.
func Drop(selector string, files []string) Action {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		at, err := chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => {
			const e = document.querySelector(%q);
			e.scrollIntoView({block: "center"});
			const box = e.getBoundingClientRect();
			return [box.x + box.width / 2, box.y + box.height / 2];
		})()`, selector))(ctx, t)
		if err != nil {
			return err
		}
		const copied = 1
		data := &input.DragData{Items: []*input.DragDataItem{}, Files: files, DragOperationsMask: copied}
		for _, kind := range []input.DispatchDragEventType{input.DispatchDragEventTypeDragEnter,
			input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop} {
			if _, err := cdp.Call(ctx, t, input.DispatchDragEvent,
				input.DispatchDragEventParams{Type: kind, X: at[0], Y: at[1], Data: data}); err != nil {
				return err
			}
		}
		return nil
	})
}

// audit is what axe-core finds of serious or critical impact, and whether the page is wider than its window.
const audit = `axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify({
	wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
	faults: r.violations.filter(v => v.impact === "serious" || v.impact === "critical")
		.map(v => v.id + ": " + v.nodes.map(n => n.html).slice(0, 3).join(" | "))}))`

// Check looks at the page that is shown: no complaint of the browser, no finding of axe-core of serious or critical impact,
// and no wider than its window.
func (b *Browser) Check(what string) {
	b.t.Helper()
	var found struct {
		Wide   float64
		Faults []string
	}
	require.NoError(b.t, json.Unmarshal([]byte(Value[string](b, b.axe+";"+audit)), &found))
	assert.Empty(b.t, found.Faults, what)
	assert.LessOrEqual(b.t, found.Wide, 0., "%s: the page is wider than its window", what)
	assert.Empty(b.t, b.Complaints(), what)
}

// Picture keeps a picture of the page that is shown, where WANE_SHOTS names a folder.
func (b *Browser) Picture(name string) {
	b.t.Helper()
	if folder := os.Getenv("WANE_SHOTS"); folder != "" {
		picture := Got(b, name, chromedp.FullScreenshot(100))
		require.NoError(b.t, os.WriteFile(filepath.Join(folder, name+".png"), picture, 0o600))
	}
}

// Keep keeps a page for a check of its HTML, where WANE_PAGES names a folder.
func Keep(t *testing.T, name, text string) {
	t.Helper()
	if folder := os.Getenv("WANE_PAGES"); folder != "" {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name+".html"), []byte(text), 0o600))
	}
}
