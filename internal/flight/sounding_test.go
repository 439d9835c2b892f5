package flight_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// sample is one line of a sounding, and how far its winds carried up to there.
type sample struct {
	time, height, pressure, lat, lon, u, v, temperature float64 // s, m, hPa, degrees, m/s, °C
	east, north                                         float64 // m
}

// readSounding is a sounding of the open reference data up to its highest point,
// without lines in which something is missing.
func readSounding(t *testing.T, file string) []sample {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	lines := csv.NewReader(bytes.NewReader(text))
	lines.Comment = '#'
	rows, err := lines.ReadAll()
	require.NoError(t, err)
	var all []sample
	top := 0
	for _, row := range rows[1:] {
		var v [8]float64
		known := true
		for i := range v {
			v[i], err = strconv.ParseFloat(row[i], 64)
			known = known && err == nil && !math.IsNaN(v[i])
		}
		if !known {
			continue
		}
		s := sample{time: v[0], height: v[1], pressure: v[2], lat: v[3], lon: v[4], u: v[5], v: v[6], temperature: v[7]}
		if n := len(all); n > 0 {
			before := all[n-1]
			s.east = before.east + (s.time-before.time)*(s.u+before.u)/2
			s.north = before.north + (s.time-before.time)*(s.v+before.v)/2
		}
		if all = append(all, s); s.height > all[top].height {
			top = len(all) - 1
		}
	}
	return all[:top+1]
}

// levelled is a sounding when it first came to each of some heights. Its wind
// there is one that carries a flight that rises evenly from height to height as far
// as the sounding's carried it from half-way below to half-way above: so all that
// it measured counts, for as long as it did.
func levelled(all []sample, every float64) []sample {
	highest := make([]float64, len(all))
	high := math.Inf(-1)
	for i, s := range all {
		high = max(high, s.height)
		highest[i] = high
	}
	at := func(z float64) sample {
		i := min(max(sort.SearchFloat64s(highest, z), 1), len(all)-1)
		a, b := all[i-1], all[i]
		w := min(max((z-a.height)/(b.height-a.height), 0), 1)
		mix := func(a, b float64) float64 { return a + w*(b-a) }
		return sample{
			time: mix(a.time, b.time), height: z, lat: mix(a.lat, b.lat), lon: mix(a.lon, b.lon),
			pressure: mix(a.pressure, b.pressure), temperature: mix(a.temperature, b.temperature),
			east: mix(a.east, b.east), north: mix(a.north, b.north),
		}
	}
	first, last := math.Ceil(all[0].height/every)*every, math.Floor(high/every)*every
	var levels []sample
	for z := first; z <= last; z += every {
		s, below, above := at(z), at(max(z-every/2, first)), at(min(z+every/2, last))
		seconds := (at(min(z+every, last)).time - at(max(z-every, first)).time) / 2
		s.u, s.v = (above.east-below.east)/seconds, (above.north-below.north)/seconds
		levels = append(levels, s)
	}
	return levels
}

// rates is the profile of a levelled sounding's ascent: nearly even from height to
// height, as Profile is linear between a tenth of them.
func rates(levels []sample, every float64) flight.Profile {
	p := flight.Profile{Spacing: every / 10}
	first, last := levels[0].height, levels[len(levels)-1].height
	for z := 0.0; z <= last; z += p.Spacing {
		i := min(max(int((z-first)/every+1e-6), 0), len(levels)-2)
		rate := every / (levels[i+1].time - levels[i].time)
		p.Rate = append(p.Rate, min(max(rate, balloon.MinAscent), balloon.MaxAscent))
	}
	return p
}

// flown is a levelled sounding flown through its own winds at its own rate, in the
// same air everywhere: the path up to its last level.
func flown(t *testing.T, levels []sample, every float64) []flight.Step {
	t.Helper()
	first, last := levels[0], levels[len(levels)-1]
	at := geo.Point{Lat: first.lat, Lon: first.lon}
	grid := geo.Grid{NX: 3, NY: 3, Lat0: at.Lat - 4, Lon0: at.Lon - 4, DLat: 4, DLon: 4}
	heights := []float64{first.height - every}
	byHeight := map[float64]sample{heights[0]: first}
	for _, s := range levels {
		heights, byHeight[s.height] = append(heights, s.height), s
	}
	field := fieldOf(t, grid, heights, func(_ geo.Point, z, _ float64) wind.Sample {
		s := byHeight[z]
		return wind.Sample{East: s.u, North: s.v, Temperature: s.temperature + 273.15, Pressure: 100 * s.pressure}
	})
	f := flight.Scene{Wind: field, Terrain: ground.Terrain{Grid: grid, Height: make([]float32, 9)}}.Fly(flight.Release{
		At: at, Height: atmos.Geometric(first.height), Profile: rates(levels, every),
		Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(last.height - 0.01), Landing: 5},
	}, nil)
	require.Positive(t, f.Burst)
	return f.Path[:f.Burst+1]
}

// drift is a way in metres over the ground or the air: toward east and north.
type drift struct{ east, north float64 }

