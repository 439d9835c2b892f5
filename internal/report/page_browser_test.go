package report

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
)

// browser is a tab of a real browser, cut off from every network.
type browser struct {
	t       *testing.T
	ctx     context.Context //nolint:containedctx // of the one tab
	mutex   sync.Mutex
	console []string
	asked   []string // URLs
}

// open opens a page that is in a file, in a new tab so many pixels wide.
func open(t *testing.T, file string, width int64, scheme string) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("left out: the page in a real browser, for want of Debian's chromium")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, // root has no sandbox
		chromedp.WSURLReadTimeout(time.Minute), // a machine under load is slow to start it
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, stop = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(stop)
	b := &browser{t: t, ctx: ctx}
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 800)))
	messages, requests := chromedp.Console(ctx), chromedp.Events(ctx, network.RequestWillBeSent)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			b.mutex.Lock()
			b.console = append(b.console, m.String())
			b.mutex.Unlock()
		}
	}()
	go func() {
		for m, err := range requests {
			if err != nil {
				return
			}
			b.mutex.Lock()
			b.asked = append(b.asked, m.Request.URL)
			b.mutex.Unlock()
		}
	}()
	_, err = chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file)))
	b.settle()
	return b
}

// settle waits until what was asked of the page has been drawn.
func (b *browser) settle() {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
}

// js is the value of an expression.
func js[T any](b *browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	require.NoError(b.t, err, expression)
	return v
}

// view is the map's: the middle in chart units, and its scale.
func (b *browser) view() (x, y, k float64) {
	b.t.Helper()
	b.settle()
	parts := strings.Fields(js[string](b, `document.querySelector("svg.map").dataset.view`))
	require.Len(b.t, parts, 3)
	for i, to := range []*float64{&x, &y, &k} {
		v, err := strconv.ParseFloat(parts[i], 64)
		require.NoError(b.t, err)
		*to = v
	}
	return x, y, k
}

// quiet fails where the page has written to the console, or asked for more than its
// own file and the empty icon in it.
func (b *browser) quiet(file string) {
	b.t.Helper()
	b.mutex.Lock()
	defer b.mutex.Unlock()
	assert.Empty(b.t, b.console)
	for _, url := range b.asked {
		assert.True(b.t, url == "file://"+file || url == "data:,", "asked for %s", url)
	}
	assert.NotEmpty(b.t, b.asked)
}

// pageFile writes a page that a browser can open.
func pageFile(t *testing.T) string {
	t.Helper()
	p := weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "Spring flight")
	file := filepath.Join(t.TempDir(), "index.html")
	f, err := os.Create(file) //nolint:gosec // a test's own
	require.NoError(t, err)
	require.NoError(t, WritePage(f, p, quantity.SI))
	require.NoError(t, f.Close())
	return file
}

// clashes are words on a page that lie on one another, go beyond the window, or
// are cut off by what they stand in. Words of tables that are scrolled are left out,
// and launch times may be beyond the window, as their row is scrolled, too.
const clashes = `(() => {
  const bad = [], boxes = [];
  if (document.documentElement.scrollWidth > innerWidth) bad.push("the page is " + document.documentElement.scrollWidth + " wide");
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = walk.nextNode());) {
    const in_ = node.parentElement;
    if (!node.data.trim() || in_.closest("script, desc, [hidden], .unseen, .skip, .wide")) continue;
    const style = getComputedStyle(in_);
    if (style.visibility === "hidden" || !in_.checkVisibility()) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const r of range.getClientRects()) {
      if (r.width < 1 || r.height < 1) continue;
      // Of a line only where its letters are: lines may be set closer than fonts are high.
      const inset = r.height * 0.2;
      boxes.push({ node, words: node.data.trim().slice(0, 40), left: r.left, right: r.right, top: r.top + inset, bottom: r.bottom - inset });
      if (!in_.closest(".tiles") && (r.left < 0 || r.right > innerWidth + 0.5)) bad.push("beyond the window: " + node.data.trim().slice(0, 40));
      const svg = in_.closest("svg");
      if (svg) {
        const frame = svg.getBoundingClientRect();
        if (r.left < frame.left - 1 || r.right > frame.right + 1 || r.top < frame.top - 4 || r.bottom > frame.bottom + 4) bad.push("cut off: " + node.data.trim());
      }
    }
  }
  boxes.sort((a, b) => a.top - b.top);
  for (let i = 0; i < boxes.length; i++) {
    for (let j = i + 1; j < boxes.length && boxes[j].top < boxes[i].bottom; j++) {
      const a = boxes[i], b = boxes[j];
      if (a.node !== b.node && Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1)
        bad.push(a.words + " on " + b.words);
    }
  }
  bad.push("seen: " + boxes.length);
  return bad;
})()`

