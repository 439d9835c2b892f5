package ensemble

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
)

// spec is 1,024 flights from the equator, in which everything is uncertain.
func spec() Spec {
	return Spec{
		Launch: flight.Release{Time: 6 * 3600},
		Ascent: Normal{5, 0.4}, Burst: Normal{30e3, 1500}, Landing: Normal{5, 0.5}, Delay: Normal{600, 300},
		WindError: 2, WindScale: 3000,
		Scrambles: 16, PerScramble: 64, Seed: 1,
	}
}

func TestSpecCheckNamesEachFault(t *testing.T) {
	require.NoError(t, spec().Check())
	for _, c := range []struct {
		name string
		edit func(s *Spec)
		want string
	}{
		{"latitude", func(s *Spec) { s.Launch.At.Lat = 95 }, "latitude 95: want -90 to 90"},
		{"height", func(s *Spec) { s.Launch.Height = 60e3 }, "release height 60000 m: want -500 to 50000 m"},
		{"height NaN", func(s *Spec) { s.Launch.Height = atmos.Geometric(math.NaN()) }, "release height NaN m: want -500 to 50000 m"},
		{"height infinite", func(s *Spec) { s.Launch.Height = atmos.Geometric(math.Inf(1)) }, "release height +Inf m: want -500 to 50000 m"},
		{"time", func(s *Spec) { s.Launch.Time = math.Inf(-1) }, "release time -Inf s: want a finite number"},
		{"ascent", func(s *Spec) { s.Ascent.Centre = 0.4 }, "ascent rate 0.4 ± 0.4 m/s: want 0.5 to 15 m/s, with a spread from 0 to 14.5 m/s"},
		{"ascent spread", func(s *Spec) { s.Ascent.Spread = -1 }, "ascent rate 5 ± -1 m/s: want 0.5 to 15 m/s, with a spread from 0 to 14.5 m/s"},
		{"burst", func(s *Spec) { s.Burst = Normal{51e3, 0} }, "burst height 51000 ± 0 m: want 100 to 50000 m, with a spread from 0 to 49900 m"},
		{"burst spread", func(s *Spec) { s.Burst.Spread = math.NaN() }, "burst height 30000 ± NaN m: want 100 to 50000 m, with a spread from 0 to 49900 m"},
		{"landing", func(s *Spec) { s.Landing.Centre = math.NaN() }, "landing speed NaN ± 0.5 m/s: want 0.5 to 100 m/s, with a spread from 0 to 99.5 m/s"},
		{"delay", func(s *Spec) { s.Delay.Centre = -2e5 }, "launch delay -200000 ± 300 s: want -172800 to 172800 s, with a spread from 0 to 345600 s"},
		{"wind error", func(s *Spec) { s.WindError = -0.1 }, "wind error -0.1 m/s: want 0 to 50 m/s, or NaN"},
		{"wind error beyond", func(s *Spec) { s.WindError = 50.1 }, "wind error 50.1 m/s: want 0 to 50 m/s, or NaN"},
		{"doubt", func(s *Spec) { s.WindDoubt = 0.51 }, "doubt of the wind error's size 0.51: want 0 to 0.5"},
		{"doubt NaN", func(s *Spec) { s.WindDoubt = math.NaN() }, "doubt of the wind error's size NaN: want 0 to 0.5"},
		{"age", func(s *Spec) { s.Lead = 61 * 86400 }, "age of the forecast 5.2704e+06 s: want -5.184e+06 to 5.184e+06 s"},
		{"age NaN", func(s *Spec) { s.Lead = math.NaN() }, "age of the forecast NaN s: want -5.184e+06 to 5.184e+06 s"},
		{"chance", func(s *Spec) { s.OffNominal.SlowLeak = -0.01 }, `chance of slow_leak -0.01: want 0 to 1`},
		{"chance NaN", func(s *Spec) { s.OffNominal.Float = math.NaN() }, `chance of float NaN: want 0 to 1`},
		{"chances", func(s *Spec) { s.OffNominal = Chances{EarlyBurst: 0.5, CanopyFouled: 0.6} }, "chances 1.1 together: want at most 1"},
		{"wind scale", func(s *Spec) { s.WindScale = 999 }, "height scale of the wind error 999 m: want 1000 to 50000 m, or NaN"},
		{"no scramble", func(s *Spec) { s.Scrambles = 0 }, "0 scrambles: want 1 to 32768"},
		{"scrambles", func(s *Spec) { s.Scrambles = 32769 }, "32769 scrambles: want 1 to 32768"},
		{"first scramble", func(s *Spec) { s.First = 32753 }, "first scramble 32753 of 16: want 0 to 32752"},
		{"first scramble under 0", func(s *Spec) { s.First = -1 }, "first scramble -1 of 16: want 0 to 32752"},
		{"flights in all", func(s *Spec) { s.Scrambles, s.PerScramble = 65, 65536 }, "65 scrambles of 65536 flights: want at most 4194304 flights"},
		{"draws", func(s *Spec) { s.Draws = 2 }, "draws 2: want sobol or random"},
		{"no flights", func(s *Spec) { s.PerScramble = 0 }, "0 flights in each scramble: want a power of two up to 65536"},
		{"flights", func(s *Spec) { s.PerScramble = 96 }, "96 flights in each scramble: want a power of two up to 65536"},
		{"too many flights", func(s *Spec) { s.PerScramble = 1 << 17 }, "131072 flights in each scramble: want a power of two up to 65536"},
	} {
		s := spec()
		c.edit(&s)
		assert.EqualError(t, s.Check(), c.want, c.name)
	}
	err := Spec{}.Check()
	require.Error(t, err)
	assert.Len(t, strings.Split(err.Error(), "\n"), 6, "faults of the zero value, all at once: %v", err)
}

