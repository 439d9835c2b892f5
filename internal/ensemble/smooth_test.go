package ensemble

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// wave is how far its phase turns over a degree of longitude, a degree of latitude
// and a second.
type wave [gridAxes]float64

// wavy are members that are waves of one length with their crests in other places, evenly
// spread, so that their variance is the same everywhere, exactly: three, or they would come
// down in a ring or two heaps, of 0.1 m/s at 50 km and less below, toward north so many
// times that. Nodes are 2° and 12 h apart, over so many.
func wavy(t testing.TB, members int, w wave, north float64, finer int) []flight.Scene {
	t.Helper()
	var heights, times []float64
	for z := 0.0; z <= 42e3; z += 3000 {
		heights = append(heights, z)
	}
	for i := range 2*finer + 1 {
		times = append(times, float64(i)*12*3600/float64(finer))
	}
	var out []flight.Scene
	for k := range members {
		f, err := wind.New(wind.Axes{
			Grid: geo.Grid{
				NX: 4*finer + 1, NY: 4*finer + 1, Lat0: -4, Lon0: -4,
				DLat: 2 / float64(finer), DLon: 2 / float64(finer),
			},
			Start: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), Times: times, Heights: heights,
		}, func(p geo.Point, z, when float64) wind.Sample {
			s := wind.Still(z)
			phase := w[alongLongitude]*p.Lon + w[alongLatitude]*p.Lat + w[alongTime]*when
			for _, j := range []float64{1, 2, 5} {
				crest := phase + 2*math.Pi*j*float64(k)/float64(members)
				s.East += z / 500e3 * math.Cos(crest)
				s.North += north * z / 500e3 * math.Cos(crest+j)
			}
			return s
		})
		require.NoError(t, err)
		out = append(out, flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}, Layer: coarse})
	}
	return out
}

// turnPerSpacing is waves whose phase turns so far, rad, over one spacing of wavy.
func turnPerSpacing(longitude, latitude, step float64) wave {
	return wave{longitude / 2, latitude / 2, step / (12 * 3600)}
}

// A wave whose phase turns by kΔ from node to node has, linear between them, the
// variance 1 - 2θ(1-θ)(1 - cos kΔ) of its own at θ of the way, on each axis: |1 - θ +
// θ·e^(ikΔ)|², closed form.
func TestSmoothingOfWaves(t *testing.T) {
	const middle = 6*3600 - 3600 // s: release so that half of the flight is over at half a step
	lost := func(share, turn float64) float64 { return 2 * share * (1 - share) * (1 - math.Cos(turn)) }
	for _, c := range []struct {
		name  string
		wave  wave
		at    geo.Point
		time  float64
		left  float64
		north float64
	}{
		{"longitude", turnPerSpacing(1.2, 0, 0), geo.Point{Lat: 1, Lon: 1}, middle, 1 - lost(0.5, 1.2), 1},
		{"a fifth of the way", turnPerSpacing(1.2, 0, 0), geo.Point{Lat: 1, Lon: 0.4}, middle, 1 - lost(0.2, 1.2), 1},
		{"latitude", turnPerSpacing(0, 0.8, 0), geo.Point{Lat: -0.6, Lon: 1}, middle, 1 - lost(0.3, 0.8), 1},
		{"time", turnPerSpacing(0, 0, 1), geo.Point{Lat: 1, Lon: 1}, middle, 1 - lost(0.5, 1), 1},
		{"all", turnPerSpacing(0.7, 0.6, 0.9), geo.Point{Lat: 1, Lon: 1}, middle, (1 - lost(0.5, 0.7)) * (1 - lost(0.5, 0.6)) * (1 - lost(0.5, 0.9)), 1},
		{"last cell and last step", turnPerSpacing(0.7, 0.6, 0.9), geo.Point{Lat: 3, Lon: 3}, 12*3600 + middle, (1 - lost(0.5, 0.7)) * (1 - lost(0.5, 0.6)) * (1 - lost(0.5, 0.9)), 1},
		{"at a node", turnPerSpacing(1.2, 0.8, 0), geo.Point{}, middle, 1, 1},
		{"wide waves", turnPerSpacing(0, 0, 0), geo.Point{Lat: 1, Lon: 1}, middle, 1, 1},
		{"nothing alike from node to node", turnPerSpacing(math.Pi, 0, 0), geo.Point{Lat: 1, Lon: 0.5}, middle, 1 - mostLost, 1},
		{"toward east alone", turnPerSpacing(1.2, 0, 0), geo.Point{Lat: 1, Lon: 1}, middle, 1 - lost(0.5, 1.2), 0},
		{"toward north above all", turnPerSpacing(1.2, 0, 0), geo.Point{Lat: 1, Lon: 1}, middle, 1 - lost(0.5, 1.2), 10},
	} {
		scenes, s := wavy(t, 12, c.wave, c.north, 1), only()
		s.Launch.At, s.Launch.Time = c.at, c.time
		w := s.planned(scenes[0])
		var own [][]float64
		for _, scene := range scenes {
			own = append(own, w.winds(scene, s.Launch))
		}
		second := make([]bool, len(own))
		centred(own, second, false)
		got := w.smoothing(scenes, s.Launch, own, second)
		assert.InDelta(t, 1/math.Sqrt(c.left), got, 0.005/math.Sqrt(c.left), c.name)
	}
	scenes, s := members(t, 6, 1, 0), only()
	w := s.planned(scenes[0])
	same := make([][]float64, 6)
	for k := range same {
		same[k] = make([]float64, rows*len(w)/2)
	}
	assert.InDelta(t, 1, w.smoothing(scenes, s.Launch, same, make([]bool, 6)), 0, "members that are all the same")
}

// Dressed flights scatter alike whether the forecast's nodes lie close together or, in
// the middle of a cell, far apart; bare members there scatter a third less.
func TestDressedScatterHangsOnNoGrid(t *testing.T) {
	wave, s := turnPerSpacing(0.7, 0.6, 0.9), only()
	s.Launch.At, s.Launch.Time, s.Scrambles = geo.Point{Lat: 1, Lon: 1}, 5*3600, 64
	var dressed, bare [2]float64
	for i, finer := range []int{1, 8} {
		scenes := wavy(t, 20, wave, 1, finer)
		dressed[i] = scatter(landings(t, scenes, s), 1)[0]
		bare[i] = scatter(undressed(s, scenes), 1)[0]
	}
	t.Logf("variance on a coarse over that on a fine grid: dressed %.3f, bare %.3f", dressed[0]/dressed[1], bare[0]/bare[1])
	assert.InDelta(t, 1, dressed[0]/dressed[1], 0.03, "dressed")
	assert.Less(t, bare[0]/bare[1], 0.75, "bare")
}
