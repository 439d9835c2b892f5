package hazard

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// isothermal is a column of so many K under a pressure in Pa at sea level:
// p(z) = p0·exp(−g·z/(R·T)).
func isothermal(seaLevel, kelvin float64) func(geo.Point, atmos.Geometric, float64) (atmos.Geopotential, bool) {
	return func(_ geo.Point, z atmos.Geometric, _ float64) (atmos.Geopotential, bool) {
		return atmos.PressureAltitude(seaLevel * math.Exp(-atmos.StandardGravity*float64(z)/(atmos.GasConstant*kelvin)))
	}
}

// one is the ways on which a flight crosses the only volume.
func one(v []*ground.Volume, p []flight.Step, sky Sky) Way {
	return across(Meet(&ground.Map{Volumes: v}, flight.Flight{Path: p}, sky).Crossed, 0)
}

func at50(heights ...float64) []flight.Step {
	var steps [][3]float64
	for _, h := range heights {
		steps = append(steps, [3]float64{50.5, 9.5, h})
	}
	return path(steps...)
}

// Flight level 100 is 696.82 hPa (its pressure in the standard, 10,000 ft; worked
// apart from 1013.25·(1 − 0.0065·3048/288.15)^5.25588). With 990 hPa at sea level and 250 K it
// lies at R·T/g·ln(990/696.82) = 2,569.6 m; in the standard at 3,048 geopotential
// metres, which are 3,049.5 m.
func TestFlightLevelsLieWhereTheirPressureIs(t *testing.T) {
	above := volumes(t, square(9, 50, 10, 51, `"floor":"FL 100","ceiling":"UNL"`))
	below := volumes(t, square(9, 50, 10, 51, `"floor":"1000 m MSL","ceiling":"FL 100"`))
	const cold = 2569.6
	pressure := 1013.25 * math.Pow(1-0.0065*3048/288.15, 5.25588)
	require.InDelta(t, cold, atmos.GasConstant*250/atmos.StandardGravity*math.Log(990/pressure), 0.5)
	standard := func(_ geo.Point, z atmos.Geometric, _ float64) (atmos.Geopotential, bool) {
		s, ok := atmos.Standard(z)
		h, in := atmos.PressureAltitude(s.Pressure)
		return h, ok && in
	}
	for _, c := range []struct {
		name  string
		sky   Sky
		level float64
	}{
		{"cold and low pressure", Sky{PressureAltitude: isothermal(99000, 250)}, cold},
		{"the standard", Sky{PressureAltitude: standard}, 3049.5},
	} {
		assert.Equal(t, Up, one(above, at50(c.level-900, c.level+2), c.sky), "%s: up to 2 m over the floor", c.name)
		assert.Zero(t, one(above, at50(c.level-900, c.level-2), c.sky), "%s: up to 2 m under the floor", c.name)
		assert.Equal(t, Down, one(below, at50(c.level+900, c.level-2), c.sky), "%s: down to 2 m under the ceiling", c.name)
		assert.Zero(t, one(below, at50(c.level+900, c.level+2), c.sky), "%s: down to 2 m over the ceiling", c.name)
	}
	assert.Equal(t, Up, one(above, at50(2200, 2201), Sky{}), "not known: taken as over the floor")
}

// Pressure altitude is straight in height over pressureStep to 1.5 m, also in an
// inversion of 10 K in 250 m.
func TestPressureAltitudeIsStraight(t *testing.T) {
	for _, c := range []struct {
		lapse, bottom float64 // K/m from the height bottom on, and what the standard has there
	}{{0.04, 0}, {-0.0098, 1000}, {0.02, 10000}, {0, 20000}} {
		s, _ := atmos.Standard(atmos.Geometric(c.bottom))
		altitude := func(z float64) float64 {
			p := s.Pressure * math.Exp(-atmos.StandardGravity*z/(atmos.GasConstant*s.Temperature))
			if c.lapse != 0 {
				p = s.Pressure * math.Pow(1+c.lapse*z/s.Temperature, -atmos.StandardGravity/(atmos.GasConstant*c.lapse))
			}
			h, ok := atmos.PressureAltitude(p)
			require.True(t, ok)
			return float64(h)
		}
		middle := (altitude(0) + altitude(pressureStep)) / 2
		assert.InDelta(t, altitude(pressureStep/2), middle, 1.5, "%g K/m from %g m", c.lapse, c.bottom)
	}
}

