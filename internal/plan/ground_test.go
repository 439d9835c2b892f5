package plan_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// grounded is a plan that says everything of the ground and of limits. Its names
// are invented.
const grounded = `# What lies on the ground, and what may not be.
name: Class 8b, over the fields
site: {name: Sports ground, latitude: 55.5, longitude: -3.25, elevation: 120 m, time_zone: Europe/Stockholm}
launch: 2017-03-22T08:00:00+01:00
train: {measured: {ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 5 m/s}}
ground:
  layers:
    - name: Power lines
      class: closed
      file: lines.geojson
      buffer: 50 m
      severity: 0.8
      active: ["Mon-Fri 07:00-16:00", "22:00-02:00"]
      source: the county's map, free of charge
      covers: [{south: 55, north: 56, west: -4, east: -3}]
    - {name: Farms, file: farms.geojson, parcels: true}
  airspace:
    - {name: Practice area, file: area.txt, severity: 0.5, active: [Sat 09:00-24:00], kinds: [R, CTR]}
  land_cover:
    - {name: Cover, file: cover.tif, legend: nlcd, source: a public agency}
    - {name: Own cover, file: own.tif, codes: [41 forest, 11 water, 23 built_up, 81 open]}
  heights: [{file: fine.tif}, {file: coarse.hgt}]
  ways: [{name: Roads, file: roads.geojson}]
  people: {in_the_open: 20 /km2, built_up: 3000 /km², payload_width: 30 cm}
  severities: {water: 0.9, forest: 0.1, built_up: 0.2, closed: 0.3, airspace: 0.4, airfield: 0.6, abroad: 0.7}
limits:
  score: 40
  water: 5 %
  forest: 60 %
  built_up: 2 %
  closed: 3 %
  airfield: 1 %
  abroad: 0 %
  airspace: 4 %
  not_landed: 10 %
  distance: 150 km
  wind: 6 m/s
  gust: 36 km/h
  cloud: 50 %
  visibility: 8 km
  rain_in_an_hour: 0.36 mm
  cape_j_kg: 500
  down_before_sunset: 2 h
  there_before_dark: 30 min
  driving: 45 km/h
schedule:
  step: 30 min
  hours: ["Sat-Sun 06:00-12:00", "05:00-07:00"]
  sites:
    - {name: Gravel pit, latitude: 56.25, longitude: -3.5, elevation: 300 ft, time_zone: Europe/London}
    - {name: Airstrip, latitude: -37, longitude: 173}
`

func TestReadGround(t *testing.T) {
	p := read(t, grounded)
	require.Len(t, p.Layers, 2)
	lines := p.Layers[0]
	assert.Equal(t, "Power lines", lines.Name)
	assert.Equal(t, ground.Closed, lines.Class)
	assert.Equal(t, "lines.geojson", lines.File)
	assert.InDelta(t, 50, lines.Buffer, 0)
	require.NotNil(t, lines.Severity)
	assert.InDelta(t, 0.8, *lines.Severity, 0)
	assert.Equal(t, "the county's map, free of charge", lines.Credit)
	assert.Len(t, lines.Covers, 1)
	require.Len(t, lines.Active, 2)
	assert.Equal(t, [7]bool{false, true, true, true, true, true, false}, lines.Active[0].Days, "Monday to Friday, from Sunday")
	assert.Equal(t, []time.Duration{7 * time.Hour, 16 * time.Hour}, []time.Duration{lines.Active[0].From, lines.Active[0].To})
	assert.Equal(t, "Europe/Stockholm", lines.Active[0].Zone.String(), "the clock at the site")
	assert.Equal(t, plan.Layer{File: "farms.geojson", LayerSource: ground.LayerSource{Name: "Farms", Parcels: true}}, p.Layers[1])

	require.Len(t, p.Airspace, 1)
	assert.Equal(t, "area.txt", p.Airspace[0].File)
	assert.InDelta(t, 0.5, p.Airspace[0].Severity, 0)
	assert.Equal(t, []string{"R", "CTR"}, p.Airspace[0].Kinds)
	require.Len(t, p.Airspace[0].Active, 1)
	assert.Equal(t, 24*time.Hour, p.Airspace[0].Active[0].To)

	require.Len(t, p.Cover, 2)
	nlcd, err := ground.NamedLegend("nlcd")
	require.NoError(t, err)
	assert.Equal(t, nlcd, p.Cover[0].Legend)
	assert.Equal(t, "a public agency", p.Cover[0].Credit)
	var open ground.Set
	assert.Equal(t, ground.Legend{41: open.With(ground.Forest), 11: open.With(ground.Water), 23: open.With(ground.BuiltUp), 81: open}, p.Cover[1].Legend)
	assert.Equal(t, []string{"fine.tif", "coarse.hgt"}, p.Heights)
	assert.Equal(t, []plan.Ways{{Name: "Roads", File: "roads.geojson"}}, p.Ways)
	require.NotNil(t, p.People)
	assert.InDelta(t, 20e-6, p.People.Open, 1e-18)
	assert.InDelta(t, 3000e-6, p.People.BuiltUp, 1e-15)
	assert.InDelta(t, 0.3, p.People.Width, 1e-12)
	assert.Equal(t, plan.Severity{Water: 0.9, Forest: 0.1, BuiltUp: 0.2, Closed: 0.3, Airfield: 0.6, Abroad: 0.7, Airspace: 0.4}, p.Severity)

	assert.InDelta(t, 40, p.Limits.Score, 0)
	assert.Equal(t, map[ground.Class]float64{
		ground.Water: 0.05, ground.Forest: 0.6, ground.BuiltUp: 0.02, ground.Closed: 0.03, ground.Airfield: 0.01, ground.Abroad: 0,
	}, p.Limits.Ground, "0 %% is a limit too")
	assert.InDelta(t, 0.04, p.Limits.Airspace, 1e-15)
	assert.InDelta(t, 0.1, p.Limits.NotLanded, 1e-15)
	assert.InDelta(t, 150e3, p.Limits.Distance, 1e-9)
}

