package landing

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// Values of reference/physics.md §8, worked out there from the definition
// (Gneiting and Raftery 2007); fair ones after Ferro 2014.
func TestCRPS(t *testing.T) {
	for _, c := range []struct {
		values      []float64
		truth       float64
		plain, fair float64
	}{
		{[]float64{1, 2, 3, 4}, 2.5, 0.375, 1.0 / 6},
		{[]float64{4, 1, 3, 2}, 2.5, 0.375, 1.0 / 6}, // in any order
		{[]float64{1, 3}, 2, 0.5, 0},
		{[]float64{0, 1, 2, 5}, 7, 4, 11.0 / 3},
		{[]float64{3}, 5, 2, 2}, // one alone: its distance
		{[]float64{3, 3, 3}, 5, 2, 2},
		{[]float64{3, 3}, 3, 0, 0},
	} {
		got, err := CRPS(c.values, c.truth)
		require.NoError(t, err)
		assert.InDelta(t, c.plain, got.Plain, 1e-14, "CRPS(%v, %g), plain", c.values, c.truth)
		assert.InDelta(t, c.fair, got.Fair, 1e-14, "CRPS(%v, %g), fair", c.values, c.truth)
	}
}

// quantiles is n values that divide a normal law into parts of even share.
func quantiles(n int, mean, sd float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = mean + sd*normal((float64(i)+0.5)/float64(n))
	}
	return out
}

// The closed form σ[z(2Φ−1)+2φ−1/√π] for a normal law: values of reference/physics.md §8.
func TestCRPSOfANormalLaw(t *testing.T) {
	for _, c := range []struct{ mean, sd, truth, want float64 }{
		{0, 1, 0, 0.2336949773},
		{0, 1, 1, 0.6024413576},
		{0, 1, 2, 1.4527918217},
		{5, 2, 4, 0.6628070625},
	} {
		got, err := CRPS(quantiles(20000, c.mean, c.sd), c.truth)
		require.NoError(t, err)
		assert.InDelta(t, c.want, got.Plain, 1e-6, "CRPS of N(%g, %g) at %g", c.mean, c.sd, c.truth)
	}
	// Truths from the law itself: σ/√π on average; a law half or twice as wide is worse.
	truths := quantiles(2000, 0, 1)
	mean := func(sd float64) (sum float64) {
		for _, y := range truths {
			s, err := CRPS(quantiles(2000, 0, sd), y)
			require.NoError(t, err)
			sum += s.Plain / float64(len(truths))
		}
		return sum
	}
	assert.InDelta(t, 0.5641895835, mean(1), 2e-4)
	// E|X−Y| = √(2(1+s²)/π) and E|X−X'| = 2s/√π for a width s.
	for _, s := range []float64{0.5, 2} {
		assert.InDelta(t, math.Sqrt(2*(1+s*s)/math.Pi)-s/math.Sqrt(math.Pi), mean(s), 5e-4, "width %g", s)
		assert.Greater(t, mean(s), 0.5641895835+0.03)
	}
}

// TestFairDoesNotDependOnNumber: over many small ensembles the fair score of truths from
// the same law is σ/√π, while the plain one is (1 + 1/M) times that.
func TestFairDoesNotDependOnNumber(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for _, m := range []int{2, 5, 20} {
		const rounds = 40000
		var plain, fair, square float64
		for range rounds {
			values := make([]float64, m)
			for i := range values {
				values[i] = r.NormFloat64()
			}
			s, err := CRPS(values, r.NormFloat64())
			require.NoError(t, err)
			plain += s.Plain / rounds
			fair += s.Fair / rounds
			square += s.Fair * s.Fair / rounds
		}
		error3 := 3 * math.Sqrt((square-fair*fair)/rounds)
		assert.InDelta(t, 0.5641895835, fair, error3, "%d members, fair", m)
		assert.InDelta(t, 0.5641895835*(1+1/float64(m)), plain, error3, "%d members, plain", m)
	}
}

// twinCRPS is the definition, pair by pair.
func twinCRPS(values []float64, truth float64) (plain, fair float64) {
	miss, pairs, m := 0.0, 0.0, float64(len(values))
	for _, a := range values {
		miss += math.Abs(a-truth) / m
		for _, b := range values {
			pairs += math.Abs(a - b)
		}
	}
	return miss - pairs/(2*m*m), miss - pairs/(2*m*(m-1))
}