// Quantiles of normal laws, whole and cut off. Source: SciPy 1.10.1,
// scipy.stats.norm.ppf and scipy.stats.truncnorm.ppf.
func TestQuantile(t *testing.T) {
	for _, c := range []struct {
		law       Normal
		low, high float64
		p, want   float64
	}{
		{Normal{5, 0.4}, -100, 100, 0.975, 5 + 0.4*1.959963984540054},
		{Normal{5, 0.4}, -100, 100, 0.025, 5 - 0.4*1.959963984540054},
		{Normal{5, 0.4}, -100, 100, 0.5, 5},
		{Normal{30e3, 1500}, balloon.MinBurst, balloon.MaxBurst, 0.9, 30e3 + 1500*1.2815515655446004},
		{Normal{30e3, 20e3}, 100, 50e3, 1e-9, 100.00011861163512},
		{Normal{30e3, 20e3}, 100, 50e3, 0.025, 2786.019217475183},
		{Normal{30e3, 20e3}, 100, 50e3, 0.5, 27709.00389062527},
		{Normal{30e3, 20e3}, 100, 50e3, 0.999, 49936.13657845947},
		{Normal{0.6, 1}, 0.5, 15, 0.025, 0.5339471101038958},
		{Normal{0.6, 1}, 0.5, 15, 0.25, 0.8407591965083323},
		{Normal{0.6, 1}, 0.5, 15, 0.999, 3.868902317617083},
		{Normal{0.5, 2}, 0.5, 15, 0.25, 1.1372787279284755}, // the centre at the limit
		{Normal{0.5, 2}, 0.5, 15, 0.9, 3.7897072538993077},
		{Normal{7, 0}, 0, 10, 0.001, 7}, // no spread
		{Normal{0, 0}, 0, 10, 0.999, 0},
	} {
		assert.InDelta(t, c.want, c.law.between(c.low, c.high).quantile(c.p), 1e-9*math.Max(1, c.want), "%+v.between(%g, %g).quantile(%g)", c.law, c.low, c.high, c.p)
	}
	for _, p := range []float64{0x1p-33, 1 - 0x1p-33} {
		got := Normal{0.5, 14.5}.between(0.5, 15).quantile(p)
		assert.True(t, got >= 0.5 && got <= 15, "quantile(%g) = %g, want 0.5 to 15", p, got)
	}
}

