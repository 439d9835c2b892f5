package page

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The projection is the textbook one: x = R λ, y = R ln tan(π/4 + φ/2) (Snyder 1987,
// Map Projections: A Working Manual, USGS Professional Paper 1395, equations 7-1 and
// 7-2).
func TestChartIsMercator(t *testing.T) {
	c := NewChart(12, 57, 16, 59.5)
	for _, p := range [][2]float64{{12, 57}, {16, 59.5}, {13.7, 58.21}, {10.5, 56.4}} {
		x, y := c.At(p[0], p[1])
		phi := p[1] * math.Pi / 180
		assert.InDelta(t, Wide/2+c.PerRadian*(p[0]-14)*math.Pi/180, x, 1e-6)
		assert.InDelta(t, c.Equator-c.PerRadian*math.Log(math.Tan(math.Pi/4+phi/2)), y, 1e-6)
	}
}

func TestChartHoldsItsBox(t *testing.T) {
	for _, b := range [][4]float64{{12, 57, 16, 59.5}, {179, -18, 181, -16}, {-180.5, 50, -179.5, 51}, {5, 80, 25, 89.9}, {5, 45, 5, 45}, {-170, -60, 170, 75}} {
		name := fmt.Sprint(b)
		c := NewChart(b[0], b[1], b[2], b[3])
		west, south, east, north := c.Box()
		assert.True(t, west >= -180 && west <= 180 && east > west && east-west < 360, "%s: %g to %g", name, west, east)
		for _, lon := range []float64{b[0], b[2]} {
			for _, lat := range []float64{b[1], b[3]} {
				x, y := c.At(lon, lat)
				assert.True(t, x >= 0 && x <= Wide && y >= 0 && y <= High, "%s: At(%g, %g) = %g, %g", name, lon, lat, x, y)
				again, _ := c.At(lon+360, lat)
				assert.InDelta(t, x, again, 1e-6, name)
			}
		}
		if b[2]-b[0] < 180 {
			for _, corner := range [][4]float64{{west, north, 0, 0}, {east, south, Wide, High}} {
				x, y := c.At(corner[0], corner[1])
				assert.InDelta(t, corner[2], x, 1e-3, name)
				if math.Abs(corner[1]) < mostNorth {
					assert.InDelta(t, corner[3], y, 1e-3, name)
				}
			}
		}
	}
}

// read reads paths of SVG back into rings of chart units.
func read(t *testing.T, d string) []orb.Ring {
	t.Helper()
	var rings []orb.Ring
	for _, part := range strings.Split(d, "M")[1:] {
		part = strings.TrimSuffix(part, "z")
		var ring orb.Ring
		var x, y float64
		words := strings.Fields(strings.ReplaceAll(part, "l", " "))
		require.Zero(t, len(words)%2, d)
		for i := 0; i < len(words); i += 2 {
			dx, err := strconv.ParseFloat(words[i], 64)
			require.NoError(t, err)
			dy, err := strconv.ParseFloat(words[i+1], 64)
			require.NoError(t, err)
			x, y = x+dx, y+dy
			ring = append(ring, orb.Point{x, y})
		}
		rings = append(rings, ring)
	}
	return rings
}

// circle is a ring of so many corners.
func circle(lon, lat, radius float64, corners int) orb.Ring {
	var r orb.Ring
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
		r = append(r, orb.Point{lon + radius*cos, lat + radius*sin})
	}
	return append(r, r[0])
}

// A drawing keeps to a number of points, and stays as near to the outline as those
// allow: a circle of n points misses it by r(1 - cos(π/n)) at best, and what is
// thinned out by doubling the tolerance by no more than eight times that.
func TestAreasAreThinnedOut(t *testing.T) {
	c := NewChart(12, 57, 16, 59.5)
	const radius = 15_000.0
	round := circle(Wide/2, High/2, radius, 5000) // on the chart
	for i, p := range round {
		round[i] = orb.Point{14 + (p[0]-Wide/2)/c.PerRadian*180/math.Pi, math.Atan(math.Sinh((c.Equator-p[1])/c.PerRadian)) * 180 / math.Pi}
	}
	for _, most := range []int{20, 100, 400} {
		shapes := c.Areas(orb.MultiPolygon{{round}}, most)
		require.Len(t, shapes, 1)
		assert.LessOrEqual(t, shapes[0].Points, most)
		assert.Greater(t, shapes[0].Points, most/4)
		worst := 0.0
		ring := read(t, shapes[0].Path)[0]
		for i := range ring {
			a, b := ring[i], ring[(i+1)%len(ring)]
			worst = max(worst, math.Abs(radius-math.Hypot((a[0]+b[0])/2-Wide/2, (a[1]+b[1])/2-High/2)))
		}
		assert.Less(t, worst, 8*radius*(1-math.Cos(math.Pi/float64(most))), "%d points", most)
	}
	assert.Empty(t, c.Areas(orb.MultiPolygon{{circle(14, 58, 1, 50)}}, 0))
}

// Holes are kept with their outline, lone outlines run all the same way round, and
// what is too small is left out.
func TestAreas(t *testing.T) {
	c := NewChart(12, 57, 16, 59.5)
	backward := circle(13, 58, 0.2, 40)
	backward.Reverse()
	shapes := c.Areas(orb.MultiPolygon{
		{circle(14, 58, 0.5, 60), circle(14, 58, 0.2, 40)}, {backward}, {circle(15, 58, 0.2, 40)}, {circle(15, 57.5, 1e-6, 40)},
	}, 1000)
	require.Len(t, shapes, 2)
	assert.True(t, shapes[0].EvenOdd && !shapes[1].EvenOdd)
	assert.Len(t, read(t, shapes[0].Path), 2)
	lone := read(t, shapes[1].Path)
	require.Len(t, lone, 2)
	for _, r := range lone {
		assert.Equal(t, orb.CCW, append(r, r[0]).Orientation())
	}
}

func TestLines(t *testing.T) {
	c := NewChart(179, -18, 181, -16)
	s := c.Lines(orb.MultiLineString{{{179.5, -17}, {180, -17}, {-179.5, -17}}, {{179.2, -17.5}, {179.2, -17.5}}}, 10)
	lines := read(t, s.Path)
	require.Len(t, lines, 2)
	assert.Len(t, lines[0], 2, "a point on the way is left out")
	assert.InDelta(t, Wide/2, (lines[0][0][0]+lines[0][1][0])/2, 1)
	assert.Greater(t, lines[0][1][0], lines[0][0][0], "it goes on over the date line")
	assert.Empty(t, c.Lines(orb.MultiLineString{{{179, -17}, {181, -17}}}, 0).Path)
}