// Heights above ground follow the ground: here 0 m at 50° N, 1,000 m at 51° N.
func TestHeightsAboveGround(t *testing.T) {
	slope := ground.Terrain{Grid: geo.Grid{NX: 2, NY: 2, Lat0: 50, Lon0: 9, DLat: 1, DLon: 1}, Height: []float32{0, 0, 1000, 1000}}
	v := volumes(t, square(9, 50, 10, 51, `"floor":"GND","ceiling":"300 m AGL"`))
	sky := Sky{Terrain: slope}
	assert.Equal(t, Down, one(v, at50(1500, 799), sky), "the ground is at 500 m")
	assert.Zero(t, one(v, at50(1500, 801), sky))
	assert.Equal(t, Up, one(v, path([3]float64{50.2, 9.5, 801}, [3]float64{50.6, 9.5, 801}), sky), "level, over rising ground")
	assert.Zero(t, one(v, path([3]float64{50.2, 9.5, 801}, [3]float64{50.49, 9.5, 801}), sky), "level, not far enough")
	assert.Equal(t, Up, one(v, at50(400, 450), sky), "out of a valley that the terrain has not")
	high := volumes(t, square(9, 50, 10, 51, `"floor":"300 m AGL","ceiling":"UNL"`))
	assert.Zero(t, one(high, at50(500, 799), sky))
	assert.Equal(t, Up, one(high, at50(500, 801), sky))
	assert.Equal(t, Up, one(v, at50(5000), Sky{}), "ground not known: taken as under the ceiling")
}

// The hours are those of the path's time in the volume. It flies in at 06:59:50
// and leaves at 07:00:30 UTC on a Monday.
func TestCrossingWhileActive(t *testing.T) {
	sky := Sky{Start: time.Date(2024, 7, 1, 6, 0, 0, 0, time.UTC)}
	p := []flight.Step{
		{Time: 3500, At: geo.Point{Lat: 50.5, Lon: 9.5}, Height: 100},
		{Time: 3700, At: geo.Point{Lat: 50.5, Lon: 9.5}, Height: 2100}, // 1,000 m at 3,590 s, 1,400 m at 3,630 s
	}
	for active, want := range map[string]Way{
		"Mon 07:00-08:00":     Up,
		"06:00-07:00":         Up,
		"07:01-08:00":         0, // on its way, but above it by then
		"06:00-06:59":         0, // and not in it yet
		"Tue-Sun 06:00-08:00": 0,
		"Sun 22:00-07:00":     Up, // from the day before
		"Sun 22:00-06:59":     0,
		"00:00-24:00":         Up,
	} {
		v := volumes(t, square(9, 50, 10, 51, `"floor_m":1000,"ceiling_m":1400,"active":["`+active+`"]`))
		assert.Equal(t, want, one(v, p, sky), active)
	}
	v := volumes(t, square(9, 50, 10, 51, `"floor_m":1000,"ceiling_m":1400,"active":["Tue 06:00-08:00","Mon 07:00-07:01"]`))
	assert.Equal(t, Up, one(v, p, sky), "active by the second of two")
}

func TestWaysOfAFlight(t *testing.T) {
	v := volumes(t, square(9, 50, 10, 51, `"floor_m":1000,"ceiling_m":2000`))
	out := [3]float64{50.5, 11, 3000}
	in := [3]float64{50.5, 9.5, 1500}
	for _, c := range []struct {
		name string
		path []flight.Step
		want Way
	}{
		{"up through it", path([3]float64{50.5, 9.5, 500}, [3]float64{50.5, 9.5, 2500}, out), Up},
		{"down through it", path([3]float64{50.5, 11, 500}, out, [3]float64{50.5, 9.5, 2500}, [3]float64{50.5, 9.5, 500}), Down},
		{"both", path([3]float64{50.5, 9.5, 500}, [3]float64{50.5, 9.5, 2500}, [3]float64{50.5, 9.5, 500}), Up | Down},
		{"hanging in it", path([3]float64{50.5, 8.5, 1500}, in), Up},
		{"neither", path([3]float64{50.5, 11, 500}, out), 0},
	} {
		assert.Equal(t, c.want, one(v, c.path, Sky{}), c.name)
	}
}

