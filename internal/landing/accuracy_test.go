package landing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func bound(share float64) float64 {
	if share == 0.95 {
		return MaxShareError95
	}
	return MaxShareError
}

// TestShareOfFreshLandings holds the promise in single samples, where the points are so
// evenly spread that their own scatter leaves room: of 100,000 independent landings the
// stated share falls inside.
func TestShareOfFreshLandings(t *testing.T) {
	for k, l := range smooth {
		if l.excess == MaxAreaExcess {
			continue // several clusters share the points, and none is as evenly filled
		}
		fresh := l.land(site, random(100000, 2, uint64(k)))
		for _, shift := range []float64{0, 0.3, 0.6} {
			d, err := Estimate(l.land(site, even(1024, shift)), standard)
			require.NoError(t, err)
			for i, share := range standard {
				got := inside(d.Regions[i], fresh)
				assert.InDelta(t, share, got, bound(share), "%s: share inside region %g, shift %g", l.name, share, shift)
			}
		}
	}
}

// tally is what several samples of a law say on average.
type tally struct{ share, area [3]float64 }

func average(t *testing.T, l law, samples int, draw func(k int) [][]float64) (mean tally) {
	t.Helper()
	fresh := l.land(site, even(8000, 0.77))
	for k := range samples {
		d, err := Estimate(l.land(site, draw(k)), standard)
		require.NoError(t, err)
		for i, r := range d.Regions {
			mean.share[i] += inside(r, fresh) / float64(samples)
			mean.area[i] += r.Area / float64(samples)
		}
	}
	return mean
}

// TestShareOfIndependentDraws: no sample can be held to 1 %, for independent points scatter
// by 1.6 % themselves; their mean can.
func TestShareOfIndependentDraws(t *testing.T) {
	const samples = 64 // the mean's own standard error: 0.19 %, 0.15 %, 0.09 %
	for _, l := range smooth {
		t.Run(l.name, func(t *testing.T) {
			mean := average(t, l, samples, func(k int) [][]float64 { return random(1024, 2, uint64(1000+k)) })
			for i, share := range standard {
				assert.InDelta(t, share, mean.share[i], bound(share), "mean share inside region %g", share)
				t.Logf("%g: share %+.2f %%", share, 100*(mean.share[i]-share))
			}
		})
	}
}

// TestAreaExcess compares with the smallest region that holds the share, at which a
// bandwidth that is too wide or too narrow shows.
func TestAreaExcess(t *testing.T) {
	for _, l := range smooth {
		t.Run(l.name, func(t *testing.T) {
			mean := average(t, l, 6, func(k int) [][]float64 { return even(1024, float64(k)/6+0.03) })
			for i, share := range standard {
				excess := mean.area[i]/l.smallest(share) - 1
				assert.LessOrEqual(t, excess, l.excess, "excess area of region %g", share)
				assert.GreaterOrEqual(t, excess, -0.01, "excess area of region %g", share)
				assert.InDelta(t, share, mean.share[i], bound(share), "mean share inside region %g", share)
				t.Logf("%g: share %+.2f %%, area %+.1f %%", share, 100*(mean.share[i]-share), 100*excess)
			}
		})
	}
}

// TestSmallCluster has eight in a hundred landings elsewhere, as flights on which something
// breaks: the neighbours of those must not be sought among the others.
func TestSmallCluster(t *testing.T) {
	l := mix("small", 0.2, component{0.92, 0, 0, 4, 4}, component{0.08, -120, 8, 12, 4})
	mean := average(t, l, 6, func(k int) [][]float64 { return even(1024, float64(k)/6+0.03) })
	for i, share := range standard {
		assert.InDelta(t, share, mean.share[i], bound(share), "mean share inside region %g", share)
		assert.LessOrEqual(t, mean.area[i]/l.smallest(share)-1, l.excess, "excess area of region %g", share)
	}
}

