package mission_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
)

// ruled is a plan in the desert whose flights hardly differ, held to rules.
func ruled(j rules.Jurisdiction) plan.Plan {
	p := planAt(geo.Point{Lat: 24, Lon: 14})
	p.Site.Elevation = 0
	p.WindError, p.Ascent.Spread, p.Burst.Spread, p.Landing.Spread, p.Delay.Spread = 0.01, 0.01, 10, 0.01, 10
	p.Scrambles, p.PerScramble = 4, 128 // of which none is under 0.6 %: less than rules.Negligible
	p.Rules = &plan.Regulations{Jurisdiction: j, Flight: rules.Unstated(), Identification: "One", Antenna: math.NaN()}
	p.Rules.Flight.Packages = []rules.Package{{Name: "box", Mass: 5, Least: 5, Faces: []float64{0.04}}} // heavy, and under part 101
	p.Rules.Flight.Launch = p.Launch
	p.Rules.People = []plan.Person{{Name: "Ada Reed", Telephone: "+46 70 174 06 05"}, {Name: "Ben Rush", Telephone: "+46 70 174 06 07"}}
	return p
}

// over is the desert under air of 10 m/s toward east, with these layers and volumes.
func over(t *testing.T, layers []*ground.Layer, volumes []*ground.Volume) mission.World {
	t.Helper()
	w := desert(t, 10)
	w.Ground = &mission.Ground{Map: &ground.Map{Layers: layers, Volumes: volumes}}
	return w
}

// limit is the limit of an answer whose subject begins so.
func limit(t *testing.T, w mission.World, p plan.Plan, what string) rules.Result {
	t.Helper()
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	require.NotNil(t, l.Rules)
	for _, r := range l.Rules.Limits {
		if strings.HasPrefix(r.What, what) {
			return r
		}
	}
	require.Fail(t, "no limit", what)
	return rules.Result{}
}

// strip is a layer of a class from one longitude to another, from 23° to 25° N, and
// looked for everywhere.
func strip(t *testing.T, c ground.Class, west, east float64) []*ground.Layer {
	t.Helper()
	l, err := ground.ReadLayer(ground.LayerSource{Name: "strip", Class: c, Covers: []geo.Box{{South: 20, North: 28, West: 10, East: 18}}},
		[]byte(around(fmt.Sprint(west), "23", fmt.Sprint(east), "25")))
	require.NoError(t, err)
	return []*ground.Layer{l}
}

// Flights go 10 m/s × (27000 m ÷ 5 m/s + some 2200 s of the fall) east, 76 km or 0.75 degrees: a
// border is crossed where a strip is under the way though nobody lands on it, and not
// where it is beyond.
func TestBorderOnTheWay(t *testing.T) {
	for _, test := range []struct {
		name       string
		west, east float64
		want       rules.Verdict
	}{
		{"on the way", 14.3, 14.5, rules.NotMet},
		{"under the landing", 14.6, 15.2, rules.NotMet},
		{"beyond", 15.3, 16, rules.Met},
		{"behind", 12, 13.9, rules.Met},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := limit(t, over(t, strip(t, ground.Abroad, test.west, test.east), nil), ruled(rules.International), "flights that cross a border")
			assert.Equal(t, test.want, r.Verdict, r.String())
		})
	}
	r := limit(t, over(t, nil, nil), ruled(rules.International), "flights that cross a border")
	assert.Equal(t, rules.CannotTell, r.Verdict, "no layer says")
	p := ruled(rules.International)
	p.Rules.Flight.Leave.Abroad = rules.Yes
	r = limit(t, over(t, strip(t, ground.Abroad, 14.3, 14.5), nil), p, "flights that cross a border")
	assert.Equal(t, rules.Met, r.Verdict, "by leave")
}

