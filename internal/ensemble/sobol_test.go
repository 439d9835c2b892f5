package ensemble

import (
	"encoding/csv"
	"math"
	"math/bits"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/hazard"
)

// plain is the sequence without any scrambling, for indices below 2^indexBits.
func plain(dimensions, indexBits int) scramble {
	s := scramble{directions: make([][]uint32, dimensions), shift: make([]uint32, dimensions)}
	for d := range dimensions {
		all := directions(d)
		s.directions[d] = all[:indexBits]
	}
	return s
}

// Source: scipy.stats.qmc.Sobol, by scripts/sobol/points.py: the first 64
// points and all those whose number is a power of two, of which the 2^16 first
// ones are put together.
func TestPointsAgainstSciPy(t *testing.T) {
	file, err := os.Open("testdata/points.csv")
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	records, err := reader.ReadAll()
	require.NoError(t, err)
	require.Len(t, records, 64+10)
	const all = len(primitives) + 1
	require.GreaterOrEqual(t, all, dimensions)
	s, u := plain(all, 16), make([]float64, all)
	for _, record := range records {
		require.Len(t, record, 1+all)
		i, err := strconv.Atoi(record[0])
		require.NoError(t, err)
		s.point(i, u)
		for d, text := range record[1:] {
			want, err := strconv.Atoi(text)
			require.NoError(t, err)
			require.Equal(t, want, int(u[d]*(1<<16)), "point(%d), dimension %d, times 2^16", i, d)
		}
	}
}

// The first dimension is van der Corput's sequence in base 2, 0 ½ ¼ ¾ ⅛ ⅝ ⅜ ⅞
// (his definition: the digits of i mirrored at the point).
func TestFirstDimensionMirrorsTheDigits(t *testing.T) {
	s, u := plain(1, 16), make([]float64, 1)
	for i, want := range []float64{0, 0.5, 0.25, 0.75, 0.125, 0.625, 0.375, 0.875} {
		s.point(i, u)
		assert.Equal(t, want+0x1p-33, u[0], "point(%d)", i)
	}
	for _, i := range []int{1000, 12345, 65535} {
		s.point(i, u)
		assert.Equal(t, float64(bits.Reverse16(uint16(i)))/(1<<16)+0x1p-33, u[0], "point(%d)", i)
	}
}

// The worked case of Bratley and Fox (1988), from memory and checked by hand
// with their recurrence m_i = 4m_{i−2} ⊕ 8m_{i−3} ⊕ m_{i−3}: for x³ + x + 1 and
// m = 1, 3, 7 the next are 5, 7, 43.
func TestDirectionNumbersOfBratleyAndFox(t *testing.T) {
	v := primitive{polynomial: 0b1011, initial: []uint32{1, 3, 7}}.directions()
	for b, m := range []uint32{1, 3, 7, 5, 7, 43} {
		assert.Equal(t, m, v[b]>>(directionBits-1-b), "m of digit %d", b+1)
		assert.Zero(t, v[b]<<(b+1), "digits behind digit %d", b+1)
	}
}

// Among the first 2^m points of every scramble, each of the 2^m equal intervals
// of each coordinate holds one.
func TestScrambledCoordinatesFillTheirIntervals(t *testing.T) {
	u := make([]float64, dimensions)
	for m := range 11 {
		for n := range uint64(4) {
			s := newScramble(20, n, dimensions, m)
			hit := make([][]bool, dimensions)
			for d := range hit {
				hit[d] = make([]bool, 1<<m)
			}
			for i := range 1 << m {
				s.point(i, u)
				for d, v := range u {
					require.True(t, v > 0 && v < 1, "point(%d)[%d] = %g", i, d, v)
					cell := int(v * float64(int(1)<<m))
					require.False(t, hit[d][cell], "2^%d points, scramble %d, dimension %d: interval %d is hit twice", m, n, d, cell)
					hit[d][cell] = true
				}
			}
		}
	}
}

// The first three dimensions in pairs: each rectangle of 2^-a by 2^-b holds
// 2^(m-a-b) points while a + b ≤ m − t. Source: the definition of a (t, m, 2)-net
// and Sobol's theorem that t is the sum of the polynomials' degrees less one;
// 0 for the first two dimensions, at most 1 with the third, x² + x + 1.
func TestScrambledPairsFillTheirRectangles(t *testing.T) {
	const m = 6
	u := make([]float64, 3)
	for _, pair := range []struct{ x, y, t int }{{0, 1, 0}, {0, 2, 1}, {1, 2, 1}} {
		for n := range uint64(8) {
			s := newScramble(21, n, 3, m)
			for a := range m - pair.t + 1 {
				b := m - pair.t - a
				count := map[[2]int]int{}
				for i := range 1 << m {
					s.point(i, u)
					count[[2]int{int(math.Ldexp(u[pair.x], a)), int(math.Ldexp(u[pair.y], b))}]++
				}
				require.Len(t, count, 1<<(m-pair.t), "dimensions %+v, %d by %d digits", pair, a, b)
				for cell, k := range count {
					require.Equal(t, 1<<pair.t, k, "dimensions %+v, %d by %d digits: points in %v", pair, a, b, cell)
				}
			}
		}
	}
}