// TestPlateau: on a disc of even density a region of 95 % is set by its rim.
func TestPlateau(t *testing.T) {
	for _, c := range []struct {
		name   string
		draw   func(k int) [][]float64
		bounds [3]float64 // the first as MaxShareError says
	}{
		{"independent", func(k int) [][]float64 { return random(1024, 2, uint64(k)) }, [3]float64{0.06, 0.02, 0.01}},
		{"even", func(k int) [][]float64 { return even(1024, float64(k)/20) }, [3]float64{0.06, 0.02, 0.01}},
	} {
		t.Run(c.name, func(t *testing.T) {
			mean := average(t, disc, 20, c.draw)
			for i, share := range standard {
				assert.InDelta(t, share, mean.share[i], c.bounds[i], "share inside region %g", share)
			}
		})
	}
}

// TestShareOfManyDraws has landings that depend on ten draws, as flights do, with three in
// a hundred bursting early and falling short.
func TestShareOfManyDraws(t *testing.T) {
	flight := law{place: func(u []float64) (x, y float64) {
		up, burst, down := 5*(1+0.06*normal(u[0])), 30*(1+0.05*normal(u[1])), 5*(1+0.08*normal(u[2]))
		if u[8] < 0.03 {
			burst *= 0.3 + 0.7*u[9]
		}
		climb, fall := burst/up*200, math.Pow(burst, 0.7)/down*260 // s, roughly
		x = (climb + fall) * (0.012 + 0.001*normal(u[3])) * math.Sqrt(burst/30)
		y = climb*(0.002+0.001*normal(u[4])) + fall*(0.003+0.001*normal(u[5]))
		return x + normal(u[6])/2, y + normal(u[7])/2
	}}
	fresh := flight.land(site, random(30000, 10, 77))
	const samples = 32
	var mean, square [3]float64
	for k := range samples {
		d, err := Estimate(flight.land(site, scrambled(1024, 10, 16, uint64(k))), standard)
		require.NoError(t, err)
		for i, r := range d.Regions {
			miss := inside(r, fresh) - r.Share
			mean[i] += miss / samples
			square[i] += miss * miss / samples
		}
	}
	for i, share := range standard {
		assert.InDelta(t, 0, mean[i], bound(share), "mean error of share %g", share)
		t.Logf("%g: mean %+.2f %%, root mean square %.2f %%", share, 100*mean[i], 100*math.Sqrt(square[i]))
	}
}

// TestImportance draws from a law 1.5 times wider and weighs each point by the ratio of the
// two densities: the regions must be those of the narrower law.
func TestImportance(t *testing.T) {
	wide := mix("wide", 0, component{1, 0, 0, 6, 6})
	fresh := circular.land(site, random(50000, 2, 5))
	var mean [3]float64
	const samples = 8
	for k := range samples {
		u := even(2048, float64(k)/samples)
		points := wide.land(site, u)
		for i, v := range u {
			x, y := wide.place(v)
			points[i].Weight = circular.density(x, y) / wide.density(x, y)
		}
		d, err := Estimate(points, standard)
		require.NoError(t, err)
		for i, r := range d.Regions {
			mean[i] += inside(r, fresh) / samples
		}
		assert.InDelta(t, 1.1774*4000, math.Sqrt(d.Regions[0].Area/math.Pi), 0.02*4000, "radius of region 0.5")
	}
	for i, share := range standard {
		assert.InDelta(t, share, mean[i], bound(share), "share inside region %g", share)
	}
}

// TestFewerPoints holds the statement of MaxShareError on smaller samples of independent
// points, which hold less than the share.
func TestFewerPoints(t *testing.T) {
	for _, c := range []struct {
		n    int
		less [3]float64
	}{
		{128, [3]float64{0.04, 0.025, 0.015}},
		{40, [3]float64{0.06, 0.04, 0.03}},
	} {
		mean := average(t, circular, 400, func(k int) [][]float64 { return random(c.n, 2, uint64(5000+k)) })
		for i, share := range standard {
			miss := mean.share[i] - share
			t.Logf("%d points, %g: share %+.2f %%", c.n, share, 100*miss)
			assert.GreaterOrEqual(t, miss, -c.less[i], "%d points: share inside region %g", c.n, share)
			assert.LessOrEqual(t, miss, 0.0, "%d points: share inside region %g", c.n, share)
		}
	}
}