// release is the draw that a point stands for, made in one of the lanes while
// the others are busy with something else.
func (d *drawer) release(u []float64, lane int) flight.Release {
	h := newHand(lanes)
	for i := range lanes {
		for k := range h.points[i] {
			h.points[i][k] = float64(1+(7*i+3*k)%9) / 10
		}
	}
	copy(h.points[lane][:], u)
	d.draw(h, 0)
	return h.releases[lane]
}

// middle is the point of the cube that stands for the flight as planned.
func middle() []float64 {
	u := make([]float64, dimensions)
	for d := range u {
		u[d] = 0.5
	}
	return u
}

// Each dimension moves the one quantity that is its own, by one spread where it
// is at the normal law's 84 % (exactly: its value at one), and no other.
func TestEachDimensionMovesItsOwnQuantity(t *testing.T) {
	s := spec()
	s.Launch.At = geo.Point{Lat: 52, Lon: 13}
	s.Launch.Height = 40
	s.Launch.Train = balloon.Train{Ascent: 99}
	s.Launch.Error = flight.WindError{Spacing: 1, East: []float64{99}, North: []float64{99}}
	draw := newDrawer(s, frozen(s.heights()))
	const heights = 30 + 2 // up to the first that no flight of these comes to
	column := func(mode int) []float64 {
		values := make([]float64, heights)
		for h := range values {
			values[h] = float64(draw.up[h][mode])
		}
		return values
	}
	calm := flight.WindError{Spacing: errorSpacing, East: make([]float64, heights), North: make([]float64, heights)}
	planned := flight.Release{
		At: s.Launch.At, Height: 40, Time: 6*3600 + 600,
		Train: balloon.Train{Ascent: 5, Burst: 30e3, Landing: 5}, Error: calm,
	}
	check := func(want, got flight.Release, d int) {
		t.Helper()
		assert.Equal(t, want.At, got.At, "dimension %d: place", d)
		assert.Equal(t, want.Height, got.Height, "dimension %d: height", d)
		assert.InDelta(t, want.Time, got.Time, 1e-6, "dimension %d: time", d)
		assert.InDelta(t, want.Train.Ascent, got.Train.Ascent, 1e-9, "dimension %d: ascent", d)
		assert.InDelta(t, float64(want.Train.Burst), float64(got.Train.Burst), 1e-6, "dimension %d: burst", d)
		assert.InDelta(t, want.Train.Landing, got.Train.Landing, 1e-9, "dimension %d: landing", d)
		assert.Equal(t, want.Error.Spacing, got.Error.Spacing, "dimension %d: spacing of the wind error", d)
		n := int(got.Train.Burst/errorSpacing) + 2
		require.Len(t, got.Error.East, n, "dimension %d", d)
		require.Len(t, got.Error.North, n, "dimension %d", d)
		// The wind error is drawn in single precision.
		assert.InDeltaSlice(t, want.Error.East, got.Error.East[:heights], 2e-6, "dimension %d: wind error toward east", d)
		assert.InDeltaSlice(t, want.Error.North, got.Error.North[:heights], 2e-6, "dimension %d: wind error toward north", d)
		// On a frozen way the way down has the same.
		assert.InDeltaSlice(t, got.Error.East, got.Error.DownEast, 2e-6, "dimension %d: wind error toward east on the way down", d)
		assert.InDeltaSlice(t, got.Error.North, got.Error.DownNorth, 2e-6, "dimension %d: wind error toward north on the way down", d)
	}
	check(planned, draw.release(middle(), 0), -1)
	for d := range dimensions {
		u := middle()
		u[d] = normalShare(1)
		want := planned
		switch mode := (d - firstModeDimension) / 2; {
		case d == 0:
			want.Train.Ascent = 5.4
		case d == 1:
			want.Train.Burst = 31500
		case d == 2:
			want.Train.Landing = 5.5
		case d == 3:
			want.Time += 300
		case d == memberDimension, d >= courseDimension:
			// Which scene; and nothing, with no chance of another course and of a
			// train that was measured.
		case d%2 == firstModeDimension%2:
			want.Error.East = column(mode)
		default:
			want.Error.North = column(mode)
		}
		check(want, draw.release(u, d%lanes), d)
	}
	u := middle()
	u[firstModeDimension], u[firstModeDimension+1] = 0.9, 0.1
	error0 := draw.release(u, 1).Error
	assert.Greater(t, error0.East[0], 0.1, "the broadest mode is positive at sea level")
	assert.Less(t, error0.North[0], -0.1)
}

