package plan_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/plan"
)

const (
	wantPlan  = "want a mapping with name, site, launch, train, uncertainty, ground, forecast, sampling, limits, schedule, rules, vary"
	wantTime  = "want RFC 3339 with an offset, such as 2017-03-22T08:00:00+01:00"
	wantPlain = "want plain values, without anchors, aliases and tags"
	wantRate  = `want a speed with its unit, such as "5 m/s"`
	wantBurst = `want a length with its unit, such as "30 km"`
)

// Each case changes one text in the full plan; the lines are counted in that.
func TestReadFaults(t *testing.T) {
	tests := []struct{ name, from, to, want string }{
		// Numbers.
		{"latitude beyond the pole", "latitude: 55.5", "latitude: 95", "p.yaml:5: site.latitude: 95: want -90 to 90 (are latitude and longitude swapped?)"},
		{"latitude not a number", "latitude: 55.5", "latitude: .nan", "p.yaml:5: site.latitude: .nan: want -90 to 90"},
		{"infinite longitude", "longitude: -3.25", "longitude: -.inf", "p.yaml:6: site.longitude: -.inf: want -180 to 180"},
		{"latitude in words", "latitude: 55.5", "latitude: north", `p.yaml:5: site.latitude: "north": want a number, -90 to 90`},
		{"decimal comma", "latitude: 55.5", "latitude: 55,5", `p.yaml:5: site.latitude: "55,5": want a number, -90 to 90`},
		{"longitude of a circle", "longitude: -3.25", "longitude: 356.75", "p.yaml:6: site.longitude: 356.75: want -180 to 180"},
		{"scrambles not whole", "scrambles: 8", "scrambles: 8.5", "p.yaml:40: sampling.scrambles: 8.5: want a whole number, 2 to 64"},
		{"scrambles in bytes", "scrambles: 8", "scrambles: 1k", `p.yaml:40: sampling.scrambles: "1k": want a whole number, 2 to 64`},
		{"negative seed", "seed: 18446744073709551615", "seed: -1", "p.yaml:42: sampling.seed: -1: want a whole number, 0 to 18446744073709551615"},
		{"flag in words", "hold_above_top: true", "hold_above_top: yes", `p.yaml:37: forecast.hold_above_top: "yes": want true or false`},
		{"severity over 1", "water: 0.9", "water: 1.5", "p.yaml:34: ground.severities.water: 1.5: want 0 to 1"},
		{"not a power of two", "flights_per_scramble: 128", "flights_per_scramble: 100", "p.yaml:41: sampling.flights_per_scramble: 100: want a power of two"},
		{"too many in a scramble", "flights_per_scramble: 128", "flights_per_scramble: 100000", "p.yaml:41: sampling.flights_per_scramble: 100000: want 8 to 65536 and a power of two"},
		{"too many flights", "flights_per_scramble: 128", "flights_per_scramble: 65536", "p.yaml:39: sampling: scrambles × flights_per_scramble: want at most 262144 flights"},
		{"draws of no known kind", "draws: random", "draws: dice", `p.yaml:43: sampling.draws: "dice": want sobol or random`},
		// Quantities.
		{"bare number", "5 m/s ± 0.4 m/s", "5", `p.yaml:12: train.measured.ascent_rate: "5": ` + wantRate},
		{"bare centre", "5 m/s ± 0.4 m/s", "5 ± 8 %", `p.yaml:12: train.measured.ascent_rate: "5 ± 8 %": centre "5": ` + wantRate},
		{"ascent too fast", "5 m/s ± 0.4 m/s", "15.1 m/s", `p.yaml:12: train.measured.ascent_rate: "15.1 m/s": want 0.5 m/s to 15 m/s`},
		{"ascent too slow, in feet", "5 m/s ± 0.4 m/s", "50 ft/min", `p.yaml:12: train.measured.ascent_rate: "50 ft/min": want 98.43 ft/min to 2952 ft/min`},
		{"no such unit", "5 m/s ± 0.4 m/s", "5 m/sec", `p.yaml:12: train.measured.ascent_rate: "5 m/sec": "m/sec" is not a unit of speed here: want m/s, km/h, m/min, kn, mph, ft/s or ft/min`},
		{"unit of something else", "30 km +- 1.5 km", "30 min", `p.yaml:13: train.measured.burst_altitude: "30 min": min is a unit of duration: ` + wantBurst},
		{"comma", "30 km +- 1.5 km", `"30,5 km"`, `p.yaml:13: train.measured.burst_altitude: "30,5 km": the decimal mark is a point: write "30.5 km": ` + wantBurst},
		{"burst too high, in feet", "30 km +- 1.5 km", "150000 ft", `p.yaml:13: train.measured.burst_altitude: "150000 ft": want 3281 ft to 147600 ft`},
		{"burst spread", "30 km +- 1.5 km", "30 km ± 16 km", `p.yaml:13: train.measured.burst_altitude: "30 km ± 16 km": want a spread of at most 15 km`},
		{"burst spread in per cent", "30 km +- 1.5 km", "98000 ft ± 60 %", `p.yaml:13: train.measured.burst_altitude: "98000 ft ± 60 %": want a spread of at most 49210 ft`},
		{"landing spread", "18 km/h ± 20 %", "18 km/h ± 51 %", `p.yaml:14: train.measured.landing_speed: "18 km/h ± 51 %": want a spread of at most 50 %`},
		{"delay too long", "+45 min ± 10 min", "25 h", `p.yaml:16: uncertainty.launch_delay: "25 h": want -6 h to 24 h`},
		{"delay before", "+45 min ± 10 min", "-400 min", `p.yaml:16: uncertainty.launch_delay: "-400 min": want -360 min to 1440 min`},
		{"delay spread", "+45 min ± 10 min", "0 min ± 7 h", `p.yaml:16: uncertainty.launch_delay: "0 min ± 7 h": want a spread of at most 360 min`},
		{"wind error", "wind_error: 3 m/s ± 0.75 m/s", "wind_error: 31 m/s", `p.yaml:17: uncertainty.wind_error: "31 m/s": want 0 m/s to 30 m/s`},
		{"wind error in too much doubt", "wind_error: 3 m/s ± 0.75 m/s", "wind_error: 3 m/s ± 2 m/s", `p.yaml:17: uncertainty.wind_error: "3 m/s ± 2 m/s": want a spread of at most 50 %`},
		{"wind error scale with a spread", "wind_error_height_scale: 2 km", "wind_error_height_scale: 2 km ± 1 km", `p.yaml:18: uncertainty.wind_error_height_scale: "2 km ± 1 km": no spread is taken here: want a length with its unit, such as "3 km"`},
		{"wind error scale", "wind_error_height_scale: 2 km", "wind_error_height_scale: 999 m", `p.yaml:18: uncertainty.wind_error_height_scale: "999 m": want 1000 m to 30000 m`},
		{"chance", "slow_leak: 1 %", "slow_leak: 21 %", `p.yaml:19: uncertainty.off_nominal.slow_leak: "21 %": want 0 % to 20 %`},
		{"chance without a unit", "slow_leak: 1 %", "slow_leak: 0.01", `p.yaml:19: uncertainty.off_nominal.slow_leak: "0.01": want a percentage with its unit, such as "3 %"`},
		{"site too low", "elevation: 400 ft", "elevation: -500 m", `p.yaml:7: site.elevation: "-500 m": want -430 m to 6000 m`},
		{"quantity too long", "elevation: 400 ft", "elevation: 400.000000000000000000000000000000000000000000 ft", `p.yaml:7: site.elevation: "400.000000000000000000000000000000000000…": want at most 40 characters`},
		// Times and places.
		{"time without an offset", "2017-03-22T08:00:00+01:00", `"2017-03-22 08:00"`, `p.yaml:9: launch: "2017-03-22 08:00": ` + wantTime},
		{"time without an offset, in full", "2017-03-22T08:00:00+01:00", "2017-03-22T08:00:00", `p.yaml:9: launch: "2017-03-22T08:00:00": ` + wantTime},
		{"day alone", "2017-03-22T08:00:00+01:00", "2017-03-22", `p.yaml:9: launch: "2017-03-22": ` + wantTime},
		{"no such day", "2017-03-22T08:00:00+01:00", "2017-02-29T08:00:00Z", `p.yaml:9: launch: "2017-02-29T08:00:00Z": ` + wantTime},
		{"hour in one digit", "2017-03-22T08:00:00+01:00", "2017-03-22T8:00:00Z", `p.yaml:9: launch: "2017-03-22T8:00:00Z": ` + wantTime},
		{"offset of a day", "2017-03-22T08:00:00+01:00", "2017-03-22T08:00:00+24:00", `p.yaml:9: launch: "2017-03-22T08:00:00+24:00": ` + wantTime},
		{"seconds after a comma", "2017-03-22T08:00:00+01:00", "2017-03-22T08:00:00,5Z", `p.yaml:9: launch: "2017-03-22T08:00:00,5Z": ` + wantTime},
		{"time long past", "2017-03-22T08:00:00+01:00", "1949-12-31T23:59:59Z", `p.yaml:9: launch: "1949-12-31T23:59:59Z": want from 1950-01-01T00:00:00Z and before 2200-01-01T00:00:00Z`},
		{"no such zone", "Europe/Stockholm", "Europe/Nowhere", `p.yaml:8: site.time_zone: "Europe/Nowhere": want an IANA time zone, such as "Europe/Stockholm"`},
		{"the machine's zone", "Europe/Stockholm", "Local", `p.yaml:8: site.time_zone: "Local": want an IANA time zone, such as "Europe/Stockholm"`},
		{"box upside down", "south: 55, north: 56", "south: 56, north: 55", "p.yaml:26: ground.layers[0].covers[0].south: 56: want less than north, 55"},
		{"box of no height", "south: 55, north: 56", "south: 55, north: 55", "p.yaml:26: ground.layers[0].covers[0].south: 55: want less than north, 55"},
		{"box of no width", "west: 179, east: -179", "west: 180, east: -180", "p.yaml:27: ground.layers[0].covers[1].west: 180: want a meridian other than east, -180"},
		{"box beyond the pole", "south: -1, north: 1", "south: -91, north: 1", "p.yaml:27: ground.layers[0].covers[1].south: -91: want -90 to 90"},
		{"box without an edge", "south: -1, north: 1, west: 179,", "south: -1, north: 1,", "p.yaml:27: ground.layers[0].covers[1].west: missing: want a number, -180 to 180"},
		// Texts.
		{"no name", "name: Spring morning", `name: ""`, `p.yaml:2: name: "": want 1 to 120 characters`},
		{"blank name", "name: Spring morning", `name: "  "`, `p.yaml:2: name: "  ": want text that can be seen`},
		{"name over two lines", "name: Spring morning", `name: "a\nb"`, `p.yaml:2: name: "a\nb": want text on one line`},
		{"name that steers a terminal", "name: Spring morning", `name: "\e[31m"`, `p.yaml:2: name: "\x1b[31m": want text on one line`},
		{"no such class", "class: closed", "class: lava", `p.yaml:29: ground.layers[1].class: "lava": want water, forest, built_up, closed, airfield or abroad`},
		{"class as results print it", "class: closed", "class: built-up", `p.yaml:29: ground.layers[1].class: "built-up": want water, forest, built_up, closed, airfield or abroad`},
		{"layer named twice", "name: Quarry", "name: Woods", `p.yaml:28: ground.layers[1].name: "Woods": want a name other than that of ground.layers[0]`},
		{"airspace named twice", "      file: area.geojson", "      file: a\n    - name: Practice area\n      file: b", `p.yaml:34: ground.airspace[1].name: "Practice area": want a name other than that of ground.airspace[0]`},
		{"empty file name", "[f000.grib2, f006.grib2]", `[f000.grib2, ""]`, `p.yaml:36: forecast.files[1]: "": want 1 to 1024 characters`},
		// Structure.
		{"unknown field", "airspace: 0.4", "airspace: 0.4, sky: 1", "p.yaml:34: ground.severities.sky: no such field: want one of water, forest, built_up, closed, airspace, airfield, abroad"},
		{"misspelt field", "elevation: 400 ft", "elevaton: 400 ft", "p.yaml:7: site.elevaton: no such field: want elevation (or another of name, latitude, longitude, elevation, time_zone)"},
		{"field with a hyphen", "hold_above_top: true", "Hold-Above-Top: true", "p.yaml:37: forecast.Hold-Above-Top: no such field: want hold_above_top (or another of files, hold_above_top, above, name)"},
		{"field by its number", "elevation: 400 ft", "4: 400 ft", "p.yaml:7: site.4: no such field: want one of name, latitude, longitude, elevation, time_zone"},
		{"field twice", "elevation: 400 ft", "latitude: 5", "p.yaml:7: site.latitude: given again after line 5: want it once"},
		{"field twice by two names", "elevation: 400 ft", "timeZone: UTC", "p.yaml:8: site.time_zone: given again after line 7: want it once"},
		{"missing in the middle", "    burst_altitude: 30 km +- 1.5 km\n", "", "p.yaml:11: train.measured.burst_altitude: missing: " + wantBurst},
		{"nothing where something must be", "latitude: 55.5", "latitude:", "p.yaml:5: site.latitude: missing: want a number, -90 to 90"},
		{"list for a mapping", "severities: {water: 0.9, forest: 0.1, built_up: 0.2, closed: 0.3, airspace: 0.4}", "severities: [1]", "p.yaml:34: ground.severities: a list: want a mapping with water, forest, built_up, closed, airspace, airfield, abroad"},
		{"text for a list", "files: [f000.grib2, f006.grib2]", "files: f000.grib2", `p.yaml:36: forecast.files: "f000.grib2": want a list of at most 1000 items`},
		{"text for a layer", "    - name: Quarry\n      class: closed\n      file: quarry.geojson\n", "    - quarry.geojson\n", `p.yaml:28: ground.layers[1]: "quarry.geojson": want a mapping with name, class, file, covers, buffer, severity, active, parcels, source`},
		{"nothing for a layer", "    - name: Quarry\n      class: closed\n      file: quarry.geojson\n", "    -\n", `p.yaml:28: ground.layers[1]: nothing: want a mapping with name, class, file, covers, buffer, severity, active, parcels, source`},
		{"list for a file", "[f000.grib2, f006.grib2]", "[f000.grib2, [f006.grib2]]", "p.yaml:36: forecast.files[1]: a list: want 1 to 1024 characters"},
		{"mapping for a text", "name: Spring morning", "name: {first: Spring}", `p.yaml:2: name: a mapping: want 1 to 120 characters`},
		{"too many layers' boxes", "        - {south: 55, north: 56, west: -4, east: -3}\n", strings.Repeat("        - {}\n", 64), "p.yaml:25: ground.layers[0].covers: 65 items: want at most 64 items"},
		{"list as a key", "elevation: 400 ft", "? [a]\n  : 1", "p.yaml:7: site: a list as a key: want one of name, latitude, longitude, elevation, time_zone"},
		{"merged mapping", "elevation: 400 ft", "<<: {elevation: 1 m}", "p.yaml:7: site.<<: no such field: want one of name, latitude, longitude, elevation, time_zone"},
		// YAML.
		{"tab", "  elevation: 400 ft", "\televation: 400 ft", "p.yaml:7: a tab in the indentation: want spaces"},
		{"open quote", "name: Spring morning", `name: "Spring morning`, "p.yaml:2: found unexpected end of stream: want YAML"},
		{"wrong indentation", "  elevation: 400 ft", " elevation: 400 ft", "p.yaml:7: did not find expected key: want YAML"},
		{"open list", "[f000.grib2, f006.grib2]", "[f000.grib2, f006.grib2", "p.yaml:36: did not find expected ',' or ']': want YAML"},
		{"anchor", "elevation: 400 ft", "elevation: &high 400 ft", `p.yaml:7: anchor "&high": ` + wantPlain},
		{"alias to nothing", "elevation: 400 ft", "elevation: *high", "p.yaml:7: unknown anchor 'high' referenced: " + wantPlain},
		{"tag", "elevation: 400 ft", "elevation: !!str 400 ft", `p.yaml:7: tag "!!str": ` + wantPlain},
		{"second document", "ground:\n", "---\nground:\n", "p.yaml:20: a second document: want one"},
		{"not UTF-8", "Reed", "R\xe9d", "p.yaml:4: octet 0xe9: want text in UTF-8"},
		{"NUL", "Reed", "Re\x00d", "p.yaml:4: control character U+0000: want text"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text := strings.Replace(full, test.from, test.to, 1)
			require.NotEqual(t, full, text, "the full plan has no %q", test.from)
			assert.Equal(t, test.want, faults(t, text).Error())
		})
	}
}

