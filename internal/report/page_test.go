package report

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/page"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
)

// weekAt is a week with every kind of launch time in it: go, marginal, no-go, no
// landing, not covered, and on two days; and the ground around it, with names.
func weekAt(t *testing.T, at geo.Point, name string) Page {
	t.Helper()
	one := launchAt(t, at, 60e3, 5e3, 1)
	one.Plan, one.Site, one.Flown = name, name, nil
	for z := 100.0; z <= 27000; z += 500 {
		one.Winds = append(one.Winds, WindAt{Height: z, Speed: 5 + z/1000, From: math.Mod(200+z/100, 360)})
	}
	one.Access = &Access{Drive: 78e3, There: one.Time.Add(3 * time.Hour), Sunset: one.Time.Add(9 * time.Hour), Dusk: one.Time.Add(10 * time.Hour)}
	one.Calls = &Calls{
		People: []Person{{Name: "Ada " + name, Role: "launch", Telephone: "555 1"}}, Offices: []NoticeOffice{{name, "555 2", true}, {"tower", "555 3", false}},
		Nearby: []Aerodrome{{Name: name, Size: "large", Site: Away{20e3, 90}, Path: Away{15e3, 0}, Landing: Away{30e3, 180}}},
	}
	one.Rules = &rules.Assessment{
		Jurisdiction: rules.Europe, Classes: []rules.Class{rules.Light},
		Tests:  []rules.Result{{What: "combined mass", Value: "1.76 kg of " + name, Limit: "below 4 kg", Verdict: rules.Met, Binds: rules.Yes}},
		Limits: []rules.Result{{What: "cloud", Value: "94 %", Limit: "at most 50 %", Verdict: rules.NotMet, Binds: rules.Yes}},
	}
	one.Contacts = []Contact{{Antenna: 3, AboveGround: 300}}
	one.Warnings = append(one.Warnings, "Mind "+name)
	one.Hazard.Parcels[0].Owner, one.Hazard.Layers[0].Name, one.Hazard.Crossings[0].Name = name, name, name
	one.Train = &Train{
		Plan: name, Site: name, Parts: []balloon.Part{{Name: name, Mass: 0.84, Count: 2}, {Name: "box", Mass: 0.5, Count: 1}},
		Envelope: balloon.Envelope{Mass: 0.6}, Load: balloon.Weighed{Mass: 2.18, Spread: 0.01}, Lifted: balloon.Weighed{Mass: 2.78},
		Falling: balloon.Weighed{Mass: 2.4}, Landing: balloon.Weighed{Mass: 2.4}, Ascent: one.Ascent, Burst: one.Burst, Fall: one.Fall,
		Ending: balloon.Bursts, Up: 5600, Down: 2400, BurstAt: 6,
		Gas:       GasAmount{Gas: balloon.LiftingGas{Helium: 0.99}, Volume: 3.2, At: balloon.Conditions{Temperature: 275, Pressure: 99000}, Spread: 0.03},
		Heights:   []Passing{{Height: atmos.Geometric(27000), Time: 5600, Speed: 5}},
		Landings:  []Touchdown{{Name: "as planned", Speed: 5.1, Energy: 26}},
		Bill:      &Bill{Cylinders: 2, Bill: balloon.Bill{Opened: 1}, Last: 2e6},
		Batteries: []BatteryLife{{Name: name, Endurance: balloon.Endurance{Wanted: 9000, Used: 0.4}}},
		Trackers:  []TrackerSight{{Kind: balloon.SatelliteTracker, Interval: 300, Reports: 26}},
	}
	built, err := ground.BuiltIn(geo.Box{South: max(at.Lat-3, -90), North: min(at.Lat+3, 90), West: geo.WrapLon(at.Lon - 4), East: geo.WrapLon(at.Lon + 4)})
	require.NoError(t, err)
	square := func(lon, lat, half float64) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{"name":%q,"floor":"GND","ceiling":"FL 95"},"geometry":{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g],[%[2]g,%[3]g]]]}}`,
			"air", lon-half, lat-half, lon+half, lat-half, lon+half, lat+half, lon-half, lat+half)
	}
	wood, err := ground.ReadLayer(ground.LayerSource{Name: "wood", Class: ground.Forest}, []byte(square(at.Lon+0.3, at.Lat, 0.05)))
	require.NoError(t, err)
	volumes, err := ground.ReadVolumes("air", []byte(square(at.Lon+0.6, at.Lat, 0.1)))
	require.NoError(t, err)
	volumes[0].Name = name
	p := Page{Map: &ground.Map{Layers: append(built.Layers(), wood), Volumes: volumes}, Week: Week{
		Plan: name, Zone: one.Zone, Forecast: one.Forecast, Sites: []string{name}, Step: time.Hour, Version: "test " + name,
		Warnings: []string{"For all: " + name}, Cautions: Cautions(),
	}}
	for i := range 12 {
		l := one
		l.Time = one.Time.Add(time.Duration(i) * 3 * time.Hour)
		h := *one.Hazard
		h.Value, h.Low, h.High = float64(5+i), float64(4+i), float64(6+i)
		l.Hazard = &h
		l.Verdict = []launch.Verdict{launch.Go, launch.Marginal, launch.NoGo}[i%3]
		l.Reasons = []launch.Reason{
			{Verdict: l.Verdict, What: "wind at the site", Value: "6.0 m/s", Limit: "5.0 m/s"},
			{Verdict: launch.Go, What: "distance of the most likely landing", Value: "60.0 km", Limit: "120 km"},
		}
		w := Window{Site: name, Time: l.Time, Launch: l}
		switch i {
		case 10:
			w.Launch.Landing, w.Launch.Hazard, w.Launch.Access = nil, nil, nil
		case 11:
			w = Window{Site: name, Time: l.Time, NotCovered: "23 % of its flights last longer than the forecast"}
		case 2:
			w.Earlier = []Earlier{{Cycle: one.Forecast.Cycle, Verdict: launch.Go, Score: 3, Moved: 4000, Toward: 80, Area80: 1e9}}
		}
		p.Windows = append(p.Windows, w)
	}
	p.Asked, p.Ranked = 13, []int{0, 3, 6, 9, 1, 4, 7, 2, 5, 8, 10, 11}
	return p
}

func pageOf(t *testing.T, p Page, units quantity.System) string {
	t.Helper()
	return written(t, func(w io.Writer, _ Launch) error { return WritePage(w, p, units) }, Launch{})
}

// nodes runs over all elements of a page.
func nodes(root *html.Node) []*html.Node {
	var all []*html.Node
	for n := range root.Descendants() {
		if n.Type == html.ElementNode {
			all = append(all, n)
		}
	}
	return all
}

func attribute(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

func words(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode && d.Parent.Data != "script" && d.Parent.Data != "style" {
			b.WriteString(d.Data)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// void are elements without an end (HTML Standard, 13.1.2).
var void = []string{"meta", "link", "input", "br"}

// wellFormed checks that every element that is begun is ended, in the order that the
// HTML Standard asks for (13.1.2.4 lets some end tags be left out: here none is).
func wellFormed(t *testing.T, content string) {
	t.Helper()
	z := html.NewTokenizer(strings.NewReader(content))
	var open []string
	for {
		switch kind := z.Next(); kind {
		case html.ErrorToken:
			require.ErrorIs(t, z.Err(), io.EOF)
			require.Empty(t, open)
			return
		case html.StartTagToken:
			name, _ := z.TagName()
			if !slices.Contains(void, string(name)) {
				open = append(open, string(name))
			}
		case html.EndTagToken:
			name, _ := z.TagName()
			require.NotEmpty(t, open)
			require.Equal(t, open[len(open)-1], string(name), "end of an element, of %v", open)
			open = open[:len(open)-1]
		case html.TextToken, html.SelfClosingTagToken, html.CommentToken, html.DoctypeToken:
		}
	}
}

// valid checks a page's structure: what refers to something finds it, everything
// that is worked with has a name, headings leave no level out, nothing comes from
// elsewhere, no style or script stands beside those that the policy knows.
func valid(t *testing.T, content string) *html.Node {
	t.Helper()
	wellFormed(t, content)
	root, err := html.Parse(strings.NewReader(content))
	require.NoError(t, err)
	all := nodes(root)
	count, ids := map[string]int{}, map[string]bool{}
	for _, n := range all {
		count[n.Data]++
		if id, ok := attribute(n, "id"); ok {
			assert.False(t, ids[id], "id %s twice", id)
			ids[id] = true
		}
	}
	for _, name := range []string{"html", "head", "title", "body", "main", "h1", "script", "style", "header"} {
		assert.Equal(t, 1, count[name], "<%s>", name)
	}
	level := 0
	for _, n := range all {
		for _, a := range n.Attr {
			assert.False(t, strings.HasPrefix(a.Key, "on") || a.Key == "style", "%s of <%s>", a.Key, n.Data)
			switch a.Key {
			case "href":
				known := a.Val == "data:," || strings.HasPrefix(a.Val, "#") && ids[a.Val[1:]]
				assert.True(t, known, "href %q", a.Val)
			case "src", "srcset", "action", "formaction", "poster", "data", "ping":
				t.Errorf("%s %q of <%s>", a.Key, a.Val, n.Data)
			case "aria-labelledby", "aria-describedby":
				assert.True(t, ids[a.Val], "%s %q", a.Key, a.Val)
			}
		}
		label, labelled := attribute(n, "aria-label")
		by, _ := attribute(n, "aria-labelledby")
		role, _ := attribute(n, "role")
		named := labelled && label != "" || by != ""
		switch n.Data {
		case "button", "summary", "a", "caption", "title", "legend":
			assert.True(t, named || words(n) != "", "<%s> without a name", n.Data)
		case "input", "section":
			assert.True(t, named, "<%s> without a name", n.Data)
		case "svg":
			hidden, _ := attribute(n, "aria-hidden")
			assert.True(t, named || hidden == "true", "<svg> without a name")
		case "th":
			scope, _ := attribute(n, "scope")
			assert.Contains(t, []string{"row", "col"}, scope)
		case "h1", "h2", "h3", "h4":
			now := int(n.Data[1] - '0')
			assert.LessOrEqual(t, now, level+1, "heading %q after level %d", words(n), level)
			level = now
		}
		if _, focus := attribute(n, "tabindex"); focus || role != "" && role != "status" {
			assert.True(t, named, "<%s role=%q> without a name", n.Data, role)
		}
	}
	return root
}

func TestPageIsValid(t *testing.T) {
	for name, p := range map[string]Page{
		"demo":      weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "Spring flight"),
		"date line": weekAt(t, geo.Point{Lat: -17, Lon: 179.4}, "Date line"),
		"empty":     {Week: Week{Plan: "Nothing", Zone: time.UTC, Asked: 3, Cautions: Cautions()}},
	} {
		for _, units := range []quantity.System{quantity.SI, quantity.US} {
			t.Run(name+" "+units.String(), func(t *testing.T) { valid(t, pageOf(t, p, units)) })
		}
	}
}

func TestPageIsValidEverywhere(t *testing.T) {
	everywhere(t, func(t *testing.T, l Launch) {
		p := Page{Week: Week{Plan: l.Plan, Zone: l.Zone, Forecast: l.Forecast, Asked: 1, Windows: []Window{{Site: l.Site, Time: l.Time, Launch: l}}, Ranked: []int{0}}}
		content := pageOf(t, p, quantity.SI)
		valid(t, content)
		assert.NotContains(t, content, "NaN")
		assert.NotContains(t, content, "Inf")
	})
}

// Whatever a plan's names are, they are words on the page and nothing else.
func TestPageEscapesEveryName(t *testing.T) {
	for _, name := range []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `</style><b>`, `'-alert(1)-'`, `{{.}}<!--`, `javascript:alert(1)`, hostile} {
		root := valid(t, pageOf(t, weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, name), quantity.SI))
		for _, n := range nodes(root) {
			assert.NotContains(t, []string{"img", "b", "iframe", "name"}, n.Data, "%q", name)
			if n.Data == "script" || n.Data == "style" {
				var b bytes.Buffer
				for c := range n.ChildNodes() {
					b.WriteString(c.Data)
				}
				assert.Contains(t, []string{page.Script(), page.Style()}, b.String())
			}
		}
		seen := strings.Join(strings.Fields(strings.ToValidUTF8(name, "\ufffd")), " ")
		text := strings.ToValidUTF8(words(root), "\ufffd")
		// Plan, site, layer, owner, part, battery, warning of all and of one, version.
		assert.Greater(t, strings.Count(strings.ReplaceAll(text, "\u00a0", " "), seen), 40, "%q is shown as it is", seen)
	}
}

func TestPageNamesNoHost(t *testing.T) {
	content := pageOf(t, weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "Spring"), quantity.SI)
	rest := strings.NewReplacer(page.Script(), "", html.EscapeString(page.Policy()), "", strings.ReplaceAll(html.EscapeString(page.Policy()), "+", "&#43;"), "").Replace(content)
	assert.Less(t, len(rest), len(content)-len(page.Script())-100)
	assert.Empty(t, regexp.MustCompile(`(?i).*((https?|wss?|ftp):|//[a-z0-9]).*`).FindString(rest))
	root := valid(t, content)
	for _, n := range nodes(root) {
		if name, _ := attribute(n, "http-equiv"); name == "Content-Security-Policy" {
			policy, _ := attribute(n, "content")
			assert.Equal(t, page.Policy(), policy)
			return
		}
	}
	t.Error("no policy")
}