// On a phone and on a laptop, in light and in dark, with each launch time chosen,
// nothing lies on anything else or goes beyond the window.
func TestPageFitsItsWindow(t *testing.T) {
	file := pageFile(t)
	for _, width := range []int64{320, 360, 768, 1280} {
		for _, scheme := range []string{"light", "dark"} {
			t.Run(fmt.Sprintf("%d %s", width, scheme), func(t *testing.T) {
				b := open(t, file, width, scheme)
				for _, number := range []int{0, 2, 10, 11} {
					js[bool](b, fmt.Sprintf(`document.querySelector("input[value='%d']").click(), true`, number))
					b.settle()
					found := js[[]string](b, clashes)
					assert.Len(t, found, 1, "launch time %d", number)
					seen, err := strconv.Atoi(strings.TrimPrefix(found[len(found)-1], "seen: "))
					require.NoError(t, err)
					assert.Greater(t, seen, 150)
				}
				want := map[string]string{"light": "rgb(255, 255, 255)", "dark": "rgb(16, 19, 22)"}[scheme]
				assert.Equal(t, want, js[string](b, `getComputedStyle(document.documentElement).backgroundColor`))
				b.quiet(file)
			})
		}
	}
}

// The light that the reader chooses is the page's, whatever the device's is.
func TestPageLightIsChosen(t *testing.T) {
	b := open(t, pageFile(t), 360, "dark")
	var seen []string
	for range 3 {
		js[bool](b, `document.querySelector("[data-do=theme]").click(), true`)
		seen = append(seen, js[string](b, `getComputedStyle(document.documentElement).backgroundColor`))
	}
	assert.Equal(t, []string{"rgb(255, 255, 255)", "rgb(16, 19, 22)", "rgb(16, 19, 22)"}, seen)
}

// Every control is reached by the keyboard, in the order of the page, and shows that
// it has the focus (WCAG 2.2, 2.1.1, 2.4.7); launch times are chosen with the arrows.
func TestKeyboardReachesEverything(t *testing.T) {
	file := pageFile(t)
	b := open(t, file, 1280, "light")
	const name = `(() => { const e = document.activeElement; return e === document.body ? "" : e.dataset.reached = (e.dataset.reached || String(++window.reached)); })()`
	js[int](b, `window.reached = 0`)
	for range 200 {
		press(b, "Tab")
		if js[string](b, name) == "" {
			break
		}
		outline := js[string](b, `(() => { const e = document.activeElement, o = getComputedStyle(e); return o.outlineStyle + " " + o.outlineWidth + " " + e.outerHTML.slice(0, 60); })()`)
		assert.True(t, strings.HasPrefix(outline, "solid 3px"), "focus of %s", outline)
	}
	missed := js[[]string](b, `[...document.querySelectorAll("a[href], button, summary, [tabindex='0'], input:checked")]
		.filter((e) => e.checkVisibility() && !e.dataset.reached).map((e) => e.outerHTML.slice(0, 80))`)
	assert.Empty(t, missed)
	assert.Greater(t, js[int](b, `window.reached`), 15)
	for _, query := range []string{".skip", "[data-do=theme]", "[data-do=print]", "input:checked", "svg.map", "[data-map=in]", "[data-map=landing]", ".week summary", ".crew .wide"} {
		assert.True(t, js[bool](b, fmt.Sprintf(`[...document.querySelectorAll(%q)].some((e) => e.dataset.reached)`, query)), "%s is reached", query)
	}
	ordered := js[bool](b, `(() => { const all = [...document.querySelectorAll("[data-reached]")].map((e) => +e.dataset.reached); return all.every((n, i) => i === 0 || n > all[i - 1]); })()`)
	assert.True(t, ordered, "in the order of the page")

	js[bool](b, `document.querySelector("input:checked").focus(), true`)
	press(b, "ArrowRight")
	assert.Equal(t, "1", js[string](b, `document.querySelector("input:checked").value`))
	shown := js[[]string](b, `[...new Set([...document.querySelectorAll("[data-window]")].filter((e) => getComputedStyle(e).display !== "none").map((e) => e.dataset.window))]`)
	assert.Equal(t, []string{"1"}, shown)
	assert.Contains(t, js[string](b, `document.querySelector("[data-said]").textContent`), "Shown: Wednesday 22 March 11:00, marginal, score 6")
	b.quiet(file)
}

