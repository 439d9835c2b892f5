package plan_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
)

// full is a plan that says everything. Its names are invented.
const full = `# A plan that says everything.
name: Spring morning
site:
  name: Reed meadow
  latitude: 55.5
  longitude: -3.25
  elevation: 400 ft
  time_zone: Europe/Stockholm
launch: 2017-03-22T08:00:00+01:00
train:
  measured:
    ascent_rate: 5 m/s ± 0.4 m/s
    burst_altitude: 30 km +- 1.5 km
    landing_speed: 18 km/h ± 20 %
uncertainty:
  launch_delay: +45 min ± 10 min
  wind_error: 3 m/s ± 0.75 m/s
  wind_error_height_scale: 2 km
  off_nominal: {early_burst: 4 %, canopy_fails: 0 %, canopy_fouled: 0.5%, slow_leak: 1 %, float: 2 %}
ground:
  layers:
    - name: Woods
      class: forest
      file: woods.geojson
      covers:
        - {south: 55, north: 56, west: -4, east: -3}
        - {south: -1, north: 1, west: 179, east: -179}
    - name: Quarry
      class: closed
      file: quarry.geojson
  airspace:
    - name: Practice area
      file: area.geojson
  severities: {water: 0.9, forest: 0.1, built_up: 0.2, closed: 0.3, airspace: 0.4}
forecast:
  files: [f000.grib2, f006.grib2]
  hold_above_top: true
  above: [deep.cube]
sampling:
  scrambles: 8
  flights_per_scramble: 128
  seed: 18446744073709551615
  draws: random
`

// least is a plan that says only what it must.
const least = `name: Spring morning
site: {name: Reed meadow, latitude: 55.5, longitude: -3.25, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  measured:
    ascent_rate: 5 m/s
    burst_altitude: 30 km
    landing_speed: 4 m/s
`

func read(t *testing.T, text string, sets ...string) plan.Plan {
	t.Helper()
	m, p, err := plan.Read("p.yaml", []byte(text), sets)
	require.NoError(t, err)
	require.NotNil(t, m)
	return p
}

// faults is what Read says is wrong, which must be something.
func faults(t *testing.T, text string, sets ...string) plan.Faults {
	t.Helper()
	m, p, err := plan.Read("p.yaml", []byte(text), sets)
	var found plan.Faults
	require.ErrorAs(t, err, &found)
	require.NotEmpty(t, found)
	assert.Nil(t, m, "Read: message beside faults")
	assert.Equal(t, plan.Plan{}, p, "Read: plan beside faults")
	return found
}

func TestReadEverything(t *testing.T) {
	p := read(t, full)
	zone := p.Site.Zone
	p.Site.Zone = nil
	want := plan.Plan{
		Name: "Spring morning",
		Site: plan.Site{
			Name: "Reed meadow", At: geo.Point{Lat: 55.5, Lon: -3.25},
			Elevation: 121.92, // 400 × 0.3048 m, the international foot
		},
		Launch:     time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC), // +01:00 is an hour ahead of UTC
		Train:      plan.Train{Waiting: 1800, Searching: 21600},  // the defaults, 30 min and 6 h
		Ascent:     quantity.Uncertain{Centre: 5, Spread: 0.4},
		Burst:      quantity.Uncertain{Centre: 30000, Spread: 1500},
		Landing:    quantity.Uncertain{Centre: 5, Spread: 1}, // 18 km/h ÷ 3.6; a fifth of it
		Delay:      quantity.Uncertain{Centre: 2700, Spread: 600},
		WindError:  3,
		WindDoubt:  0.25, // 0.75 of 3
		WindScale:  2000,
		OffNominal: ensemble.Chances{EarlyBurst: 0.04, CanopyFouled: 0.005, SlowLeak: 0.01, Float: 0.02},
		Layers: []plan.Layer{
			{File: "woods.geojson", LayerSource: ground.LayerSource{
				Name: "Woods", Class: ground.Forest,
				Covers: []geo.Box{{South: 55, North: 56, West: -4, East: -3}, {South: -1, North: 1, West: 179, East: -179}},
			}},
			{File: "quarry.geojson", LayerSource: ground.LayerSource{Name: "Quarry", Class: ground.Closed}},
		},
		Airspace:      []plan.Airspace{{Name: "Practice area", File: "area.geojson", Severity: math.NaN()}},
		Severity:      plan.Severity{Water: 0.9, Forest: 0.1, BuiltUp: 0.2, Closed: 0.3, Airfield: 0.9, Abroad: 0.6, Airspace: 0.4},
		Limits:        launch.None(),
		Schedule:      plan.Schedule{Step: time.Hour}, // the default
		ForecastFiles: []string{"f000.grib2", "f006.grib2"},
		ForecastAbove: []string{"deep.cube"},
		HoldAboveTop:  true,
		Scrambles:     8,
		PerScramble:   128,
		Seed:          math.MaxUint64,
		Draws:         ensemble.Random,
	}
	assert.Equal(t, printed(want), printed(p))
	require.NotNil(t, zone)
	assert.Equal(t, "Europe/Stockholm", zone.String())
}

