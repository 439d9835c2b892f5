package ensemble_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
)

// truths is how many truths each part is held against: THISTLEDOWN_CALIBRATE, which make
// calibrate sets.
func truths(t *testing.T) int {
	t.Helper()
	text := os.Getenv("THISTLEDOWN_CALIBRATE")
	if text == "" {
		t.Skip("left out: the calibration, which make calibrate runs")
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1000 {
		t.Fatalf("THISTLEDOWN_CALIBRATE=%q: want a number of truths, 1000 or more", text)
	}
	return n
}

// middle is the height whose wind error is taken for all heights here, m: 500 hPa.
const middle = 5600.0

// single is an invented forecast with an error that is not the ensemble's (see process), of
// the size that the tool assumes by lead time.
func single(n uint64) trial {
	o := newOccasion(1, n, 120)
	sky := o.week.Truth(0, 0)
	scene := o.scene(sky)
	sigma := ensemble.WindErrorAt(o.lead, middle)
	s := o.spec(scene, sigma, 3000)
	s.Lead = o.lead
	w := reality{occasion: o, sky: sky, extra: otherProcess(sigma, o.lead, o.r)}
	return trial{scenes: []flight.Scene{scene}, spec: s, truth: w.fly(released(s, o.r), scene.Terrain), lead: o.lead}
}

// otherProcess is an error with a size, height scale and life of its own for each truth:
// evenly within 30 % of sigma with that as their root mean square, where the ensemble draws
// log-normal sizes for each axis, 2.4 to 3.6 km where the ensemble has 3, 7 to 11 hours where
// it has 9, and within a fifth of its reach from place to place, of which the way that leads
// away from the site uses up as of time.
func otherProcess(sigma, lead float64, r *rand.Rand) *process {
	const rootMeanSquare = 1.0148891565 // of 0.7 to 1.3, evenly: √(1 + 0.3²/3)
	size := sigma * (0.7 + 0.6*r.Float64()) / rootMeanSquare
	life := 3600 * (7 + 4*r.Float64())
	p := newProcess(size, 2400+1200*r.Float64(), life, r)
	p.lag = life / ((0.8 + 0.4*r.Float64()) * (200e3 + 300e3*lead/(168*3600)))
	return p
}

func TestCalibrationOfASingleForecast(t *testing.T) {
	calibrated(t, truths(t), "A single forecast, errors of another process than the ensemble's", single)
}

// drifting is a single forecast and a truth that has drifted away from it as the invented
// week's weather does: with a correlation between heights, a size at each and a change along
// the flight that come of its waves. The ensemble has the size at the place and lead time, by
// Week.Spread, as one number for all heights, times fit.
func drifting(world uint64, fit float64) func(n uint64) trial {
	return func(n uint64) trial {
		o := newOccasion(world, n, 120)
		scene := o.scene(o.week.Truth(0, 0))
		s := o.spec(scene, fit*o.driftSize(), driftScale)
		s.Lead = o.lead
		w := reality{occasion: o, sky: o.week.Truth(1, 1)}
		return trial{scenes: []flight.Scene{scene}, spec: s, truth: w.fly(released(s, o.r), scene.Terrain), lead: o.lead}
	}
}

// driftScale is the height scale that the ensemble takes for the week's own errors, m: waves
// keep their phase over 5 to 20 km.
const driftScale = 10e3

// driftSize is the root-mean-square over heights of a truth's wind error on one axis: two
// members differ by √2 as much, as vectors by 2.
func (o occasion) driftSize() float64 {
	sum, n := 0.0, 0.0
	for z := 500.0; z < 27e3; z += 1000 {
		a, ok := atmos.Standard(atmos.Geometric(z))
		if !ok {
			panic("calibrate: no standard atmosphere below 27 km")
		}
		v := o.week.Spread(o.site.Lat, a.Pressure, o.lead) / 2
		sum, n = sum+v*v, n+1
	}
	return math.Sqrt(sum / n)
}

// fitted is the factor at which ensembles of wind error alone scatter as far as truths of the
// planned train lie from them, over weeks that are tested on nowhere else: what a logbook of
// past flights gives.
func fitted(t *testing.T, n int) float64 {
	const world = 3
	results := judgeAll(t, n, []float64{1}, func(i uint64) trial {
		c := drifting(world, 1)(i)
		s := &c.spec
		s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread, s.Delay.Spread = 0, 0, 0, 0
		s.Scrambles = 4
		o := newOccasion(world, i, 120)
		c.truth = reality{occasion: o, sky: o.week.Truth(1, 1)}.fly(planned(*s), c.scenes[0].Terrain)
		return c
	})[0]
	miss, _ := results.mean(func(r result) float64 { return r.miss })
	spread, _ := results.mean(func(r result) float64 { return r.spread })
	return math.Sqrt(miss / spread)
}

func TestCalibrationOnDriftingWeather(t *testing.T) {
	n := truths(t)
	fit := fitted(t, n/2)
	t.Logf("wind error: %.3f times the week's own, fitted on %d other weeks", fit, n/2)
	calibrated(t, n, "A single forecast, errors of the invented weather's own", drifting(2, fit))
}

// amongMembers is an ensemble forecast of some members and a truth that is one more of them,
// with the small error on top that the tool takes for a forecast with members: drawn from
// another process, as in single.
func amongMembers(members int) func(n uint64) trial {
	return func(n uint64) trial {
		o := newOccasion(4, n, 120)
		var scenes []flight.Scene
		for m := range members {
			scenes = append(scenes, o.scene(o.week.Member(m)))
		}
		sigma := ensemble.WindErrorAt(0, middle)
		s := o.spec(scenes[0], sigma, 3000)
		w := reality{occasion: o, sky: o.week.Truth(0, 1), extra: otherProcess(sigma, 0, o.r)}
		return trial{scenes: scenes, spec: s, truth: w.fly(released(s, o.r), scenes[0].Terrain), lead: o.lead}
	}
}

func TestCalibrationOfMembers(t *testing.T) {
	const members = 20
	calibrated(t, truths(t), fmt.Sprintf("A forecast of %d members", members), amongMembers(members))
}

// chased is single, but the flight was seen on its way: every two to ten minutes until 15
// to 95 % of it were gone, one fix of ten missing and one of thirty wrong, each off by what
// receivers are off by. Rates of ascent and fall vary with height by a process that is
// smooth where the tool's is rough, of the size that soundings have, about what was drawn.
func chased(n uint64) trial {
	o := newOccasion(5, n, 120)
	sky := o.week.Truth(0, 0)
	scene := o.scene(sky)
	sigma := ensemble.WindErrorAt(o.lead, middle)
	s := o.spec(scene, sigma, 3000)
	s.Lead = o.lead
	fine, broad := newProcess(0.13, 1000, 1e9, o.r), newProcess(0.06, 15e3, 1e9, o.r)
	// What the spec says is of the mean up to the burst.
	var mean [2]float64
	for z := 250.0; z < s.Burst.Centre; z += 500 {
		up, down := fine.at(z, 0)
		slowly, fast := broad.at(z, 0)
		mean[0], mean[1] = mean[0]+(up+slowly)*500/s.Burst.Centre, mean[1]+(down+fast)*500/s.Burst.Centre
	}
	var path []ensemble.Fix
	w := reality{
		occasion: o, sky: sky, extra: otherProcess(sigma, o.lead, o.r),
		rough: func(z float64, falling bool) float64 {
			up, down := fine.at(z, 0)
			slowly, fast := broad.at(z, 0)
			if falling {
				return math.Exp(down + fast - mean[1])
			}
			return math.Exp(up + slowly - mean[0])
		},
		seen: func(at geo.Point, z, t float64) {
			path = append(path, ensemble.Fix{Time: t, At: at, Height: atmos.Geometric(z)})
		},
	}
	c := trial{scenes: []flight.Scene{scene}, spec: s, truth: w.fly(released(s, o.r), scene.Terrain), lead: o.lead}
	first, every := path[0].Time, 120+480*o.r.Float64()
	gone := first + (0.15+0.8*o.r.Float64())*(path[len(path)-1].Time-first)
	for next, k := first+every, 0; k < len(path) && (path[k].Time <= gone || len(c.fixes) == 0); k++ {
		if path[k].Time < next {
			continue
		}
		next += every
		f := path[k]
		f.At = geo.Direct(geo.Direct(f.At, 90, ensemble.DefaultFixError*o.r.NormFloat64()), 0, ensemble.DefaultFixError*o.r.NormFloat64())
		f.Height += atmos.Geometric(ensemble.DefaultFixError * o.r.NormFloat64())
		switch u := o.r.Float64(); {
		case u < 1.0/30 && len(c.fixes) >= 2: // of fewer nobody can tell which is wrong
			f.At = geo.Direct(f.At, 360*o.r.Float64(), 20e3+80e3*o.r.Float64())
		case u < 4.0/30:
			continue
		}
		c.fixes = append(c.fixes, f)
	}
	return c
}

// shapeMatters bounds how far the share of truths in a region may lie from the stated one,
// beside the binomial error, where errors hang together otherwise than the tool assumes: the
// rest of a flight is not long against the heights over which they do, so that the shape of
// that counts, of which little is known.
const shapeMatters = 0.04

func TestCalibrationOfAChase(t *testing.T) {
	widths := []float64{1, 0.5, 2}
	tallies := judgeAll(t, truths(t)/2, widths, chased)
	for i, a := range tallies {
		t.Log("\n" + a.table(fmt.Sprintf("A flight under way, errors of other processes than the ensemble's, spread times %g", widths[i])))
		for k, share := range stated {
			low, high := binomial(len(a), share)
			got, slack := float64(a.hits(k)), shapeMatters*float64(len(a))
			most := float64(high) + slack
			if most >= float64(len(a)) {
				most = float64(high) // else all truths might lie inside
			}
			if in := got >= float64(low)-slack && got <= most; in != (i == 0) {
				t.Errorf("spread times %g: %.0f of %d truths in the region of %g", widths[i], got, len(a), share)
			}
		}
	}
	for i := range axes {
		better(t, tallies[0], func(r result) float64 { return r.single[i] - r.crps[i] })
	}
	better(t, tallies[0], func(r result) float64 { return r.far - r.energy })
}

// calibrated holds trials to what is stated, and narrower and wider ensembles to failing it.
func calibrated(t *testing.T, n int, title string, make func(n uint64) trial) {
	widths := []float64{1, 0.5, 2}
	tallies := judgeAll(t, n, widths, make)
	a := tallies[0]
	t.Log("\n" + a.table(title))
	coverage, uniformity := a.faults()
	assert.Empty(t, coverage, "coverage")
	assert.Empty(t, uniformity, "uniformity")
	for i := range axes {
		better(t, a, func(r result) float64 { return r.single[i] - r.crps[i] })
	}
	better(t, a, func(r result) float64 { return r.far - r.energy })
	for i, width := range widths[1:] {
		b := tallies[i+1]
		t.Log("\n" + b.table(fmt.Sprintf("%s, spread times %g, which must fail", title, width)))
		coverage, uniformity := b.faults()
		assert.Len(t, coverage, len(stated), "coverage with the spread times %g: each region must be found out", width)
		assert.NotEmpty(t, uniformity, "uniformity with the spread times %g must be found out", width)
	}
}

// better asserts that a difference in favour of the ensemble is no chance.
func better(t *testing.T, a tally, by func(r result) float64) {
	t.Helper()
	mean, sd := a.mean(by)
	assert.Greater(t, mean, 5*sd, "the ensemble's score against the planned flight's, m, and five standard errors")
}
