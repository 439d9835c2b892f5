package landing

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// positions is the places of points.
func positions(points []Weighted) []geo.Point {
	out := make([]geo.Point, len(points))
	for i, p := range points {
		out[i] = p.At
	}
	return out
}

// TestDenserOfANormalLaw: 1.177410, 1.509592, 2.145966, 2.447747 and 3.034854 standard
// deviations from the middle of a circular normal law, 50, 68, 90, 95 and 99 % of it are
// denser (reference/physics.md §8, Hyndman 1996). On average over samples, as MaxShareError
// says.
func TestDenserOfANormalLaw(t *testing.T) {
	const samples = 6
	for _, c := range []struct{ r, share float64 }{
		{1.177410, 0.5}, {1.509592, 0.68}, {2.145966, 0.9}, {2.447747, 0.95}, {3.034854, 0.99},
	} {
		mean := 0.0
		for k := range samples {
			points := circular.land(site, even(1024, float64(k)/samples+0.03))
			var places []geo.Point
			for bearing := 0.0; bearing < 360; bearing += 15 {
				places = append(places, geo.Direct(site, bearing, 4000*c.r))
			}
			got, err := Denser(points, places)
			require.NoError(t, err)
			for _, share := range got {
				mean += share / float64(samples*len(got))
			}
		}
		assert.InDelta(t, c.share, mean, MaxShareError, "share denser than at %g standard deviations", c.r)
	}
}

// TestDenserIsMass compares with the mass that the law itself says is denser. For a normal
// law the density falls as the mass rises, so that one could pass for the other; for
// clusters of different size it does not.
func TestDenserIsMass(t *testing.T) {
	for _, l := range smooth {
		u := even(20000, 0.25)
		all := make([]float64, len(u))
		for i, v := range u {
			all[i] = l.density(l.place(v))
		}
		slices.Sort(all)
		places := even(300, 0.6)
		mean, square := 0.0, 0.0
		got, err := Denser(l.land(site, even(1024, 0.1)), positions(l.land(site, places)))
		require.NoError(t, err)
		for i, v := range places {
			k, _ := slices.BinarySearch(all, l.density(l.place(v)))
			miss := got[i] - (1 - float64(k)/float64(len(all)))
			mean += miss / float64(len(places))
			square += miss * miss / float64(len(places))
		}
		// At a single place the density of 1,024 points is off by some 15 %, and so by some
		// 5 % of the mass; over all places that cancels.
		assert.InDelta(t, 0, mean, 0.01, "%s: mean difference from the law's own mass", l.name)
		assert.Less(t, math.Sqrt(square), 0.07, "%s: root mean square difference", l.name)
		t.Logf("%s: mean %+.2f %%, root mean square %.2f %%", l.name, 100*mean, 100*math.Sqrt(square))
	}
}

// TestDenserIsEvenlySpread: over truths from the law that the points are drawn from, the
// share is even from 0 to 1: chi-square over 20 bins, whose mean is 19 and which is over
// 43.82 once in a thousand times (SciPy 1.10.1, scipy.stats.chi2.ppf(0.999, 19)). Points half
// or twice as widely spread are found out, and so is a truth that is turned.
func TestDenserIsEvenlySpread(t *testing.T) {
	const bins, each, rounds = 20, 20, 50
	l := law{place: func(u []float64) (x, y float64) { return 1 + 3*normal(u[0]), 4 + 9*normal(u[1]) }}
	statistic := func(spread func(x, y float64) (float64, float64)) float64 {
		var count [bins]float64
		drawn := law{place: func(u []float64) (x, y float64) { return spread(l.place(u)) }}
		for k := range rounds {
			got, err := Denser(drawn.land(site, random(1024, 2, uint64(k))), positions(l.land(site, random(each, 2, uint64(7000+k)))))
			require.NoError(t, err)
			for _, share := range got {
				count[min(int(share*bins), bins-1)]++
			}
		}
		sum := 0.0
		const want = float64(each*rounds) / bins
		for _, n := range count {
			sum += (n - want) * (n - want) / want
		}
		return sum
	}
	const limit = 43.82
	assert.Less(t, statistic(func(x, y float64) (float64, float64) { return x, y }), limit)
	assert.Greater(t, statistic(func(x, y float64) (float64, float64) { return 1 + (x-1)/2, 4 + (y-4)/2 }), limit, "half the spread")
	assert.Greater(t, statistic(func(x, y float64) (float64, float64) { return 1 + (x-1)*2, 4 + (y-4)*2 }), limit, "twice the spread")
	assert.Greater(t, statistic(func(x, y float64) (float64, float64) { return y, x }), limit, "east for north")
}