// The defaults are those of plan.proto's comments, written out again here.
func TestReadDefaults(t *testing.T) {
	p := read(t, least)
	assert.InDelta(t, 0.08*5, p.Ascent.Spread, 1e-12, "ascent rate: default spread 8 %% of 5 m/s")
	assert.InDelta(t, 2000, p.Burst.Spread, 0, "burst altitude: default spread 2 km")
	assert.InDelta(t, 0.10*4, p.Landing.Spread, 1e-12, "landing speed: default spread 10 %% of 4 m/s")
	assert.Equal(t, quantity.Uncertain{Centre: 0, Spread: 300}, p.Delay, "launch delay: default 0 min ± 5 min")
	assert.True(t, math.IsNaN(p.WindError), "wind error: %v, want NaN for by lead time", p.WindError)
	assert.True(t, math.IsNaN(p.Site.Elevation), "elevation: %v, want NaN for the forecast's terrain", p.Site.Elevation)
	assert.Equal(t, 0.3/math.Sqrt(3), p.WindDoubt, "doubt of the wind error's size: an even law of 30 %")
	assert.True(t, math.IsNaN(p.WindScale), "height scale of the wind error: %v, want NaN for by height", p.WindScale)
	assert.Equal(t, ensemble.Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02, Float: 0.01}, p.OffNominal)
	some := read(t, least, "uncertainty.off_nominal.float=0 %").OffNominal
	assert.Equal(t, ensemble.Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02}, some, "0 % turns it off")
	assert.Equal(t, plan.Severity{Water: 1, Forest: 0.5, BuiltUp: 0.8, Closed: 0.9, Airfield: 0.9, Abroad: 0.6, Airspace: 0.7}, p.Severity)
	assert.Equal(t, 8, p.Scrambles)
	assert.Equal(t, 128, p.PerScramble)
	assert.Equal(t, uint64(1), p.Seed)
	assert.Equal(t, ensemble.Sobol, p.Draws)
	assert.False(t, p.HoldAboveTop)
	assert.Empty(t, p.Layers)
	assert.Empty(t, p.Airspace)
	assert.Empty(t, p.Cover)
	assert.Empty(t, p.Heights)
	assert.Empty(t, p.Ways)
	assert.Nil(t, p.People)
	assert.Empty(t, p.Limits.Ground)
	for _, limit := range [...]float64{p.Limits.Score, p.Limits.Airspace, p.Limits.NotLanded, p.Limits.Distance} {
		assert.True(t, math.IsNaN(limit), "limit %v, want NaN for none", limit)
	}
	assert.Empty(t, p.ForecastFiles)
	assert.Equal(t, quantity.Uncertain{Centre: 2700, Spread: 300}, read(t, least, "uncertainty.launch_delay=+45 min").Delay,
		"a delay without a spread has the default spread")
	severity := read(t, least, "ground.severities.forest=0").Severity
	assert.Equal(t, plan.Severity{Water: 1, Forest: 0, BuiltUp: 0.8, Closed: 0.9, Airfield: 0.9, Abroad: 0.6, Airspace: 0.7}, severity,
		"a severity of 0 is not a missing one")
	assert.Equal(t, uint64(0), read(t, least, "sampling.seed=0").Seed, "a seed of 0 is not a missing one")
}

