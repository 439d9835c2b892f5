package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// fiveAtGround falls at 5 m/s in air of the standard's sea level.
func fiveAtGround() balloon.Descent {
	return balloon.Descent{Mass: 1, DragArea: balloon.DragAreaFor(1, 5, atmos.SeaLevelDensity)}
}

// standardAir is the standard atmosphere from 1 km below the sea to 40 km.
func standardAir(t require.TestingT) balloon.Column {
	c, err := balloon.StandardColumn(-1000, 40e3)
	require.NoError(t, err)
	require.NoError(t, c.Check())
	return c
}

func TestStandardColumnIsTheStandard(t *testing.T) {
	c, err := balloon.StandardColumn(-5000, 80e3)
	require.NoError(t, err)
	require.NoError(t, c.Check())
	kinks := []float64{11019.07, 20063.12, 32161.90, 47350.09, 51412.48, 71802}
	var away, near float64
	for z := -5000.0; z <= 80e3; z += 7 {
		got, ok := c.At(atmos.Geometric(z))
		require.True(t, ok, "At(%g)", z)
		want, _ := atmos.Standard(atmos.Geometric(z))
		off := math.Abs(got/want.Density - 1)
		atKink := false
		for _, k := range kinks {
			atKink = atKink || math.Abs(z-k) < 55
		}
		if atKink {
			near = max(near, off)
		} else {
			away = max(away, off)
		}
	}
	assert.Less(t, near, 4e-4)
	assert.Greater(t, near, 1e-5)
	// (50 m)²/8 of the second derivative of ln ρ, 4.256·(6.5e-3/217)² 1/m².
	assert.Less(t, away, 1.3e-6)
	assert.Greater(t, away, 1e-6)
	for _, z := range []float64{-5001, 80001, math.NaN()} {
		_, ok := c.At(atmos.Geometric(z))
		assert.False(t, ok, "At(%g)", z)
	}
	for _, span := range [][2]atmos.Geometric{{0, 81e3}, {-6000, 0}, {5, 5}, {10, 0}} {
		_, err := balloon.StandardColumn(span[0], span[1])
		assert.Error(t, err, "StandardColumn(%g, %g)", float64(span[0]), float64(span[1]))
	}
}

// In isothermal air of scale height 7000 m, from 30 km at 5 m/s at the ground:
// (2h/v₀)(1 − e^(−z/2h)) = 2471.506335 s. In the U.S. Standard Atmosphere 1976
// at 5·√(ρ₀/ρ) m/s down to the sea, by geometric height: 2749.8320 s from 30
// km, 2378.0340 from 20, 2851.5056 from 35; from 11 km in geopotential metres
// 1672.919470 s. Source: closed form and quadrature, computed apart
// from this code in Python.
func TestTimeDown(t *testing.T) {
	d := fiveAtGround()
	exponential := balloon.Column{{0, atmos.SeaLevelDensity}, {30e3, atmos.SeaLevelDensity * math.Exp(-30e3/7e3)}}
	got, err := d.TimeDown(exponential, 30e3, 0)
	require.NoError(t, err)
	assert.InDelta(t, 2471.506335, got, 1e-6)

	air := standardAir(t)
	for from, want := range map[atmos.Geometric]float64{20e3: 2378.0340, 30e3: 2749.8320, 35e3: 2851.5056} {
		got, err := d.TimeDown(air, from, 0)
		require.NoError(t, err)
		assert.InDelta(t, want, got, 0.002, "TimeDown(%g, 0)", float64(from))
	}
	// The troposphere in geopotential metres, on levels of its own.
	var geopotential balloon.Column
	for h := 0.0; h <= 11000; h += 5 {
		s, ok := atmos.Standard(atmos.Geometric(6356766 * h / (6356766 - h)))
		require.True(t, ok)
		geopotential = append(geopotential, balloon.AirLevel{Height: atmos.Geometric(h), Density: s.Density})
	}
	got, err = d.TimeDown(geopotential, 11000, 0)
	require.NoError(t, err)
	assert.InDelta(t, 1672.919470, got, 1e-4)

	still := balloon.Column{{0, atmos.SeaLevelDensity}, {1000, atmos.SeaLevelDensity}}
	got, err = d.TimeDown(still, 900, 400)
	require.NoError(t, err)
	assert.InDelta(t, 100, got, 1e-9, "500 m at 5 m/s")
}