// What is pressed is large enough for a finger (WCAG 2.2, 2.5.8: 24 px; 44 wanted here).
func TestControlsAreLarge(t *testing.T) {
	b := open(t, pageFile(t), 360, "light")
	small := js[[]string](b, `[...document.querySelectorAll("button, summary, .tile")].filter((e) => e.checkVisibility())
		.filter((e) => { const r = e.getBoundingClientRect(); return r.width < 43.9 || r.height < 43.9; }).map((e) => e.outerHTML.slice(0, 80))`)
	assert.Empty(t, small)
}

// Whatever is slipped into the page, the policy lets it ask no host, and run nothing.
func TestPolicyHolds(t *testing.T) {
	var hits atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { hits.Add(1) }))
	defer server.Close()
	b := open(t, pageFile(t), 1280, "light")
	address, err := json.Marshal(server.URL)
	require.NoError(t, err)
	broken := js[int](b, fmt.Sprintf(`(() => {
		window.broken = 0;
		document.addEventListener("securitypolicyviolation", () => window.broken++);
		document.body.insertAdjacentHTML("beforeend", "<img src='" + %[1]s + "/a.png'><link rel=stylesheet href='" + %[1]s + "/a.css'><iframe src='" + %[1]s + "/'></iframe><p id=p style='color:red' onclick='window.ran=1'>x</p>");
		const script = document.createElement("script");
		script.textContent = "window.ran = 1";
		document.body.append(script);
		fetch(%[1]s).catch(() => 0);
		document.getElementById("p").click();
		return 1;
	})()`, address))
	assert.Equal(t, 1, broken)
	require.Eventually(t, func() bool { return js[int](b, `window.broken`) >= 7 }, time.Minute, 100*time.Millisecond)
	assert.True(t, js[bool](b, `window.ran === undefined`))
	assert.Zero(t, hits.Load())
}

// On paper the page is dark on white, without what only a screen can do; the crew's
// sheet is printed alone when it is asked for.
func TestPagePrints(t *testing.T) {
	b := open(t, pageFile(t), 1280, "dark")
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: "print", Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}},
	})
	require.NoError(t, err)
	assert.Equal(t, "rgb(255, 255, 255)", js[string](b, `getComputedStyle(document.documentElement).backgroundColor`))
	visible := func(query string) bool {
		return js[bool](b, fmt.Sprintf(`[...document.querySelectorAll(%q)].some((e) => e.checkVisibility())`, query))
	}
	for query, want := range map[string]bool{"header": true, ".map": true, ".crew": true, ".cautions": true, "button": false, ".tile": false} {
		assert.Equal(t, want, visible(query), query)
	}
	js[bool](b, `window.print = () => { window.printed = document.documentElement.dataset.print; }, document.querySelector("[data-do=print]").click(), true`)
	assert.Equal(t, "crew", js[string](b, `window.printed`))
	for query, want := range map[string]bool{"header": false, ".map": false, ".crew": true, ".cautions": true} {
		assert.Equal(t, want, visible(query), "crew's sheet: %s", query)
	}
	js[bool](b, `dispatchEvent(new Event("afterprint")), true`)
	assert.True(t, visible(".map"))
	paper, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(paper), "%PDF"))
}