// TestDenserAndRegions: a place is in the region of a share if the share that is denser is
// less, whatever the law, the weights and the number of points; only where the two are as
// good as equal may a contour, straight across a cell, decide otherwise.
func TestDenserAndRegions(t *testing.T) {
	for _, n := range []int{1, 2, 12, 40, 1024} {
		// Of few points, densities as good as equal lie a point's whole weight apart.
		alike := 0.01
		if n < 1024 {
			alike = 0.04
		}
		for k, l := range append([]law{disc}, smooth...) {
			points := l.land(site, random(n, 2, uint64(k)))
			for i := range points {
				points[i].Weight = 1 + float64(i%3)
			}
			shares := []float64{0.05, 0.2, 0.5, 0.8, 0.95, 0.99}
			d, err := Estimate(points, shares)
			require.NoError(t, err)
			places := append(positions(l.land(site, random(600, 2, uint64(90+k)))), d.MostLikely)
			for i := range 100 {
				places = append(places, offset(d.MostLikely, 0.002*float64(i%10-5), 0.004*float64(i/10-5)))
			}
			got, err := Denser(points, places)
			require.NoError(t, err)
			split := 0
			for i, p := range places {
				require.True(t, got[i] >= 0 && got[i] <= 1, "Denser = %g", got[i])
				for j, share := range shares {
					if in := d.Regions[j].Contains(p); in != (got[i] <= share) {
						split++
						assert.InDelta(t, share, got[i], alike, "%s, %d points: in region %g: %v", l.name, n, share, in)
					}
				}
			}
			assert.LessOrEqual(t, split, len(places)*len(shares)/200, "%s, %d points: places at the edge", l.name, n)
			assert.InDelta(t, 0, got[600], alike, "%s, %d points: at the most likely place", l.name, n)
		}
	}
}

// TestDenserFarAway: beyond all landings everything is denser, on the other side of the
// Earth too.
func TestDenserFarAway(t *testing.T) {
	points := circular.land(site, even(200, 0))
	got, err := Denser(points, []geo.Point{offset(site, 60, 0), {Lat: -47, Lon: -169}, {Lat: 90}})
	require.NoError(t, err)
	assert.Equal(t, []float64{1, 1, 1}, got)
}

// TestBelowInvertsQuantile: with ties, at both ends, and in between.
func TestBelowInvertsQuantile(t *testing.T) {
	at := []near{{1, 0.125}, {2, 0.25}, {2, 0.125}, {5, 0.25}, {5, 0.125}, {6, 0.125}}
	const highest = 8
	for share := 0.001; share < 1; share += 0.001 {
		value := quantile(at, share, highest)
		back := below(at, value, highest)
		assert.GreaterOrEqual(t, back, share-1e-12, "below(quantile(%g))", share)
		assert.InDelta(t, value, quantile(at, back, highest), 1e-12, "quantile(below(%g))", value)
	}
	assert.Zero(t, below(at, 0, highest))
	assert.InDelta(t, 1, below(at, 8, highest), 0)
	assert.InDelta(t, 1, below(at, 9, highest), 0)
	assert.InDelta(t, 0.5, below([]near{{3, 1}}, 3, 3.5), 1e-12)
}

func BenchmarkDenser(b *testing.B) {
	points := circular.land(site, even(1024, 0))
	for b.Loop() {
		if _, err := Denser(points, []geo.Point{site}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEnergy(b *testing.B) {
	points := circular.land(site, even(1024, 0))
	for b.Loop() {
		if _, err := Energy(points, site); err != nil {
			b.Fatal(err)
		}
	}
}
