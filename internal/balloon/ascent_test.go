package balloon_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// typical is a flight of a common size: 600 g envelope, 1.8 kg of load, helium.
func typical() balloon.Lifter {
	return balloon.Lifter{
		Envelope: balloon.Envelope{Mass: 0.6, Burst: 6, BurstSpread: 0.5},
		Filling:  balloon.Filling{Gas: balloon.LiftingGas{Helium: 0.99}, Moles: 135},
		Load:     1.8,
		Drag:     balloon.SoundingDrag(),
	}
}

func usAir(t testing.TB, bottom, top atmos.Geometric, step float64) balloon.Air {
	t.Helper()
	air, err := balloon.StandardAir(bottom, top, step)
	require.NoError(t, err)
	require.NoError(t, air.Check())
	return air
}

// With the gas as warm as the air, no overpressure, no leak and a constant drag
// coefficient, D ∝ ρ^(−1/3) and v ∝ ρ^(−1/6). Source: the ratios in the U.S.
// Standard Atmosphere 1976, computed apart from this code in Python.
func TestScalingWithHeight(t *testing.T) {
	l := typical()
	l.Drag = balloon.ConstantDrag(0.3)
	ground, _ := atmos.Standard(0)
	at0 := l.At(ground)
	for _, c := range []struct {
		height          atmos.Geometric
		diameter, speed float64
	}{
		{5000, 1.18486, 1.08851},
		{10000, 1.43621, 1.19842},
		{20000, 2.39733, 1.54833},
		{30000, 4.05222, 2.01301},
		{35000, 5.25046, 2.29139},
	} {
		air, _ := atmos.Standard(c.height)
		a := l.At(air)
		assert.InDelta(t, c.diameter, a.Diameter/at0.Diameter, 0.6e-5, "diameter at %g m", float64(c.height))
		assert.InDelta(t, c.speed, a.Speed/at0.Speed, 0.6e-5, "speed at %g m", float64(c.height))
		assert.InDelta(t, at0.Free, a.Free, 1e-12, "the free lift is the same at every height")
	}
}

// The balance of forces at the speed found: Free·g = ½·ρ·v²·Cd·π·D²/4.
func TestDragHoldsTheFreeLift(t *testing.T) {
	l := typical()
	for z := atmos.Geometric(0); z <= 35000; z += 2500 {
		air, _ := atmos.Standard(z)
		a := l.At(air)
		re := air.Density * a.Speed * a.Diameter / atmos.Viscosity(air.Temperature)
		drag := air.Density * a.Speed * a.Speed / 2 * l.Drag.Cd(re) * math.Pi * a.Diameter * a.Diameter / 4
		assert.InDelta(t, a.Free*9.80665, drag, 1e-8, "at %g m", float64(z))
		assert.InDelta(t, re, a.Reynolds, 1e-6*re)
	}
}

// The time from the ground with v = 5 m/s·(ρ₀/ρ)^(1/6). Source: quadrature apart
// from this code in Python. The error falls as the square of the step: 0.14 s in
// steps of 500 m, and from two steps the time at no step follows.
func TestTimeUp(t *testing.T) {
	l := typical()
	l.Drag = balloon.ConstantDrag(0.3)
	l.Envelope.Burst = 30
	up := func(step float64, z atmos.Geometric) float64 {
		air := usAir(t, 0, 40000, step)
		filled, err := l.Fill(air, balloon.Wanted{Quantity: balloon.RateNearGround, Value: 5})
		require.NoError(t, err)
		c := filled.Ascend(air, nil)
		require.Equal(t, balloon.AirEnds, c.Ending)
		require.InDelta(t, 5, c.NearGround(), 1e-8)
		_, time, ok := c.At(z)
		require.True(t, ok)
		return time
	}
	for z, want := range map[atmos.Geometric]float64{20000: 3312.2421, 30000: 4447.1914, 35000: 4913.2712} {
		wide, half := up(500, z), up(250, z)
		assert.InDelta(t, want, wide, 0.14, "time to %g m in steps of 500 m", float64(z))
		assert.InDelta(t, want, half+(half-wide)/3, 0.003, "time to %g m at no step", float64(z))
		assert.InDelta(t, 2, math.Log2((wide-want)/(half-want)), 0.1, "order in the step, to %g m", float64(z))
	}
}