// A volume's own severity stands for the usual one, and points go by severity:
// 1 − (1 − 0.2)(1 − 0.8)(1 − 0.5) = 0.92, of which 0.8/1.5 by the one of 0.8.
func TestVolumesOfTheirOwnSeverity(t *testing.T) {
	m := named(3)
	v := m.Volumes
	v[0].Severity, v[1].Severity = 0.2, 0.8
	v[1].Kind, v[1].Floor, v[1].Ceiling = "D", ground.Limit{Ref: ground.AboveGround}, ground.Limit{Ref: ground.FlightLevel, Metres: 3048}
	v[1].Hours = []ground.Hours{{To: time.Hour}}
	crossed := Crossed{string(mark(mark(mark(nil, 0, Up), 1, Down), 2, Up|Down))}
	got := Assess([]Met{{Landed: true, Assessed: everything(), Crossed: crossed}}, 1, severity(0, 0, 0, 0, 0.5), m)
	assert.InDelta(t, 92, got.Value, 1e-9)
	for i, want := range []float64{0.2, 0.8, 0.5} {
		c := got.Crossings[i]
		assert.InDelta(t, 92*want/1.5, c.Points, 1e-9)
		assert.Equal(t, want, c.Severity)
		assert.Equal(t, 1, c.Probability.Hits)
		assert.Equal(t, [2]int{1 - i%2, (i + 1) / 2}, [2]int{c.Up.Hits, c.Down.Hits}, "volume %d: up, down", i)
	}
	c := got.Crossings[1]
	assert.Equal(t, "D GND FL 100", fmt.Sprint(c.Kind, " ", c.Floor, " ", c.Ceiling))
	assert.Equal(t, v[1].Hours, c.Hours)
}

// world is what a path is held against point by point.
type world struct {
	volume *ground.Volume
	sky    Sky
}

// inside reports whether a point is in the volume, whose limits are moved
// outward by so many metres.
func (w world) inside(p geo.Point, z, wider float64) bool {
	above := func(l ground.Limit) float64 {
		switch l.Ref {
		case ground.AboveGround:
			if l.Metres == 0 {
				return math.Inf(1)
			}
			under, _ := w.sky.Terrain.At(p)
			return z - under - l.Metres
		case ground.FlightLevel:
			h, _ := w.sky.PressureAltitude(p, atmos.Geometric(z), 0)
			return float64(h) - l.Metres
		case ground.Unlimited:
			return math.Inf(-1)
		}
		return z - l.Metres
	}
	return above(w.volume.Floor) >= -wider && above(w.volume.Ceiling) <= wider && w.volume.Over(p)
}

// brute looks at a piece every so many metres.
func (w world) brute(a, b flight.Step, every, wider float64) bool {
	d, _, _ := geo.Inverse(a.At, b.At)
	n := int(math.Hypot(d, float64(b.Height-a.Height))/every) + 1
	for i := range n + 1 {
		f := float64(i) / float64(n)
		p := geo.Point{Lat: a.At.Lat + f*(b.At.Lat-a.At.Lat), Lon: geo.WrapLon(a.At.Lon + f*geo.WrapLon(b.At.Lon-a.At.Lon))}
		if w.inside(p, float64(a.Height)+f*float64(b.Height-a.Height), wider) {
			return true
		}
	}
	return false
}