func TestCRPSAgainstASlowTwin(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for range 200 {
		values := make([]float64, 2+r.IntN(40))
		for i := range values {
			values[i] = math.Round(20 * r.NormFloat64()) // with ties
		}
		truth := 20 * r.NormFloat64()
		plain, fair := twinCRPS(values, truth)
		before := slices.Clone(values)
		got, err := CRPS(values, truth)
		require.NoError(t, err)
		assert.InDelta(t, plain, got.Plain, 1e-11, "CRPS(%v, %g)", values, truth)
		assert.InDelta(t, fair, got.Fair, 1e-11, "CRPS(%v, %g)", values, truth)
		assert.Equal(t, before, values, "the values given are not touched")
		// It moves with the values, grows with the unit, and does not know left from right.
		other := make([]float64, len(values))
		for i, v := range values {
			other[i] = 1000 - 3*v
		}
		scaled, err := CRPS(other, 1000-3*truth)
		require.NoError(t, err)
		assert.InDelta(t, 3*got.Plain, scaled.Plain, 1e-9)
		assert.InDelta(t, 3*got.Fair, scaled.Fair, 1e-9)
	}
}

// inPlane is points at east and north distances in m from a truth, in the package's own plane.
func inPlane(truth geo.Point, east, north []float64) []Weighted {
	p := centred(truth)
	out := make([]Weighted, len(east))
	for i := range east {
		out[i] = Weighted{p.point(east[i], north[i]), 1}
	}
	return out
}

// Values of reference/physics.md §8, worked out there from the definition (Gneiting and
// Raftery 2007; fair: Ferro 2014), for a unit of 10 km, anywhere on the Earth.
func TestEnergy(t *testing.T) {
	const unit = 1e4
	for _, c := range []struct {
		x, y         []float64
		at           [2]float64
		plain, fair  float64
		whatItIsLike string
	}{
		{[]float64{0, 3}, []float64{0, 4}, [2]float64{0, 0}, 1.25, 0, "a pair, at one of it"},
		{[]float64{0, 3}, []float64{0, 4}, [2]float64{3, 0}, 2.25, 1, "a pair, beside it"},
		{[]float64{1, -1, 0, 0}, []float64{0, 0, 1, -1}, [2]float64{0, 0}, 0.3964466094, 0.1952621459, "a cross, within"},
		{[]float64{1, -1, 0, 0}, []float64{0, 0, 1, -1}, [2]float64{2, 0}, 1.5144805982, 1.3132961346, "a cross, outside"},
		{[]float64{3}, []float64{4}, [2]float64{0, 0}, 5, 5, "one alone"},
	} {
		for _, truth := range corners {
			east, north := make([]float64, len(c.x)), make([]float64, len(c.x))
			geodesic := make([]Weighted, len(c.x))
			for i := range c.x {
				east[i], north[i] = unit*(c.x[i]-c.at[0]), unit*(c.y[i]-c.at[1])
				geodesic[i] = Weighted{offset(truth, east[i]/1000, north[i]/1000), 1}
			}
			got, err := Energy(inPlane(truth, east, north), truth)
			require.NoError(t, err)
			assert.InDelta(t, unit*c.plain, got.Plain, seriesError, "%s at %v, plain", c.whatItIsLike, truth)
			assert.InDelta(t, unit*c.fair, got.Fair, seriesError, "%s at %v, fair", c.whatItIsLike, truth)
			got, err = Energy(geodesic, truth)
			require.NoError(t, err)
			assert.InEpsilon(t, unit*c.plain, got.Plain, 0.004, "%s at %v, by geodesics", c.whatItIsLike, truth)
		}
	}
}

// TestEnergyOfANormalLaw: N₂(0, I) at its centre 0.3670872118, and ½√π on average over truths
// from the law itself (reference/physics.md §8).
func TestEnergyOfANormalLaw(t *testing.T) {
	const unit = 1000.0
	cloud := func(n int, shift float64) (x, y []float64) {
		for _, u := range even(n, shift) {
			x, y = append(x, unit*normal(u[0])), append(y, unit*normal(u[1]))
		}
		return x, y
	}
	x, y := cloud(4096, 0.3)
	got, err := Energy(inPlane(site, x, y), site)
	require.NoError(t, err)
	assert.InEpsilon(t, 0.3670872118*unit, got.Plain, 0.002)

	x, y = cloud(512, 0.1)
	tx, ty := cloud(400, 0.7)
	points, sum := inPlane(site, x, y), 0.0
	for _, truth := range inPlane(site, tx, ty) {
		s, err := Energy(points, truth.At)
		require.NoError(t, err)
		sum += s.Plain / 400
	}
	assert.InEpsilon(t, 0.8862269255*unit, sum, 0.01)
}

