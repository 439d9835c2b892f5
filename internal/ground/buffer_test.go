package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// buffered is a layer with a buffer.
func buffered(t testing.TB, metres float64, text string) *Layer {
	t.Helper()
	l, err := ReadLayer(LayerSource{Name: "line", Class: Closed, Buffer: metres}, []byte(text))
	require.NoError(t, err)
	return l
}

// Points at known distances, by geodesic, from a lone point in all directions:
// geo.Direct is tested against GeographicLib.
func TestBufferIsRound(t *testing.T) {
	for _, c := range []struct{ lat, lon, metres float64 }{
		{0, 0, 50}, {60, 10, 10_000}, {-33, 180, 1000}, {80, -180, 10_000}, {71, 179.999, 300},
	} {
		at := geo.Point{Lat: c.lat, Lon: c.lon}
		text := geometry("Point", fmt.Sprintf("[%g,%g]", c.lon, c.lat))
		l := buffered(t, c.metres, text)
		for bearing := 0.0; bearing < 360; bearing += 7.5 {
			for _, off := range [...]float64{-1, 1} {
				d := c.metres + off*(0.001*c.metres+0.06)
				p := geo.Direct(at, bearing, d)
				hit, covered := l.At(p, noon)
				assert.Equal(t, [2]bool{off < 0, off < 0}, [2]bool{hit, covered}, "At(%v), %g m from the point at %g, buffer %g m", p, d, bearing, c.metres)
			}
		}
	}
}

// A polygon's buffer reaches outward, over its corners in arcs, and into its
// holes. One degree of latitude is 111.2 km here, one of longitude 71.7 km
// (geo.Radii at 50°).
func TestBufferOfAPolygon(t *testing.T) {
	l := buffered(t, 1000, geometry("Polygon", wood))
	meridian, normal := geo.Radii(50)
	north, east := 180/math.Pi/meridian, 180/math.Pi/normal/math.Cos(50*math.Pi/180) // degrees in a metre
	for _, tt := range []struct {
		name     string
		lat, lon float64
		want     bool
	}{
		{"inside", 50.2, 8.2, true},
		{"990 m south", 50 - 990*north, 8.5, true},
		{"1010 m south", 50 - 1010*north, 8.5, false},
		{"990 m west", 50.0001, 8 - 990*east, true},
		{"1010 m west", 50.0001, 8 - 1010*east, false},
		{"off the corner, 990 m", 50 - 700*north, 8 - 700*east, true},
		{"off the corner, 1047 m", 50 - 740*north, 8 - 740*east, false},
		{"in the hole by its edge", 50.4 + 990*north, 8.5, true},
		{"in the hole farther in", 50.4 + 1010*north, 8.5, false},
		{"middle of the hole", 50.5, 8.5, false},
	} {
		got, _ := l.At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, tt.want, got, tt.name)
	}
}

func TestGeometriesOfABuffer(t *testing.T) {
	far := geometry("Point", "[30,30]")
	for name, text := range map[string]string{
		"line":            geometry("LineString", "[[10,50],[11,50]]"),
		"lines":           geometry("MultiLineString", "[[[0,0],[1,1]],[[10,50],[11,50]]]"),
		"point":           geometry("Point", "[10.5,50]"),
		"points":          geometry("MultiPoint", "[[0,0],[10.5,50,300]]"),
		"repeated":        geometry("LineString", "[[10,50],[10,50],[10,50],[11,50],[11,50]]"),
		"one place twice": geometry("LineString", "[[10.5,50],[10.5,50]]"),
		"collection":      `{"type":"GeometryCollection","geometries":[` + far + `,` + geometry("LineString", "[[10,50],[11,50]]") + `]}`,
		"feature":         collection(far, geometry("Polygon", wood), geometry("LineString", "[[10,50],[11,50]]")),
		"a turn east":     geometry("LineString", "[[-350,50],[-349,50]]"),
	} {
		l := buffered(t, 2000, text)
		for _, tt := range []struct {
			lat  float64
			want bool
		}{{50.017, true}, {49.983, true}, {50.019, false}, {49.981, false}} { // 1.89 and 2.11 km
			got, _ := l.At(geo.Point{Lat: tt.lat, Lon: 10.5}, noon)
			assert.Equal(t, tt.want, got, "%s: At(%g, 10.5)", name, tt.lat)
		}
	}
}

// Around a pole a buffer holds what is near it on any meridian.
func TestBufferNearAPole(t *testing.T) {
	l := buffered(t, 10_000, geometry("Point", "[0,89.99]"))
	hit, _ := l.At(geo.Point{Lat: 89.99, Lon: 0.001}, noon)
	assert.True(t, hit, "a step from the point")
	hit, _ = l.At(geo.Point{Lat: 89, Lon: 0}, noon)
	assert.False(t, hit, "111 km from it")
}

