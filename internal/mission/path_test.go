package mission_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// cartesian is a position in metres from the middle of the Earth (WGS84; Torge 2001,
// Geodesy, section 4.1; from memory).
func cartesian(p geo.Point, height float64) [3]float64 {
	const degree = math.Pi / 180
	const e2 = 0.00669437999014
	_, n := geo.Radii(p.Lat)
	sin, cos := math.Sincos(p.Lat * degree)
	sinLon, cosLon := math.Sincos(p.Lon * degree)
	return [3]float64{(n + height) * cos * cosLon, (n + height) * cos * sinLon, (n*(1-e2) + height) * sin}
}

// off is how far a step is from where a path has the flight at that time, m; straight
// lines between its points being straight in space.
func off(p *report.Path, step flight.Step, at time.Time) float64 {
	i := 1
	for i < len(p.Points)-1 && p.Points[i].Time.Before(at) {
		i++
	}
	a, b := p.Points[i-1], p.Points[i]
	f := at.Sub(a.Time).Seconds() / b.Time.Sub(a.Time).Seconds()
	from, to, is := cartesian(a.At, a.Height), cartesian(b.At, b.Height), cartesian(step.At, float64(step.Height))
	sum := 0.0
	for k := range is {
		d := from[k] + f*(to[k]-from[k]) - is[k]
		sum += d * d
	}
	return math.Sqrt(sum)
}

// The central path is the flight of the plan's own values through the forecast's first
// member, in few points and no farther from it than it says; also over the date line.
func TestCentralPath(t *testing.T) {
	w := world(t)
	field := w.Winds[0]
	for _, site := range []geo.Point{{Lat: 58.2, Lon: 13}, {Lat: 40, Lon: 179.6}} {
		p := planAt(site)
		p.Delay.Centre, p.Site.Elevation = 600, 95
		l, err := mission.Fly(t.Context(), w, p, mission.Options{})
		require.NoError(t, err)
		scene := flight.Scene{Wind: field, Terrain: ground.Terrain{Grid: field.Grid(), Height: field.Terrain()}}
		whole := scene.Fly(flight.Release{
			At: site, Height: 95, Time: p.Launch.Sub(field.Start()).Seconds() + 600,
			Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(27000), Landing: 5},
		}, nil)
		require.Equal(t, flight.Landed, l.Path.End)
		points := l.Path.Points
		require.LessOrEqual(t, len(points), 200)
		require.Less(t, len(points), len(whole.Path)/3)
		assert.True(t, l.Path.Within <= 10 || len(points) == 200, "%g m off with %d points", l.Path.Within, len(points))
		assert.Equal(t, p.Launch.Add(10*time.Minute), points[0].Time)
		assert.Equal(t, site, points[0].At)
		assert.Equal(t, whole.Path[len(whole.Path)-1].At, points[len(points)-1].At)
		assert.InDelta(t, 27000, points[l.Path.Burst].Height, 1e-6)
		worst := 0.0
		for _, step := range whole.Path {
			at := field.Start().Add(time.Duration(step.Time * float64(time.Second)))
			worst = max(worst, off(l.Path, step, at))
		}
		// A straight line in space is below one that keeps its height: by s²/8R, 2 m of one
		// 10 km long.
		assert.InDelta(t, l.Path.Within, worst, 2, "what it says of how far off it is, at %v", site)
		if site.Lon > 179 {
			assert.Less(t, points[len(points)-1].At.Lon, 0.0, "it goes over the date line")
		}
	}
}

// What an answer carries of each flight is what its summary was made of.
func TestFlown(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Burst.Centre, p.Burst.Spread = 45000, 2000 // some leave the forecast above 1 hPa
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, l.Flown, l.Flights)
	landed, aloft, burst, speed := 0.0, 0.0, 0.0, 0.0
	down := 0
	terrain := ground.Terrain{Grid: w.Winds[0].Grid(), Height: w.Winds[0].Terrain()}
	for _, f := range l.Flown {
		if f.End != flight.Landed {
			assert.Zero(t, f.Height)
			assert.Zero(t, f.Speed)
			continue
		}
		landed, aloft, burst, speed = landed+1, aloft+f.Aloft, burst+f.Burst, speed+f.Speed
		height, ok := terrain.At(f.At)
		require.True(t, ok)
		assert.InDelta(t, height, f.Height, 1e-9)
		if !f.Time.After(l.Landing.Middle) {
			down++
		}
	}
	assert.Equal(t, l.Endings[0].Share.Hits, int(landed))
	assert.Less(t, landed, float64(l.Flights))
	assert.InEpsilon(t, l.Landing.Aloft, aloft/landed, 1e-9)
	assert.InEpsilon(t, l.Landing.Burst, burst/landed, 1e-9)
	assert.InEpsilon(t, l.Landing.Speed, speed/landed, 1e-9)
	assert.InDelta(t, landed/2, float64(down), 1, "half of them are down by the middle")
}
