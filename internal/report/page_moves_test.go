package report

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The map moves and changes its scale by mouse, wheel, two fingers, keys and buttons.
func TestMapMoves(t *testing.T) {
	file := pageFile(t)
	b := open(t, file, 1280, "light")
	js[bool](b, `document.querySelector("svg.map").scrollIntoView({block: "center"}), true`)
	centre := js[[]float64](b, `(() => { const r = document.querySelector("svg.map").getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2, r.width]; })()`)
	x0, y0, k0 := b.view()
	click := func(name string) {
		js[bool](b, fmt.Sprintf(`document.querySelector("[data-map=%s]").click(), true`, name))
	}
	for range 4 { // so that there is room on all sides
		click("in")
	}
	x1, y1, k1 := b.view()
	assert.InDelta(t, k0*1.5*1.5*1.5*1.5, k1, k1*1e-3)
	assert.InDelta(t, x0, x1, 1)
	assert.InDelta(t, y0, y1, 1)

	// The map goes where the mouse drags it, to a pixel.
	require.NoError(t, chromedp.Do(b.ctx, chromedp.DragAndDropXY(centre[0], centre[1], centre[0]-60, centre[1]+40, 6)))
	x2, y2, k2 := b.view()
	unit := 1000 / centre[2] / k1 // chart units in a pixel
	assert.InDelta(t, x1+60*unit, x2, 1.5*unit)
	assert.InDelta(t, y1-40*unit, y2, 1.5*unit)
	assert.Equal(t, k1, k2)

	for _, c := range []struct {
		key    string
		dx, dy float64
		times  float64
	}{{"ArrowRight", 1, 0, 1}, {"ArrowLeft", -1, 0, 1}, {"ArrowDown", 0, 1, 1}, {"ArrowUp", 0, -1, 1}, {"+", 0, 0, 1.5}, {"-", 0, 0, 1 / 1.5}} {
		xa, ya, ka := b.view()
		js[bool](b, `document.querySelector("svg.map").focus(), true`)
		press(b, c.key)
		xb, yb, kb := b.view()
		assert.InDelta(t, xa+c.dx*0.2*1000/ka, xb, 1, c.key)
		assert.InDelta(t, ya+c.dy*0.2*900/ka, yb, 1, c.key)
		assert.InDelta(t, ka*c.times, kb, kb*1e-3, c.key)
	}

	// A wheel leaves the place under it where it is.
	_, err := chromedp.Call(b.ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: centre[0] + 100, Y: centre[1], DeltaX: 0.001, DeltaY: -100})
	require.NoError(t, err)
	require.Eventually(t, func() bool { _, _, k := b.view(); return k > k2*1.1 }, time.Minute, 50*time.Millisecond)
	x3, _, k3 := b.view()
	offset := 100 * 1000 / centre[2]
	assert.InDelta(t, x2+offset/k2, x3+offset/k3, 2*unit)

	// Two fingers that part by half as much again.
	first, second := 1.0, 2.0
	touch := func(kind input.DispatchTouchEventType, apart float64) {
		points := []*input.TouchPoint{}
		if apart > 0 {
			points = append(points, &input.TouchPoint{X: centre[0] - apart, Y: centre[1], ID: &first}, &input.TouchPoint{X: centre[0] + apart, Y: centre[1], ID: &second})
		}
		_, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
		require.NoError(t, err)
	}
	on := true
	_, err = chromedp.Call(b.ctx, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: on})
	require.NoError(t, err)
	_, _, before := b.view()
	touch(input.DispatchTouchEventTypeTouchStart, 60)
	for _, apart := range []float64{66, 72, 78, 84, 90} {
		touch(input.DispatchTouchEventTypeTouchMove, apart)
	}
	touch(input.DispatchTouchEventTypeTouchEnd, 0)
	_, _, after := b.view()
	assert.InDelta(t, before*1.5, after, before*0.03)

	click("whole")
	xw, yw, kw := b.view()
	assert.InDeltaSlice(t, []float64{x0, y0, k0 * 1000}, []float64{xw, yw, kw * 1000}, 1)
	click("landing")
	_, _, kl := b.view()
	assert.Greater(t, kl, kw)
	for range 30 { // it never leaves the chart
		click("left")
		click("out")
	}
	xe, ye, ke := b.view()
	assert.InDeltaSlice(t, []float64{20000, 18000, 25}, []float64{xe, ye, ke * 1000}, 1)
	b.quiet(file)
}

// press presses one key.
func press(b *browser, key string) {
	b.t.Helper()
	codes := map[string]int64{"ArrowLeft": 37, "ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40, "Tab": 9}
	words := ""
	if len(key) == 1 {
		words = key
	}
	for _, kind := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeKeyDown, input.DispatchKeyEventTypeKeyUp} {
		p := input.DispatchKeyEventParams{Type: kind, Key: key, WindowsVirtualKeyCode: codes[key]}
		if kind == input.DispatchKeyEventTypeKeyDown {
			p.Text = words
		}
		_, err := chromedp.Call(b.ctx, input.DispatchKeyEvent, p)
		require.NoError(b.t, err)
	}
	b.settle()
}
