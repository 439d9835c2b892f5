package plan_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
)

func TestSet(t *testing.T) {
	box := geo.Box{South: -1, North: 1, West: 2, East: 3}
	tests := []struct {
		name string
		sets []string
		got  func(plan.Plan) any
		want any
	}{
		{"text", []string{"name=Evening"}, func(p plan.Plan) any { return p.Name }, "Evening"},
		{"text with a colon and a hash", []string{"name=Evening: flight #2"}, func(p plan.Plan) any { return p.Name }, "Evening: flight #2"},
		{"text with an equals sign", []string{"name=a=b"}, func(p plan.Plan) any { return p.Name }, "a=b"},
		{"quoted text", []string{`name="Evening \u00e9"`}, func(p plan.Plan) any { return p.Name }, "Evening é"},
		{"text that only begins with a quote", []string{`name='tis`}, func(p plan.Plan) any { return p.Name }, "'tis"},
		{"spaces about the value", []string{"name= Evening "}, func(p plan.Plan) any { return p.Name }, "Evening"},
		{"number", []string{"site.latitude=-12.5"}, func(p plan.Plan) any { return p.Site.At }, geo.Point{Lat: -12.5, Lon: -3.25}},
		{"name as in JSON", []string{"site.timeZone=Asia/Tokyo"}, func(p plan.Plan) any { return p.Site.Zone.String() }, "Asia/Tokyo"},
		{"quantity with a spread", []string{"train.measured.burst_altitude=20 km ± 1 km"}, func(p plan.Plan) any { return p.Burst.Spread }, 1000.0},
		{"the later of two", []string{"sampling.scrambles=4", "sampling.scrambles=6"}, func(p plan.Plan) any { return p.Scrambles }, 6},
		{"in an item", []string{"ground.layers[1].class=water"}, func(p plan.Plan) any { return p.Layers[1].Class }, ground.Water},
		{"in an item of an item", []string{"ground.layers[0].covers[1].east=170"}, func(p plan.Plan) any { return p.Layers[0].Covers[1].East }, 170.0},
		{"an item of texts", []string{"forecast.files[1]=f012.grib2"}, func(p plan.Plan) any { return p.ForecastFiles }, []string{"f000.grib2", "f012.grib2"}},
		{"one item more", []string{"forecast.files[2]=f012.grib2"}, func(p plan.Plan) any { return p.ForecastFiles }, []string{"f000.grib2", "f006.grib2", "f012.grib2"}},
		{"a whole list", []string{"forecast.files=[a, 'b, c']"}, func(p plan.Plan) any { return p.ForecastFiles }, []string{"a", "b, c"}},
		{"a list's end", []string{"forecast.files="}, func(p plan.Plan) any { return len(p.ForecastFiles) }, 0},
		{
			"a whole item",
			[]string{"ground.layers[2]={name: Lake, class: water, file: l, covers: [{south: -1, north: 1, west: 2, east: 3}]}"},
			func(p plan.Plan) any { return p.Layers[2] },
			plan.Layer{File: "l", LayerSource: ground.LayerSource{Name: "Lake", Class: ground.Water, Covers: []geo.Box{box}}},
		},
		{
			"one field of an item that is not there yet",
			[]string{"ground.layers[2].name=Lake", "ground.layers[2].class=water", "ground.layers[2].file=l"},
			func(p plan.Plan) any { return p.Layers[2] },
			plan.Layer{File: "l", LayerSource: ground.LayerSource{Name: "Lake", Class: ground.Water}},
		},
		{"away with a field", []string{"sampling.scrambles=", "uncertainty.launch_delay=null", "ground.layers=~"}, func(p plan.Plan) any {
			return []any{p.Scrambles, p.Delay.Spread, len(p.Layers)}
		}, []any{8, 300.0, 0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p := read(t, full, test.sets...)
			assert.Equal(t, test.want, test.got(p), "Read(full, %q)", test.sets)
		})
	}
}

// Sets make what is not there, as deep as it lies.
func TestSetMakesMappings(t *testing.T) {
	m, p, err := plan.Read("p.yaml", []byte("name: x\nground:\n"), []string{
		"site.name=Reed meadow", "site.latitude=1", "site.longitude=2", "site.time_zone=UTC",
		"launch=2017-03-22T08:00:00Z",
		"train.measured.ascent_rate=5 m/s", "train.measured.burst_altitude=30 km", "train.measured.landing_speed=5 m/s",
		"ground.airspace[0].name=a", "ground.airspace[0].file=b",
	})
	require.NoError(t, err)
	assert.Equal(t, geo.Point{Lat: 1, Lon: 2}, p.Site.At)
	assert.Equal(t, []plan.Airspace{{Name: "a", File: "b", Severity: -9999}}, printed(p).Airspace)
	assert.Equal(t, "5 m/s", m.GetTrain().GetMeasured().GetAscentRate())
}