func TestWaysNearest(t *testing.T) {
	w, err := ReadWays("tracks", []byte(geometry("MultiLineString", "[[[179.9,10],[180.1,10]],[[0,0],[1,0]]]")))
	require.NoError(t, err)
	for _, tt := range []struct {
		name            string
		lat, lon        float64
		metres, bearing float64
		ok              bool
	}{
		// A second of latitude at the equator is 30.715 m (geo.Radii).
		{"south of it", -0.01, 0.5, 1105.74, 0, true},
		{"west of its end", 0, -0.01, 1113.19, 90, true},
		{"on it", 0, 0.25, 0, 0, true},
		{"across the date line", 10.01, -179.95, 1106.1, 180, true},
		{"too far", 0.2, 0.5, 0, 0, false},
		{"no place", math.NaN(), 0, 0, 0, false},
	} {
		metres, bearing, ok := w.Nearest(geo.Point{Lat: tt.lat, Lon: tt.lon})
		assert.Equal(t, tt.ok, ok, tt.name)
		assert.InDelta(t, tt.metres, metres, 0.1, tt.name)
		if tt.metres > 0 {
			assert.InDelta(t, 0, math.Remainder(bearing-tt.bearing, 360), 0.05, tt.name)
		}
	}
	for text, want := range map[string]string{
		geometry("Polygon", wood):                    `ways "tracks": feature 1: geometry type "Polygon": want LineString or MultiLineString`,
		geometry("Point", "[1,2]"):                   `geometry type "Point": want LineString`,
		geometry("LineString", "[[1,2]]"):            "1 positions: want at least 2",
		geometry("LineString", "[[170,2],[-170,2]]"): "want at most 180 degrees (cut the line at the date line",
		geometry("MultiLineString", "[]"):            "no lines: want at least one",
	} {
		_, err := ReadWays("tracks", []byte(text))
		assert.ErrorContains(t, err, want)
	}
}

// Among many short edges, closest finds the same as trying all of them, whether
// it looks at all in reach or close by first.
func TestClosestAgreesWithTryingAll(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	var s shapes
	s.begin()
	for range 20_000 {
		at := orb.Point{10 + 0.3*r.Float64(), 60 + 0.3*r.Float64()}
		s.line(orb.LineString{at, {at[0] + 0.01*r.NormFloat64()*r.Float64(), at[1] + 0.01*r.NormFloat64()*r.Float64()}})
	}
	n := newNear(&s)
	found, gaveUp := 0, 0
	for range 60 {
		p := geo.Point{Lat: 59.9 + 0.5*r.Float64(), Lon: 9.8 + 0.7*r.Float64()}
		reach := math.Pow(10, 1+3.3*r.Float64())
		want := nearest{metres: math.Inf(1)}
		for _, edge := range n.edges {
			if at := toEdge(p.Lat, s.vertices[edge].from(p.Lon, p.Lat), s.vertices[edge+1].from(p.Lon, p.Lat)); at.metres < want.metres {
				at.edge = edge
				want = at
			}
		}
		got, ok := n.closest(p, reach)
		require.Equal(t, want.metres <= reach, ok, "closest(%v, %g): nearest at %g m", p, reach, want.metres)
		if ok {
			found++
			require.Equal(t, want, got, "closest(%v, %g)", p, reach)
		}
		if _, _, all := n.within(p, reach, few); !all {
			gaveUp++
		}
	}
	assert.True(t, found > 10 && found < 55 && gaveUp > 10 && gaveUp < 50, "found %d, gave up %d times", found, gaveUp)
}

// A layer out of its hours knows that nothing is there.
func TestLayerOutOfHours(t *testing.T) {
	l, err := ReadLayer(LayerSource{Name: "range", Class: Closed, Active: []Hours{{From: 8 * time.Hour, To: 16 * time.Hour}, {From: 20 * time.Hour, To: 21 * time.Hour}}},
		[]byte(geometry("Polygon", wood)))
	require.NoError(t, err)
	for _, tt := range []struct {
		hour, lon    float64
		hit, covered bool
	}{{12, 8.2, true, true}, {20.5, 8.2, true, true}, {18, 8.2, false, true}, {12, 20, false, false}, {18, 20, false, false}} {
		when := noon.Add(time.Duration((tt.hour - 12) * float64(time.Hour)))
		hit, covered := l.At(geo.Point{Lat: 50.2, Lon: tt.lon}, when)
		assert.Equal(t, [2]bool{tt.hit, tt.covered}, [2]bool{hit, covered}, "at %g h, %g° east", tt.hour, tt.lon)
	}
}