func TestTimeDownAdds(t *testing.T) {
	air := standardAir(t)
	rapid.Check(t, func(t *rapid.T) {
		d := balloon.Descent{Mass: rapid.Float64Range(0.1, 20).Draw(t, "mass"), DragArea: rapid.Float64Range(0.01, 10).Draw(t, "area")}
		top := rapid.Float64Range(2, 40e3).Draw(t, "top")
		mid := rapid.Float64Range(1, top).Draw(t, "mid")
		all, err := d.TimeDown(air, atmos.Geometric(top), 0)
		require.NoError(t, err)
		upper, err := d.TimeDown(air, atmos.Geometric(top), atmos.Geometric(mid))
		require.NoError(t, err)
		lower, err := d.TimeDown(air, atmos.Geometric(mid), 0)
		require.NoError(t, err)
		assert.InEpsilon(t, all, upper+lower, 1e-9)
		heavier := d
		heavier.Mass *= 4
		half, err := heavier.TimeDown(air, atmos.Geometric(top), 0)
		require.NoError(t, err)
		assert.InEpsilon(t, all/2, half, 1e-9, "four times the mass")
	})
}

// From rest in air of one density with a terminal speed of 5.213528 m/s. Source:
// v = vₜ·tanh(gt/vₜ), drop = (vₜ²/g)·ln cosh(gt/vₜ), computed apart from this
// code in Python.
func TestFallFromRest(t *testing.T) {
	d := balloon.Descent{Mass: 1, DragArea: balloon.DragAreaFor(1, 5.213528, 1.225)}
	still := balloon.Column{{-100, 1.225}, {100, 1.225}}
	for _, c := range []struct{ time, speed, drop float64 }{
		{0.5, 3.834300, 1.078827},
		{1, 4.976735, 3.356016},
		{2, 5.207901, 8.507372},
	} {
		v, drop := d.FromRest(1.225, c.time)
		assert.InDelta(t, c.speed, v, 0.6e-6, "FromRest(%g s) speed", c.time)
		assert.InDelta(t, c.drop, drop, 0.6e-6, "FromRest(%g s) drop", c.time)
		// The integration of the same fall, step by step.
		v, z, err := d.After(still, 0, 0, c.time)
		require.NoError(t, err)
		assert.InDelta(t, c.speed, v, 1e-6, "After(%g s) speed", c.time)
		assert.InDelta(t, c.drop, -float64(z), 1e-6, "After(%g s) drop", c.time)
	}
	// The air may end right below where it is asked for.
	_, z, err := d.After(balloon.Column{{-8.5074, 1.225}, {100, 1.225}}, 0, 0, 2)
	require.NoError(t, err)
	assert.InDelta(t, -8.507372, float64(z), 1e-6)
	// Thrown down faster than the terminal speed it slows: 1/v grows as in
	// coth, v = vₜ·coth(gt/vₜ + arcoth(v₀/vₜ)).
	v, _, err := d.After(still, 0, 50, 0.3)
	require.NoError(t, err)
	const vt = 5.213528
	phase := atmos.StandardGravity*0.3/vt + math.Atanh(vt/50)
	assert.InEpsilon(t, vt/math.Tanh(phase), v, 1e-6)
}