// 1,000 ft are 304.8 m; at 5 m/s and 10 m/s of wind they take 610 m, at 4.2 m/s 726 m
// and at 5.8 m/s 526 m. A degree of longitude at 24° N is 101.75 km on the ellipsoid.
func TestCongestedArea(t *testing.T) {
	const degree = 101.75e3 // m
	east := func(m float64) float64 { return 14 + m/degree }
	for _, test := range []struct {
		name   string
		from   float64 // m east of the site that houses begin
		spread float64 // of the rate of ascent, m/s
		want   rules.Verdict
	}{
		{"within every way", 500, 0.01, rules.NotMet},
		{"just within", 590, 0.01, rules.NotMet},
		{"just beyond", 630, 0.01, rules.Met},
		{"beyond the fast, within the slow", 630, 0.4, rules.CannotTell},
		{"beyond the slow too", 750, 0.4, rules.Met},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := ruled(rules.UnitedStates)
			p.Ascent.Spread = test.spread
			r := limit(t, over(t, strip(t, ground.BuiltUp, east(test.from), 16), nil), p, "first 1,000 ft")
			assert.Equal(t, test.want, r.Verdict, r.String())
			assert.Equal(t, rules.Yes, r.Binds)
		})
	}
	r := limit(t, over(t, nil, nil), ruled(rules.UnitedStates), "first 1,000 ft")
	assert.Equal(t, rules.CannotTell, r.Verdict, "nobody looked")
}

// volume is a volume of air 20 nautical miles around 24° N 14° E.
func volume(t *testing.T, class, floor, ceiling string) []*ground.Volume {
	t.Helper()
	text := "AC " + class + "\nAN One\nAL " + floor + "\nAH " + ceiling + "\nV X=24:00 N 14:00 E\nDC 20\n"
	all, err := ground.ReadAirspace("air", []byte(text))
	require.NoError(t, err)
	return all
}

func TestAirspaceAndRules(t *testing.T) {
	const closed, low = "prohibited and restricted areas", "flight below 2,000 ft"
	met, not, open := rules.Met, rules.NotMet, rules.CannotTell
	for _, test := range []struct {
		name          string
		volumes       []*ground.Volume
		closed, zoned rules.Verdict
	}{
		{"none", nil, open, open},
		{"restricted", volume(t, "R", "FL 100", "FL 200"), not, open},
		{"prohibited", volume(t, "P", "GND", "UNL"), not, open},
		{"restricted, above the burst", volume(t, "R", "100000 ft MSL", "UNL"), met, open},
		{"danger", volume(t, "Q", "GND", "UNL"), open, open},
		{"zone up to 2,000 ft", volume(t, "CTR", "GND", "2000 ft AGL"), open, not},
		{"zone that goes on above", volume(t, "CTR", "GND", "2100 ft AGL"), open, open},
		{"zone that is not there", volume(t, "CTR", "90000 ft MSL", "100000 ft MSL"), open, met},
	} {
		t.Run(test.name, func(t *testing.T) {
			w := over(t, nil, test.volumes)
			r := limit(t, w, ruled(rules.UnitedStates), closed)
			assert.Equal(t, test.closed, r.Verdict, r.String())
			r = limit(t, w, ruled(rules.UnitedStates), low)
			assert.Equal(t, test.zoned, r.Verdict, r.String())
		})
	}
	// GeoJSON may leave its kind out: then that cannot be told, and is minded.
	nameless, err := ground.ReadAirspace("air", []byte(`{"type":"Feature","properties":{"name":"Some air","floor":"GND","ceiling":"UNL"},"geometry":`+around("13.9", "23.9", "14.1", "24.1")+`}`))
	require.NoError(t, err)
	w := over(t, nil, nameless)
	assert.Equal(t, open, limit(t, w, ruled(rules.UnitedStates), closed).Verdict)
	l, err := mission.Fly(t.Context(), w, ruled(rules.UnitedStates), mission.Options{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(l.Warnings, "\n"), `the file of "Some air" does not say what kind of airspace it is`)
}

// On 22 March 2017 at 24° N 14° E the sun sets at 17:11 UTC or so: equinox, 12 h 7 min
// after it rose, at a true noon of 12:00 − 0:56 + 0:07 (the equation of time, from
// memory) UTC. Flights are up for 2 h 14 min: let go at
// 14:48 they are down before sunset, at 15:06 nine minutes after. Of those let go at 23:00
// the forecast does not say where they come down.
func TestNightByTheSun(t *testing.T) {
	for _, test := range []struct {
		hour float64
		want rules.Verdict
	}{{4.5, rules.NotMet}, {6, rules.Met}, {14, rules.Met}, {14.8, rules.Met}, {15.1, rules.NotMet}, {16, rules.NotMet}, {0.5, rules.NotMet}, {23, rules.NotMet}} {
		p := ruled(rules.UnitedStates)
		p.Launch = time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC).Add(time.Duration(test.hour * float64(time.Hour)))
		p.Rules.Flight.Equipment.Lights = rules.No
		r := limit(t, over(t, nil, nil), p, "lights between sunset and sunrise")
		assert.Equal(t, test.want, r.Verdict, "%g h: %v", test.hour, r)
	}
}

