package plan_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
)

// Ground and limits changed from the command line.
func TestSetGround(t *testing.T) {
	var open ground.Set
	tests := []struct {
		name string
		sets []string
		got  func(plan.Plan) any
		want any
	}{
		{"a buffer", []string{"ground.layers[0].buffer=1 km"}, func(p plan.Plan) any { return p.Layers[0].Buffer }, 1000.0},
		{"no buffer", []string{"ground.layers[0].buffer="}, func(p plan.Plan) any { return p.Layers[0].Buffer }, 0.0},
		{"a layer's severity of 0", []string{"ground.layers[0].severity=0"}, func(p plan.Plan) any { return *p.Layers[0].Severity }, 0.0},
		{"no severity of its own", []string{"ground.layers[0].severity="}, func(p plan.Plan) any { return p.Layers[0].Severity == nil }, true},
		{"a class and a severity for parcels", []string{"ground.layers[1].class=closed", "ground.layers[1].severity=0.5"}, func(p plan.Plan) any {
			return []any{p.Layers[1].Class, *p.Layers[1].Severity, p.Layers[1].Parcels}
		}, []any{ground.Closed, 0.5, true}},
		{"hours", []string{"ground.layers[0].active[0]=Sun 10:00-12:30"}, func(p plan.Plan) any {
			h := p.Layers[0].Active[0]
			return []any{h.Days[time.Sunday], h.Days[time.Monday], h.From, h.To, h.Zone == p.Site.Zone}
		}, []any{true, false, 10 * time.Hour, 12*time.Hour + 30*time.Minute, true}},
		{"one of the hours away", []string{"ground.layers[0].active[0]="}, func(p plan.Plan) any { return p.Layers[0].Active[0].From }, 22 * time.Hour},
		{"at all times", []string{"ground.layers[0].active="}, func(p plan.Plan) any { return len(p.Layers[0].Active) }, 0},
		{"another zone's clock", []string{"site.time_zone=Asia/Tokyo"}, func(p plan.Plan) any { return p.Airspace[0].Active[0].Zone.String() }, "Asia/Tokyo"},
		{"kinds of airspace", []string{"ground.airspace[0].kinds=[P]"}, func(p plan.Plan) any { return p.Airspace[0].Kinds }, []string{"P"}},
		{"all kinds of airspace", []string{"ground.airspace[0].kinds="}, func(p plan.Plan) any { return len(p.Airspace[0].Kinds) }, 0},
		{"an airspace's severity away", []string{"ground.airspace[0].severity="}, func(p plan.Plan) any { return math.IsNaN(p.Airspace[0].Severity) }, true},
		{"codes for a legend", []string{"ground.land_cover[0].legend=", "ground.land_cover[0].codes=[7 water, 65535 open]"}, func(p plan.Plan) any { return p.Cover[0].Legend }, ground.Legend{7: open.With(ground.Water), 65535: open}},
		{"one code more", []string{"ground.land_cover[1].codes[4]=90 water"}, func(p plan.Plan) any { return p.Cover[1].Legend[90] }, open.With(ground.Water)},
		{"heights away", []string{"ground.heights[0]="}, func(p plan.Plan) any { return p.Heights }, []string{"coarse.hgt"}},
		{"more ways", []string{"ground.ways[1]={name: Tracks, file: t}"}, func(p plan.Plan) any { return p.Ways[1] }, plan.Ways{Name: "Tracks", File: "t"}},
		{"as many people everywhere", []string{"ground.people.built_up="}, func(p plan.Plan) any { return p.People.BuiltUp == p.People.Open }, true},
		{"nobody", []string{"ground.people="}, func(p plan.Plan) any { return p.People == nil }, true},
		{"a severity", []string{"ground.severities.abroad=0"}, func(p plan.Plan) any { return p.Severity.Abroad }, 0.0},
		{"a severity's default again", []string{"ground.severities.airfield="}, func(p plan.Plan) any { return p.Severity.Airfield }, 0.9},
		{"a limit", []string{"limits.water=50 %"}, func(p plan.Plan) any { return p.Limits.Ground[ground.Water] }, 0.5},
		{"a limit away", []string{"limits.forest="}, func(p plan.Plan) any {
			_, ok := p.Limits.Ground[ground.Forest]
			return ok
		}, false},
		{"no limit of score", []string{"limits.score="}, func(p plan.Plan) any { return math.IsNaN(p.Limits.Score) }, true},
		{"no limits", []string{"limits="}, func(p plan.Plan) any { return len(p.Limits.Ground) }, 0},
		{"name as in JSON", []string{"limits.notLanded=20 %"}, func(p plan.Plan) any { return p.Limits.NotLanded }, 0.2},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, test.got(read(t, grounded, test.sets...)), "Read(grounded, %q)", test.sets)
		})
	}
}

