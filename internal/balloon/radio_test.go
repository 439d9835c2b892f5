package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/balloon"
)

// kR is 4/3 of a mean Earth's radius of 6371 km (from memory: ITU-R P.310 and
// P.453, text not seen).
const kR = 4.0 / 3 * 6371e3

// The radio horizon is 4.12·(√h₁ + √h₂) km with heights in m: common practice,
// from memory; ITU-R P.310 and P.453 name the factor 4/3 behind it.
func TestRadioReachOfPractice(t *testing.T) {
	for _, c := range []struct{ antenna, height float64 }{{0, 100}, {2, 30e3}, {10, 1000}, {100, 0}} {
		want := 4.12 * (math.Sqrt(c.antenna) + math.Sqrt(c.height))
		assert.InEpsilon(t, want, balloon.RadioReach(c.antenna, c.height)/1000, 1e-3, "RadioReach(%g, %g)", c.antenna, c.height)
	}
}

// On the sphere itself the tangent from a height h touches at the angle
// arccos(R/(R+h)).
func TestRadioReachOnTheSphere(t *testing.T) {
	for _, c := range []struct{ height, off float64 }{{100, 0}, {10e3, 0.0005}, {40e3, 0.002}} {
		exact := kR * math.Acos(kR/(kR+c.height))
		assert.InDelta(t, c.off, balloon.RadioReach(0, c.height)/exact-1, 0.0001, "RadioReach(0, %g)", c.height)
	}
}

func TestRadioFloorIsTheInverseOfReach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		antenna := rapid.Float64Range(0, 500).Draw(t, "antenna")
		height := rapid.Float64Range(0, 40e3).Draw(t, "height")
		d := balloon.RadioReach(antenna, height)
		assert.InDelta(t, height, balloon.RadioFloor(antenna, d), 1e-6*(1+height), "RadioFloor(%g, %g)", antenna, d)
		assert.Zero(t, balloon.RadioFloor(antenna, 0.999*balloon.RadioReach(antenna, 0)))
		assert.LessOrEqual(t, balloon.RadioFloor(antenna+1, d), balloon.RadioFloor(antenna, d), "higher antenna")
		assert.Greater(t, balloon.RadioFloor(antenna, d+1000), balloon.RadioFloor(antenna, d), "farther")
	})
}

// Over level ground, in one piece or in many, the skyline is the smooth Earth's.
func TestLastSignalOverLevelGround(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		antenna := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0.1, 300)).Draw(t, "antenna")
		ground := rapid.Float64Range(0, 3000).Draw(t, "ground")
		l := balloon.Listener{Antenna: antenna, Profile: []balloon.Terrain{{Distance: 0, Height: ground}}}
		for i := range rapid.IntRange(1, 9).Draw(t, "pieces") {
			l.Profile = append(l.Profile, balloon.Terrain{Distance: float64(i+1) * 50e3, Height: ground})
		}
		d := rapid.Float64Range(1, float64(len(l.Profile)-1)*50e3).Draw(t, "distance")
		got, err := l.Lost(d)
		require.NoError(t, err)
		assert.InDelta(t, balloon.RadioFloor(antenna, d), got.AboveGround, 1e-6, "Lost(%g)", d)
		assert.InDelta(t, got.AboveGround+ground, got.Height, 1e-9)
	})
}

// A ridge of 500 m at 10 km before an antenna 2 m above the sea; the payload
// comes down at 30 km. Flattened, the ridge is 500 − 10000²/(2·8494667) =
// 494.114 m; the line over it rises 0.0492114 and is at 2 + 1476.342 + 52.976 =
// 1531.32 m there. Worked by hand.
func TestLastSignalBehindARidge(t *testing.T) {
	l := balloon.Listener{Antenna: 2, Profile: []balloon.Terrain{
		{Distance: 0, Height: 0},
		{Distance: 9e3, Height: 0},
		{Distance: 10e3, Height: 500},
		{Distance: 11e3, Height: 0},
		{Distance: 25e3, Height: 0},
		{Distance: 35e3, Height: 400},
	}}
	got, err := l.Lost(30e3)
	require.NoError(t, err)
	assert.InDelta(t, 1531.32, got.Height, 0.01)
	assert.InDelta(t, 1331.32, got.AboveGround, 0.01)
	// On the near slope it is heard to the ground.
	got, err = l.Lost(9.5e3)
	require.NoError(t, err)
	assert.Zero(t, got.AboveGround)
	assert.InDelta(t, 250, got.Height, 1e-9)
}

// Against a skyline from many points of the ground: the slow twin.
func TestLastSignalAgainstManyPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := balloon.Listener{Antenna: rapid.Float64Range(1, 100).Draw(t, "antenna")}
		var x float64
		for i := range rapid.IntRange(2, 8).Draw(t, "points") {
			if i > 0 {
				x += rapid.Float64Range(1e3, 40e3).Draw(t, "step")
			}
			l.Profile = append(l.Profile, balloon.Terrain{Distance: x, Height: rapid.Float64Range(0, 300).Draw(t, "height")})
		}
		d := rapid.Float64Range(0.2, 1).Draw(t, "share") * x
		got, err := l.Lost(d)
		require.NoError(t, err)
		ground := func(x float64) float64 {
			for i := 1; i < len(l.Profile); i++ {
				if a, b := l.Profile[i-1], l.Profile[i]; x <= b.Distance {
					return a.Height + (b.Height-a.Height)*(x-a.Distance)/(b.Distance-a.Distance)
				}
			}
			return l.Profile[len(l.Profile)-1].Height
		}
		eye := l.Profile[0].Height + l.Antenna
		slope := math.Inf(-1)
		const n = 20000
		for i := 1; i <= n; i++ {
			x := d * float64(i) / n
			slope = max(slope, (ground(x)-x*x/(2*kR)-eye)/x)
		}
		want := max(ground(d), eye+slope*d+d*d/(2*kR))
		assert.GreaterOrEqual(t, got.Height, want-1e-6)
		assert.InDelta(t, want, got.Height, 0.01*(want-ground(d))+1, "Lost(%g)", d)
	})
}

func TestListenerRefuses(t *testing.T) {
	_, err := balloon.Listener{Antenna: -1, Profile: []balloon.Terrain{{Distance: 5, Height: math.NaN()}, {Distance: 5, Height: 1}}}.Lost(3)
	for _, want := range []string{
		"antenna above ground -1 m", "terrain point 1: height NaN m", "terrain point 1: distance 5 m: want 0", "terrain point 2: distance 5 m: want it beyond",
	} {
		assert.ErrorContains(t, err, want)
	}
	_, err = balloon.Listener{}.Lost(3)
	assert.ErrorContains(t, err, "terrain of 0 points")
	good := balloon.Listener{Profile: []balloon.Terrain{{}, {Distance: 10}}}
	for _, d := range []float64{0, 11, math.NaN()} {
		_, err = good.Lost(d)
		assert.ErrorContains(t, err, "within the terrain's 10 m", "Lost(%g)", d)
	}
}