// The weather of the checks is that of the answer, and the trackers' are those of the
// train.
func TestWeatherAndTrackersOfTheChecks(t *testing.T) {
	p := planAt(lakeland)
	p.Rules = &plan.Regulations{Jurisdiction: rules.UnitedStates, Flight: rules.Unstated()}
	p.Train.Trackers = []plan.Tracker{
		{Tracker: balloon.Tracker{Kind: balloon.SatelliteTracker, Interval: 7201}},
		{Tracker: balloon.Tracker{Kind: balloon.RadioTracker, Interval: 7200}},
	}
	l, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	cloud := math.NaN()
	for _, r := range l.Weather {
		if r.Kind == report.Cloud && r.Known {
			cloud = r.Value
		}
	}
	require.Greater(t, cloud, 50.0, "else the check below says nothing")
	found := 0
	for _, r := range l.Rules.Limits {
		switch {
		case strings.HasPrefix(r.What, "sky covered"):
			assert.Equal(t, rules.NotMet, r.Verdict)
			assert.Contains(t, r.Value, fmt.Sprintf("%.4g", cloud))
			found++
		case strings.HasPrefix(r.What, "horizontal visibility"):
			assert.Equal(t, rules.CannotTell, r.Verdict, "it is not in this forecast")
			found++
		case strings.HasPrefix(r.What, "time between recorded positions"):
			assert.Equal(t, rules.Met, r.Verdict, "the better of two trackers reports every 2 h")
			found++
		}
	}
	assert.Equal(t, 3, found)
	p.Rules = nil
	l, err = mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	assert.Nil(t, l.Rules)
	assert.NotContains(t, strings.Join(l.Warnings, " "), "Rules:")
}

// Without a forecast the train alone is held to rules.
func TestSizeHoldsToRules(t *testing.T) {
	p := weighedAt(t, lakeland)
	p.Rules = &plan.Regulations{Jurisdiction: rules.Canada, Flight: rules.Unstated()}
	r, err := mission.Size(p, nil)
	require.NoError(t, err)
	require.NotNil(t, r.Rules)
	// Canadian Aviation Regulations 602.42 (second hand): 115 ft³, a sphere of 1.8388 m
	// (6 · 3.25644 m³ ÷ π, its cube root).
	assert.Equal(t, []rules.Class{rules.LargeCanadian}, r.Rules.Classes)
	p.Rules.Jurisdiction = "nowhere"
	_, err = mission.Size(p, nil)
	require.ErrorContains(t, err, `jurisdiction "nowhere": want one of us, icao, eu, uk, au, nz, ca`)
}

// Each launch time of a week has its own hours for the notice.
func TestRulesOfAWeek(t *testing.T) {
	p := ruled(rules.UnitedStates)
	p.Launch = p.Launch.Add(time.Hour)
	r := limit(t, over(t, nil, nil), p, "notice to the nearest air traffic control facility")
	assert.Equal(t, "call from 2017-03-21 07:00 UTC to 2017-03-22 01:00 UTC", r.Change)
}
