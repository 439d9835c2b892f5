package landing

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// box is a counterclockwise rectangle with longitudes wrapped, a node each degree.
func box(west, south, east, north float64) orb.Ring {
	var r orb.Ring
	line := func(lon, lat, toLon, toLat float64) {
		n := max(math.Abs(toLon-lon), math.Abs(toLat-lat))
		for k := 0.0; k < n; k++ {
			r = append(r, orb.Point{geo.WrapLon(lon + (toLon-lon)*k/n), lat + (toLat-lat)*k/n})
		}
	}
	line(west, south, east, south)
	line(east, south, east, north)
	line(east, north, west, north)
	line(west, north, west, south)
	return r
}

func reversed(r orb.Ring) orb.Ring {
	r = r.Clone()
	r.Reverse()
	return r
}

// requireSound fails unless the polygons are as RFC 7946 has them (3.1.6 and 3.1.9).
func requireSound(t *testing.T, shape orb.MultiPolygon) {
	t.Helper()
	for _, p := range shape {
		for k, ring := range p {
			require.GreaterOrEqual(t, len(ring), 4)
			require.True(t, ring.Closed(), "ring is closed")
			want := orb.CCW
			if k > 0 {
				want = orb.CW
			}
			require.Equal(t, want, ring.Orientation(), "ring %d", k)
			for i, q := range ring {
				require.True(t, math.Abs(q[0]) <= 180 && math.Abs(q[1]) <= 90, "position %v", q)
				if i > 0 {
					require.NotEqual(t, ring[i-1], q, "no position twice running")
					require.Less(t, math.Abs(q[0]-ring[i-1][0]), 180.0, "no edge across the date line: %v %v", ring[i-1], q)
				}
			}
		}
	}
}

func TestSplit(t *testing.T) {
	zone := func(south, north float64) float64 { // m², by the ring of an octant, times four
		return 4 * geo.RingArea([]geo.Point{{Lat: south}, {Lat: south, Lon: 45}, {Lat: south, Lon: 90}, {Lat: north, Lon: 90}, {Lat: north, Lon: 45}, {Lat: north}})
	}
	span := func(west, south, east, north float64) float64 {
		return geo.RingArea([]geo.Point{{Lat: south, Lon: west}, {Lat: south, Lon: east}, {Lat: north, Lon: east}, {Lat: north, Lon: west}})
	}
	parallel := func(lat float64) orb.Ring {
		var r orb.Ring
		for lon := -179.5; lon < 180; lon++ {
			r = append(r, orb.Point{lon, lat})
		}
		return r
	}
	for _, c := range []struct {
		name    string
		rings   []orb.Ring
		pieces  int
		holes   int
		area    float64
		in, out []geo.Point
	}{
		{"clear of it", []orb.Ring{box(10, 0, 20, 5)}, 1, 0, span(10, 0, 20, 5), []geo.Point{{Lat: 2, Lon: 12}}, []geo.Point{{Lat: 2, Lon: 178}}},
		{
			"across",
			[]orb.Ring{box(175.5, 0, 185.5, 5)},
			2, 0, span(175.5, 0, 185.5, 5),
			[]geo.Point{{Lat: 2, Lon: 176}, {Lat: 2, Lon: -176}, {Lat: 2, Lon: 180}, {Lat: 2, Lon: -180}},
			[]geo.Point{{Lat: 2, Lon: 12}, {Lat: 6, Lon: 180}},
		},
		{
			"hole across",
			[]orb.Ring{box(170.5, 0, 190.5, 20), reversed(box(175.5, 5, 185.5, 15))},
			2, 0,
			span(170.5, 0, 190.5, 20) - span(175.5, 5, 185.5, 15),
			[]geo.Point{{Lat: 2, Lon: 180}, {Lat: 10, Lon: 172}},
			[]geo.Point{{Lat: 10, Lon: 180}, {Lat: 10, Lon: 177}},
		},
		{
			"holes beside",
			[]orb.Ring{box(170.5, 0, 190.5, 20), reversed(box(172.5, 5, 177.5, 15)), reversed(box(184.5, 5, 187.5, 15))},
			2, 2,
			span(170.5, 0, 190.5, 20) - span(172.5, 5, 177.5, 15) - span(184.5, 5, 187.5, 15),
			[]geo.Point{{Lat: 10, Lon: 180}},
			[]geo.Point{{Lat: 10, Lon: 174}, {Lat: 10, Lon: -174}},
		},
		{
			"comb",
			[]orb.Ring{{{170, 0}, {-170, 0}, {-170, 2}, {175, 2}, {175, 4}, {-170, 4}, {-170, 6}, {170, 6}}},
			3, 0,
			span(170, 0, 190, 6) - span(175, 2, 190, 4),
			[]geo.Point{{Lat: 1, Lon: -175}, {Lat: 5, Lon: -175}, {Lat: 3, Lon: 172}},
			[]geo.Point{{Lat: 3, Lon: 178}, {Lat: 3, Lon: -175}},
		},
		{"north pole", []orb.Ring{parallel(80)}, 1, 0, zone(80, 90), []geo.Point{{Lat: 90}, {Lat: 85, Lon: 179.9}, {Lat: 85, Lon: -180}, {Lat: 81, Lon: 20}}, []geo.Point{{Lat: 79, Lon: 20}}},
		{"south pole", []orb.Ring{reversed(parallel(-80))}, 1, 0, zone(-90, -80), []geo.Point{{Lat: -90}, {Lat: -85, Lon: 179.9}}, []geo.Point{{Lat: -79, Lon: 20}, {Lat: 90}}},
		{"ring around the pole", []orb.Ring{parallel(80), reversed(parallel(85))}, 1, 0, zone(80, 85), []geo.Point{{Lat: 82, Lon: 7}, {Lat: 82, Lon: 180}}, []geo.Point{{Lat: 90}, {Lat: 86, Lon: 179}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			shape := split(c.rings)
			requireSound(t, shape)
			assert.Len(t, shape, c.pieces)
			holes := 0
			for _, p := range shape {
				holes += len(p) - 1
			}
			assert.Equal(t, c.holes, holes)
			assert.InEpsilon(t, c.area, area(shape), 1e-9)
			for _, p := range c.in {
				assert.True(t, Region{Shape: shape}.Contains(p), "Contains(%v)", p)
			}
			for _, p := range c.out {
				assert.False(t, Region{Shape: shape}.Contains(p), "Contains(%v)", p)
			}
		})
	}
}