// The mean rate counts from the place of release, and the time from it too. Each
// step of a climb is the lifter in the air of its height.
func TestClimbFromAHighPlace(t *testing.T) {
	air := usAir(t, 1500, 40000, 500)
	l := typical()
	c := l.Ascend(air, nil)
	require.Equal(t, balloon.Bursts, c.Ending)
	end := c.Last()
	assert.InDelta(t, (float64(end.Height)-1500)/end.Time, c.Mean(), 1e-12)
	assert.Zero(t, c.Steps[0].Time)
	for i, s := range c.Steps[:len(c.Steps)-1] {
		a := l.At(air[i].State)
		assert.InDelta(t, a.Speed, s.Speed, 1e-8)
		speed, time, ok := c.At(s.Height)
		assert.True(t, ok)
		assert.InDelta(t, s.Speed, speed, 1e-9)
		assert.InDelta(t, s.Time, time, 1e-9)
	}
	for _, z := range []atmos.Geometric{1499, end.Height + 1, atmos.Geometric(math.NaN())} {
		_, _, ok := c.At(z)
		assert.False(t, ok, "At(%g)", float64(z))
	}
	there, _ := atmos.Standard(end.Height)
	assert.InDelta(t, l.Envelope.Burst, l.At(there).Diameter, 2e-3)
}

// A fill of k times the gas shifts a burst at 30 km. Source: computed apart from
// this code from ρ = ρ₀·(D₀/D)³ in the U.S. Standard Atmosphere 1976.
func TestOverfillLowersTheBurst(t *testing.T) {
	air := usAir(t, 0, 40000, 250)
	l := typical()
	at30, _ := atmos.Standard(30000)
	l.Envelope.Burst = l.At(at30).Diameter
	at := func(k float64) float64 {
		m := l
		m.Filling.Moles *= k
		m.Load *= 0.6 // so that it rises with the least gas too
		c := m.Ascend(air, nil)
		require.Equal(t, balloon.Bursts, c.Ending)
		require.InDelta(t, m.Envelope.Burst, c.Last().Diameter, 1e-6)
		return float64(c.Last().Height)
	}
	assert.InDelta(t, 30000, at(1), 0.6)
	for k, shift := range map[float64]float64{0.8: 1456, 0.9: 686, 1.05: -317, 1.1: -619, 1.2: -1182, 1.5: -2620, 2: -4460} {
		assert.InDelta(t, 30000+shift, at(k), 1.1, "burst of %g times the gas", k)
	}
}

// A skin's overpressure Δp makes it float where the air displaced by p/(p+Δp) of
// the room weighs no more than all that hangs: with x = (m/n + M)/M_air, at
// p = Δp·x/(1 − x). Worked by hand; the height is the standard's.
func TestFloatsWhereTheNetForceIsGone(t *testing.T) {
	l := typical()
	l.Envelope.Burst = 12
	l.Filling.Overpressure = 200
	l.Filling.Moles = 105
	gas := 0.99*4.002602e-3 + 0.01*28.9644e-3
	x := (2.4/105 + gas) / 28.9644e-3
	pressure := 200 * x / (1 - x)
	air := usAir(t, 0, 45000, 100)
	c := l.Ascend(air, nil)
	require.Equal(t, balloon.Floats, c.Ending)
	there, _ := atmos.Standard(c.Last().Height)
	assert.InDelta(t, pressure, there.Pressure, 1e-3*pressure, "it floats at %g m", float64(c.Last().Height))
	assert.InDelta(t, 0, c.Last().Free, 1e-6)
	// Warm gas lifts it over the height, a leak keeps it under.
	warm, leaky := l, l
	warm.Filling.Superheat = 5
	leaky.Filling.Leak = 0.05
	assert.Greater(t, warm.Ascend(air, nil).Last().Height, c.Last().Height)
	assert.Less(t, leaky.Ascend(air, nil).Last().Height, c.Last().Height)
}

// Gas leaks as e^(−leak·t): the burst is where what is left fills the diameter.
func TestLeak(t *testing.T) {
	air := usAir(t, 0, 40000, 100)
	l := typical()
	tight := l.Ascend(air, nil)
	l.Filling.Leak = 0.02
	c := l.Ascend(air, nil)
	require.Equal(t, balloon.Bursts, c.Ending)
	end := c.Last()
	left := 135 * math.Exp(-0.02*end.Time/3600)
	there, _ := atmos.Standard(end.Height)
	volume := left * 8.31432 * there.Temperature / there.Pressure
	assert.InDelta(t, math.Cbrt(6/math.Pi*volume), end.Diameter, 2e-4)
	assert.Greater(t, end.Height, tight.Last().Height, "less gas at the same height")
	assert.Less(t, c.Mean(), tight.Mean())
}

