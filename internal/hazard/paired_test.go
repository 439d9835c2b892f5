package hazard

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ground"
)

// wet is a flight that landed, in water or not.
func wet(in bool) Met {
	m := Met{Landed: true, Assessed: ground.Set(0).With(ground.Water)}
	if in {
		m.Under = ground.Set(0).With(ground.Water)
	}
	return m
}

// waterAlone is a severity of 1 for water and none besides.
func waterAlone() Severity {
	var s Severity
	s.Ground[ground.Water] = 1
	return s
}

// The difference worked out by hand: 4 scrambles of 2 flights, of the first plan
// 2, 1, 1, 0 in water, of the second 1, 1, 0, 0: shares of 4/8 and 2/8. The
// differences are 1, 0, 1, 0 of 2 flights, with a standard deviation of
// √(4·0.25²/3) = 0.2887, of the mean 0.1443; Student's 97.5 % quantile for 3 is 3.1824
// (table). Without the pairs it would be wider: each has its own scatter.
func TestDifferenceByHand(t *testing.T) {
	a, b := []Met{wet(true), wet(true), wet(true), wet(false), wet(true), wet(false), wet(false), wet(false)},
		[]Met{wet(true), wet(false), wet(true), wet(false), wet(false), wet(false), wet(false), wet(false)}
	first, second := Sum(a, 4, waterAlone(), empty), Sum(b, 4, waterAlone(), empty)
	assert.InDelta(t, 50, first.Score(), 1e-12)
	assert.InDelta(t, 25, second.Score(), 1e-12)
	assert.Equal(t, 8, first.Landed())
	value, half := first.Difference(second)
	assert.InDelta(t, 25, value, 1e-12)
	assert.InDelta(t, 100*3.182446*0.1443376, half, 1e-3)
	value, back := second.Difference(first)
	assert.InDelta(t, -25, value, 1e-12)
	assert.InDelta(t, half, back, 1e-12)
	value, half = first.Difference(first)
	assert.Zero(t, value)
	assert.InDelta(t, 100*3.0/8, half, 1e-12, "three of eight")
}

// Nothing can be said where nothing landed, or the scrambles are not the same.
func TestDifferenceOfNothing(t *testing.T) {
	some := Sum([]Met{wet(true), wet(false)}, 2, waterAlone(), empty)
	for _, other := range []Sums{
		Sum([]Met{{}, {}}, 2, waterAlone(), empty), Sum([]Met{wet(true), wet(true)}, 1, waterAlone(), empty),
	} {
		for _, pair := range [][2]Sums{{some, other}, {other, some}} {
			value, half := pair[0].Difference(pair[1])
			assert.True(t, math.IsNaN(value), "difference %v", value)
			assert.True(t, math.IsInf(half, 1), "half-width %v", half)
		}
	}
	assert.True(t, math.IsNaN(Sum([]Met{{}}, 1, waterAlone(), empty).Score()))
}

// The score is that of Assess, whatever the flights.
func TestSumIsTheScore(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		flights := make([]Met, 64)
		for i := range flights {
			flights[i] = wet(r.IntN(3) == 0)
			flights[i].Landed = r.IntN(10) > 0
			flights[i].Crossed = up(r.Uint64N(4))
		}
		s := waterAlone()
		s.Air = 0.4
		require.InDelta(t, Assess(flights, 8, s, named(2)).Value, Sum(flights, 8, s, named(2)).Score(), 1e-12)
	}
}

// Nineteen of twenty intervals hold the true difference, of plans whose flights share
// what most of their scatter comes from: random points u, in water where u is under
// 0.30 and under 0.25; and they are half as wide as those of flights that are not
// paired. That is so by arithmetic: paired, the variance is that of a share of 0.05,
// 0.0475; apart it is 0.21 + 0.1875, 8.4 times as much.
func TestDifferenceCovers(t *testing.T) {
	const trials, scrambles, per = 1000, 8, 128
	r := rand.New(rand.NewPCG(3, 4))
	draw := func() (a, b, c []Met) {
		for range scrambles * per {
			u, v := r.Float64(), r.Float64()
			a, b, c = append(a, wet(u < 0.30)), append(b, wet(u < 0.25)), append(c, wet(v < 0.25))
		}
		return a, b, c
	}
	inside, paired, unpaired := 0, 0.0, 0.0
	for range trials {
		a, b, c := draw()
		first := Sum(a, scrambles, waterAlone(), empty)
		value, half := first.Difference(Sum(b, scrambles, waterAlone(), empty))
		if math.Abs(value-5) <= half {
			inside++
		}
		_, apart := first.Difference(Sum(c, scrambles, waterAlone(), empty))
		paired, unpaired = paired+half*half, unpaired+apart*apart
	}
	share := float64(inside) / trials
	t.Logf("%.3f of the intervals hold it; paired they are %.2f times narrower", share, math.Sqrt(unpaired/paired))
	// Three standard deviations of a share of 0.95 among 1000: 0.0207.
	assert.InDelta(t, 0.95, share, 0.0207)
	assert.InEpsilon(t, math.Sqrt((0.21+0.1875)/0.0475), math.Sqrt(unpaired/paired), 0.03)
}
