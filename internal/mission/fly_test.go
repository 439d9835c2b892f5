package mission_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// planAt is a plan for the morning of the real winds, on which nothing breaks.
func planAt(at geo.Point) plan.Plan {
	return plan.Plan{
		Name: "Test", Site: plan.Site{Name: "Field", At: at, Elevation: math.NaN(), Zone: time.UTC},
		Launch: time.Date(2017, 3, 22, 6, 0, 0, 0, time.UTC),
		Ascent: quantity.Uncertain{Centre: 5, Spread: 0.4}, Burst: quantity.Uncertain{Centre: 27000, Spread: 1500},
		Landing: quantity.Uncertain{Centre: 5, Spread: 0.5}, Delay: quantity.Uncertain{Spread: 300},
		WindError: math.NaN(), WindScale: math.NaN(), Severity: plan.DefaultSeverity(),
		Limits: launch.None(), Scrambles: 16, PerScramble: 64, Seed: 1,
	}
}

func world(t *testing.T) mission.World {
	t.Helper()
	water, err := ground.BuiltInWater()
	require.NoError(t, err)
	return mission.World{Winds: []*wind.Field{realwind.Field(t)}, Ground: &mission.Ground{Map: &ground.Map{Layers: []*ground.Layer{water}}}}
}

// One worker or many, the answer is the same to the last bit.
func TestTheSameForAnyNumberOfWorkers(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.OffNominal = plan.DefaultOffNominal()
	one, err := mission.Fly(t.Context(), w, p, mission.Options{Workers: 1})
	require.NoError(t, err)
	for _, workers := range []int{2, 7} {
		many, err := mission.Fly(t.Context(), w, p, mission.Options{Workers: workers})
		require.NoError(t, err)
		assert.Equal(t, one, many, "%d workers", workers)
	}
}

// In the middle of an ocean everything comes down in water, and the score is
// the severity of that; in the middle of a continent nothing does.
func TestSeaAndLand(t *testing.T) {
	w := world(t)
	sea, err := mission.Fly(t.Context(), w, planAt(geo.Point{Lat: -45, Lon: -120}), mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, 100.0, sea.Hazard.Value)
	assert.Equal(t, sea.Flights, sea.Hazard.Classes[0].Landing.Hits)
	land, err := mission.Fly(t.Context(), w, planAt(geo.Point{Lat: 24, Lon: 14}), mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, 0.0, land.Hazard.Value)
	assert.Equal(t, 100.0, land.Hazard.Worst, "no layer says anything of forest, buildings or closed ground")
	assert.InDelta(t, 0.0029212, land.Hazard.Classes[0].Landing.High, 1e-6) // 1 − 0.05^(1/1024)
}

// A burst above 1 hPa, some 47 km, leaves this forecast: counted as that, or
// flown on with the highest level's wind and a warning where the plan says so.
func TestAboveTheHighestLevel(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Burst = quantity.Uncertain{Centre: 45000, Spread: 2000}
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, l.Endings, 2)
	assert.Equal(t, flight.AboveTop, l.Endings[1].End)
	assert.Equal(t, l.Flights, l.Endings[0].Share.Hits+l.Endings[1].Share.Hits)
	assert.Equal(t, l.Endings[1].Share.Hits, l.Hazard.NotLanded.Hits)
	assert.Contains(t, l.Warnings[0], "did not land within the forecast")
	assert.Contains(t, l.Warnings[0], "forecast.hold_above_top")

	p.HoldAboveTop = true
	held, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, held.Endings, 1)
	assert.Contains(t, held.Warnings[0], "highest level")
}

// Where not one flight lands there is no landing and no score, and it is said.
func TestNothingLands(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Launch = time.Date(2017, 3, 22, 11, 30, 0, 0, time.UTC)
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.Nil(t, l.Landing)
	assert.Nil(t, l.Hazard)
	require.Len(t, l.Endings, 1)
	assert.Equal(t, flight.AfterLast, l.Endings[0].End)
	assert.Equal(t, l.Flights, l.Endings[0].Share.Hits)
}

func TestNotCovered(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Launch = time.Date(2017, 3, 23, 0, 0, 0, 0, time.UTC)
	_, err := mission.Fly(t.Context(), w, p, mission.Options{})
	var notCovered *mission.NotCovered
	require.ErrorAs(t, err, &notCovered)
	assert.Equal(t, wind.AfterLast, notCovered.Outcome)
	assert.Equal(t, "launch: 2017-03-23T00:00:00Z is after the forecast's last time: want 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z", err.Error())
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	p := planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.PerScramble = 4096
	_, err := mission.Fly(ctx, world(t), p, mission.Options{Progress: func(int) { cancel() }})
	assert.ErrorIs(t, err, context.Canceled)
}

// Everything within 1,000 km of the site is in the box, and 80 m/s times the
// time that a slow train is up.
func TestReach(t *testing.T) {
	for _, site := range []geo.Point{{Lat: 0, Lon: 0}, {Lat: 58.2, Lon: 13}, {Lat: -33, Lon: 179}, {Lat: 80, Lon: -50}} {
		quick, slow := planAt(site), planAt(site)
		slow.Ascent.Centre, slow.Landing.Centre = 1, 3 // up 27,000 s, down 9,000 s
		for _, c := range []struct {
			p      plan.Plan
			metres float64
		}{{quick, 990e3}, {slow, 0.99 * 80 * 36000}} {
			box := mission.Reach(c.p)
			require.NoError(t, box.Check(), "%v", site)
			for bearing := 0.0; bearing < 360; bearing += 7 {
				p := geo.Direct(site, bearing, c.metres)
				assert.True(t, box.Contains(p), "Reach(%v) = %v does not hold %v", site, box, p)
			}
		}
	}
}

// A site height that the forecast model's ground contradicts is questioned.
func TestSiteHeightIsQuestioned(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Site.Elevation = 2000
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(l.Warnings, " "), "The plan puts the site at 2000 m")
	p.Site.Elevation = 150
	l, err = mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.NotContains(t, strings.Join(l.Warnings, " "), "The plan puts the site")
}
