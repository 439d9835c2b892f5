package ensemble

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// The table's vector errors, v, as axis errors √((v² − v₀²/2)/2), v₀ that of the
// shortest age, worked by hand; between ages and heights linear; after the last
// age on as between the last two. The vector errors are from memory, ±30 %, no
// source seen.
func TestWindErrorAt(t *testing.T) {
	for _, c := range []struct{ hours, height, want float64 }{
		{math.Inf(-1), 5580, 1.375}, // √((2.75² − 2.75²/2)/2)
		{-5, 5580, 1.375},
		{0, 5580, 1.375},
		{6, 5580, 1.375},
		{24, 5580, 2.47171},
		{15, 5580, (1.375 + 2.47171) / 2},
		{72, 5580, 4.01365},
		{120, 5580, 6.21364},
		{96, 5580, (4.01365 + 6.21364) / 2},
		{168, 5580, 7.65568},
		{216, 5580, 2*7.65568 - 6.21364},
		{math.NaN(), 5580, 1.375},
		// 850 hPa and below: 2.75, 3.5, 5, 7.5, 9.
		{6, 1460, 1.375},
		{24, 1460, 2.05776},
		{24, 0, 2.05776},
		{24, -400, 2.05776},
		{72, 1460, 3.25720},
		{168, 1460, 6.21364},
		{24, math.NaN(), 2.05776},
		// 250 hPa: 3.5, 5, 8, 12, 15.
		{6, 10380, 1.75},
		{24, 10380, 3.07205},
		{72, 10380, 5.37936},
		{120, 10380, 8.30286},
		{168, 10380, 10.4612},
		// 50 to 10 hPa: 3.5, 4.25, 5, 6.5, 8.
		{6, 20640, 1.75},
		{24, 20640, 2.44311},
		{24, 31000, 2.44311},
		{24, 50000, 2.44311},
		{72, 20640, 3.07205},
		{168, 26000, 5.37936},
		// Half-way between 500 and 250 hPa.
		{24, 7980, (2.47171 + 3.07205) / 2},
	} {
		assert.InDelta(t, c.want, WindErrorAt(c.hours*3600, c.height), 1e-4, "WindErrorAt(%g h, %g m)", c.hours, c.height)
	}
	for height := -500.0; height <= 50e3; height += 500 {
		last := 0.0
		for hours := range 16 * 24 {
			got := WindErrorAt(float64(hours)*3600, height)
			require.GreaterOrEqual(t, got, last, "WindErrorAt(%d h, %g m) falls", hours, height)
			last = got
		}
		s := spec()
		s.WindError = last
		assert.NoError(t, s.Check(), "sixteen days ahead is a wind error that a spec takes")
	}
}

// README.md's table is WindErrorAt's.
func TestReadmeTable(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for i, name := range []string{"up to 1.5 km (850 hPa)", "5.6 km (500 hPa)", "10.4 km (250 hPa)", "20.6 km (50 hPa) and above"} {
		row := "| " + name + " |"
		for _, hours := range leadHours {
			// A quarter rounds up, as one does by hand.
			row += fmt.Sprintf(" %.1f |", WindErrorAt(hours*3600, levelScores[i].height)+1e-9)
		}
		assert.Contains(t, string(readme), row+"\n")
	}
}

// The heights of the table are those of its levels in the standard atmosphere.
func TestLevelHeights(t *testing.T) {
	for i, hPa := range []float64{850, 500, 250, 50} {
		s, ok := atmos.Standard(atmos.Geometric(levelScores[i].height))
		require.True(t, ok)
		assert.InEpsilon(t, hPa*100, s.Pressure, 0.003, "level %d", i)
	}
}

