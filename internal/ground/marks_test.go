package ground

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// reference is a file of the reference data, or the test is left out.
func reference(t *testing.T, name string) []byte {
	t.Helper()
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: the comparison with " + name + ", as THISTLEDOWN_REFERENCE is not set")
	}
	b, err := os.ReadFile(filepath.Join(dir, "vector", name))
	require.NoError(t, err)
	return b
}

// A point is in an airport or a town if the geodesic to its middle is shorter
// than the radius, but for the corners of the polygon: 24 corners on a circle of
// the same area leave it by 0.6 % at most.
func TestCirclesAreOfTheirRadius(t *testing.T) {
	world := windowOf(everywhere)
	airports, err := decodePoints(airportsFile, world)
	require.NoError(t, err)
	towns, err := decodePoints(townsFile, world)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(15, 16))
	for _, tt := range []struct {
		points []point
		radius func(uint32) float64
	}{{airports, airportRadius}, {towns, townRadius}} {
		for k := range 2000 {
			p := tt.points[r.IntN(len(tt.points))]
			if k < 50 {
				p.at.x = halfTurn - 1 // on the date line
			}
			if p.at.y <= -89*steps {
				continue // the pole: see below
			}
			ix := newIndex(circles([]point{p}, tt.radius))
			middle := geo.Point{Lat: float64(p.at.y) / steps, Lon: float64(p.at.x) / steps}
			bearing, radius := 360*r.Float64(), tt.radius(p.size)
			in, out := geo.Direct(middle, bearing, 0.99*radius), geo.Direct(middle, bearing, 1.01*radius)
			assert.True(t, ix.contains(mustPlace(t, in)), "%v: %.0f m from it is outside, want inside %.0f m", middle, 0.99*radius, radius)
			assert.False(t, ix.contains(mustPlace(t, out)), "%v: %.0f m from it is inside, want outside %.0f m", middle, 1.01*radius, radius)
		}
	}
}

// A point is in a river if the nearest place on a centre line, which another
// index finds, is nearer than the half width; but for the corners of the ends,
// which are up to 13.4 % short (1 - cos 30°), and for the rank.
func TestRiversAreOfTheirWidth(t *testing.T) {
	rd := reader{rest: riversFile}
	x, y := rd.axis(), rd.axis()
	great, others := &shapes{}, &shapes{}
	great.begin()
	others.begin()
	for range rd.count(6) {
		rank, n := rd.unsigned(), rd.count(2)
		into := others
		if rank <= greatRank {
			into = great
		}
		from := len(into.vertices)
		rd.vertices(n, x, y)
		into.vertices = rd.placed(into.vertices, closesItself, x, y)
		into.rings = append(into.rings, span{from, len(into.vertices)})
	}
	require.NoError(t, rd.end())
	rivers, err := decodeRivers(riversFile, windowOf(everywhere))
	require.NoError(t, err)
	ix, wide, narrow := newIndex(rivers), newNear(great), newNear(others)
	r := rand.New(rand.NewPCG(17, 18))
	hits := 0
	for range 20_000 {
		s, reach := great, 2.0*greatRiverHalf
		if r.IntN(2) == 0 {
			s, reach = others, 2.0*riverHalf
		}
		v := s.vertices[r.IntN(len(s.vertices))]
		if v.y > 80*steps {
			continue
		}
		p := geo.Direct(geo.Point{Lat: float64(v.y) / steps, Lon: float64(v.x) / steps}, 360*r.Float64(), reach*math.Sqrt(r.Float64()))
		p.Lon = geo.WrapLon(p.Lon)
		within := func(share float64) bool {
			_, a := wide.closest(p, share*greatRiverHalf)
			_, b := narrow.closest(p, share*riverHalf)
			return a || b
		}
		got := ix.contains(mustPlace(t, p))
		if got {
			hits++
			assert.True(t, within(1.005), "%v is in a river, want it outside", p)
		} else {
			assert.False(t, within(math.Cos(math.Pi/6)*0.995), "%v is in no river, want it inside", p)
		}
	}
	assert.Greater(t, hits, 2000, "points in rivers")
}