// TestEnergyAgainstGeodesics holds MaxEnergyError, with distances taken pair by
// pair on the ellipsoid: for landings all around a truth, where errors cancel, and for
// one alone, where they do not.
func TestEnergyAgainstGeodesics(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	worst := 0.0
	for _, truth := range corners {
		for _, km := range []float64{1, 50, 300, 3000} { // a standard deviation; all lie within 800 km
			for bearing := 0.0; bearing < 360; bearing += 30 {
				strip := []float64{0, 360}[int(bearing)/30%2]
				points := make([]Weighted, []int{1, 20}[int(bearing)/30%2])
				for i := range points {
					away := min(math.Hypot(r.NormFloat64(), r.NormFloat64())*km, 800)
					points[i] = Weighted{geo.Direct(truth, math.Mod(bearing+strip*r.Float64(), 360), 1000*away), 1}
				}
				want, lengths := energyByGeodesics(points, truth)
				got, err := Energy(points, truth)
				require.NoError(t, err)
				off := math.Abs(got.Plain-want) / lengths
				assert.Less(t, off, MaxEnergyError, "energy score at %v, %g km toward %g", truth, km, bearing)
				worst = max(worst, off)
			}
		}
	}
	assert.Greater(t, worst, 0.5*MaxEnergyError, "the stated bound is slack")
}

// energyByGeodesics is the plain score by its definition, and the lengths that it is the
// difference of, added up.
func energyByGeodesics(points []Weighted, truth geo.Point) (score, lengths float64) {
	miss, pairs, n := 0.0, 0.0, float64(len(points))
	for _, a := range points {
		d, _, _ := geo.Inverse(truth, a.At)
		miss += d / n
		for _, b := range points {
			d, _, _ := geo.Inverse(a.At, b.At)
			pairs += d / (n * n)
		}
	}
	return miss - pairs/2, miss + pairs/2
}

// TestEnergyWeights: a weight of three is three members, and only ratios count.
func TestEnergyWeights(t *testing.T) {
	a, b, c := offset(site, 3, 1), offset(site, -2, 5), offset(site, 0, -4)
	truth := offset(site, 1, 1)
	members, err := Energy([]Weighted{{a, 1}, {a, 1}, {a, 1}, {b, 1}, {c, 1}}, truth)
	require.NoError(t, err)
	weights, err := Energy([]Weighted{{c, 10}, {a, 30}, {b, 10}, {offset(site, 900, 0), 0}}, truth)
	require.NoError(t, err)
	assert.InDelta(t, members.Plain, weights.Plain, 1e-9)
	// Fair: draws of equal weight are what is meant, so five draws differ from three weights.
	miss, pairs := 0.0, 0.0
	all := []geo.Point{a, a, a, b, c}
	p := centred(truth)
	for _, q := range all {
		x, y := p.xy(p.vector(q))
		miss += math.Hypot(x, y) / 5
		for _, r := range all {
			u, v := p.xy(p.vector(r))
			pairs += math.Hypot(x-u, y-v)
		}
	}
	assert.InDelta(t, miss-pairs/(2*5*5), members.Plain, 1e-9)
	assert.InDelta(t, miss-pairs/(2*5*4), members.Fair, 1e-9)
}

func TestScoreFaultsAreNamed(t *testing.T) {
	_, err := CRPS(nil, 1)
	require.EqualError(t, err, "no values to score: want at least one")
	_, err = CRPS([]float64{1, math.NaN()}, 1)
	require.EqualError(t, err, "value 1: NaN: want a finite number")
	_, err = CRPS([]float64{1}, math.Inf(1))
	require.EqualError(t, err, "truth +Inf: want a finite number")

	_, err = Energy(nil, site)
	require.EqualError(t, err, "no landing points: want at least one")
	_, err = Energy([]Weighted{{site, -1}}, site)
	require.EqualError(t, err, "landing point 0: weight -1: want a number of 0 or more")
	_, err = Energy([]Weighted{{site, 1}}, geo.Point{Lat: 91})
	require.EqualError(t, err, "truth: latitude 91: want -90 to 90")
	_, err = Energy([]Weighted{{site, 1}}, geo.Point{Lat: -60, Lon: 11})
	require.ErrorContains(t, err, "km from the truth: want at most 5000 km")

	_, err = Denser(nil, nil)
	require.EqualError(t, err, "no landing points: want at least one")
	_, err = Denser([]Weighted{{site, 1}}, []geo.Point{site, {Lat: math.NaN()}})
	require.EqualError(t, err, "place 1: latitude NaN: want -90 to 90")
	_, err = Denser([]Weighted{{site, 1}, {geo.Point{Lat: -60}, 1}}, nil)
	require.ErrorContains(t, err, "km from the mean of all")
}