// The stretched height is the integral of 1 over the height of correlation, here
// in steps of 1 m.
func TestStretched(t *testing.T) {
	scale := func(z float64) float64 {
		return min(max(2000+(z-10e3)*0.25, 2000), 4500)
	}
	l := errorLaw{math.NaN(), math.NaN(), 0}
	sum := 0.0
	for z := 0; z < 50e3; z++ {
		if z%1250 == 0 {
			assert.InDelta(t, sum, l.stretched(float64(z)), 1e-6, "stretched(%d m)", z)
		}
		sum += 1 / scale(float64(z)+0.5)
	}
	assert.InDelta(t, -0.25, l.stretched(-500), 1e-12)
	assert.InDelta(t, 7, errorLaw{1, 3000, 0}.stretched(21e3), 1e-12, "a scale that is given holds everywhere")
}

// Life and reach grow from the first age of the table to the last, and stay.
func TestLifeAndReach(t *testing.T) {
	for _, c := range []struct{ hours, life, reach float64 }{
		{-24, 6, 200}, {0, 6, 200}, {6, 6, 200}, {87, 9, 350}, {168, 12, 500}, {400, 12, 500},
	} {
		l := errorLaw{lead: c.hours * 3600}
		assert.InDelta(t, c.life*3600, l.life(), 1e-6, "%g h", c.hours)
		assert.InDelta(t, c.reach*1000, l.reach(), 1e-6, "%g h", c.hours)
	}
}

// ramp is a way up to a height in so many seconds at one place; the way down is
// where it ends.
func ramp(seconds float64) way {
	w := frozen(errorHeights)
	for i := range w {
		w[i].time = seconds * float64(min(i, errorHeights-1)) / (errorHeights - 1)
	}
	return w
}

// whole is the covariance between all moments of a way.
func whole(l errorLaw, w way) *mat.SymDense {
	rows := make([]int, len(w))
	for i := range rows {
		rows[i] = i
	}
	return l.covariance(w, rows)
}

// drift is the standard deviation of the displacement on a way whose errors have
// a covariance: each height counts with how long it is passed.
func drift(c mat.Symmetric, seconds []float64) float64 {
	v := mat.NewVecDense(len(seconds), seconds)
	return math.Sqrt(mat.Inner(v, c, v))
}

// trapezia are how long each of the moments of the way up counts.
func trapezia(seconds float64) []float64 {
	n := make([]float64, 2*errorHeights)
	for i := range errorHeights {
		n[i] = seconds / (errorHeights - 1)
	}
	n[0], n[errorHeights-1] = n[0]/2, n[errorHeights-1]/2
	return n
}

// The factor of time alone, with an error that is the same at all heights and
// lives 6 h: σ 2 m/s over 8471.506335 s. Source: closed form, 15904.264 m (Python).
// The trapezoidal rule over 50 steps of 0.008 lives is good to 1e-5 of it. For
// ever correlated: 16943.013 m.
func TestTimeFactorIsAnOrnsteinUhlenbeckProcess(t *testing.T) {
	const seconds = 8471.506335
	l := errorLaw{sigma: 2, scale: 1e12, lead: 0}
	assert.InEpsilon(t, 15904.264, drift(whole(l, ramp(seconds)), trapezia(seconds)), 2e-5)
	assert.InEpsilon(t, 16943.013, drift(whole(l, frozen(errorHeights)), trapezia(seconds)), 1e-6)
	// By its leading modes: none of it is lost.
	modes := windErrorModes(l, ramp(seconds))
	var c mat.SymDense
	c.SymOuterK(1, modes)
	assert.InEpsilon(t, 15904.264, drift(&c, trapezia(seconds)), 1e-4)
	l.lead = 168 * 3600
	assert.InEpsilon(t, exactDrift(2, 12*3600, seconds), drift(whole(l, ramp(seconds)), trapezia(seconds)), 2e-5, "a week ahead errors live 12 h")
}

// abroad is a way through the real winds.
func abroad(t *testing.T, s Spec) way {
	t.Helper()
	scene, _, _ := coast(t)
	s.Launch.At = geo.Point{Lat: 54.1, Lon: 8.9}
	w := s.planned(scene)
	require.Greater(t, w[0].distance(&w[len(w)/2]), 50e3, "a way that goes nowhere tells nothing")
	require.Greater(t, w[len(w)/2].time-w[0].time, 2*3600.0)
	return w
}