func TestSetGroundFaults(t *testing.T) {
	tests := []struct{ name, set, want string }{
		{"bare buffer", "ground.layers[0].buffer=50", `--set ground.layers[0].buffer=50: want a length with its unit, such as "50 m"`},
		{"severity without a class", "ground.layers[1].severity=0.5", "--set ground.layers[1].severity=0.5: want a class beside it"},
		{"class taken away", "ground.layers[0].class=", "--set ground.layers[0].class=: missing: want one, unless parcels is true"},
		{"hours in words", "ground.layers[0].active[1]=late", "--set ground.layers[0].active[1]=late: " + wantHours},
		{"code of closed ground", "ground.land_cover[1].codes[0]=41 closed", "--set ground.land_cover[1].codes[0]=41 closed: " + wantCode},
		{"code twice", "ground.land_cover[1].codes[4]=41 water", "--set ground.land_cover[1].codes[4]=41 water: want a number that is not listed before"},
		{"legend beside codes", "ground.land_cover[1].legend=igbp", "--set ground.land_cover[1].legend=igbp: want the name of one, or codes"},
		{"width of a barn door", "ground.people.payload_width=12 m", "--set ground.people.payload_width=12 m: want 0.01 m to 10 m"},
		{"bare limit", "limits.airspace=5", `--set limits.airspace=5: want a percentage with its unit, such as "2 %"`},
		{"limit over all", "limits.not_landed=101 %", "--set limits.not_landed=101 %: want 0 % to 100 %"},
		{"limit of nothing", "limits.sky=1 %", `--set limits.sky=1 %: "sky": no such field: want one of score, water, forest, built_up, closed, airfield, abroad, airspace, not_landed, distance, wind, gust, cloud, visibility, rain_in_an_hour, cape_j_kg, down_before_sunset, there_before_dark, driving, usual`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, grounded, test.set).Error(), "Read(grounded, %q)", test.set)
		})
	}
}

// saneGround checks what Plan's comments promise of the ground and of limits,
// and what package ground wants of a layer and a land cover.
func saneGround(t *testing.T, p plan.Plan) {
	t.Helper()
	within := func(what string, v, low, high float64) {
		assert.True(t, v >= low && v <= high, "%s: %v, want %v to %v", what, v, low, high)
	}
	orNone := func(what string, v, high float64) {
		assert.True(t, math.IsNaN(v) || v >= 0 && v <= high, "%s: %v, want 0 to %v or NaN", what, v, high)
	}
	hours := func(all []ground.Hours) {
		for _, h := range all {
			assert.Same(t, p.Site.Zone, h.Zone, "the clock at the site")
			assert.NotEqual(t, h.From, h.To)
		}
	}
	names := map[string]bool{}
	once := func(name string) {
		assert.False(t, names[name], "%q twice", name)
		names[name] = true
	}
	for _, l := range p.Layers {
		once("layer " + l.Name)
		assert.True(t, l.Class != 0 || l.Parcels && l.Severity == nil, "layer %q of no class", l.Name)
		within("buffer", l.Buffer, 0, 10e3)
		if l.Severity != nil {
			within("severity", *l.Severity, 0, 1)
		}
		hours(l.Active)
		for _, b := range l.Covers {
			assert.Less(t, b.South, b.North)
			assert.NotEqual(t, b.West, b.East)
		}
	}
	for _, c := range p.Cover {
		once("cover " + c.Name)
		var told ground.Set
		for _, is := range c.Legend {
			told |= is
		}
		assert.NotZero(t, told, "land cover %q tells nothing", c.Name)
	}
	for _, a := range p.Airspace {
		once("airspace " + a.Name)
		orNone("severity", a.Severity, 1)
		hours(a.Active)
	}
	for _, w := range p.Ways {
		once("ways " + w.Name)
	}
	if p.People != nil {
		within("people in the open", p.People.Open, 0, 0.1)
		within("people on built-up ground", p.People.BuiltUp, 0, 0.1)
		within("payload's width", p.People.Width, 0.01, 10)
	}
	for class, share := range p.Limits.Ground {
		within("limit of "+class.String(), share, 0, 1)
	}
	orNone("limit of airspace", p.Limits.Airspace, 1)
	orNone("limit of flights that leave", p.Limits.NotLanded, 1)
	orNone("limit of score", p.Limits.Score, 100)
	orNone("limit of distance", p.Limits.Distance, 2e6)
	orNone("limit of wind", p.Limits.Weather.Wind, 50)
	orNone("limit of gusts", p.Limits.Weather.Gust, 80)
	orNone("limit of cloud", p.Limits.Weather.Cloud, 1)
	orNone("limit of visibility", p.Limits.Weather.Visibility, 100e3)
	orNone("limit of rain", p.Limits.Weather.Precipitation, 200.0/3600*(1+1e-12))
	orNone("limit of CAPE", p.Limits.Weather.CAPE, 10000)
	orNone("time before sunset", p.Limits.Sunset, 12*3600)
	orNone("time before dark", p.Limits.Dark, 12*3600)
	within("speed of a car", p.Limits.Driving, 10/3.6, 150/3.6)
}
