package ensemble

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
)

// A turn keeps lengths and angles, and its first two dimensions push landings as
// the singular values of what it was made of say (gonum's decomposition of the
// whole matrix), while no other pushes at all.
func TestTurn(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	both := func(name string, push [2][dimensions]float64) {
		turn := turnTo(push)
		require.NotNil(t, turn, name)
		var svd mat.SVD
		require.True(t, svd.Factorize(mat.NewDense(2, dimensions, append(append([]float64(nil), push[0][:]...), push[1][:]...)), mat.SVDNone))
		values := svd.Values(nil)
		var columns [dimensions][dimensions]float64
		for d := range columns {
			columns[d][d] = 1
			turn.apply(&columns[d])
			want := 0.0
			if d < 2 {
				want = values[d]
			}
			got := math.Hypot(dot(&push[0], &columns[d]), dot(&push[1], &columns[d]))
			assert.InDelta(t, want, got, 1e-9*values[0], "%s: what dimension %d pushes", name, d)
			for e := range d + 1 {
				unit := 0.0
				if d == e {
					unit = 1
				}
				require.InDelta(t, unit, dot(&columns[d], &columns[e]), 1e-12, "%s: dimensions %d and %d", name, d, e)
			}
		}
	}
	var push [2][dimensions]float64
	for d := range dimensions {
		if turned(d) {
			push[0][d], push[1][d] = 1000*r.NormFloat64(), 3000*r.NormFloat64()
		}
	}
	both("anything", push)
	both("east alone", [2][dimensions]float64{push[0], {}})
	both("north alone", [2][dimensions]float64{{}, push[1]})
	both("along a line", [2][dimensions]float64{push[0], push[0]})
	both("already there", [2][dimensions]float64{{100}, {0, 50}})
	assert.Nil(t, turnTo([2][dimensions]float64{}), "nothing moves landings")
	assert.Nil(t, turnTo([2][dimensions]float64{{math.NaN()}, {}}), "not a number")
}

// What the turn is made of foretells where flights land in real winds: the plane
// from the linear push leaves less than 3 % of the landings' variance (measured: 1.5 %).
func TestPushForetellsLandings(t *testing.T) {
	scenes, s := realLaunch(t)
	s.Draws = Random
	r := newFlying(scenes, &ground.Map{}, s)
	require.Nil(t, r.draw.turn, "plain random draws are not turned")
	s.Draws = Sobol
	turn := newFlying(scenes, &ground.Map{}, s).draw.turn
	s.Draws = Random
	at := landings(t, scenes, s)
	// In the turned frame landings depend on the first two values alone.
	p := newPoints(s, r.draw.used)
	var z, u [dimensions]float64
	var first, second []float64
	for i := range at {
		p.point(i, u[:r.draw.used])
		for d := range scatterDimension {
			z[d] = 0
			if turned(d) {
				z[d] = normal(u[d])
			}
		}
		// The inverse: the reflections the other way round.
		reflect(&turn[0], &z)
		reflect(&turn[1], &z)
		first, second = append(first, z[0]), append(second, z[1])
	}
	left, whole := 0.0, 0.0
	for axis := range 2 {
		x := mat.NewDense(len(at), 3, nil)
		y := mat.NewVecDense(len(at), nil)
		mean := centre(at)[axis]
		for i := range at {
			x.SetRow(i, []float64{1, first[i], second[i]})
			y.SetVec(i, at[i][axis])
			whole += (at[i][axis] - mean) * (at[i][axis] - mean)
		}
		var b, fit mat.VecDense
		require.NoError(t, b.SolveVec(x, y))
		fit.MulVec(x, &b)
		y.SubVec(y, &fit)
		left += mat.Dot(y, y)
	}
	t.Logf("%.3f of the variance left", left/whole)
	assert.Less(t, left/whole, 0.03)
}

// Turned draws, plain random ones here, follow the laws of what is drawn: over 16,384 flights the ascent
// rate's and the wind error's mean, variance and correlation stay what they are.
func TestTurnKeepsTheLaws(t *testing.T) {
	scenes, s := realLaunch(t)
	r := newFlying(scenes, &ground.Map{}, s)
	require.NotNil(t, r.draw.turn)
	s.Scrambles, s.PerScramble, s.Draws = 256, 64, Random
	p, h := newPoints(s, r.draw.used), newHand(lanes)
	n := float64(256 * 64)
	var sum, square, cross [scatterDimension]float64
	for i := range 256 * 64 {
		p.point(i, h.points[0][:r.draw.used])
		r.draw.normals(&h.points[0], &h.normals[0])
		for d := range sum {
			v := h.normals[0][d]
			if ofLaunch(d) {
				v = normal(h.points[0][d]) // what the train is drawn from
			}
			sum[d] += v / n
			square[d] += v * v / n
			if d > 0 {
				cross[d] += v * h.normals[0][d-1] / n
			}
		}
	}
	for d := range sum {
		if !turned(d) {
			continue
		}
		// Independent draws would stay within 4.5 standard errors.
		assert.InDelta(t, 0, sum[d], 4.5/math.Sqrt(n), "mean of dimension %d", d)
		assert.InDelta(t, 1, square[d], 4.5*math.Sqrt(2/n), "variance of dimension %d", d)
		assert.InDelta(t, 0, cross[d], 4.5/math.Sqrt(n), "correlation of dimension %d with the one before", d)
	}
}

// A flight that shows no way is not turned, and is flown all the same.
func TestNoTurnWithoutAWay(t *testing.T) {
	scene, s := calm(t, 40e3), spec()
	s.Launch.At.Lat = 50 // off the grid
	r := newFlying([]flight.Scene{scene}, &ground.Map{}, s)
	assert.Nil(t, r.draw.turn)
	outcomes, err := Run(context.Background(), []flight.Scene{scene}, &ground.Map{}, s, nil)
	require.NoError(t, err)
	assert.Equal(t, flight.OffGrid, outcomes[0].End)
}