func TestReadBurstBelowSite(t *testing.T) {
	high := strings.Replace(strings.Replace(full, "400 ft", "1600 m", 1), "30 km +- 1.5 km", "1.5 km", 1)
	assert.Equal(t, `p.yaml:13: train.measured.burst_altitude: "1.5 km": want more than site.elevation, 1600 m`, faults(t, high).Error())
	read(t, strings.Replace(high, "1600 m", "1499 m", 1))
}

// A plan with faults of every kind tells all of them, each in its own line.
func TestReadAllFaultsAtOnce(t *testing.T) {
	text := `name: Spring morning
site: {name: Reed meadow, latitude: 95, longitude: -3.25, time_zone: Europe/Nowhere}
launch: 2017-03-22 08:00
colour: red
train:
  measured:
    ascent_rate: 5
    landing_speed: 40 m/s
`
	want := []string{
		"p.yaml:2: site.latitude: 95: want -90 to 90 (are latitude and longitude swapped?)",
		`p.yaml:2: site.time_zone: "Europe/Nowhere": want an IANA time zone, such as "Europe/Stockholm"`,
		`p.yaml:3: launch: "2017-03-22 08:00": ` + wantTime,
		"p.yaml:4: colour: no such field: want one of name, site, launch, train, uncertainty, ground, forecast, sampling, limits, schedule, rules, vary",
		"p.yaml:6: train.measured.burst_altitude: missing: " + wantBurst,
		`p.yaml:7: train.measured.ascent_rate: "5": ` + wantRate,
		`p.yaml:8: train.measured.landing_speed: "40 m/s": want 0.5 m/s to 30 m/s`,
	}
	found := faults(t, text)
	assert.Equal(t, want, strings.Split(found.Error(), "\n"))
	assert.Equal(t, plan.Fault{File: "p.yaml", Line: 2, Field: "site.latitude", Value: "95", Want: "-90 to 90 (are latitude and longitude swapped?)"}, found[0])
}