// lifters is random lifters within wide bounds, most of which rise.
func lifters(n int) []balloon.Lifter {
	r := rand.New(rand.NewPCG(5, 6))
	out := make([]balloon.Lifter, n)
	for i := range out {
		mass := 0.05 * math.Pow(60, r.Float64())
		gas := balloon.LiftingGas{Helium: 0.95 + 0.05*r.Float64()}
		if r.IntN(2) == 0 {
			gas = balloon.LiftingGas{Hydrogen: 0.95 + 0.05*r.Float64()}
		}
		l := balloon.Lifter{
			Envelope: balloon.Envelope{Mass: mass, Burst: 7.5 * math.Pow(mass, 0.6) * (0.7 + 0.6*r.Float64())},
			Filling:  balloon.Filling{Gas: gas, Superheat: 30*r.Float64() - 10, Overpressure: 150 * r.Float64() * r.Float64(), Leak: 0.03 * r.Float64() * float64(r.IntN(2))},
			Load:     mass * 2.5 * r.Float64(),
			Drag:     balloon.SoundingDrag().Scaled(0.7 + 0.6*r.Float64()),
		}
		l.Filling.Moles = (l.Envelope.Mass + l.Load) * (1.02 + r.Float64()) / 0.025
		out[i] = l
	}
	return out
}

// More gas never slows the ascent at any height, never raises the burst, and the
// mean rate to the burst rises too.
func TestMoreGasNeverSlowsNorRaisesTheBurst(t *testing.T) {
	air := usAir(t, 0, 50000, 500)
	endings := map[balloon.Ending]int{}
	for _, l := range lifters(300) {
		require.NoError(t, l.Check())
		less := l.Ascend(air, nil)
		endings[less.Ending]++
		for range 4 {
			l.Filling.Moles *= 1.05
			more := l.Ascend(air, nil)
			for i := range min(len(less.Steps), len(more.Steps)) - 1 {
				require.GreaterOrEqual(t, more.Steps[i].Speed, less.Steps[i].Speed, "%+v at %g m", l, float64(less.Steps[i].Height))
			}
			if less.Ending == balloon.Bursts {
				require.Equal(t, balloon.Bursts, more.Ending, "%+v", l)
				require.Less(t, more.Last().Height, less.Last().Height, "%+v", l)
				require.Greater(t, more.Mean(), less.Mean(), "%+v", l)
			}
			less = more
		}
	}
	t.Log(endings)
	assert.Greater(t, endings[balloon.Bursts], 100)
	assert.Greater(t, endings[balloon.Floats], 10)
}

// It floats if and only if the net force is gone at some height below that of
// the burst, by walking up apart from Ascend in steps of 20 m.
func TestFloatsIfAndOnlyIfTheForceIsGoneFirst(t *testing.T) {
	coarse := usAir(t, 0, 45000, 250)
	for _, l := range lifters(120) {
		l.Filling.Leak = 0
		want, height := balloon.AirEnds, atmos.Geometric(45000)
		for z := atmos.Geometric(0); z <= 45000 && want == balloon.AirEnds; z += 20 {
			air, _ := atmos.Standard(z)
			switch a := l.At(air); {
			case a.Diameter >= l.Envelope.Burst && z == 0:
				want, height = balloon.BurstsEarly, z
			case a.Diameter >= l.Envelope.Burst:
				want, height = balloon.Bursts, z
			case a.Free <= 0 && z == 0:
				want, height = balloon.Grounded, z
			case a.Free <= 0:
				want, height = balloon.Floats, z
			}
		}
		c := l.Ascend(coarse, nil)
		require.Equal(t, want, c.Ending, "%+v", l)
		require.InDelta(t, float64(height), float64(c.Last().Height), 22, "%s: %+v", want, l)
	}
}

// The air between levels is the standard's: to 3e-6 in pressure, the standard's
// lapses being even in geopotential height, where no edge of a layer lies between
// them; and with levels at the pressures of a forecast, up to 5 km apart, a burst
// is within 2 m of that in fine steps, but for the levels at 31 and 33.5 km, with
// an edge between them (10 m).
func TestAirBetweenLevels(t *testing.T) {
	air := usAir(t, 0, 50000, 500)
	edges := []float64{11019, 20063, 32162, 47350} // geometric m, [US76] table 4
	for z := 10.0; z < 50000; z += 170 {
		at, ok := air.At(atmos.Geometric(z))
		require.True(t, ok)
		want, _ := atmos.Standard(atmos.Geometric(z))
		off := 3e-6
		for _, e := range edges {
			if math.Floor(e/500) == math.Floor(z/500) {
				off = 5e-5 // the kink that straight lines miss
			}
		}
		assert.InEpsilon(t, want.Pressure, at.Pressure, off, "At(%g)", z)
		if off < 1e-5 {
			assert.InEpsilon(t, want.Density, at.Density, 1e-5, "At(%g)", z)
		}
	}
	coarse := balloon.Air{air[0]}
	for _, hPa := range []float64{975, 950, 925, 900, 850, 800, 750, 700, 650, 600, 550, 500, 450, 400, 350, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 7, 5, 3, 2, 1} {
		low, high := atmos.Geometric(0), atmos.Geometric(50000)
		for range 60 {
			mid := (low + high) / 2
			if s, _ := atmos.Standard(mid); s.Pressure > 100*hPa {
				low = mid
			} else {
				high = mid
			}
		}
		s, _ := atmos.Standard(low)
		coarse = append(coarse, balloon.Layer{Height: low, State: s})
	}
	require.NoError(t, coarse.Check())
	for _, burst := range []float64{5, 6.3, 7, 9.4, 10, 12} {
		l := typical()
		l.Envelope.Burst = burst
		got, want := l.Ascend(coarse, nil).Last(), l.Ascend(usAir(t, 0, 50000, 10), nil).Last()
		assert.InDelta(t, float64(want.Height), float64(got.Height), 2, "burst at %g m across", burst)
	}
}

