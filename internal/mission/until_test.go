package mission_test

import (
	"context"
	"math"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// probabilities are all those of an answer that flights more can make surer.
func probabilities(l report.Launch) map[string]hazard.Probability {
	all := map[string]hazard.Probability{"not landed": l.Hazard.NotLanded}
	for _, e := range l.Endings {
		all[e.End.String()] = e.Share
	}
	for _, c := range l.Hazard.Classes {
		if c.NotAssessed.Hits == 0 {
			all[c.Class.String()] = c.Landing
		}
		all[c.Class.String()+" not assessed"] = c.NotAssessed
	}
	for _, c := range l.Hazard.Crossings {
		all["crossing "+c.Name] = c.Probability
	}
	return all
}

// Flying goes on until each probability is as sure as asked, and no further: at
// the look before, with a third fewer flights, one was not. The answer is that of a plan with as many scrambles from the start.
func TestUntil(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	closed, err := ground.ReadVolumes("closed", []byte(`{"type":"Feature","properties":{"floor_m":500,"ceiling_m":2000},`+
		`"geometry":{"type":"Polygon","coordinates":[[[14,57],[14.3,57],[14.3,59],[14,59],[14,57]]]}}`))
	require.NoError(t, err)
	w.Ground.Map.Volumes = closed
	for _, draws := range []ensemble.Draws{ensemble.Sobol, ensemble.Random} {
		p.Draws, p.Scrambles = draws, 16
		l, err := mission.Fly(t.Context(), w, p, mission.Options{Until: 0.01})
		require.NoError(t, err)
		require.NotNil(t, l.Until)
		assert.True(t, l.Until.Reached)
		widest := 0.0
		for name, p := range probabilities(l) {
			assert.LessOrEqual(t, (p.High-p.Low)/2, 0.01, "%v: %s: %+v", draws, name, p)
			widest = max(widest, (p.High-p.Low)/2)
		}
		assert.InDelta(t, widest, l.Until.Widest, 1e-15)
		t.Logf("%v: %d flights until ±%.2g %%", draws, l.Flights, 100*l.Until.Widest)
		require.True(t, l.Hazard.Crossings[0].Probability.Hits > 0 && l.Hazard.Crossings[0].Probability.Hits < l.Flights, "a case that tells nothing")
		require.Greater(t, l.Scrambles, 16, "%v: a case that tells nothing", draws)

		p.Scrambles = l.Scrambles
		whole, err := mission.Fly(t.Context(), w, p, mission.Options{})
		require.NoError(t, err)
		assert.Nil(t, whole.Until)
		whole.Until = l.Until
		assert.Equal(t, whole, l, "%v: flown at once and bit by bit", draws)

		p.Scrambles = 16
		for next := 24; next < l.Scrambles; next += (next + 1) / 2 {
			p.Scrambles = next
		}
		fewer, err := mission.Fly(t.Context(), w, p, mission.Options{})
		require.NoError(t, err)
		widest = 0
		for _, p := range probabilities(fewer) {
			widest = max(widest, (p.High-p.Low)/2)
		}
		assert.Greater(t, widest, 0.01, "%v: flown on from %d flights, which were enough", draws, fewer.Flights)
	}
	p.Scrambles = 16
	l, err := mission.Fly(t.Context(), w, p, mission.Options{Until: 0.4})
	require.NoError(t, err)
	assert.Equal(t, 1024, l.Flights, "flights where the first are enough")
}

// What cannot be reached ends at the bound, and says so. Two scrambles: the
// interval is Student's with one degree of freedom, 12.7 standard errors.
func TestUntilTheBound(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Scrambles, p.PerScramble, p.Draws = 3, 65536, ensemble.Random
	l, err := mission.Fly(t.Context(), w, p, mission.Options{Until: 0.001})
	require.NoError(t, err)
	assert.Equal(t, 262144, l.Flights)
	assert.Equal(t, 4, l.Scrambles)
	assert.False(t, l.Until.Reached)
	assert.Greater(t, l.Until.Widest, 0.001)
}

// It stops when it is cancelled, also after the first flights.
func TestUntilCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var done atomic.Int64
	_, err := mission.Fly(ctx, world(t), planAt(geo.Point{Lat: 58.2, Lon: 13}), mission.Options{Until: 0.001, Progress: func(n int) {
		done.Store(max(done.Load(), int64(n)))
		if n > 1100 {
			cancel()
		}
	}})
	require.ErrorIs(t, err, context.Canceled)
	assert.Less(t, done.Load(), int64(3000), "flights flown")
}

func TestUntilRefuses(t *testing.T) {
	for _, v := range []float64{0.0009, 0.51, -0.1, math.NaN(), math.Inf(1)} {
		_, err := mission.Fly(t.Context(), world(t), planAt(geo.Point{Lat: 58.2, Lon: 13}), mission.Options{Until: v})
		assert.ErrorContains(t, err, "want 0.001 to 0.5", "Until %g", v)
	}
}