// ofPath is how far a path went in the air that it flew in: on the ellipsoid, at
// its height.
func ofPath(path []flight.Step) (d drift) {
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		lat, h := (a.At.Lat+b.At.Lat)/2, float64(a.Height+b.Height)/2
		meridian, normal := geo.Radii(lat)
		d.north += radians(b.At.Lat-a.At.Lat) * (meridian + h)
		d.east += radians(geo.WrapLon(b.At.Lon-a.At.Lon)) * (normal + h) * math.Cos(radians(lat))
	}
	return d
}

// A sphere for the Earth has a radius from the polar to the equatorial one of WGS
// 84, 6356752 to 6378137 m: at most so large a share off the mean one, m.
const sphere, sphereError = 6371008.8, 0.0023

// recorded is how far a sounding's places lie apart: in metres on a sphere, its
// height left out, or as ofPath has it.
func recorded(levels []sample, onSphere bool) (d drift) {
	var path []flight.Step
	for i, s := range levels {
		path = append(path, flight.Step{At: geo.Point{Lat: s.lat, Lon: s.lon}, Height: atmos.Geometric(s.height)})
		if i > 0 {
			before := path[i-1].At
			d.north += radians(s.lat-before.Lat) * sphere
			d.east += radians(geo.WrapLon(s.lon-before.Lon)) * sphere * math.Cos(radians((s.lat+before.Lat)/2))
		}
	}
	if onSphere {
		return d
	}
	return ofPath(path)
}

// unsure is how far a sounding's lines leave open how far its winds carried.
// Winds are rounded to 0.01 m/s: each is off by 0.0029 m/s rms, four times that is
// allowed. Between two lines the wind may be that of either. Places are rounded to
// 1e-5 degrees, 0.6 m at either end.
func unsure(all []sample) (d drift) {
	var squares float64
	for i := 1; i < len(all); i++ {
		a, b := all[i-1], all[i]
		seconds := b.time - a.time
		squares += seconds * seconds
		d.east += seconds * (b.u - a.u) / 2
		d.north += seconds * (b.v - a.v) / 2
	}
	rounding := 4*0.0029*math.Sqrt(squares) + 2*0.6
	return drift{math.Abs(d.east) + rounding, math.Abs(d.north) + rounding}
}

// Real ascents flown through the winds that they measured, at the rate at which
// they rose.
//
// Of seven the recorded places were worked out by the publisher from these very
// winds: on a sphere without height, as fits them best, but of which radius is not
// said. They check the integrator, its units and directions, and say nothing of how
// well a measured wind carries a balloon. The places of the eighth, up to 5.7 km,
// were measured by satellite: it says that its winds carried that balloon so, a
// small claim about real drift. A satellite's place is taken to be 8 m off at
// either end, 11 m in the difference; source: from memory.
//
// The flight must also come, within 0.5 m, as far as the plain sum of wind by time
// over the sounding's lines, which its levels keep: the 10 mm that it stays below
// the last cost 0.05 m in 25 m/s, and the rest is for its steps, which make 0.1 m
// of 100 km here.
func TestSoundingsThroughTheirOwnWinds(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: the open soundings, as THISTLEDOWN_REFERENCE is not set")
	}
	for _, c := range []struct {
		name      string
		every     float64 // m: the levels; a field has 200 at most
		satellite bool
	}{
		{"arm_sgp_lamont_20190101_0532", 200, false},
		{"arm_twp_darwin_20060119_231600", 200, false},
		{"arm_twp_darwin_20060120_231500", 200, false},
		{"arm_twp_darwin_20060121_171600", 200, false},
		{"arm_twp_darwin_20060121_231600", 200, false},
		{"arm_twp_darwin_20060122_232600", 200, false},
		{"arm_twp_darwin_20060124_231500", 200, false},
		{"bufr_10954_altenstadt_20250223_1045", 50, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			all := readSounding(t, filepath.Join(dir, "soundings_csv", c.name+".csv"))
			levels := levelled(all, c.every)
			first, top := levels[0], levels[len(levels)-1]
			path := flown(t, levels, c.every)
			got, want, allow := ofPath(path), recorded(levels, !c.satellite), unsure(all)
			claim := "the integrator is right"
			if c.satellite {
				claim = "the winds carried this balloon so, to 5.7 km"
				allow.east, allow.north = allow.east+11, allow.north+11
			} else {
				allow.east += sphereError * math.Abs(want.east)
				allow.north += sphereError * math.Abs(want.north)
			}
			t.Logf("%s: %.0f m east, %.0f m north; recorded %.0f and %.0f, to within %.0f and %.0f", claim,
				got.east, got.north, want.east, want.north, allow.east, allow.north)
			assert.InDelta(t, want.east, got.east, allow.east, "east, m: %s", claim)
			assert.InDelta(t, want.north, got.north, allow.north, "north, m: %s", claim)
			assert.InDelta(t, top.east-first.east, got.east, 0.5, "east beside the sum, m")
			assert.InDelta(t, top.north-first.north, got.north, 0.5, "north beside the sum, m")
			assert.InDelta(t, top.time-first.time, path[len(path)-1].Time, 0.1, "time to the top, s")
		})
	}
}
