package landing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// corners is places where a map may go wrong.
var corners = []geo.Point{
	{Lat: 0, Lon: 0},
	{Lat: 47, Lon: 11},
	{Lat: -33, Lon: 179.99},
	{Lat: 80, Lon: -180},
	{Lat: 89.5, Lon: 100},
	{Lat: -89.9, Lon: -30},
	{Lat: 90, Lon: 0},
}

func centred(at geo.Point) plane {
	p := sphere()
	return p.around(p.vector(at))
}

func TestPlaneRoundTrip(t *testing.T) {
	worst := 0.0
	for _, at := range corners {
		p := centred(at)
		for _, km := range []float64{0, 0.01, 1, 55, 300, 1000, 5000} {
			for bearing := 0.0; bearing < 360; bearing += 30 {
				want := geo.Direct(at, bearing, 1000*km)
				got := p.point(p.xy(p.vector(want)))
				off, _, _ := geo.Inverse(want, got)
				assert.Less(t, off, seriesError, "round trip of %v around %v = %v", want, at, got)
				worst = max(worst, off)
			}
		}
	}
	assert.Greater(t, worst, seriesError/2, "the stated bound is slack")
}

// TestPlaneKeepsAreas compares small triangles with their area on the ellipsoid, and with
// geodesic lengths: these may be off as the comment on plane says.
func TestPlaneKeepsAreas(t *testing.T) {
	for _, at := range corners[:5] {
		p := centred(at)
		worst := 0.0
		for _, km := range []float64{0, 30, 300, 800} {
			for bearing := 15.0; bearing < 360; bearing += 45 {
				place := geo.Direct(at, bearing, 1000*km)
				var ring []geo.Point
				var flat []xy
				for turn := 0.0; turn < 360; turn += 5 {
					q := geo.Direct(place, turn, 5000)
					x, y := p.xy(p.vector(q))
					ring, flat = append(ring, q), append(flat, xy{x, y})
				}
				if want := math.Abs(geo.RingArea(ring)); !math.IsNaN(want) {
					// Both rings have straight edges, each in its own map: at 89.5 degrees
					// they differ by more than the maps do.
					tolerance := 2e-5
					if place.Lat > 85 {
						tolerance = 2e-3
					}
					assert.InEpsilon(t, want, math.Abs(twiceArea(flat)/2), tolerance, "area %g km from %v", km, at)
				}
				for _, f := range flat {
					x, y := p.xy(p.vector(place))
					worst = max(worst, math.Abs(math.Hypot(f.x-x, f.y-y)/5000-1))
				}
			}
		}
		assert.Less(t, worst, 0.006, "error of lengths around %v", at)
		assert.Greater(t, worst, 0.001, "error of lengths around %v: the statement is too pessimistic", at)
	}
}

func TestPlaneIsEastAndNorth(t *testing.T) {
	p := centred(site)
	x, y := p.xy(p.vector(geo.Direct(site, 30, 10000)))
	assert.InDelta(t, 5000, x, 40)
	assert.InDelta(t, 8660, y, 40)
}

func TestMatrix(t *testing.T) {
	c := cov{9, 2, 4}
	small, large, x, y := c.eigen()
	assert.InDelta(t, 32, small*large, 1e-12)
	assert.InDelta(t, 13, small+large, 1e-12)
	assert.InDelta(t, large, c.form(x, y), 1e-12)
	got := c.clamp(4, 8)
	small, large, _, _ = got.eigen()
	assert.InDelta(t, 4, small, 1e-12)
	assert.InDelta(t, 8, large, 1e-12)
	i := c.inverse()
	assert.InDelta(t, 1, c.xx*i.xx+c.xy*i.xy, 1e-12)
	assert.InDelta(t, 0, c.xx*i.xy+c.xy*i.yy, 1e-12)

	m := whitening(c)
	white := m.of(c)
	assert.InDelta(t, white.xx, white.yy, 1e-12, "whitened")
	assert.InDelta(t, 0, white.xy, 1e-12)
	assert.InDelta(t, c.det(), white.det(), 1e-12, "areas are kept")
	back := m.back(white)
	assert.InDelta(t, c.xy, back.xy, 1e-12)
	u, v := m.apply(3, -7)
	x, y = m.undo(u, v)
	require.InDelta(t, 3, x, 1e-12)
	require.InDelta(t, -7, y, 1e-12)
}
