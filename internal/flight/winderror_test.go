package flight_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

func TestWindErrorAt(t *testing.T) {
	e := flight.WindError{Spacing: 2000, East: []float64{1, 3, -5}, North: []float64{10, 20, 40}}
	for _, c := range []struct{ height, east, north float64 }{
		{-500, 1, 10},
		{0, 1, 10},
		{500, 1.5, 12.5},
		{2000, 3, 20},
		{2500, 1, 25},
		{3500, -3, 35},
		{4000, -5, 40},
		{30000, -5, 40},
		{math.Inf(1), -5, 40},
		{math.Inf(-1), 1, 10},
	} {
		east, north := e.At(c.height)
		assert.Equal(t, [2]float64{c.east, c.north}, [2]float64{east, north}, "At(%g)", c.height)
	}
	east, north := flight.WindError{}.At(5000)
	assert.Zero(t, [2]float64{east, north})
	one := flight.WindError{Spacing: 1, East: []float64{7}, North: []float64{-8}}
	for _, height := range []float64{-1, 0, 0.5, 1, 9000} {
		east, north = one.At(height)
		assert.Equal(t, [2]float64{7, -8}, [2]float64{east, north}, "At(%g)", height)
	}
}

// An error of the wind moves a flight as wind does: the same everywhere, and
// linear in height.
func TestWindErrorIsAsWind(t *testing.T) {
	at := geo.Point{Lat: 47, Lon: 9}
	g := box(at, 0.1)
	train := balloon.Train{Ascent: 5, Burst: 20000, Landing: 5}
	base := func(z float64) wind.Sample {
		s := wind.Still(z)
		s.East, s.North = 4, -2
		return s
	}
	heights := []float64{0, 10000, 20000, 30000}
	still := fieldOf(t, g, heights, func(_ geo.Point, z, _ float64) wind.Sample { return base(z) })
	for _, e := range []flight.WindError{
		{Spacing: 10000, East: []float64{7, 7, 7, 7}, North: []float64{-3, -3, -3, -3}},
		{Spacing: 10000, East: []float64{1, 5, -8, 0}, North: []float64{0, 9, 6, 0}},
	} {
		windy := fieldOf(t, g, heights, func(_ geo.Point, z, _ float64) wind.Sample {
			s := base(z)
			east, north := e.At(z)
			s.East, s.North = s.East+east, s.North+north
			return s
		})
		want := last(land(t, windy, flight.Release{At: at, Train: train}, 0))
		got := last(land(t, still, flight.Release{At: at, Train: train, Error: e}, 0))
		assert.InDelta(t, want.At.Lat, got.At.Lat, 1e-7)
		assert.InDelta(t, want.At.Lon, got.At.Lon, 1e-7)
		assert.InDelta(t, want.Time, got.Time, 1e-3)
		plain := last(land(t, still, flight.Release{At: at, Train: train}, 0))
		miss, _, _ := geo.Inverse(plain.At, got.At)
		assert.Greater(t, miss, 10e3, "the error counts")
	}
}

// Errors toward east move a flight east and leave its latitude, errors toward
// north the other way.
func TestWindErrorsDirections(t *testing.T) {
	at := geo.Point{Lat: 47, Lon: 9}
	f := breeze(t, box(at, 0.1), 25000, 0, 0)
	r := flight.Release{At: at, Train: balloon.Train{Ascent: 5, Burst: 20000, Landing: 5}}
	r.Error = flight.WindError{Spacing: 1000, East: []float64{6}, North: []float64{0}}
	got := last(land(t, f, r, 0)).At
	assert.Equal(t, at.Lat, got.Lat)
	assert.Greater(t, got.Lon, at.Lon+0.5)
	r.Error.East, r.Error.North = r.Error.North, r.Error.East
	got = last(land(t, f, r, 0)).At
	assert.Equal(t, at.Lon, got.Lon)
	assert.Greater(t, got.Lat, at.Lat+0.4)
}

// Above the top the error counts HeldErrorFactor-fold, and the flight says that
// it was there. On the equator an error e turns a flight rising at w from z₁ to
// z₂ through e/w·ln((N+z₂)/(N+z₁)). Source: closed form.
func TestHeldAboveTheTop(t *testing.T) {
	_, normal := geo.Radii(0)
	f := breeze(t, box(geo.Point{}, 0.1), 20000, 0, 0)
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 24000, Landing: 5}}
	r.Error = flight.WindError{Spacing: 1000, East: []float64{3}, North: []float64{0}}
	got := sceneOf(f.HoldAboveTop()).Fly(r, nil)
	assert.Equal(t, flight.AboveTop, sceneOf(f).Fly(r, nil).End)
	// The field has no terrain but zeros: it lands at mean sea level.
	require.Equal(t, flight.Landed, got.End)
	assert.True(t, got.Held)
	checkPath(t, got, r, "held")
	turn := func(from, to float64) float64 { return math.Log((normal+to)/(normal+from)) / 5 }
	want := 3*turn(0, 20000) + 3*flight.HeldErrorFactor*turn(20000, 24000)
	assert.InDelta(t, degrees(want), got.Path[got.Burst].At.Lon, 1e-9)
	assert.Equal(t, 2.0, flight.HeldErrorFactor)
	// Down from 24 km: density falls with the scale height R·T/g = 7318 m above
	// 20 km (250 K), so the time to there is 2H/v·(1 − e^(−4000/2H)).
	const h = 287.053 * 250 / 9.80665
	down := last(got).Time - got.Path[got.Burst].Time
	assert.InDelta(t, 2*h/5*(1-math.Exp(-4000/(2*h)))+20000/5.0, down, 0.05)

	low := r
	low.Train.Burst = 20000
	got = land(t, f.HoldAboveTop(), low, 0)
	assert.False(t, got.Held, "up to the top itself nothing is held")
	low.Train.Burst = atmos.Geometric(math.Nextafter(20000, 20001))
	assert.True(t, land(t, f.HoldAboveTop(), low, 0).Held)
}
