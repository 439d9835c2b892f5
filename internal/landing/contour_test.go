package landing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// drawn is a grid of a function of the node's place, zero along its border.
func drawn(n int, step float64, f func(x, y float64) float64) grid {
	g := grid{x: -float64(n-1) / 2 * step, y: -float64(n-1) / 2 * step, step: step, nx: n, ny: n, value: make([]float64, n*n)}
	for j := 1; j < n-1; j++ {
		for i := 1; i < n-1; i++ {
			g.value[j*n+i] = f(g.x+float64(i)*step, g.y+float64(j)*step)
		}
	}
	return g
}

// TestContourOfCircle: between nodes the density is taken as linear, which moves a contour
// by up to step² f″/8f′, here 0.0104 and two thirds of it on average: 0.2 % of the area.
func TestContourOfCircle(t *testing.T) {
	g := drawn(65, 0.25, func(x, y float64) float64 { return math.Exp(-(x*x + y*y) / 8) })
	rings := g.contours(math.Exp(-4.5)) // at radius 6
	require.Len(t, rings, 1)
	assert.InEpsilon(t, 36*math.Pi, twiceArea(rings[0])/2, 2e-3, "area, counterclockwise")
	for _, p := range rings[0] {
		assert.InDelta(t, 6, math.Hypot(p.x, p.y), 0.02)
	}
}

// TestContourOfRing: a ring has its hole clockwise and an island in the hole stands alone.
func TestContourOfRing(t *testing.T) {
	g := drawn(81, 0.25, func(x, y float64) float64 {
		r := math.Hypot(x, y)
		return max(2-math.Abs(r-6), 2-r)
	})
	rings := g.contours(1)
	shapes := polygons(rings)
	require.Len(t, shapes, 2)
	require.Len(t, shapes[0], 2, "outer ring and hole")
	require.Len(t, shapes[1], 1, "island")
	assert.InEpsilon(t, 49*math.Pi, twiceArea(shapes[0][0])/2, 5e-3)
	assert.InEpsilon(t, -25*math.Pi, twiceArea(shapes[0][1])/2, 5e-3)
	assert.InEpsilon(t, math.Pi, twiceArea(shapes[1][0])/2, 5e-2)
}

// TestSaddle: the middle of a cell decides whether opposite corners hang together.
func TestSaddle(t *testing.T) {
	for _, c := range []struct {
		low   float64
		rings int
	}{{0.3, 1}, {-3, 2}} {
		for _, flip := range []bool{false, true} {
			g := drawn(4, 1, func(x, y float64) float64 {
				if (x > 0) == (y > 0) != flip {
					return 2
				}
				return c.low
			})
			assert.Len(t, g.contours(1), c.rings, "low corners %g, flipped %v", c.low, flip)
		}
	}
}

// TestContourOfNoise: on grids full of saddles, islands and level nodes the rings are
// simple, do not meet, and part exactly the nodes inside from those outside.
func TestContourOfNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 40 {
		coarse := r.IntN(2) == 0
		g := drawn(14, 1, func(_, _ float64) float64 {
			if coarse {
				return float64(r.IntN(3)) / 2 // many nodes at the very level
			}
			return r.Float64()
		})
		rings := g.contours(0.5)
		for k, v := range g.value {
			at := xy{g.x + float64(k%g.nx), g.y + float64(k/g.nx)}
			in := false
			for _, ring := range rings {
				in = in != surrounds(ring, at)
			}
			assert.Equal(t, v >= 0.5, in, "node %d", k)
		}
		requireApart(t, rings)
		sum, count := 0.0, 0
		for _, ring := range rings {
			sum += twiceArea(ring)
		}
		for _, p := range polygons(rings) {
			for i, ring := range p {
				count++
				sum -= twiceArea(ring)
				assert.Equal(t, i == 0, twiceArea(ring) > 0, "outer ring first, holes after")
				assert.True(t, i == 0 || surrounds(p[0], ring[0]), "hole in its outer ring")
			}
		}
		assert.Equal(t, len(rings), count, "every ring is in one polygon")
		assert.InDelta(t, 0, sum, 1e-9)
	}
}

// requireApart fails if two edges of the rings cross or touch other than end to end.
func requireApart(t *testing.T, rings [][]xy) {
	t.Helper()
	type edge struct{ a, b xy }
	var edges []edge
	for _, ring := range rings {
		for i := range ring {
			edges = append(edges, edge{ring[i], ring[(i+1)%len(ring)]})
		}
	}
	side := func(a, b, c xy) float64 { return (b.x-a.x)*(c.y-a.y) - (c.x-a.x)*(b.y-a.y) }
	for i, e := range edges {
		for _, f := range edges[:i] {
			if e.a == f.b || e.b == f.a {
				continue
			}
			if max(e.a.x, e.b.x) < min(f.a.x, f.b.x) || max(f.a.x, f.b.x) < min(e.a.x, e.b.x) ||
				max(e.a.y, e.b.y) < min(f.a.y, f.b.y) || max(f.a.y, f.b.y) < min(e.a.y, e.b.y) {
				continue
			}
			meet := side(e.a, e.b, f.a)*side(e.a, e.b, f.b) <= 0 && side(f.a, f.b, e.a)*side(f.a, f.b, e.b) <= 0
			require.False(t, meet, "edges %v and %v", e, f)
		}
	}
}