func TestReadGroundDefaults(t *testing.T) {
	p := read(t, least, "ground.people={in_the_open: 52 /mi2}", "ground.airspace=[{name: a, file: b}]", "limits.score=0")
	assert.InDelta(t, 52/(1609.344*1609.344), p.People.Open, 1e-15)
	assert.InDelta(t, p.People.Open, p.People.BuiltUp, 0, "as many as in the open")
	assert.InDelta(t, 0.5, p.People.Width, 0)
	assert.True(t, math.IsNaN(p.Airspace[0].Severity), "severity %v, want NaN for that of severities", p.Airspace[0].Severity)
	assert.InDelta(t, 0, p.Limits.Score, 0, "a limit of 0 is not a missing one")
	w := p.Limits.Weather
	for _, limit := range [...]float64{
		p.Limits.Airspace, p.Limits.NotLanded, p.Limits.Distance, p.Limits.Sunset, p.Limits.Dark,
		w.Wind, w.Gust, w.Cloud, w.Visibility, w.Precipitation, w.CAPE,
	} {
		assert.True(t, math.IsNaN(limit), "limit %v beside one of the score, want NaN for none", limit)
	}
	assert.Empty(t, p.Limits.Ground)
}

// Every word that the schema lets pass is one that ground knows.
func TestReadGroundWords(t *testing.T) {
	for class := range ground.Classes() {
		assert.Equal(t, class, read(t, grounded, "ground.layers[0].class="+class.String()).Layers[0].Class)
	}
	for _, legend := range [...]string{"worldcover", "nlcd", "corine", "igbp"} {
		assert.NotEmpty(t, read(t, grounded, "ground.land_cover[0].legend="+legend).Cover[0].Legend, legend)
	}
}

const wantCode = `want a number from 0 to 65535 and water, forest, built_up or open, such as "41 forest"`

const wantHours = `want days and hours, such as "Mon-Fri 07:00-16:00"`

