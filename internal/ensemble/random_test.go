package ensemble

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/hazard"
)

// Random points are uniform in every coordinate, and independent: between
// coordinates, between neighbouring points, groups and seeds. Limits: 16 equal
// intervals, χ² with 15 degrees of freedom between its quantiles of 0.00002 and
// 0.99998 (1.6 and 50, of scipy.stats.chi2.ppf, 53 of them); products of
// centred coordinates have variance 1/144, and 4.5 standard errors are allowed
// to each of 265 sums.
func TestRandomPointsAreUniformAndIndependent(t *testing.T) {
	const n = 4096
	at := func(seed, group, i uint64) []float64 {
		u := make([]float64, dimensions)
		randomPoint(seed, group, i, u)
		return u
	}
	var counts [dimensions][16]float64
	var products [dimensions][5]float64
	for i := range uint64(n) {
		u := at(7, 3, i)
		others := [][]float64{append(u[1:], u[0]), at(7, 3, i+1), at(7, 4, i), at(8, 3, i), at(8, 2, i)}
		u = at(7, 3, i)
		for d, x := range u {
			require.True(t, x > 0 && x < 1, "point %d, coordinate %d: %g", i, d, x)
			counts[d][int(16*x)]++
			for k, o := range others {
				products[d][k] += (x - 0.5) * (o[d] - 0.5)
			}
		}
	}
	for d := range counts {
		square := 0.0
		for _, c := range counts[d] {
			square += (c - n/16) * (c - n/16) / (n / 16)
		}
		assert.True(t, square > 1.6 && square < 50, "coordinate %d: χ² of 16 intervals %g", d, square)
		for k, sum := range products[d] {
			assert.Less(t, math.Abs(sum)*12/math.Sqrt(n), 4.5, "coordinate %d against %s", d,
				[]string{"the next coordinate", "the next point", "the next group", "the next seed", "the next seed and the group before"}[k])
		}
	}
	short := make([]float64, 3)
	randomPoint(7, 3, 5, short)
	assert.Equal(t, at(7, 3, 5)[:3], short, "a shorter point has the first coordinates of the longer one")
}

// Plain random flights are the same for any number of workers, and flight i of a
// group does not depend on how many others there are.
func TestRandomFlights(t *testing.T) {
	scene, over, s := coast(t)
	s.Draws, s.Scrambles, s.PerScramble = Random, 8, 32
	scenes := []flight.Scene{scene, scene, scene}
	fly := func(edit func(s *Spec)) []Outcome {
		s := s
		edit(&s)
		outcomes, err := Run(context.Background(), scenes, over, s, nil)
		require.NoError(t, err)
		return outcomes
	}
	want := fly(func(s *Spec) { s.Workers = 1 })
	for _, workers := range []int{2, 7} {
		assert.True(t, assert.ObjectsAreEqual(want, fly(func(s *Spec) { s.Workers = workers })), "%d workers and one differ", workers)
	}
	assert.True(t, assert.ObjectsAreEqual(want[:64], fly(func(s *Spec) { s.Scrambles = 2 })), "8 groups do not begin as 2 do")
	even := fly(func(s *Spec) { s.Draws = Sobol })
	other := fly(func(s *Spec) { s.Seed = 2 })
	members := make([]int, len(scenes))
	for i, o := range want {
		require.NotEqual(t, even[i].At, o.At, "flight %d of both ways to draw", i)
		require.NotEqual(t, other[i].At, o.At, "flight %d of two seeds", i)
		members[o.Scene]++
	}
	for m, n := range members {
		assert.InDelta(t, 256.0/3, n, 4.5*math.Sqrt(256*2.0/9), "flights through scene %d", m) // binomial
	}
}

// A run over later scrambles has the flights that a run over all has there.
func TestLaterScrambles(t *testing.T) {
	scene, s := calm(t, 40e3), spec()
	for _, draws := range []Draws{Sobol, Random} {
		s.Draws, s.First, s.Scrambles = draws, 0, 9
		all := run(t, scene, s)
		s.First, s.Scrambles = 4, 5
		assert.True(t, assert.ObjectsAreEqual(all[4*64:], run(t, scene, s)), "%v: scrambles 4 to 8", draws)
	}
}

// Of 400 runs of 16 groups of 64 random points, the 95 % interval for the share
// below a value covers it in 94 % or more within binomial error; and the
// scatter of the estimate is that of independent flights, √(p(1−p)/n). In one
// coordinate each scramble's 64 Sobol' points fill 64 equal intervals, of which
// the value cuts one at a part f: a variance of f(1−f) in place of 64p(1−p).
func TestRandomIntervalsCoverTheTruth(t *testing.T) {
	const runs = 400
	for _, p := range []float64{0.02, 0.3} {
		for _, draws := range []Draws{Random, Sobol} {
			covered, square := 0, 0.0
			for r := range runs {
				points := newPoints(Spec{Draws: draws, Seed: uint64(r), Scrambles: 16, PerScramble: 64}, dimensions)
				hit := make([]bool, 1024)
				u := make([]float64, 2)
				for i := range hit {
					points.point(i, u)
					hit[i] = u[1] < p
				}
				got := hazard.Share(hit, 16)
				square += (got.Value - p) * (got.Value - p) / runs
				if got.Low <= p && p <= got.High {
					covered++
				}
			}
			assert.Greater(t, float64(covered), 0.94*runs-3.3*math.Sqrt(runs*0.94*0.06), "share %g, %v: intervals that cover it", p, draws)
			scatter := math.Sqrt(square) / math.Sqrt(p*(1-p)/1024)
			want := 1.0
			if draws == Sobol {
				f := math.Mod(64*p, 1)
				want = math.Sqrt(f * (1 - f) / (64 * p * (1 - p)))
			}
			assert.InDelta(t, want, scatter, want*4.5/math.Sqrt(2*runs), "share %g, %v: scatter against independent flights'", p, draws)
		}
	}
}

func TestDrawsNames(t *testing.T) {
	for _, d := range []Draws{Sobol, Random} {
		got, ok := ParseDraws(d.String())
		assert.True(t, ok)
		assert.Equal(t, d, got)
	}
	_, ok := ParseDraws("dice")
	assert.False(t, ok)
}