// chiSquare is Pearson's statistic for counts that should be equal.
func chiSquare(counts []int) float64 {
	total := 0
	for _, c := range counts {
		total += c
	}
	want, sum := float64(total)/float64(len(counts)), 0.0
	for _, c := range counts {
		sum += (float64(c) - want) * (float64(c) - want) / want
	}
	return sum
}

// Each point is uniform over the scrambles, in every coordinate, down to its
// last digits, and independent between coordinates and between scrambles. The
// bounds are the 0.01 % and 99.99 % quantiles of χ² with 15 degrees of freedom:
// SciPy 1.10.1, scipy.stats.chi2.ppf. The seeds are fixed.
func TestPointsAreUniformOverScrambles(t *testing.T) {
	const low, high, scrambles = 2.4082, 44.263, 4096
	points, of := []int{0, 1, 63}, []int{0, 1, 2, 51}
	fine, last := map[[2]int][]int{}, map[[2]int][]int{}
	across, along := make([]int, 16), make([]int, 16)
	u, before := make([]float64, dimensions), make([]float64, dimensions)
	quarter := func(v float64) int { return int(4 * v) }
	for n := range uint64(scrambles) {
		s := newScramble(22, n, dimensions, 6)
		for _, i := range points {
			s.point(i, u)
			for _, d := range of {
				key := [2]int{i, d}
				if fine[key] == nil {
					fine[key], last[key] = make([]int, 16), make([]int, 16)
				}
				fine[key][int(16*u[d])]++
				last[key][uint64(u[d]*(1<<directionBits))%16]++
			}
		}
		across[4*quarter(u[0])+quarter(u[1])]++
		along[4*quarter(before[5])+quarter(u[5])]++
		copy(before, u)
	}
	for key := range fine {
		assert.Less(t, chiSquare(fine[key]), high, "point %d, dimension %d", key[0], key[1])
		assert.Greater(t, chiSquare(fine[key]), low, "point %d, dimension %d", key[0], key[1])
		assert.Less(t, chiSquare(last[key]), high, "last digits of point %d, dimension %d", key[0], key[1])
	}
	assert.Less(t, chiSquare(across), high, "dimensions 0 and 1 of one scramble")
	assert.Less(t, chiSquare(along), high, "dimension 5 of one scramble and the next")
}

// Scrambles of one seed, and the same scramble of two seeds, have no point in
// common, in no coordinate.
func TestScramblesDiffer(t *testing.T) {
	u := make([]float64, dimensions)
	seen := map[[2]float64]string{}
	for _, seed := range []uint64{0, 1, 2, 1 << 63} {
		for n := range uint64(16) {
			s := newScramble(seed, n, dimensions, 6)
			name := strconv.FormatUint(seed, 10) + "/" + strconv.FormatUint(n, 10)
			s.point(0, u)
			for d, v := range u {
				require.Empty(t, seen[[2]float64{float64(d), v}], "scramble %s, dimension %d", name, d)
				seen[[2]float64{float64(d), v}] = name
			}
		}
	}
}

// A scramble's points do not depend on how many are asked for.
func TestScrambleOfMorePointsBeginsTheSame(t *testing.T) {
	few, many := newScramble(23, 7, dimensions, 6), newScramble(23, 7, dimensions, 16)
	u, v := make([]float64, dimensions), make([]float64, dimensions)
	for i := range 64 {
		few.point(i, u)
		many.point(i, v)
		require.Equal(t, u, v, "point(%d)", i)
	}
}

// Standard normal quantiles. Source: SciPy 1.10.1, scipy.stats.norm.ppf; those
// to four digits are in every printed table.
func TestNormal(t *testing.T) {
	for _, c := range []struct{ p, x float64 }{
		{0.5, 0},
		{0.75, 0.6744897501960817},
		{0.9, 1.2815515655446004},
		{0.95, 1.6448536269514722},
		{0.975, 1.959963984540054},
		{0.99, 2.3263478740408408},
		{0.995, 2.5758293035489004},
		{0.999, 3.090232306167813},
		{0.9999, 3.719016485455709},
		{1e-6, -4.753424308822899},
		{0x1p-33, -6.3379577545537895}, // the least that a draw can be
	} {
		assert.InDelta(t, c.x, normal(c.p), 1e-9*math.Max(1, math.Abs(c.x)), "normal(%g)", c.p)
		assert.InEpsilon(t, c.p, normalShare(c.x), 1e-9, "normalShare(%g)", c.x)
		assert.InDelta(t, 1-c.p, normalShare(-c.x), 1e-12, "normalShare(%g)", -c.x)
	}
	assert.False(t, math.IsInf(normal(1-0x1p-33), 0), "the most that a draw can be")
}

