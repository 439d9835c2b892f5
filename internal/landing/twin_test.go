package landing

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// slowly is the density of all kernels at a place, term by term to the last.
func (d density) slowly(x, y float64) float64 {
	sum := 0.0
	for _, g := range d.grids {
		for _, k := range g.kernels {
			sum += k.peak() * math.Exp(-k.spread.inverse().form(x-k.x, y-k.y)/2)
		}
	}
	return sum
}

func (d density) mass() (kernels, nodes float64) {
	for _, g := range d.grids {
		for _, k := range g.kernels {
			kernels += k.weight
		}
		for _, v := range g.value {
			nodes += v * g.step * g.step
		}
	}
	return kernels, nodes
}

func prepared(t *testing.T, points []Weighted) density {
	t.Helper()
	s, err := gather(points, never)
	require.NoError(t, err)
	return estimate(s, false)
}

// TestGridAgainstSum: at each node the grid lacks at most the tails that kernels are cut off
// at, exp(-8) of each one's peak.
func TestGridAgainstSum(t *testing.T) {
	for _, l := range smooth {
		d := prepared(t, l.land(site, random(300, 2, 3)))
		cut := 0.0
		for _, g := range d.grids {
			for _, k := range g.kernels {
				cut += k.peak() * math.Exp(-cutOff*cutOff/2)
			}
		}
		for _, g := range d.grids {
			for k := 0; k < len(g.value); k += 7 {
				slow := d.slowly(g.x+float64(k%g.nx)*g.step, g.y+float64(k/g.nx)*g.step)
				require.GreaterOrEqual(t, slow, g.value[k]*(1-1e-9), "%s: node %d", l.name, k)
				require.LessOrEqual(t, slow, g.value[k]+cut, "%s: node %d", l.name, k)
			}
		}
		kernels, nodes := d.mass()
		assert.InDelta(t, 1, kernels, 1e-12, l.name)
		assert.InDelta(t, 1, nodes, 2e-3, l.name)
	}
}

// TestRegionAgainstSum asks the sum of all kernels, place by place, what lies above the
// level; the polygons may differ where the contour is drawn straight.
func TestRegionAgainstSum(t *testing.T) {
	for _, l := range smooth {
		d := prepared(t, l.land(site, random(300, 2, 4)))
		r := rand.New(rand.NewPCG(4, 4))
		for i, level := range d.levels(standard) {
			region := Region{Shape: d.region(level)}
			const tries = 4000
			differ, above, all := 0, 0, 0.0
			for _, g := range d.grids {
				width, height := float64(g.nx-1)*g.step, float64(g.ny-1)*g.step
				hit := 0
				for range tries {
					x, y := g.x+width*r.Float64(), g.y+height*r.Float64()
					in := d.slowly(x, y) >= level
					if in {
						hit++
					}
					if in != region.Contains(d.plane.point(d.m.undo(x, y))) {
						differ++
					}
				}
				above += hit
				all += width * height * float64(hit) / tries
			}
			// A contour straight between nodes moves by at most 1 % of a region's radius, and
			// so few places scatter by the root of their number.
			few := 0.02 * float64(above)
			assert.LessOrEqual(t, float64(differ), few+4*math.Sqrt(few), "%s %g: places that differ, of %d inside", l.name, standard[i], above)
			// The count scatters by less than its root.
			assert.InEpsilon(t, all, area(region.Shape), 0.005+4/math.Sqrt(float64(above)), "%s %g: area", l.name, standard[i])
		}
	}
}

// TestNeighboursAgainstSort compares the search with sorting all distances.
func TestNeighboursAgainstSort(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for n := 1; n < 120; n += 3 {
		spots := make([]spot, n)
		for i := range spots {
			spots[i] = spot{x: math.Round(8 * r.NormFloat64()), y: math.Pow(10, 6*r.NormFloat64()), weight: r.Float64() / float64(n)}
		}

		c := cloud{spots: spots, cap: 0.02}
		metric := cov{2, 0.5, 1}
		x, y := r.NormFloat64(), r.NormFloat64()
		c.measure(x, y, metric)
		for _, mass := range []float64{0.01, 0.1, 0.4, 2} {
			sorted := slices.Clone(spots)
			form := func(s spot) float64 { return metric.form(s.x-x, s.y-y) }
			slices.SortFunc(sorted, func(a, b spot) int { return cmp.Compare(form(a), form(b)) })
			want, passed, k := 0.0, 0.0, 0
			for ; k < n && passed < mass; k++ {
				passed += min(sorted[k].weight, c.cap)
				want = form(sorted[k])
			}
			got := c.reach(mass)
			require.Equal(t, want, got, "reach(%g) of %d", mass, n)

			near := sorted[:k]
			for len(near) < n && form(sorted[len(near)]) == want {
				near = sorted[:len(near)+1]
			}
			var mx, my, sum float64
			for _, s := range near {
				m := min(s.weight, c.cap)
				mx, my, sum = mx+m*s.x, my+m*s.y, sum+m
			}
			var shape cov
			for _, s := range near {
				shape = shape.plus(min(s.weight, c.cap)/sum, outer(s.x-mx/sum, s.y-my/sum))
			}
			result, _ := c.within(x, y, got)
			require.InDelta(t, shape.xx, result.xx, 1e-9*(1+shape.xx))
			require.InDelta(t, shape.yy, result.yy, 1e-9*(1+shape.yy))
		}
	}
}