// Ways to write a plan that mean the same as another way.
func TestReadSpellings(t *testing.T) {
	launch := "launch: 2017-03-22T07:00:00Z"
	tests := []struct{ name, from, to string }{
		{"quoted time", launch, `launch: "2017-03-22T08:00:00+01:00"`},
		{"quoted number", "latitude: 55.5", `latitude: "55.5"`},
		{"number with a power of ten", "latitude: 55.5", "latitude: 5.55e+1"},
		{"name as in JSON", "time_zone: UTC", "timeZone: UTC"},
		{"nothing for what may be left out", launch, launch + "\nground:\nsampling: ~\nforecast: {files: null}"},
		{"nothing for an elevation", "time_zone: UTC", "time_zone: UTC, elevation: "},
		{"byte order mark", "name: Spring", "\ufeffname: Spring"},
		{"Windows line ends", "\n", "\r\n"},
		{"comment", launch, launch + " # eight by the clock"},
		{"one document by its marks", "name: Spring", "---\nname: Spring"},
		{"feet", "30 km", "98425.19685039370 ft"}, // 30 000 ÷ 0.3048
	}
	want := read(t, least)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text := strings.ReplaceAll(least, test.from, test.to)
			require.NotEqual(t, least, text)
			got := read(t, text)
			assert.InDelta(t, want.Burst.Centre, got.Burst.Centre, 1e-9)
			got.Burst.Centre = want.Burst.Centre
			assert.Equal(t, printed(want), printed(got))
		})
	}
}

// printed is a plan without its NaNs, which equal nothing.
func printed(p plan.Plan) plan.Plan {
	all := []*float64{
		&p.Site.Elevation, &p.WindError, &p.WindScale,
		&p.Limits.Score, &p.Limits.Airspace, &p.Limits.NotLanded, &p.Limits.Distance, &p.Limits.Sunset, &p.Limits.Dark,
		&p.Limits.Weather.Wind, &p.Limits.Weather.Gust, &p.Limits.Weather.Cloud, &p.Limits.Weather.Visibility,
		&p.Limits.Weather.Precipitation, &p.Limits.Weather.CAPE,
	}
	p.Schedule.Sites = slices.Clone(p.Schedule.Sites)
	for i := range p.Schedule.Sites {
		all = append(all, &p.Schedule.Sites[i].Elevation)
	}
	p.Rules = printedRules(p.Rules)
	p.Airspace = slices.Clone(p.Airspace)
	for i := range p.Airspace {
		all = append(all, &p.Airspace[i].Severity)
	}
	if p.Train.Weighed != nil {
		w := *p.Train.Weighed
		w.Cylinders = slices.Clone(w.Cylinders)
		p.Train.Weighed = &w
		all = append(all, &w.Temperature, &w.Pressure, &w.Fill.Amount.Spread)
		for i := range w.Cylinders {
			all = append(all, &w.Cylinders[i].Temperature)
		}
	}
	for _, v := range all {
		if math.IsNaN(*v) {
			*v = -9999
		}
	}
	return p
}

func TestCheckNil(t *testing.T) {
	_, err := plan.Check(nil)
	require.EqualError(t, err, "missing: want a plan")
	var found plan.Faults
	require.True(t, errors.As(err, &found))
}

// A set plan is the message's plan: what comes back is what Check makes of the
// message that comes with it.
func TestReadMessageHasSets(t *testing.T) {
	m, p, err := plan.Read("p.yaml", []byte(full), []string{"site.latitude=-12.5", "name=Other"})
	require.NoError(t, err)
	assert.Equal(t, "Other", m.GetName())
	assert.InDelta(t, -12.5, m.GetSite().GetLatitude(), 0)
	checked, err := plan.Check(m)
	require.NoError(t, err)
	assert.Equal(t, printed(p), printed(checked))
}