var groundFaults = []faultCase{
	{"layer of no class", "      class: closed\n", "", "p.yaml:8: ground.layers[0].class: missing: want one, unless parcels is true"},
	{"buffer of a county", "buffer: 50 m", "buffer: 11 km", `p.yaml:11: ground.layers[0].buffer: "11 km": want 0 km to 10 km`},
	{"bare buffer", "buffer: 50 m", "buffer: 50", `p.yaml:11: ground.layers[0].buffer: "50": want a length with its unit, such as "50 m"`},
	{"buffer with a spread", "buffer: 50 m", "buffer: 50 m ± 5 m", `p.yaml:11: ground.layers[0].buffer: "50 m ± 5 m": no spread is taken here: want a length with its unit, such as "50 m"`},
	{"severity over 1 of a layer", "severity: 0.8", "severity: 1.1", "p.yaml:12: ground.layers[0].severity: 1.1: want 0 to 1"},
	{"severity without a class", "parcels: true}", "parcels: true, severity: 0.5}", "p.yaml:16: ground.layers[1].severity: 0.5: want a class beside it"},
	{"severity of 0 without a class", "parcels: true}", "parcels: true, severity: 0}", "p.yaml:16: ground.layers[1].severity: 0: want a class beside it"},
	{"severity beside a class that is none", "parcels: true}", "parcels: true, severity: 0.5, class: [closed]}", "p.yaml:16: ground.layers[1].class: a list: want water, forest, built_up, closed, airfield or abroad"},
	{"neither class nor parcels", "parcels: true}", "parcels: false, severity: 0.5}", "p.yaml:16: ground.layers[1].class: missing: want one, unless parcels is true"},
	{"hours of no time", "07:00-16:00\", \"22:00-02:00", "07:00-07:00\", \"22:00-02:00", `p.yaml:13: ground.layers[0].active[0]: "Mon-Fri 07:00-07:00": ` + wantHours},
	{"hours in one digit", `"22:00-02:00"`, `"9:00-12:00"`, `p.yaml:13: ground.layers[0].active[1]: "9:00-12:00": ` + wantHours},
	{"no hours", `"22:00-02:00"`, `""`, `p.yaml:13: ground.layers[0].active[1]: "": want 1 to 60 characters`},
	{"hours too long", "Sat 09:00", "Sat" + strings.Repeat(" ", 60) + "09:00", `p.yaml:18: ground.airspace[0].active[0]: "Sat` + strings.Repeat(" ", 37) + `…": want 1 to 60 characters`},
	{"kind of no name", "kinds: [R, CTR]", `kinds: [R, ""]`, `p.yaml:18: ground.airspace[0].kinds[1]: "": want 1 to 20 characters`},
	{"hours in words", `"22:00-02:00"`, "at night", `p.yaml:13: ground.layers[0].active[1]: "at night": ` + wantHours},
	{"hours of no day", "Sat 09:00", "Sab 09:00", `p.yaml:18: ground.airspace[0].active[0]: "Sab 09:00-24:00": ` + wantHours},
	{"legend and codes", "legend: nlcd", "legend: nlcd, codes: [1 water]", `p.yaml:20: ground.land_cover[0].legend: "nlcd": want the name of one, or codes`},
	{"neither legend nor codes", "legend: nlcd, ", "", "p.yaml:20: ground.land_cover[0].legend: missing: want the name of one, or codes"},
	{"no such legend", "legend: nlcd", "legend: ours", `p.yaml:20: ground.land_cover[0].legend: "ours": want worldcover, nlcd, corine or igbp`},
	{"code of no kind", "11 water", "11 swamp", `p.yaml:21: ground.land_cover[1].codes[1]: "11 swamp": ` + wantCode},
	{"code that a raster cannot have", "11 water", "11 abroad", `p.yaml:21: ground.land_cover[1].codes[1]: "11 abroad": ` + wantCode},
	{"code of closed ground", "11 water", "41 closed", `p.yaml:21: ground.land_cover[1].codes[1]: "41 closed": ` + wantCode},
	{"code far too great", "11 water", "70000 water", `p.yaml:21: ground.land_cover[1].codes[1]: "70000 water": ` + wantCode},
	{"code far too great of open ground", "81 open", "70000 open", `p.yaml:21: ground.land_cover[1].codes[3]: "70000 open": ` + wantCode},
	{"code less than none", "11 water", "-1 water", `p.yaml:21: ground.land_cover[1].codes[1]: "-1 water": ` + wantCode},
	{"code that is not whole", "11 water", "11.5 water", `p.yaml:21: ground.land_cover[1].codes[1]: "11.5 water": ` + wantCode},
	{"code of nothing", "11 water", `"11"`, `p.yaml:21: ground.land_cover[1].codes[1]: "11": ` + wantCode},
	{"two kinds of one code", "11 water", "11 water forest", `p.yaml:21: ground.land_cover[1].codes[1]: "11 water forest": ` + wantCode},
	{"words before the code", "11 water", "water 11", `p.yaml:21: ground.land_cover[1].codes[1]: "water 11": ` + wantCode},
	{"code too long", "11 water", "11" + strings.Repeat(" ", 40) + "water", `p.yaml:21: ground.land_cover[1].codes[1]: "11` + strings.Repeat(" ", 38) + `…": want 1 to 40 characters`},
	{"code too long of no kind", "11 water", "11 " + strings.Repeat("x", 40), `p.yaml:21: ground.land_cover[1].codes[1]: "11 ` + strings.Repeat("x", 37) + `…": want 1 to 40 characters`},
	{"code twice, once with a zero before", "11 water", "041 water", `p.yaml:21: ground.land_cover[1].codes[1]: "041 water": want a number that is not listed before`},
	{"codes of open ground alone", "[41 forest, 11 water, 23 built_up, 81 open]", "[1 open, 2 open]", "p.yaml:21: ground.land_cover[1].codes: nothing but open: want at least one number that is water, forest or built_up"},
	{"codes of which one cannot be read", "[41 forest, 11 water, 23 built_up, 81 open]", "[1 open, 2 swamp]", `p.yaml:21: ground.land_cover[1].codes[1]: "2 swamp": ` + wantCode},
	{"no codes", "[41 forest, 11 water, 23 built_up, 81 open]", "[]", "p.yaml:21: ground.land_cover[1].legend: missing: want the name of one, or codes"},
	{"too many codes", "[41 forest, 11 water, 23 built_up, 81 open]", "[" + strings.Repeat("1 water,", 257) + "]", "p.yaml:21: ground.land_cover[1].codes: 257 items: want at most 256 items"},
	{"code too great", "11 water", "65536 water", `p.yaml:21: ground.land_cover[1].codes[1]: "65536 water": ` + wantCode},
	{"code twice", "11 water", "41 water", `p.yaml:21: ground.land_cover[1].codes[1]: "41 water": want a number that is not listed before`},
	{"cover twice", "name: Own cover", "name: Cover", `p.yaml:21: ground.land_cover[1].name: "Cover": want a name other than that of ground.land_cover[0]`},
	{"ways twice", "{name: Roads, file: roads.geojson}", "{name: Roads, file: roads.geojson}, {name: Roads, file: b}", `p.yaml:23: ground.ways[1].name: "Roads": want a name other than that of ground.ways[0]`},
	{"bare density", "20 /km2", "20", `p.yaml:24: ground.people.in_the_open: "20": want a number on an area with its unit, such as "20 /km2"`},
	{"density of a crowd", "20 /km2", "1e6 /mi2", `p.yaml:24: ground.people.in_the_open: "1e6 /mi2": want 0 /mi2 to 258900 /mi2`}, // 100 000 × 1.609344²
	{"misspelt density", "in_the_open", "in_open", "p.yaml:24: ground.people.in_open: no such field: want one of in_the_open, built_up, payload_width\n" +
		`p.yaml:24: ground.people.in_the_open: missing: want a number on an area with its unit, such as "20 /km2"`},
	{"score of a mark", "score: 40", "score: 140", "p.yaml:27: limits.score: 140: want 0 to 100"},
	{"bare share", "water: 5 %", "water: 5", `p.yaml:28: limits.water: "5": want a percentage with its unit, such as "2 %"`},
	{"far away", "150 km", "2500 mi", `p.yaml:36: limits.distance: "2500 mi": want 0 mi to 1242 mi`}, // 2 000 ÷ 1.609344 is 1242.7
}