// How far a fall that starts at 30 km is from the terminal speed: about eight
// seconds and two hundred metres to come within 5 %, then 0.7 % too fast
// because the air thickens below. What gathering speed costs is vₜ/g·ln 2, and
// the lag gives back (vₜ − v)/2g, so that after five minutes it is about two
// seconds behind a load that had the terminal speed at once. Source: both worked
// by hand, from drop = (vₜ²/g)·ln cosh(gt/vₜ) and from v²/vₜ² = 1 + vₜ²/2gh
// integrated over air of scale height h.
func TestSettlingAtThirtyKilometres(t *testing.T) {
	air := standardAir(t)
	c := worked[2]
	d := balloon.Descent{Mass: c.mass, DragArea: c.area}
	s, err := d.Settle(air, 30e3, 0, 0.05)
	require.NoError(t, err)
	// In air as at the start throughout it would come to that speed sooner, in
	// air as at the end later.
	vt := c.at30
	end, _ := air.At(30e3 - atmos.Geometric(s.Drop))
	slower := d.Speed(end)
	assert.InEpsilon(t, 0.95*slower, s.Speed, 0.002)
	assert.Greater(t, s.Time, vt/atmos.StandardGravity*math.Atanh(0.95*slower/vt))
	assert.Less(t, s.Time, slower/atmos.StandardGravity*math.Atanh(0.95)*1.01)
	assert.InDelta(t, 8, s.Time, 0.5)
	assert.InDelta(t, 215, s.Drop, 20)

	v, z, err := d.After(air, 30e3, vt, 60)
	require.NoError(t, err)
	here, ok := air.At(z)
	require.True(t, ok)
	below, ok := air.At(z - 100)
	require.True(t, ok)
	terminal := d.Speed(here)
	lag := balloon.Lag(terminal, 100/math.Log(below/here))
	assert.InDelta(t, lag, v/terminal-1, 0.1*lag, "ahead of the terminal speed at %g m", float64(z))
	assert.InDelta(t, 0.007, balloon.Lag(42.7, 6600), 0.0005)

	_, z, err = d.After(air, 30e3, 0, 300)
	require.NoError(t, err)
	quick, err := d.TimeDown(air, 30e3, z)
	require.NoError(t, err)
	last, _ := air.At(z)
	want := vt/atmos.StandardGravity*math.Ln2 - (vt-d.Speed(last))/(2*atmos.StandardGravity)
	assert.InDelta(t, want, 300-quick, 0.1, "behind after 300 s")
	assert.InDelta(t, 2, want, 0.2)
}

func TestDescentRefuses(t *testing.T) {
	air := standardAir(t)
	bad := balloon.Descent{Mass: -1, DragArea: 0}
	err := bad.Check()
	assert.ErrorContains(t, err, "falling mass -1 kg: want 0.005 to 1000 kg")
	assert.ErrorContains(t, err, "drag area 0 m²: want 0.0001 to 30000 m²")
	_, err = bad.TimeDown(balloon.Column{{0, 1}, {0, -1}}, 1, 0)
	for _, want := range []string{"descent: falling mass", "descent: drag area", "air: air level 1: density -1", "air: air level 1: height 0 m"} {
		assert.ErrorContains(t, err, want)
	}
	d := fiveAtGround()
	_, err = d.TimeDown(air, 41e3, 0)
	assert.ErrorContains(t, err, "within the column's -1000 to 40000 m")
	_, err = d.TimeDown(air, 100, 200)
	assert.ErrorContains(t, err, "want downward")
	_, err = d.Settle(air, 30e3, math.NaN(), 2)
	assert.ErrorContains(t, err, "starting speed NaN m/s")
	assert.ErrorContains(t, err, "share 2")
	// A stone that meets the end of the air first.
	stone := balloon.Descent{Mass: 1000, DragArea: 1e-4}
	_, err = stone.Settle(air, 100, 0, 0.001)
	assert.ErrorContains(t, err, "the air column ends")
	_, _, err = d.After(air, 0, 0, -1)
	assert.ErrorContains(t, err, "time -1 s")
}
