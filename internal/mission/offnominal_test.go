package mission_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// Each flight is in one row of courses, those on which something breaks as often
// as the plan says, and they are among those that land and are scored.
func TestOffNominalFlightsAreFlown(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.22, Lon: 12.8})
	p.OffNominal = plan.DefaultOffNominal()
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, l.Courses, ensemble.Courses)
	all := 0
	for i, want := range []float64{0.91, 0.03, 0.01, 0.02, 0.02, 0.01} {
		assert.Equal(t, ensemble.Course(i), l.Courses[i].Course)
		all += l.Courses[i].Share.Hits
		assert.InDelta(t, 1024*want, l.Courses[i].Share.Hits, 5, "%v", l.Courses[i].Course)
	}
	assert.Equal(t, l.Flights, all)
	h := l.Hazard
	require.Greater(t, h.Value, 5.0)
	assert.InDelta(t, 0.09, h.OffNominal.Value, 0.01)
	assert.True(t, h.OffNominalPoints > 0.01*h.Value && h.OffNominalPoints < 0.3*h.Value, "%g of %g points", h.OffNominalPoints, h.Value)
	warnings := strings.Join(l.Warnings, " ")
	assert.Contains(t, warnings, "How often something breaks, and what then happens, is assumed")

	// With nothing breaking none of that is said.
	l, err = mission.Fly(t.Context(), w, planAt(geo.Point{Lat: 58.22, Lon: 12.8}), mission.Options{})
	require.NoError(t, err)
	require.Len(t, l.Courses, 1)
	assert.Equal(t, ensemble.Nominal, l.Courses[0].Course)
	assert.Zero(t, l.Hazard.OffNominal.Hits)
	assert.Zero(t, l.Hazard.OffNominalPoints)
	assert.NotContains(t, strings.Join(l.Warnings, " "), "breaks")
}

// Winds are asked for until the last flight is down: one that hangs for six
// hours, one that leaks and rises at half the rate, whichever takes longer.
func TestTimesCoverWhatBreaks(t *testing.T) {
	p := planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Ascent.Spread, p.Burst.Spread, p.Landing.Spread, p.Delay.Spread = 0, 0, 0, 0
	flown := func(c ensemble.Chances) time.Duration {
		p.OffNominal = c
		_, to := mission.Times(p)
		return to.Sub(p.Launch)
	}
	// 27 km up at 5 m/s and down at 5 m/s at most: 10,800 s.
	assert.Equal(t, 10800*time.Second, flown(ensemble.Chances{}))
	assert.Equal(t, (10800+6*3600)*time.Second, flown(ensemble.Chances{Float: 0.01}))
	assert.Equal(t, 16200*time.Second, flown(ensemble.Chances{SlowLeak: 0.01}))
	p.Ascent.Centre = 1
	assert.Equal(t, 59400*time.Second, flown(ensemble.Chances{SlowLeak: 0.01, Float: 0.01}), "54,000 s up, 5,400 s down")
	p.Ascent.Centre = 0.6 // at half of which nothing is flown
	assert.Equal(t, 59400*time.Second, flown(ensemble.Chances{SlowLeak: 0.01}), "at 0.5 m/s")
	none := mission.Reach(planAt(geo.Point{}))
	p = planAt(geo.Point{})
	p.OffNominal.Float = 0.01
	some := mission.Reach(p)
	assert.Greater(t, some.North, none.North, "what hangs is carried further")
}

// With members the wind error is that of the youngest forecast, as their spread
// is the growth with time; a plan's own is taken as it stands.
func TestWindErrorOfMembers(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Launch = time.Date(2017, 3, 22, 9, 0, 0, 0, time.UTC)
	one, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	field := realwind.Field(t)
	w.Winds = []*wind.Field{field, field}
	two, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	for _, c := range []struct{ least, greatest, low, high float64 }{
		{one.WindError, one.WindErrorGreatest, ensemble.WindErrorAt(9*3600, 0), ensemble.WindErrorAt(9*3600, 10380)},
		{two.WindError, two.WindErrorGreatest, 1.375, 1.75},
	} {
		assert.InDelta(t, c.low, c.least, 1e-3)
		assert.InDelta(t, c.high, c.greatest, 1e-3)
	}
	assert.Greater(t, one.WindError, 1.4)
	p.WindError = 3
	two, err = mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, []float64{3, 3}, []float64{two.WindError, two.WindErrorGreatest})
	assert.Equal(t, flight.Landed, two.Endings[0].End)
}