// What a reader must find on it.
func TestPageSaysEverything(t *testing.T) {
	p := weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "Spring flight")
	text := strings.ReplaceAll(words(valid(t, pageOf(t, p, quantity.SI))), "\u00a0", " ")
	for _, want := range []string{
		"The best launch time:", "Of 13 launch times: 4 go, 4 marginal, 3 no-go, 1 not covered, 1 not looked at, as it was stopped.",
		"Wed 22 Mar 2017, 08:00 CET (07:00 UTC) from Spring flight", "Not one of its flights landed within the forecast.",
		"Not covered: 23 % of its flights last longer than the forecast", "wind at the site: 6.0 m/s; limit 5.0 m/s",
		"National Centers for Environmental Prediction, cycle of 22 Mar 2017 00:00 UTC", "seed 1", "thistledown test Spring flight",
		"Crew sheet", "a label in a bright colour", "gloves on", "a ground sheet", "a spare envelope", "boxes sealed", "recorders and cameras on",
		"Weigh everything to the gram", "Calls to make", "Who drives where", "some 78.0 km by road", "not before 11:00 CET",
		"sunset 17:00 CET, dark from 18:00 CET", "from there to here 4.0 km toward 080°", "airspace to look out for", "forest",
		"Ada Spring flight, launch, 555 1", "it is 15.0 km toward 360° from the path", "555 3", "combined mass: 1.76 kg of Spring flight; limit: below 4 kg",
		"European Union, SERA Appendix 2: light; not met: cloud",
	} {
		assert.Contains(t, text, want)
	}
	for _, caution := range Cautions() {
		assert.Contains(t, text, caution)
	}
	for _, never := range []string{"is safe", "is legal", "approved"} {
		assert.NotContains(t, strings.ToLower(text), never)
	}
	us := strings.ReplaceAll(words(valid(t, pageOf(t, p, quantity.US))), "\u00a0", " ")
	assert.Contains(t, us, "wind at the site: 13 mph; limit 11 mph", "6 m/s over 0.44704")
	assert.Contains(t, us, "some 48.5 mi by road")
	assert.NotContains(t, us, " km")
}

// The page is bounded however many launch times there are, and says what it left out.
func TestPageIsBounded(t *testing.T) {
	p := weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "Spring flight")
	full := p.Windows[0]
	p.Windows, p.Ranked = nil, nil
	for i := range 4096 {
		w := full
		w.Time = full.Time.Add(time.Duration(i) * time.Minute)
		p.Windows, p.Ranked = append(p.Windows, w), append(p.Ranked, 4095-i)
	}
	content := pageOf(t, p, quantity.SI)
	assert.Less(t, len(content), 10<<20)
	assert.Equal(t, PageWindows, strings.Count(content, "data-box="))
	assert.Equal(t, 4096-PageWindows, strings.Count(content, fmt.Sprintf("Only the best %d launch times are told in full", PageWindows)))
	assert.Contains(t, content, fmt.Sprintf("Told in full: the best %d launch times.", PageWindows))
	p.Windows, p.Ranked = p.Windows[:PageWindows], p.Ranked[4096-PageWindows:]
	assert.NotContains(t, pageOf(t, p, quantity.SI), "Told in full")
}