// Launch morning: the scale, the gauge and what is left at home.
func TestSetTrain(t *testing.T) {
	names := func(p plan.Plan) any {
		var all []string
		for _, part := range p.Train.Parts {
			all = append(all, part.Name)
		}
		return all
	}
	tests := []struct {
		name string
		sets []string
		got  func(plan.Plan) any
		want any
	}{
		{"a part weighed again", []string{"train.parts[0].mass=655 g ± 2 g"}, func(p plan.Plan) any {
			return []float64{p.Train.Parts[0].Mass, p.Train.Parts[0].Spread}
		}, []float64{0.655, 0.002}},
		{"a part left at home", []string{"train.parts[2]="}, names, []string{"camera box", "egg in a cup", "paper birds", "neck plug"}},
		{"two of them, by the indices of the file", []string{"train.parts[0]=", "train.parts[2]=~"}, names, []string{"egg in a cup", "paper birds", "neck plug"}},
		{"a part behind one that is left at home", []string{"train.parts[0]=", "train.parts[1].count=7"}, func(p plan.Plan) any { return p.Train.Parts[0].Count }, 7},
		{"a part for one that is left at home", []string{"train.parts[0]=", "train.parts[0]={name: radio, mass: 90 g}"}, names, []string{"radio", "egg in a cup", "tracker", "paper birds", "neck plug"}},
		{"one part more", []string{"train.parts[5]={name: flag, mass: 30 g}"}, func(p plan.Plan) any { return p.Train.Parts[5].Mass }, 0.03},
		{"one part more, left at home", []string{"train.parts[5]={name: flag, mass: 30 g}", "train.parts[5]="}, func(p plan.Plan) any { return len(p.Train.Parts) }, 5},
		{"a gauge", []string{"train.gas.cylinders[0].gauge=170 bar"}, func(p plan.Plan) any { return p.Train.Weighed.Cylinders[0].Gauge }, balloon.GaugePressure(170e5)},
		{"other parts", []string{"train.parts=[{name: all of it, mass: 3 lb}]"}, names, []string{"all of it"}},
		{"another way to fill", []string{"train.gas.volume=", "train.gas.neck_lift=2400 g"}, func(p plan.Plan) any { return p.Train.Weighed.Fill.By }, plan.ByNeckLift},
		{"name as in JSON", []string{"train.trackers[0].worksAbove18Km=false"}, func(p plan.Plan) any { return p.Train.Trackers[0].WorksAbove }, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, test.got(read(t, weighed, test.sets...)), "Read(weighed, %q)", test.sets)
		})
	}
	measured := read(t, weighed, "train.envelope=", "train.gas=", "train.canopies=", "train.measured={ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 5 m/s}")
	assert.Nil(t, measured.Train.Weighed, "a weighed train turned into a measured one")
	assert.InDelta(t, 5, measured.Ascent.Centre, 0)
	assert.Len(t, measured.Train.Parts, 5)
	assert.Equal(t, []string{"f006.grib2"}, read(t, full, "forecast.files[0]=").ForecastFiles, "an item of texts taken away")
}

func TestSetTrainFaults(t *testing.T) {
	tests := []struct{ name, set, want string }{
		{"bare mass", "train.parts[0].mass=640", `--set train.parts[0].mass=640: ` + wantPart},
		{"decimal comma", "train.parts[0].mass=1,640 kg", `--set train.parts[0].mass=1,640 kg: "1,640 kg": a comma could mean thousands or decimals: write "1640 kg" or "1.640 kg": ` + wantPart},
		{"misspelt field", "train.parts[0].mas=640 g", `--set train.parts[0].mas=640 g: "mas": no such field: want mass ` + ofPart},
		{"field without its list's index", "train.parts.mass=640 g", `--set train.parts.mass=640 g: "mass": want an index before it, such as parts[0]`},
		{"part too far", "train.parts[6].mass=640 g", "--set train.parts[6].mass=640 g: parts[6]: want an index of at most 5"},
		{"part without a mass", "train.parts[5].name=flag", "--set train.parts[5].name=flag: train.parts[5].mass: missing: " + wantPart},
		{"part by another's name", "train.parts[5]={name: tracker, mass: 30 g}", `--set train.parts[5]={name: tracker, mass: 30 g}: train.parts[5].name: "tracker": want a name other than that of train.parts[2]`},
		{"last canopy taken away", "train.canopies[0]=", "p.yaml:31: train.canopies: missing: want one canopy at least, since the train is not measured"},
		{"every part taken away", "train.parts=", "--set train.parts=: missing: want what hangs below the envelope, one part at least"},
		{"nothing among the parts", "train.parts=[{name: box, mass: 1 lb}, ~]", "--set train.parts=[{name: box, mass: 1 lb}, ~]: train.parts[1]: nothing: want a mapping with name, mass, count, hangs, leaves"},
		{"amount taken away", "train.gas.volume=", "p.yaml:17: train.gas: no amount of gas: want one of volume, neck_lift, free_lift, ascent_rate, bursts_near and whole_rack"},
		{"gas taken away", "train.gas=", "--set train.gas=: missing: want what fills the envelope and how much of it, since the train is not measured"},
		{"burst taken away of a heavy envelope", "train.envelope={mass: 4 kg}", "--set train.envelope={mass: 4 kg}: train.envelope.bursts_at: missing: " + wantPaper},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, weighed, test.set).Error(), "Read(weighed, %q)", test.set)
		})
	}
}