// Where the density of a level shows moisture, the air between levels has its
// share: halfway between 1 % and nothing, half of that.
func TestMoistAirBetweenLevels(t *testing.T) {
	dry := usAir(t, 0, 2000, 1000)
	moist := append(balloon.Air(nil), dry...)
	moist[0].Density *= 0.99
	a, _ := dry.At(500)
	b, _ := moist.At(500)
	assert.InEpsilon(t, 0.995, b.Density/a.Density, 1e-12)
	assert.Equal(t, a.Pressure, b.Pressure)
}

// The air from a height between levels of 500 m.
func TestAirFromAHeight(t *testing.T) {
	air := usAir(t, 0, 30000, 500)
	cut, ok := air.From(1250)
	require.True(t, ok)
	require.NoError(t, cut.Check())
	require.Len(t, cut, len(air)-2)
	want, _ := atmos.Standard(1250)
	assert.Equal(t, atmos.Geometric(1250), cut[0].Height)
	assert.InDelta(t, want.Temperature, cut[0].Temperature, 1e-3)
	assert.InEpsilon(t, want.Pressure, cut[0].Pressure, 3e-6)
	assert.InEpsilon(t, want.Density, cut[0].Density, 1e-5)
	at, ok := air.From(1000)
	require.True(t, ok)
	assert.Equal(t, air[2:], at, "from a level")
	for _, bad := range [][3]float64{{0, 0, 100}, {-6000, 0, 100}, {0, 90000, 100}, {0, 1000, 0}, {0, 80000, 2}, {math.NaN(), 0, 100}} {
		_, err := balloon.StandardAir(atmos.Geometric(bad[0]), atmos.Geometric(bad[1]), bad[2])
		assert.ErrorContains(t, err, "standard air from ", "%v", bad)
	}
	for _, z := range []atmos.Geometric{-1, 30000, 30001, atmos.Geometric(math.NaN())} {
		_, ok := air.From(z)
		assert.False(t, ok, "From(%g)", float64(z))
	}
}

func TestAscendTakesNoMemory(t *testing.T) {
	air := usAir(t, 0, 40000, 500)
	l := typical()
	steps := make([]balloon.Step, 0, len(air)+1)
	assert.Zero(t, testing.AllocsPerRun(10, func() { l.Ascend(air, steps) }))
}

func TestLifterAndAirNameEveryFault(t *testing.T) {
	l := typical()
	l.Envelope.Mass = -1
	l.Filling.Moles = 0
	l.Load = math.Inf(1)
	l.Drag.Power = 0
	err := l.Check()
	require.Error(t, err)
	assert.Equal(t, `envelope: mass -1 kg: want 0.005 to 50 kg
filling: gas 0 mol: want above 0 to 1e+06 mol
drag: power of the Reynolds number 0: want 1 to 8
load +Inf kg: want 0 to 200 kg`, err.Error())

	air := usAir(t, 0, 1000, 500)
	air[1].Height = 0
	air[1].Pressure = 2e5
	air[2].Density = 1.3
	err = air.Check()
	require.Error(t, err)
	assert.Equal(t, `air level 1: pressure 200000 Pa: want 1 to 120000 Pa
air level 1: density 1.167 kg/m³: want it within 5 % of the 2.446 that its pressure and temperature have
air level 1: height 0 m: want it above the level before
air level 1: pressure 200000 Pa: want it below that of the level before
air level 2: density 1.3 kg/m³: want it within 5 % of the 1.112 that its pressure and temperature have`, err.Error())
}

func BenchmarkAscend(b *testing.B) {
	air := usAir(b, 0, 40000, 500)
	l := typical()
	steps := make([]balloon.Step, 0, len(air)+1)
	var c balloon.Climb
	b.ReportAllocs()
	for b.Loop() {
		c = l.Ascend(air, steps)
	}
	b.ReportMetric(float64(len(c.Steps)), "steps")
}
