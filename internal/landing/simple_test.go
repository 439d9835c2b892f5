package landing

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// scattered is regions of laws from a hand's breadth to an ocean's, of one cluster and
// of several, all over the Earth.
func scattered(t *testing.T, each func(name string, r Region)) {
	t.Helper()
	clusters := mix("three clusters", 0, component{0.5, -12, 0, 3, 1}, component{0.3, 10, 9, 1, 2}, component{0.2, 4, -14, 1, 1})
	around := law{name: "a ring", place: func(u []float64) (x, y float64) {
		sin, cos := math.Sincos(2 * math.Pi * u[0])
		r := 9 + normal(u[1])
		return r * cos, r * sin
	}}
	for _, l := range []law{circular, clusters, bent("bent", 4, 0), around} {
		for _, scale := range []float64{1e-4, 1, 60} { // of kilometres: 40 cm, 4 km, 240 km
			for _, at := range corners {
				var points []Weighted
				for _, u := range even(512, 0.3) {
					x, y := l.place(u)
					points = append(points, Weighted{offset(at, scale*x, scale*y), 1})
				}
				d, err := Estimate(points, standard)
				require.NoError(t, err)
				for _, r := range d.Regions {
					each(fmt.Sprintf("%g of %s, %g km, at %v", r.Share, l.name, scale, at), r)
				}
			}
		}
	}
}

// TestRegionsAreSimple: on the globe, in longitude and latitude, as a map draws them,
// no edge of a region meets another but end to end.
func TestRegionsAreSimple(t *testing.T) {
	holes := 0
	scattered(t, func(name string, r Region) {
		requireSound(t, r.Shape)
		for _, polygon := range r.Shape {
			holes += len(polygon) - 1
		}
		a, b, meet := meeting(r.Shape)
		require.False(t, meet, "region %s: edges %v and %v meet", name, a, b)
	})
	// Its hole in three regions of two sizes at the two places that are clear of the date
	// line and the poles; elsewhere it may be cut open.
	assert.GreaterOrEqual(t, holes, 12, "a ring has its hole")
}

// TestMeetingEdgesAreFound: what the test above looks for is found where it is.
func TestMeetingEdgesAreFound(t *testing.T) {
	square := func(x, y float64) orb.Polygon {
		return orb.Polygon{{{x, y}, {x + 2, y}, {x + 2, y + 2}, {x, y + 2}, {x, y}}}
	}
	_, _, meet := meeting(orb.MultiPolygon{square(0, 0), square(3, 0)})
	assert.False(t, meet, "apart")
	_, _, meet = meeting(orb.MultiPolygon{square(0, 0), square(1, 1)})
	assert.True(t, meet, "overlapping")
	_, _, meet = meeting(orb.MultiPolygon{{{{0, 0}, {2, 2}, {2, 0}, {0, 2}, {0, 0}}}})
	assert.True(t, meet, "a bow tie")
	_, _, meet = meeting(orb.MultiPolygon{{{{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}, {0, 0}}}})
	assert.True(t, meet, "a corner on an edge")
}

// meeting finds two edges that meet other than end to end in their own ring.
func meeting(shape orb.MultiPolygon) (a, b [2]orb.Point, meet bool) {
	type edge struct {
		from, to orb.Point
		ring, n  int
		of       int // how many the ring has
	}
	var edges []edge
	rings := 0
	for _, polygon := range shape {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				edges = append(edges, edge{ring[i-1], ring[i], rings, i - 1, len(ring) - 1})
			}
			rings++
		}
	}
	west := func(e edge) float64 { return min(e.from[0], e.to[0]) }
	slices.SortFunc(edges, func(e, f edge) int {
		if west(e) < west(f) {
			return -1
		}
		return 1
	})
	side := func(a, b, c orb.Point) float64 { return (b[0]-a[0])*(c[1]-a[1]) - (c[0]-a[0])*(b[1]-a[1]) }
	for i, e := range edges {
		east := max(e.from[0], e.to[0])
		for _, f := range edges[i+1:] {
			if west(f) > east {
				break
			}
			next := e.ring == f.ring && ((e.n+1)%e.of == f.n || (f.n+1)%f.of == e.n)
			if next || max(e.from[1], e.to[1]) < min(f.from[1], f.to[1]) || max(f.from[1], f.to[1]) < min(e.from[1], e.to[1]) {
				continue
			}
			if side(e.from, e.to, f.from)*side(e.from, e.to, f.to) <= 0 && side(f.from, f.to, e.from)*side(f.from, f.to, e.to) <= 0 {
				return [2]orb.Point{e.from, e.to}, [2]orb.Point{f.from, f.to}, true
			}
		}
	}
	return a, b, false
}

