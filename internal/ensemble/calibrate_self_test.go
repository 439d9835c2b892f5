package ensemble_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
)

// TestTruthsFlyAsForecasts: without any error a truth, which is flown through the sky itself
// by another integrator, lands where the planned flight does, but for what the forecast's
// grid of 1.25° by 2° and its steps of three hours leave out. Landings scatter by 20 km.
func TestTruthsFlyAsForecasts(t *testing.T) {
	sum, most := 0.0, 0.0
	const n = 20
	for i := range uint64(n) {
		o := newOccasion(99, i, 120)
		sky := o.week.Truth(0, 0)
		scene := o.scene(sky)
		s := o.spec(scene, 0, 3000)
		plan := scene.Fly(planned(s), nil)
		require.Equal(t, flight.Landed, plan.End)
		x, y := offset(plan.Path[len(plan.Path)-1].At, reality{occasion: o, sky: sky}.fly(planned(s), scene.Terrain))
		sum += x*x + y*y
		most = max(most, math.Hypot(x, y))
	}
	t.Logf("root mean square %.0f m, at most %.0f m", math.Sqrt(sum/n), most)
	assert.Less(t, math.Sqrt(sum/n), 1500.0, "root mean square difference of landings, m")
}

// TestProcess: the error that truths get has the size, the correlation between heights and
// the life that its comment says, by draws; its integral scale, 2/a of (1 + ar)·exp(−ar), is
// that of the ensemble's exp(−r/L).
func TestProcess(t *testing.T) {
	const n, sigma, scale, life = 300, 2.0, 3000.0, 12 * 3600.0
	r := rand.New(rand.NewPCG(4, 4))
	type pair struct{ z1, t1, z2, t2 float64 }
	pairs := []pair{
		{5000, 0, 5000, 0},
		{20000, 7200, 20000, 7200},
		{8000, 3600, 9000, 3600},
		{8000, 3600, 11000, 3600},
		{8000, 3600, 18000, 3600},
		{15000, 0, 15000, 14400},
		{15000, 0, 17000, 7200},
	}
	got := make([]float64, len(pairs))
	cross := 0.0
	for range n {
		p := newProcess(sigma, scale, life, r)
		for i, c := range pairs {
			e1, n1 := p.at(c.z1, c.t1)
			e2, n2 := p.at(c.z2, c.t2)
			got[i] += (e1*e2 + n1*n2) / 2 / n
		}
		e, north := p.at(10000, 0)
		cross += e * north / n
	}
	const error4 = 4 * sigma * sigma / 17.3 // four standard errors, each at most sigma²/√n
	for i, c := range pairs {
		x := 2 * math.Abs(c.z1-c.z2) / scale
		want := sigma * sigma * (1 + x) * math.Exp(-x) * math.Exp(-math.Abs(c.t1-c.t2)/life)
		assert.InDelta(t, want, got[i], error4, "covariance of %+v", c)
	}
	assert.InDelta(t, 0, cross, error4, "of east and north")
}

// TestBinomial: SciPy 1.10.1, scipy.stats.binom.ppf at 0.025 and 0.975.
func TestBinomial(t *testing.T) {
	for _, c := range []struct {
		n         int
		share     float64
		low, high int
	}{
		{2000, 0.5, 956, 1044}, {2000, 0.8, 1565, 1635}, {2000, 0.95, 1880, 1919}, {200, 0.95, 184, 196}, {100, 0.8, 72, 88},
	} {
		low, high := binomial(c.n, c.share)
		assert.Equal(t, [2]int{c.low, c.high}, [2]int{low, high}, "binomial(%d, %g)", c.n, c.share)
	}
}

// TestUniform: chi-square and its chance, SciPy 1.10.1, scipy.stats.chi2.sf(x, 19).
func TestUniform(t *testing.T) {
	var a tally
	for i := range 400 {
		a = append(a, result{denser: (float64(i) + 0.5) / 400})
	}
	chi2, chance := a.uniform()
	assert.InDelta(t, 0, chi2, 1e-12)
	assert.InDelta(t, 1, chance, 1e-12)
	// One bin with 40 instead of 20, another with none: 20²/20 twice.
	for i := range 20 {
		a[i].denser = 1
	}
	chi2, chance = a.uniform()
	assert.InDelta(t, 40, chi2, 1e-12)
	assert.InDelta(t, 0.003272317118779744, chance, 1e-12)
}