// Whatever the way and the law, no sum of errors has a negative variance.
func TestCovarianceIsPositive(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	ways := []way{abroad(t, spec()), frozen(40), ramp(9000)}
	for range 20 {
		w := frozen(2 + random.IntN(50))
		for i := range w {
			w[i].time = 40000 * random.Float64()
			w[i].place = fromCentre(geo.Point{Lat: 180*random.Float64() - 90, Lon: 360 * random.Float64()})
			if random.IntN(2) == 0 {
				w[i].place = fromCentre(geo.Point{Lat: 52 + random.Float64(), Lon: random.Float64()})
			}
		}
		ways = append(ways, w)
	}
	for i, w := range ways {
		for _, l := range []errorLaw{
			{math.NaN(), math.NaN(), 0}, {math.NaN(), math.NaN(), 100 * 3600}, {3, math.NaN(), 0}, {3, 1000, 0}, {math.NaN(), 50e3, 400 * 3600},
		} {
			var eigen mat.EigenSym
			require.True(t, eigen.Factorize(whole(l, w), false))
			values := eigen.Values(nil)
			assert.Greater(t, values[0], -1e-12*values[len(values)-1], "way %d, %+v", i, l)
		}
	}
}

// The covariance between two moments is what the law says of how far they lie
// apart in height, time and place, with the plain way's own values.
func TestCovarianceEntries(t *testing.T) {
	s := spec()
	s.WindError, s.WindScale, s.Lead = math.NaN(), math.NaN(), 87*3600
	w, l := abroad(t, s), s.errorLaw()
	n := len(w) / 2
	c := whole(l, w)
	for _, p := range []struct{ i, j int }{{0, 0}, {3, 12}, {5, n + 5}, {0, n}, {25, n + 10}, {n + 2, n + 20}} {
		a, b := float64(p.i%n)*1000, float64(p.j%n)*1000
		apart := math.Abs(l.stretched(a)-l.stretched(b)) + math.Abs(w[p.i].time-w[p.j].time)/(9*3600)
		d := 0.0
		for k := range 3 {
			d += (w[p.i].place[k] - w[p.j].place[k]) * (w[p.i].place[k] - w[p.j].place[k])
		}
		apart += math.Sqrt(d) / 350e3
		assert.InDelta(t, WindErrorAt(s.Lead, a)*WindErrorAt(s.Lead, b)*math.Exp(-apart), c.At(p.i, p.j), 1e-9, "%+v", p)
	}
}

// The way as planned passes each height when and where Scene.Fly does.
func TestPlannedWay(t *testing.T) {
	scene, _, s := coast(t)
	s.Delay = Normal{Centre: 600, Spread: 300}
	w := s.planned(scene)
	n := s.heights()
	require.Len(t, w, 2*n)
	assert.Equal(t, 41, n, "up to above the highest burst, at 6.2 spreads")
	for i := range n {
		z := float64(i) * 1000
		assert.InDelta(t, s.Launch.Time+600+min(z, 30e3)/5, w[i].time, 1e-3, "way up at %g m", z)
	}
	assert.Equal(t, w[30].time, w[n+30].time, "one time at the burst")
	assert.Equal(t, w[n-1], w[2*n-1], "and above it")
	assert.InDelta(t, 0, w[0].distance(&moment{place: fromCentre(s.Launch.At)}), 1e-6)
	for i := range 29 {
		assert.Greater(t, w[n+i].time, w[n+i+1].time, "later the lower")
		assert.InDelta(t, w[i].distance(&w[n+i]), w[i+1].distance(&w[n+i+1]), 30e3)
	}
	// Off the grid there is no way.
	s.Launch.At = geo.Point{Lat: 90}
	assert.Equal(t, frozen(n), s.planned(scene))
}