func TestReadGroundFaults(t *testing.T) { testFaults(t, grounded, groundFaults) }

// Faults in each part of the ground and of limits, all told at once in the order
// of their lines.
func TestReadGroundFaultsAtOnce(t *testing.T) {
	text := strings.NewReplacer(
		"buffer: 50 m", "buffer: 50", "22:00-02:00", "late", "parcels: true}", "parcels: true, severity: 1}",
		"[R, CTR]", "CTR", "legend: nlcd", "legend: ours", "41 forest", "41 abroad", "coarse.hgt", `""`,
		"name: Roads", `name: ""`, "30 cm", "30 km", "airfield: 0.6", "airfield: 6", "score: 40", "score: high", "abroad: 0 %", "abroad: none",
	).Replace(grounded)
	assert.Equal(t, strings.Join([]string{
		`p.yaml:11: ground.layers[0].buffer: "50": want a length with its unit, such as "50 m"`,
		`p.yaml:13: ground.layers[0].active[1]: "late": ` + wantHours,
		"p.yaml:16: ground.layers[1].severity: 1: want a class beside it",
		`p.yaml:18: ground.airspace[0].kinds: "CTR": want a list of at most 32 items`,
		`p.yaml:20: ground.land_cover[0].legend: "ours": want worldcover, nlcd, corine or igbp`,
		`p.yaml:21: ground.land_cover[1].codes[0]: "41 abroad": ` + wantCode,
		`p.yaml:22: ground.heights[1].file: "": want 1 to 1024 characters`,
		`p.yaml:23: ground.ways[0].name: "": want 1 to 120 characters`,
		`p.yaml:24: ground.people.payload_width: "30 km": want 0.00001 km to 0.01 km`,
		"p.yaml:25: ground.severities.airfield: 6: want 0 to 1",
		`p.yaml:27: limits.score: "high": want a number, 0 to 100`,
		`p.yaml:33: limits.abroad: "none": want a percentage with its unit, such as "2 %"`,
	}, "\n"), faults(t, text).Error())
}