// The other list of airports (Natural Earth, 1:10m) has some 890 of the larger
// ones, with a type for each.
func TestAirportsAgainstAnotherList(t *testing.T) {
	var list struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct{ Coordinates []float64 }
		}
	}
	require.NoError(t, json.Unmarshal(reference(t, "ne_10m_airports.geojson"), &list))
	l := layerOf(t, builtIn(t, everywhere), "airports")
	hits, moved, major, of := 0, 0, 0, 0
	for _, f := range list.Features {
		p := geo.Point{Lat: f.Geometry.Coordinates[1], Lon: f.Geometry.Coordinates[0]}
		hit, _ := l.At(p, time.Time{})
		if hit {
			hits++
		}
		if s, _ := f.Properties["type"].(string); s == "major" {
			of++
			if hit {
				major++
			}
		}
		if hit, _ := l.At(geo.Point{Lat: p.Lat, Lon: geo.WrapLon(p.Lon + 0.25)}, time.Time{}); hit {
			moved++
		}
	}
	t.Logf("%d of %d airports of the other list are in the layer, of the major ones %d of %d; moved by 0.25 degree: %d", hits, len(list.Features), major, of, moved)
	assert.Greater(t, hits, len(list.Features)*8/10)
	assert.Less(t, moved, len(list.Features)/20)
}

// Natural Earth's urban areas (1:50m), drawn from satellite images, against the
// circles: what share of either is in the other.
func TestTownsAgainstUrbanAreas(t *testing.T) {
	urban, err := ReadLayer(LayerSource{Name: "urban", Class: BuiltUp}, reference(t, "ne_50m_urban_areas.geojson"))
	require.NoError(t, err)
	towns := layerOf(t, builtIn(t, everywhere), "towns")
	r := rand.New(rand.NewPCG(19, 20))
	both, circle, area, all := 0, 0, 0, 2_000_000
	for range all {
		v := mustPlace(t, anywhere(r))
		a, b := towns.areas.contains(v), urban.areas.contains(v)
		if a {
			circle++
		}
		if b {
			area++
		}
		if a && b {
			both++
		}
	}
	t.Logf("of %d points %d in circles, %d in urban areas, %d in both", all, circle, area, both)
	byChance := float64(circle) * float64(area) / float64(all)
	assert.Greater(t, float64(both), 50*byChance, "points in both, %.1f if the two had nothing to do with each other", byChance)
}

// Most cities that time zones are named after are towns on the map.
func TestZoneCitiesAreTowns(t *testing.T) {
	l := layerOf(t, builtIn(t, everywhere), "towns")
	hits, moved := 0, 0
	all := zones(t)
	for _, z := range all {
		if hit, _ := l.At(z.at, time.Time{}); hit {
			hits++
		}
		if hit, _ := l.At(geo.Point{Lat: z.at.Lat, Lon: geo.WrapLon(z.at.Lon + 1)}, time.Time{}); hit {
			moved++
		}
	}
	t.Logf("%d of %d cities are in towns, %d if moved by a degree", hits, len(all), moved)
	assert.Greater(t, hits, len(all)/2)
	assert.Less(t, moved, len(all)/20)
}

func TestBuiltInFilesRefuse(t *testing.T) {
	world := windowOf(everywhere)
	for name, decode := range map[string]func([]byte) error{
		"borders":  func(b []byte) error { _, err := decodeBorders(b, world); return err },
		"rivers":   func(b []byte) error { _, err := decodeRivers(b, world); return err },
		"airports": func(b []byte) error { _, err := decodePoints(b, world); return err },
	} {
		file := map[string][]byte{"borders": bordersFile, "rivers": riversFile, "airports": airportsFile}[name]
		assert.NoError(t, decode(file), name)
		for _, n := range []int{0, 1, 31, 33, 40, len(file) / 2, len(file) - 1} {
			assert.Error(t, decode(file[:n:n]), "%s: the first %d of %d octets", name, n, len(file))
		}
		assert.ErrorContains(t, decode(append(append([]byte(nil), file...), 0)), "1 octets after the last", name)
	}
	_, err := BuiltIn(geo.Box{South: 10, North: 5})
	assert.ErrorContains(t, err, "built-in map: box from latitude 10 to 5")
}