// The standard deviation of the drift up and down again, by the modes, against
// the covariance's own as a double integral over both ways in steps of 100 m,
// with the law evaluated there and moments linear between the heights. What the
// modes leave out and the linear interpolation between heights put in is within
// 2 %; with the same errors down as up it would be over 4 % too much.
func TestDriftUpAndDown(t *testing.T) {
	for _, c := range []struct{ lead, sigma, scale float64 }{
		{0, math.NaN(), math.NaN()},
		{7, math.NaN(), math.NaN()},
		{48, math.NaN(), math.NaN()},
		{120, math.NaN(), math.NaN()},
		{168, math.NaN(), math.NaN()},
		{24, 2, 3000},
		{24, 2, 1500},
		{24, 2, 10e3},
	} {
		s := spec()
		s.WindError, s.WindScale, s.Lead = c.sigma, c.scale, c.lead*3600
		w, l := abroad(t, s), s.errorLaw()
		n := len(w) / 2
		modes, same := windErrorModes(l, w), windErrorModes(l, frozen(n))
		for _, burst := range []float64{12e3, 30e3} {
			type piece struct {
				moment
				height, seconds float64
				row             int
			}
			var pieces []piece
			const step = 100.0
			for from := range 2 {
				for z := step / 2; z < burst; z += step {
					i := from*n + int(z/1000)
					share := z/1000 - math.Floor(z/1000)
					p := piece{height: z, row: i, seconds: step / 5}
					if from == 1 { // faster the higher
						p.seconds = step / 5 * math.Exp(-z/14e3)
					}
					p.time = w[i].time + share*(w[i+1].time-w[i].time)
					for d := range 3 {
						p.place[d] = w[i].place[d] + share*(w[i+1].place[d]-w[i].place[d])
					}
					pieces = append(pieces, p)
				}
			}
			square, drifts, alike := 0.0, make([]float64, windModes), make([]float64, windModes)
			for i := range pieces {
				a := &pieces[i]
				for j := range pieces {
					b := &pieces[j]
					apart := math.Abs(l.stretched(a.height)-l.stretched(b.height)) + math.Abs(a.time-b.time)/l.life() + a.distance(&b.moment)/l.reach()
					square += a.seconds * b.seconds * l.axis(a.height) * l.axis(b.height) * math.Exp(-apart)
				}
				share := a.height/1000 - math.Floor(a.height/1000)
				for k := range windModes {
					drifts[k] += a.seconds * (modes.At(a.row, k)*(1-share) + modes.At(a.row+1, k)*share)
					alike[k] += a.seconds * (same.At(a.row, k)*(1-share) + same.At(a.row+1, k)*share)
				}
			}
			want := math.Sqrt(square)
			t.Logf("%3g h, σ %g m/s, scale %g m, up to %g m: %.4f of the drift meant, %.0f m; %.3f if the same down as up",
				c.lead, c.sigma, c.scale, burst, length(drifts)/want, want, length(alike)/want)
			assert.InDelta(t, 1, length(drifts)/want, 0.02, "%+v, up to %g m", c, burst)
			assert.Greater(t, length(alike)/want, 1.04, "%+v, up to %g m: the same down as up", c, burst)
		}
	}
}

// Of the error's variance at each height the modes carry most, and the same on
// both ways: the doc comment of Spec.WindError says how much.
func TestModesKeepTheVariance(t *testing.T) {
	for _, c := range []struct{ scale, share, least float64 }{{math.NaN(), 0.924, 0.80}, {1000, 0.84, 0.60}, {3000, 0.927, 0.80}} {
		s := spec()
		s.WindScale = c.scale
		w := abroad(t, s)
		modes := windErrorModes(s.errorLaw(), w)
		mean := 0.0
		for h := range w {
			square := 0.0
			for k := range windModes {
				square += modes.At(h, k) * modes.At(h, k)
			}
			mean += square / float64(len(w)) / 4
			assert.Greater(t, math.Sqrt(square)/2, c.least, "scale %g: height %d", c.scale, h)
			assert.LessOrEqual(t, math.Sqrt(square)/2, 1+1e-9, "scale %g: height %d", c.scale, h)
		}
		assert.InDelta(t, c.share, math.Sqrt(mean), 0.003, "scale %g", c.scale)
	}
}