// halfPlanes counts, for each seed, the flights of 16 scrambles of
// 64 for which a weighted sum of standard normal draws lies above a share's
// quantile. It returns the mean square error of that share, how many of its
// intervals cover the truth, and the mean error over its standard error.
func halfPlanes(weights []float64, share float64, seeds int, points func(seed uint64, u []float64, visit func())) (meanSquare float64, covered int, bias float64) {
	norm := 0.0
	for _, w := range weights {
		norm += w * w
	}
	norm = math.Sqrt(norm)
	limit := norm * -normal(share)
	sum := 0.0
	for seed := range uint64(seeds) {
		u := make([]float64, dimensions)
		hit := make([]bool, 0, 1024)
		points(seed, u, func() {
			y := 0.0
			for d, w := range weights {
				if w != 0 {
					y += w * normal(u[d])
				}
			}
			hit = append(hit, y > limit)
		})
		got := hazard.Share(hit, 16)
		sum += got.Value - share
		meanSquare += (got.Value - share) * (got.Value - share) / float64(seeds)
		if got.Low <= share && share <= got.High {
			covered++
		}
	}
	return meanSquare, covered, sum / math.Sqrt(float64(seeds)*meanSquare)
}

// scrambled runs through the 16 times 64 points of a seed.
func scrambled(seed uint64, u []float64, visit func()) {
	for r := range uint64(16) {
		s := newScramble(seed, r, dimensions, 6)
		for i := range 64 {
			s.point(i, u)
			visit()
		}
	}
}

// The share of landings beyond a line, for two kinds of draws: one in which
// ascent and burst alone decide, and one as they come (ascent 8 % of a drift of
// 60 km, burst 1.5 km of 30 km, a wind error of 2 m/s with a scale of 3 km: six
// draws that matter). How much surer than plain random draws, whose mean square
// error is p(1 − p)/n, it becomes depends on how many draws matter: measured
// over 1,000 seeds about 10 and 3.6 times for half of the landings, 2.4 for a
// tenth. The bounds lie three standard errors of a variance from 400 seeds,
// 21 %, below. The intervals must cover the truth in 94 % (hazard.Probability),
// which they do not where scrambles repeat.
func TestSharesAreSurerThanPlainRandom(t *testing.T) {
	const seeds = 400
	windy := make([]float64, dimensions)
	windy[ascentDimension], windy[burstDimension], windy[landingDimension], windy[delayDimension] = -0.8*4800, 0.8*3000, -0.8*1000, 300
	for k, g := range driftOfModes(windErrorModes(errorLaw{2, 3000, 0}, frozen(errorHeights)), 30e3, func(float64) float64 { return 1.0 / 5 }) {
		windy[firstModeDimension+2*k], windy[firstModeDimension+2*k+1] = 0.8*g, 0.6*g
	}
	for _, c := range []struct {
		name         string
		weights      []float64
		share, least float64
	}{
		{"ascent and burst, half", []float64{0.8, -0.6}, 0.5, 7.9},
		{"all, half", windy, 0.5, 2.8},
		{"all, a tenth", windy, 0.1, 1.9},
	} {
		square, covered, bias := halfPlanes(c.weights, c.share, seeds, scrambled)
		gain := c.share * (1 - c.share) / 1024 / square
		t.Logf("%s: %.1f times as sure as plain random, %d of %d intervals cover the truth, bias %.1f", c.name, gain, covered, seeds, bias)
		assert.Greater(t, gain, c.least, "%s: gain over plain random", c.name)
		assert.Greater(t, (float64(covered)-0.94*seeds)/math.Sqrt(seeds*0.94*0.06), -3.3, "%s: %d of %d intervals cover the truth", c.name, covered, seeds)
		assert.Less(t, math.Abs(bias), 3.3, "%s: mean error over its standard error", c.name)
	}
	random := rand.New(rand.NewPCG(24, 0))
	square, _, _ := halfPlanes(windy, 0.5, seeds, func(_ uint64, u []float64, visit func()) {
		for range 1024 {
			for d := range u {
				u[d] = random.Float64()
			}
			visit()
		}
	})
	assert.InDelta(t, 1, 0.25/1024/square, 0.25, "plain random draws against themselves")
}

// Where quickNormal goes over from one rational function to the next too.
func TestQuickNormal(t *testing.T) {
	for _, p := range []float64{0x1p-33, 1e-12, 1e-11, 1.3e-11, 1.5e-11, 1e-6, 0.001, 0.0749, 0.075, 0.0751, 0.2, 0.49, 0.5, 0.501, 0.8, 0.9249, 0.925, 0.9251, 0.999, 1 - 1e-6, 1 - 0x1p-33} {
		want := normal(p)
		assert.InDelta(t, want, quickNormal(p), 1e-6*max(math.Abs(want), 0.1), "quickNormal(%g)", p)
	}
	worst := 0.0
	for i := range 100000 {
		p := (float64(i) + 0.5) / 100000
		worst = max(worst, math.Abs(quickNormal(p)-normal(p)))
	}
	assert.Less(t, worst, 1e-6)
	assert.Greater(t, worst, 1e-9)
}