// The size of a flight's wind error is its own on each axis, by as much at all heights:
// log-normal, with the stated one as root mean square. The moments are e^(k²σ²/2 - kσ²) by
// the law's generating function.
func TestWindErrorSizes(t *testing.T) {
	s := spec()
	s.WindDoubt = 0.3
	draw := newDrawer(s, frozen(s.heights()))
	plain := newDrawer(spec(), frozen(s.heights()))
	const n = 4096
	var first, second, fourth [2]float64
	cross := 0.0
	for i := range n {
		u := middle()
		u[firstModeDimension], u[firstModeDimension+1] = 0.7, 0.2
		u[eastSizeDimension] = (float64(i) + 0.5) / n
		u[northSizeDimension] = (float64(i*1597%n) + 0.5) / n // coprime: in another order
		got, without := draw.release(u, i%lanes).Error, plain.release(u, i%lanes).Error
		var size [2]float64
		for k, axis := range [2][2][]float64{{got.East, without.East}, {got.North, without.North}} {
			size[k] = axis[0][3] / axis[1][3]
			for z := range axis[0] {
				assert.InDelta(t, size[k], axis[0][z]/axis[1][z], 1e-4, "at height %d", z)
			}
			v := size[k] * size[k]
			first[k], second[k], fourth[k] = first[k]+size[k]/n, second[k]+v/n, fourth[k]+v*v/n
		}
		cross += math.Log(size[0]) * math.Log(size[1]) / n
	}
	const v = 0.3 * 0.3
	for k, axis := range []string{"east", "north"} {
		assert.InDelta(t, math.Exp(-v/2), first[k], 1e-3, "mean size toward %s", axis)
		assert.InDelta(t, 1, second[k], 1e-3, "mean square toward %s", axis)
		assert.InDelta(t, math.Exp(4*v), fourth[k], 0.02, "mean fourth power toward %s", axis)
	}
	assert.InDelta(t, v*v, cross, 0.002, "the logarithms' mean product is that of their means, -σ² each")
}

// The modes are orthogonal, ordered from the broadest on, and what they leave
// out of the error at one height is what Spec.WindError says.
func TestWindErrorModes(t *testing.T) {
	for _, c := range []struct{ scale, share float64 }{{1000, 0.84}, {3000, 0.94}, {10e3, 0.98}} {
		modes := windErrorModes(errorLaw{2, c.scale, 0}, frozen(errorHeights))
		var gram mat.Dense
		gram.Mul(modes.T(), modes)
		square := 0.0
		for k := range windModes {
			square += gram.At(k, k)
			for l := range k {
				assert.InDelta(t, 0, gram.At(k, l), 1e-9, "scale %g: modes %d and %d", c.scale, k, l)
			}
			if k > 0 {
				assert.Less(t, gram.At(k, k), gram.At(k-1, k-1), "scale %g: mode %d is broader than the one before", c.scale, k)
			}
			assert.GreaterOrEqual(t, modes.At(0, k), 0.0, "scale %g: sign of mode %d", c.scale, k)
		}
		assert.InDelta(t, c.share, math.Sqrt(square/(2*errorHeights))/2, 0.005, "scale %g: root mean square over the heights", c.scale)
	}
	assert.Zero(t, mat.Norm(windErrorModes(errorLaw{0, 3000, 0}, frozen(errorHeights)), 2), "no error, no modes")
}

