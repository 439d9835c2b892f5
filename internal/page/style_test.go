package page

import (
	"crypto/sha256"
	"encoding/base64"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// colour is a colour of sRGB, each part 0 to 1.
type colour [3]float64

func parseColour(t *testing.T, hex string) (c colour) {
	t.Helper()
	for i := range c {
		v, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err, hex)
		c[i] = float64(v) / 255
	}
	return c
}

// luminance is the relative luminance of Web Content Accessibility Guidelines 2.2
// (W3C, 2023), definition "relative luminance".
func (c colour) luminance() float64 {
	sum := 0.0
	for i, weight := range [...]float64{0.2126, 0.7152, 0.0722} {
		v := c[i] / 12.92
		if c[i] > 0.04045 {
			v = math.Pow((c[i]+0.055)/1.055, 2.4)
		}
		sum += weight * v
	}
	return sum
}

// contrast is the contrast ratio of the same, definition "contrast ratio".
func contrast(a, b colour) float64 {
	x, y := a.luminance(), b.luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// over is a colour laid on another with an opacity.
func (c colour) over(below colour, opacity float64) (out colour) {
	for i := range c {
		out[i] = opacity*c[i] + (1-opacity)*below[i]
	}
	return out
}

// themes are the named colours of the style sheet: light, dark as the device says,
// dark as chosen, print.
func themes(t *testing.T) map[string]map[string]colour {
	t.Helper()
	out := map[string]map[string]colour{}
	names := []string{"light", "dark", "dark as chosen", "print"}
	blocks := regexp.MustCompile(`(?s):root[^{}]*\{([^{}]*)\}`).FindAllStringSubmatch(Style(), -1)
	require.Len(t, blocks, len(names))
	for i, block := range blocks {
		out[names[i]] = map[string]colour{}
		for _, m := range regexp.MustCompile(`--([a-z-]+):\s*(#[0-9a-f]{6});`).FindAllStringSubmatch(block[1], -1) {
			out[names[i]][m[1]] = parseColour(t, m[2])
		}
		require.Equal(t, strings.Count(block[1], "--"), len(out[names[i]]), "%s: every name is a colour of six digits", names[i])
	}
	return out
}

// The formula is that of the guidelines: black on white is 21 to 1 there, and
// #767676 on white is what is known to be just over 4.5 (from memory).
func TestContrast(t *testing.T) {
	assert.InDelta(t, 21, contrast(colour{}, colour{1, 1, 1}), 1e-9)
	assert.InDelta(t, 4.54, contrast(parseColour(t, "#767676"), colour{1, 1, 1}), 0.005)
}

// Text stands out by 4.5 to 1 (WCAG 2.2, 1.4.3), that of the page by 7 (1.4.6) as it
// is read in sunlight; lines, marks and the focus by 3 (1.4.11).
func TestColoursStandOut(t *testing.T) {
	for name, c := range themes(t) {
		for _, want := range []struct {
			least float64
			pairs string
		}{
			{7, "ink/paper ink/panel quiet/paper quiet/panel ink/halo go-ink/go marginal-ink/marginal ink/land ink/water"},
			{4.5, "no-go-ink/no-go accent/paper no-go-ink/paper"},
			{3, "rule/paper rule/panel focus/paper focus/panel go/paper marginal-ink/paper marginal-ink/panel no-go-ink/panel go/panel " +
				"shore/land shore/water pattern/land closed/land air/land region/land region/water way/land way/halo ink/panel accent/panel"},
		} {
			for _, pair := range strings.Fields(want.pairs) {
				a, b, _ := strings.Cut(pair, "/")
				require.Contains(t, c, a)
				require.Contains(t, c, b)
				assert.GreaterOrEqual(t, contrast(c[a], c[b]), want.least, "%s: contrast of %s", name, pair)
			}
		}
		// The regions lie on one another, and their outlines on all of it.
		for _, ground := range []string{"land", "water"} {
			on := c[ground]
			for _, opacity := range []float64{0.16, 0.16, 0.35} {
				on = c["fill"].over(on, opacity)
				assert.GreaterOrEqual(t, contrast(c["region"], on), 3.0, "%s: outline of a region on %s", name, ground)
			}
		}
	}
}

// The opacities above are those of the sheet.
func TestRegionOpacities(t *testing.T) {
	assert.Contains(t, Style(), ".region path { fill: var(--fill); fill-opacity: 0.16;")
	assert.Contains(t, Style(), ".r-50 path { stroke-width: 3.5; fill-opacity: 0.35; }")
	assert.Equal(t, 2, strings.Count(Style(), "fill-opacity"))
}

func TestDarkIsDarkHoweverItIsAskedFor(t *testing.T) {
	all := themes(t)
	assert.Equal(t, all["dark"], all["dark as chosen"])
	for name := range all["light"] {
		assert.Contains(t, all["dark"], name)
		assert.Contains(t, all["print"], name)
	}
}

// Nothing in the sheet or the script fetches anything.
func TestNothingIsFetched(t *testing.T) {
	for _, m := range regexp.MustCompile(`url\(([^)]*)\)`).FindAllStringSubmatch(Style(), -1) {
		assert.True(t, strings.HasPrefix(m[1], "#"), "url(%s)", m[1])
	}
	assert.NotContains(t, Style(), "@import")
	for _, word := range []string{"http", "fetch", "XMLHttpRequest", "import(", "WebSocket", "eval", "innerHTML", "document.write", "</"} {
		assert.NotContains(t, Script(), word)
	}
	assert.NotContains(t, Style(), "</")
}

// The policy lets the two through by what they hash to (Content Security Policy
// Level 3, W3C working draft, 2.3.1: the base64 of SHA-256), and nothing else.
func TestPolicy(t *testing.T) {
	for what, text := range map[string]string{"script-src": Script(), "style-src": Style()} {
		sum := sha256.Sum256([]byte(text))
		assert.Contains(t, Policy(), what+" 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"';")
	}
	assert.True(t, strings.HasPrefix(Policy(), "default-src 'none';"))
	assert.NotContains(t, Policy(), "unsafe")
	assert.NotContains(t, Policy(), "*")
}
