package report

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func labelOf() Label {
	return Label{
		Owner: "Thistle Seed Club", Reward: "a jar of honey", Identification: "Thistle one", Site: "Long Meadow",
		People: [2]Person{{Name: "Ada Reed", Telephone: "+46 70 174 06 05"}, {Name: "Ben Rush", Telephone: "+46 70 174 06 07"}},
		Launch: time.Date(2017, 3, 21, 23, 30, 0, 0, time.UTC), Zone: time.FixedZone("CET", 3600),
	}
}

// labels are those of all kinds of length: the longest that a plan may have.
func labels() map[string]Label {
	short := labelOf()
	long := labelOf()
	long.Owner, long.Reward = strings.Repeat("Owner of it ", 7)[:80], strings.Repeat("reward ", 20)[:120]
	long.Identification, long.Site = strings.Repeat("M", 60), strings.Repeat("site ", 30)[:120]
	long.People = [2]Person{
		{Name: strings.Repeat("Name ", 16), Telephone: "+123 (456) 789.012-345 6      "[:30]},
		{Name: strings.Repeat("W", 80), Telephone: strings.Repeat("1", 15)},
	}
	wide := long
	wide.Owner, wide.Reward = strings.Repeat("气球", 40), strings.Repeat("礼", 120)
	wide.Identification, wide.Site = strings.Repeat("風", 60), strings.Repeat("場", 120)
	wide.People[0].Name, wide.People[1].Name = strings.Repeat("名", 80), strings.Repeat("A\u0301", 40)
	none := labelOf()
	none.Reward = ""
	return map[string]Label{"short": short, "long": long, "wide": wide, "no reward": none}
}

// Whatever stands on it, everything fits on both sheets, no line lies on another, and
// it can be read: type of 1.9 mm at the least (5.4 points; the small print of papers has
// 6, common practice), telephone numbers on one line of 5 mm or more.
func TestLabelFits(t *testing.T) {
	for name, l := range labels() {
		for _, s := range sheets {
			lines := l.layout(s)
			require.NotEmpty(t, lines)
			foot, least := 0.0, math.Inf(1)
			var words []string
			for _, line := range lines {
				assert.GreaterOrEqual(t, line.x, labelMargin*s.height-1e-9, "%s %s: %q", name, s.name, line.text)
				assert.LessOrEqual(t, line.x+line.long, s.width-labelMargin*s.height+1e-9, "%s %s: %q is too long", name, s.name, line.text)
				assert.GreaterOrEqual(t, line.y-labelRise*line.size, foot-1e-9, "%s %s: %q lies on the line before", name, s.name, line.text)
				foot = line.y + 0.2*line.size
				// The widest of the usual typefaces of one width has letters of 1233/2048 of
				// its size (DejaVu Sans Mono, from memory; Liberation Mono 1229/2048).
				assert.LessOrEqual(t, float64(cells(line.text))*line.size*1233/2048, line.long*1.001, "%s %s: %q", name, s.name, line.text)
				assert.LessOrEqual(t, foot, s.height-labelMargin*s.height+1e-9, "%s %s: %q is too low", name, s.name, line.text)
				least = min(least, line.size)
				words = append(words, strings.Fields(line.text)...)
			}
			all := strings.Join(words, "")
			for _, p := range l.People {
				assert.Contains(t, all, strings.Join(strings.Fields(p.Telephone), ""), "%s %s", name, s.name)
				assert.Contains(t, all, strings.Join(strings.Fields(p.Name), ""))
			}
			assert.Contains(t, all, strings.Join(strings.Fields(l.Owner+"."), ""))
			assert.Contains(t, all, strings.Join(strings.Fields(l.Reward), ""))
			t.Logf("%s %s: smallest type %.2f mm", name, s.name, least)
			assert.GreaterOrEqual(t, least, 1.9, "%s %s", name, s.name)
			for _, p := range l.People {
				whole := false
				for _, line := range lines {
					if line.text == strings.Join(strings.Fields(p.Telephone), " ") {
						whole = true
						assert.GreaterOrEqual(t, line.size, 5.0, "%s %s", name, s.name)
					}
				}
				assert.True(t, whole, "%s %s: %q is broken", name, s.name, p.Telephone)
			}
		}
	}
}

// As large as it fits: a step more and it would not.
func TestLabelFillsTheSheet(t *testing.T) {
	for _, s := range sheets {
		lines := labelOf().layout(s)
		last := lines[len(lines)-1]
		assert.Greater(t, last.y, 0.85*s.height, s.name)
	}
}

func TestWrapped(t *testing.T) {
	for _, test := range []struct {
		text string
		most int
		want []string
	}{
		{"one two three", 7, []string{"one two", "three"}},
		{"one two three", 6, []string{"one", "two", "three"}},
		{"abcdefgh", 3, []string{"abc", "def", "gh"}},
		{"a bcdefgh i", 3, []string{"a", "bcd", "efg", "h i"}},
		{"気球気球", 5, []string{"気球", "気球"}},
		{"A\u0301A\u0301A\u0301", 3, []string{"A\u0301A\u0301A\u0301"}},
		{"x", 0, []string{"x"}},
	} {
		assert.Equal(t, test.want, wrapped(test.text, test.most), "wrapped(%q, %d)", test.text, test.most)
	}
}

// The page is whole: nothing is fetched, what could be read as markup is not, and each
// line says how long it is.
func TestLabelPage(t *testing.T) {
	l := labelOf()
	l.Owner, l.Reward = `<script>alert("x")</script>`, `a & b "c" <i>`
	var b bytes.Buffer
	require.NoError(t, WriteLabel(&b, l))
	page := b.String()
	assert.NotContains(t, page, "<script")
	assert.NotContains(t, strings.ReplaceAll(page, "http://www.w3.org/2000/svg", ""), "http")
	assert.NotContains(t, page, "url(")
	assert.Contains(t, page, "@page A5{size:210mm 148mm;margin:0}")
	assert.Contains(t, page, "@page A6{size:148mm 105mm;margin:0}")
	body := page[strings.Index(page, "<svg"):strings.LastIndex(page, "</body>")]
	texts, sheets := 0, 0
	d := xml.NewDecoder(strings.NewReader("<b>" + body + "</b>"))
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		if e, ok := token.(xml.StartElement); ok {
			switch e.Name.Local {
			case "svg":
				sheets++
			case "text":
				texts++
				found := false
				for _, a := range e.Attr {
					found = found || a.Name.Local == "textLength"
				}
				assert.True(t, found)
			}
		}
	}
	assert.Equal(t, 2, sheets)
	assert.Greater(t, texts, 16)
	assert.Contains(t, page, "let go at Long Meadow, 22 March 2017", "by the clock at the site")
	require.ErrorIs(t, WriteLabel(full{}, l), errFull)
}