// TestAreasAgainstGeographicLib compares areas with those of GeographicLib's Planimeter
// (Karney 2013, J. Geod. 87:43, section 6), whose edges are geodesics and not straight in
// longitude and latitude: over an edge s long they are s² tan φ / 8R apart in its middle,
// which bounds by how much the areas differ.
func TestAreasAgainstGeographicLib(t *testing.T) {
	planimeter, err := exec.LookPath("Planimeter")
	if err != nil {
		t.Skip("left out: areas of regions against GeographicLib, as its Planimeter is not installed")
	}
	type want struct {
		name        string
		area, bound float64 // m²
		rings       int
	}
	var wants []want
	var input bytes.Buffer
	scattered(t, func(name string, r Region) {
		w := want{name: name, area: r.Area}
		for _, polygon := range r.Shape {
			for _, ring := range polygon {
				for i, p := range ring[1:] {
					_, _ = fmt.Fprintf(&input, "%.15f %.15f\n", p[1], p[0])
					a, b := geo.Point{Lat: ring[i][1], Lon: ring[i][0]}, geo.Point{Lat: p[1], Lon: p[0]}
					if math.Abs(b.Lat) == 90 && math.Abs(a.Lat) != 90 { // then the sum begins with half of the Earth's
						w.bound += 2.55e14 * 0x1p-52
					}
					if math.Abs(a.Lat) == 90 || math.Abs(b.Lat) == 90 || a.Lon == b.Lon {
						continue // along a meridian, which is a geodesic
					}
					least := min(math.Abs(a.Lat), math.Abs(b.Lat))
					meridian, normal := geo.Radii(least)
					north, east := (b.Lat-a.Lat)*math.Pi/180*meridian, geo.WrapLon(b.Lon-a.Lon)*math.Pi/180*normal*math.Cos(least*math.Pi/180)
					s := math.Hypot(north, east) // and no more: parallels are longest here
					steepest := math.Tan(max(math.Abs(a.Lat), math.Abs(b.Lat)) * math.Pi / 180)
					w.bound += 2.0 / 3 * s * s * s * steepest / (8 * 6356e3)
				}
				w.rings++
				input.WriteString("\n")
			}
		}
		wants = append(wants, w)
	})
	command := exec.CommandContext(t.Context(), planimeter, "-p", "10")
	command.Stdin = &input
	output, err := command.Output()
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(output)), "\n")
	for _, w := range wants {
		sum := 0.0
		for range w.rings {
			require.NotEmpty(t, lines)
			var n int
			var perimeter, area float64
			_, err := fmt.Sscan(lines[0], &n, &perimeter, &area)
			require.NoError(t, err, "Planimeter said %q", lines[0])
			sum += area
			lines = lines[1:]
		}
		// 0.005 m² of every ring are rounding: the sum takes in bands down to the equator.
		assert.InDelta(t, sum, w.area, w.bound+1e-9*w.area+0.005*float64(w.rings), "area of region %s", w.name)
		assert.Less(t, w.bound, 0.015*w.area, "the bound says something, if less around a pole: region %s", w.name)
	}
	assert.Empty(t, lines)
}