func TestSetFaults(t *testing.T) {
	tests := []struct{ name, set, want string }{
		{"bare number", "train.measured.ascent_rate=5", "--set train.measured.ascent_rate=5: " + wantRate},
		{"latitude", "site.latitude=95", "--set site.latitude=95: want -90 to 90 (are latitude and longitude swapped?)"},
		{"latitude in words", "site.latitude=north", "--set site.latitude=north: want a number, -90 to 90"},
		{"no equals sign", "site.latitude", "--set site.latitude: want FIELD=VALUE"},
		{"no field", "=5", "--set =5: want FIELD=VALUE"},
		{"unknown field", "site.latitud=5", `--set site.latitud=5: "latitud": no such field: want latitude (or another of name, latitude, longitude, elevation, time_zone)`},
		{"unknown first field", "speed=5", `--set speed=5: "speed": no such field: want one of name, site, launch, train, uncertainty, ground, forecast, sampling, limits, schedule, rules, vary`},
		{"empty name in the path", "site..latitude=5", `--set site..latitude=5: "": want a field's name, with an index such as [0] in a list`},
		{"too far in", "site.latitude.degrees=5", `--set site.latitude.degrees=5: "degrees": want nothing behind latitude`},
		{"into a list without an index", "ground.layers.name=x", `--set ground.layers.name=x: "name": want an index before it, such as layers[0]`},
		{"index where there is no list", "site[0].latitude=5", `--set site[0].latitude=5: "site[0]": want site, which is no list, without an index`},
		{"index too far", "ground.layers[3].name=x", "--set ground.layers[3].name=x: layers[3]: want an index of at most 2"},
		{"index far too far", "ground.layers[9999999].name=x", `--set ground.layers[9999999].name=x: "layers[9999999]": want a field's name, with an index such as [0] in a list`},
		{"negative index", "ground.layers[-1].name=x", `--set ground.layers[-1].name=x: "layers[-1]": want a field's name, with an index such as [0] in a list`},
		{"text for a list", "forecast.files=a", "--set forecast.files=a: want a list of at most 1000 items"},
		{"text for a mapping", "site=a", "--set site=a: want a mapping with name, latitude, longitude, elevation, time_zone"},
		{"open list", "forecast.files=[a", "--set forecast.files=[a: did not find expected ',' or ']': want YAML"},
		{"anchor in a list", "forecast.files=[&a b]", `--set forecast.files=[&a b]: anchor "&a": ` + wantPlain},
		{"required field taken away", "site.latitude=", "--set site.latitude=: missing: want a number, -90 to 90"},
		{"part of an item missing", "ground.airspace[1]={name: x}", "--set ground.airspace[1]={name: x}: ground.airspace[1].file: missing: want 1 to 1024 characters"},
		{"time without an offset", "launch=2017-03-22 08:00", "--set launch=2017-03-22 08:00: " + wantTime},
		{"long value", "name=" + strings.Repeat("x", 121), "--set name=" + strings.Repeat("x", 75) + "…: want 1 to 120 characters"},
		{"field that steers a terminal", "a\x1b[31m=5", `--set a\x1b[31m=5: "a\x1b[31m": want a field's name, with an index such as [0] in a list`},
		{"not UTF-8", "name=a\xff", `--set name=a\xff: want text in UTF-8`},
		{"line break", "name=a\nb", `--set name=a\nb: want text on one line`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, full, test.set).Error(), "Read(full, %q)", test.set)
		})
	}
}

// A fault of a set names the set, one of the file the file, and each is told.
func TestSetFaultsBesideFile(t *testing.T) {
	text := strings.Replace(full, "latitude: 55.5", "latitude: 95", 1)
	assert.Equal(t, strings.Join([]string{
		"--set site.longitude=200: want -180 to 180",
		"p.yaml:5: site.latitude: 95: want -90 to 90",
	}, "\n"), faults(t, text, "site.longitude=200").Error())
	read(t, text, "site.latitude=9.5")
	assert.Equal(t, "p.yaml:3: site: 5: want a mapping with name, latitude, longitude, elevation, time_zone",
		faults(t, "name: x\n\nsite: 5\nlaunch: 2017-03-22T08:00:00Z\ntrain: {measured: {ascent_rate: 5 m/s, burst_altitude: 9 km, landing_speed: 5 m/s}}\n", "site.latitude=9.5").Error())
	assert.Equal(t, "p.yaml:1: site: missing: want a mapping with name, latitude, longitude, elevation, time_zone",
		strings.Split(faults(t, "name: x\n", "launch=2017-03-22T08:00:00Z").Error(), "\n")[0])
}