func TestReadNotAPlan(t *testing.T) {
	deep := strings.Repeat("[", 40) + strings.Repeat("]", 40)
	bomb := "a: &a [x, x]\nb: &b [*a, *a]\nname: [*b, *b]\n"
	tests := []struct{ name, text, want string }{
		{"empty", "", "p.yaml:1: nothing in it: " + wantPlan},
		{"comments alone", "# nothing\n", "p.yaml:1: nothing in it: " + wantPlan},
		{"null", "~\n", "p.yaml:1: nothing in it: " + wantPlan},
		{"a word", "\n\nplan\n", `p.yaml:3: "plan": ` + wantPlan},
		{"a list", "- name: x\n", "p.yaml:1: a list: " + wantPlan},
		{"an HTML page", "<!DOCTYPE html>\n<html lang=en><title>404: Not Found</title>\n", "p.yaml:2: mapping values are not allowed in this context: want YAML"},
		{"too large", "name: " + strings.Repeat("x", 1<<20), "p.yaml:1: 1048582 octets: want at most 1048576"},
		{"too deep", "name: " + deep, "p.yaml:1: nested more than 16 deep: want less"},
		{"far too deep", "name: " + strings.Repeat("[", 20000), "p.yaml:1: nested more than 16 deep: want less"},
		{"aliases in aliases", bomb, strings.Join([]string{
			`p.yaml:1: anchor "&a": ` + wantPlain, `p.yaml:2: anchor "&b": ` + wantPlain, `p.yaml:2: alias "*a": ` + wantPlain,
			`p.yaml:2: alias "*a": ` + wantPlain, `p.yaml:3: alias "*b": ` + wantPlain, `p.yaml:3: alias "*b": ` + wantPlain,
		}, "\n")},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, test.text).Error())
		})
	}
}

// Of very many faults the first hundred are told, and how many there are.
func TestReadManyFaults(t *testing.T) {
	var text strings.Builder
	text.WriteString(least)
	for i := range 5000 {
		fmt.Fprintf(&text, "x%d: 1\n", i)
	}
	found := faults(t, text.String())
	require.Len(t, found, 101)
	assert.Equal(t, "p.yaml:9: x0: no such field: want one of name, site, launch, train, uncertainty, ground, forecast, sampling, limits, schedule, rules, vary", found[0].String())
	assert.Equal(t, 108, found[99].Line)
	assert.Equal(t, "p.yaml: 4900 more faults", found[100].String())
}

// A list that is far too long hides what is in it and nothing else.
func TestReadLongList(t *testing.T) {
	text := least + "ground: {layers: [" + strings.Repeat("{},", 300000) + "], severities: {water: 2}}\n"
	assert.Equal(t, "p.yaml:9: ground.layers: 300000 items: want at most 64 items\n"+
		"p.yaml:9: ground.severities.water: 2: want 0 to 1", faults(t, text).Error())
}