// Random pieces against random volumes, of which some are as thin as 2 m, on the
// date line as elsewhere, point by point each metre. What is met there with
// limits drawn in by the error that is stated for them must be found, and what
// is found must be met with limits moved out by it, looked at each 5 cm.
func TestCrossingsAgainstPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	hits, misses := map[ground.Ref]int{}, 0
	for i := range 1500 {
		lon := []float64{10, 180, -179.99}[i%3]
		w := world{volume: randomVolume(t, r, lon), sky: Sky{PressureAltitude: isothermal(99000, 250)}}
		w.sky.Terrain = hills(r, lon)
		point := func() [2]float64 { return [2]float64{50 + 0.12*(r.Float64()-0.5), lon + 0.2*(r.Float64()-0.5)} }
		p, z := point(), 4000*r.Float64()
		q, to := point(), z+2000*(r.Float64()-0.5)
		steps := path([3]float64{p[0], geo.WrapLon(p[1]), z}, [3]float64{q[0], geo.WrapLon(q[1]), to})
		got := one([]*ground.Volume{w.volume}, steps, w.sky) != 0
		wider := 0.01
		for _, l := range [...]ground.Limit{w.volume.Floor, w.volume.Ceiling} {
			switch l.Ref {
			case ground.AboveGround:
				wider = 3
			case ground.FlightLevel:
				wider = max(wider, 0.5)
			}
		}
		name := fmt.Sprintf("case %d: %v to %v, path %+v", i, w.volume.Floor, w.volume.Ceiling, steps)
		if got {
			hits[w.volume.Floor.Ref]++
			require.True(t, w.brute(steps[0], steps[1], 1, wider) || w.brute(steps[0], steps[1], 0.05, wider), "found, and not met: %s", name)
			continue
		}
		misses++
		require.False(t, w.brute(steps[0], steps[1], 1, -wider), "met, and not found: %s", name)
	}
	t.Logf("found %v by floor, %d not", hits, misses)
	require.True(t, hits[ground.AboveSea] > 20 && hits[ground.AboveGround] > 20 && hits[ground.FlightLevel] > 20 && misses > 100, "cases that tell nothing")
}

// hills is rough ground, 0 to 800 m, with a node each 0.02°.
func hills(r *rand.Rand, lon float64) ground.Terrain {
	h := ground.Terrain{Grid: geo.Grid{NX: 16, NY: 16, Lat0: 49.85, Lon0: geo.WrapLon(lon - 0.15), DLat: 0.02, DLon: 0.02}}
	for range 256 {
		h.Height = append(h.Height, 400+100*float32(r.Float64()))
	}
	return h
}

// randomVolume has an outline of many corners, with a hole in every other one.
func randomVolume(t *testing.T, r *rand.Rand, lon float64) *ground.Volume {
	ring := func(radius float64) string {
		var corners []string
		n := 3 + r.IntN(20)
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			size := radius * (0.6 + 0.4*r.Float64())
			corners = append(corners, fmt.Sprintf("[%.7f,%.7f]", lon+1.5*size*math.Cos(a), 50+size*math.Sin(a)))
		}
		return "[" + strings.Join(append(corners, corners[0]), ",") + "]"
	}
	rings := ring(0.05)
	if r.IntN(2) == 0 {
		rings += "," + ring(0.012)
	}
	z := 3500 * r.Float64()
	thick := []float64{2, 100, 1500}[r.IntN(3)]
	limit := func(z float64) string {
		return [...]string{
			fmt.Sprintf("%.2f m MSL", z), fmt.Sprintf("%.2f m AGL", max(z-600, 0)), fmt.Sprintf("FL %.3f", z/30.48),
		}[r.IntN(3)]
	}
	floor, ceiling := limit(z), limit(z+thick)
	if strings.Fields(floor)[0] != "FL" && strings.Fields(floor)[2] == "AGL" && r.IntN(2) == 0 {
		floor = "GND"
	}
	v, err := ground.ReadVolumes("random", []byte(fmt.Sprintf(`{"type":"Feature","properties":{"floor":%q,"ceiling":%q},"geometry":{"type":"Polygon","coordinates":[%s]}}`, floor, ceiling, rings)))
	if err != nil { // upside down
		return randomVolume(t, r, lon)
	}
	return v[0]
}