// driftOfModes is how far each mode, at amplitude one, carries a flight that
// rises from sea level to a height and takes so many seconds per metre: the
// integral of the mode, linear between its heights, in steps of 10 m.
func driftOfModes(modes *mat.Dense, height float64, slowness func(z float64) float64) []float64 {
	_, n := modes.Dims()
	drift := make([]float64, n)
	const step = 10.0
	for z := step / 2; z < height; z += step {
		h := int(z / errorSpacing)
		w := z/errorSpacing - float64(h)
		for k := range drift {
			drift[k] += step * slowness(z) * ((1-w)*modes.At(h, k) + w*modes.At(h+1, k))
		}
	}
	return drift
}

func length(v []float64) float64 { return mat.Norm(mat.NewVecDense(len(v), v), 2) }

// exactDrift is the standard deviation of the displacement in an error of
// standard deviation sigma whose correlation falls as e^(−t/tau), over a time.
// Source: closed form (the integral of an Ornstein–Uhlenbeck process).
func exactDrift(sigma, tau, seconds float64) float64 {
	return sigma * tau * math.Sqrt(2*(seconds/tau-1+math.Exp(-seconds/tau)))
}

// What windErrorModes promises of the drift, by linear algebra, without any
// draws: the standard deviation of the drift of an ascent at 5 m/s, against the
// closed form for the covariance that is meant.
func TestWindErrorDrift(t *testing.T) {
	// The closed form itself, against values worked out in Python.
	assert.InDelta(t, 12253.804, exactDrift(2, 3600, 8471.506335), 1e-3)
	assert.InDelta(t, 15904.264, exactDrift(2, 21600, 8471.506335), 1e-3)
	const sigma, speed = 2.0, 5.0
	slowness := func(float64) float64 { return 1 / speed }
	all := func(scale float64) *mat.Dense { // all modes: the covariance's Cholesky factor
		covariance := mat.NewSymDense(errorHeights, nil)
		for i := range errorHeights {
			for j := range i + 1 {
				covariance.SetSym(i, j, sigma*sigma*math.Exp(-errorSpacing*float64(i-j)/scale))
			}
		}
		var c mat.Cholesky
		require.True(t, c.Factorize(covariance))
		var lower mat.TriDense
		c.LTo(&lower)
		return mat.DenseCopyOf(&lower)
	}
	for _, c := range []struct {
		scale     float64
		low, high float64 // bounds of drawn over meant, from 10 km up; neither is slack
	}{
		{1000, 1.034, 1.039},
		{2000, 1.007, 1.010},
		{3000, 1.002, 1.0045},
		{6000, 0.9998, 1.001},
		{10e3, 0.9995, 1.0005},
		{50e3, 0.9995, 1.0005},
	} {
		modes, full := windErrorModes(errorLaw{sigma, c.scale, 0}, frozen(errorHeights)), all(c.scale)
		for _, height := range []float64{10e3, 20e3, 30e3, 35e3, 40e3} {
			want := exactDrift(sigma, c.scale/speed, height/speed)
			got := length(driftOfModes(modes, height, slowness))
			whole := length(driftOfModes(full, height, slowness))
			t.Logf("scale %5.0f m, up to %5.0f m: %.4f of the drift meant, %.4f with all modes", c.scale, height, got/want, whole/want)
			assert.GreaterOrEqual(t, got/want, c.low, "scale %g m, up to %g m: drawn over meant", c.scale, height)
			assert.LessOrEqual(t, got/want, c.high, "scale %g m, up to %g m: drawn over meant", c.scale, height)
			assert.Greater(t, got/whole, 0.998, "scale %g m, up to %g m: with %d modes over with all", c.scale, height, windModes)
			assert.LessOrEqual(t, got, whole*(1+1e-12), "modes that are left out cannot add")
		}
		low := length(driftOfModes(modes, 2500, slowness)) / exactDrift(sigma, c.scale/speed, 2500/speed)
		t.Logf("scale %5.0f m, up to  2500 m: %.4f of the drift meant", c.scale, low)
		assert.InDelta(t, 1, low, 0.011, "scale %g m, up to 2500 m: drawn over meant", c.scale)
	}
}