// A plan does not change with the message that it was made of.
func TestCheckGroundIsItsOwn(t *testing.T) {
	m, _, err := plan.Read("p.yaml", []byte(grounded), nil)
	require.NoError(t, err)
	p, err := plan.Check(m)
	require.NoError(t, err)
	*m.Ground.Layers[0].Severity = 0.1
	m.Ground.Airspace[0].Kinds[0] = "P"
	assert.InDelta(t, 0.8, *p.Layers[0].Severity, 0)
	assert.Equal(t, []string{"R", "CTR"}, p.Airspace[0].Kinds)
}

// inventedGround makes valid ground and limits.
func inventedGround(c chooser, name func() string) (*thistledownv1.Ground, *thistledownv1.Limits) {
	g := &thistledownv1.Ground{Severities: &thistledownv1.Severities{Forest: c.between(0, 1), Abroad: c.between(0, 1), Airspace: proto.Float64(0)}}
	hours := func() []string {
		return slices.Repeat([]string{c.of("Mon-Fri 07:00-16:00", "Sun 22:00-02:00", "00:00-24:00")}, c.IntN(3))
	}
	for i := range c.IntN(5) {
		l := &thistledownv1.Layer{Name: fmt.Sprint(i, name()), Class: c.word("water", "forest", "built_up", "closed", "airfield", "abroad"), File: name(), Buffer: c.or("50 m", "10 km"), Severity: c.between(0, 1), Active: hours(), Source: c.or("a county")}
		l.Parcels = l.Class == nil || c.half()
		if l.Class == nil {
			l.Severity = nil
		}
		for range c.IntN(3) {
			l.Covers = append(l.Covers, &thistledownv1.Box{South: proto.Float64(-90 * c.Float64()), North: proto.Float64(1 + 89*c.Float64()), West: proto.Float64(-180 + 360*c.Float64()), East: proto.Float64(-180 + 360*c.Float64())})
		}
		g.Layers = append(g.Layers, l)
		g.Airspace = append(g.Airspace, &thistledownv1.Airspace{Name: fmt.Sprint(i), File: name(), Severity: c.between(0, 1), Active: hours(), Kinds: slices.Repeat([]string{"CTR"}, c.IntN(3))})
		cover := &thistledownv1.LandCover{Name: fmt.Sprint(i), File: name(), Legend: c.word("worldcover", "nlcd", "corine", "igbp"), Source: c.or("an agency")}
		if cover.Legend == nil {
			cover.Codes = []string{"41 forest", "0 open", "65535 built_up"}[:1+c.IntN(3)]
		}
		g.LandCover = append(g.LandCover, cover)
		g.Heights = append(g.Heights, &thistledownv1.Heights{File: name()})
		g.Ways = append(g.Ways, &thistledownv1.Ways{Name: fmt.Sprint(i), File: name()})
	}
	if c.half() {
		g.People = &thistledownv1.People{InTheOpen: c.of("20 /km2", "0 /mi2"), BuiltUp: c.or("3000 /km²"), PayloadWidth: c.or("1 cm", "1 ft")}
	}
	return g, inventedLimits(c)
}

// inventedLimits makes valid limits.
func inventedLimits(c chooser) *thistledownv1.Limits {
	return &thistledownv1.Limits{
		Score: c.between(0, 100), Water: c.or("0 %", "5 %"), Forest: c.or("100 %"), BuiltUp: c.or("2.5%"), Closed: c.or("1 %"), Airfield: c.or("1 %"), Abroad: c.or("0 %"),
		Airspace: c.or("3 %"), NotLanded: c.or("10 %"), Distance: c.or("150 km", "100 mi"),
		Wind: c.or("0 m/s", "6 m/s", "12 kn"), Gust: c.or("22 mph"), Cloud: c.or("50 %"), Visibility: c.or("0 km", "5 mi"), RainInAnHour: c.or("0 mm", "0.1 mm", "1 in"),
		CapeJKg: c.between(0, 10000), DownBeforeSunset: c.or("0 h", "1 h 30 min"), ThereBeforeDark: c.or("30 min", "12 h"), Usual: c.half(), Driving: c.or("10 km/h", "40 mph"),
	}
}