// TestQuantile on values whose quantiles are known.
func TestQuantile(t *testing.T) {
	values := []near{{1, 0.25}, {2, 0.25}, {3, 0.25}, {4, 0.25}} // middles at 1/8, 3/8, 5/8, 7/8
	for _, c := range [][2]float64{{0, 0}, {0.0625, 0.5}, {0.125, 1}, {0.5, 2.5}, {0.875, 4}, {1, 5}} {
		assert.InDelta(t, c[1], quantile(values, c[0], 5), 1e-12, "quantile(%g)", c[0])
	}
}

// TestGroups: more points than spots are grouped without moving the mean, the weight or the
// covariance of all, and give the regions that the ungrouped points would.
func TestGroups(t *testing.T) {
	points := circular.land(site, even(20000, 0.2))
	s, err := gather(points, never)
	require.NoError(t, err)
	assert.LessOrEqual(t, len(s.spots), maxSpots)
	whole := join(s.spots)
	assert.InDelta(t, 1, whole.weight, 1e-12)
	assert.InDelta(t, 4000, math.Sqrt(whole.within.xx), 40, "standard deviation east")
	assert.InDelta(t, 4000, math.Sqrt(whole.within.yy), 40, "standard deviation north")
	d, err := Estimate(points, standard)
	require.NoError(t, err)
	for i, radii := range []float64{1.177410, 1.794123, 2.447747} { // reference/physics.md §8: Hyndman 1996
		assert.InEpsilon(t, radii*4000, math.Sqrt(d.Regions[i].Area/math.Pi), 0.005, "radius of region %g", standard[i])
	}
}

// alike holds the radius of points to that of measuring every one on the ellipsoid.
func alike(t *testing.T, points []Weighted, centre geo.Point, share float64, name string) {
	t.Helper()
	s, err := gather(points, never)
	require.NoError(t, err)
	all := make([]near, len(s.points))
	rough := s.onSphere(centre)
	for i, p := range s.points {
		metres, _, _ := geo.Inverse(centre, p.At)
		all[i] = near{metres, p.Weight}
		require.InDelta(t, metres, rough[i].distance, sphereOff*metres+1e-6, "%v to %v", centre, p.At)
	}
	slices.SortFunc(all, byDistance)
	got, err := radius(s, centre, share, never)
	require.NoError(t, err)
	want := max(quantile(all, share, all[len(all)-1].distance), blurRadius95)
	require.InEpsilon(t, want, got, 1e-9, "%g of %s", share, name)
}

// TestRadiusAgainstAll: the radius is that of measuring every point on the ellipsoid, near
// and far, from the equator to a pole, with weights alike, unlike and of one heavy point.
func TestRadiusAgainstAll(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for _, lat := range []float64{0, 20, 45, 70, 89.9} {
		for _, scale := range []float64{30, 3e3, 3e5, 1.5e6} {
			for _, n := range []int{1, 2, 7, 300, 3000} {
				for kind := range 3 {
					points := make([]Weighted, n)
					for i := range points {
						at := geo.Direct(geo.Point{Lat: lat, Lon: 179.9}, 360*r.Float64(), min(scale*math.Abs(r.NormFloat64()), 2e6))
						points[i] = Weighted{at, 1}
						if kind == 1 {
							points[i].Weight = math.Exp(2 * r.NormFloat64())
						}
					}
					if kind == 2 {
						points[n/2].Weight = float64(n) / 5
					}
					centre := geo.Direct(points[0].At, 77, scale/3)
					for _, share := range []float64{0.5, 0.95, 0.999} {
						alike(t, points, centre, share, fmt.Sprintf("%d points at %g° in %g m, weights %d", n, lat, scale, kind))
					}
				}
			}
		}
	}
}

// TestRadiusOfATie: at the equator a heavy point to the north is nearer than a light one to
// the east, on the sphere farther; the radius lies between it and the light ones far inside.
func TestRadiusOfATie(t *testing.T) {
	centre := geo.Point{Lat: 0, Lon: 20}
	points := []Weighted{{geo.Direct(centre, 0, 100e3), 0.5}, {geo.Direct(centre, 90, 100.05e3), 0.01}, {geo.Direct(centre, 180, 150e3), 0.19}}
	for i := range 10 {
		points = append(points, Weighted{geo.Direct(centre, 36*float64(i), 50e3), 0.03})
	}
	alike(t, points, centre, 0.5, "a tie")
}
