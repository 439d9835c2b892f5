package ensemble_test

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/landing"
)

// stated is the shares of the regions that are put to the test.
var stated = []float64{0.5, 0.8, 0.95}

// axes are the directions in which the landing is scored.
const (
	east = iota
	north
	along  // the planned drift
	across // to its left
	axes
)

// result is how one trial came out.
type result struct {
	inside   [3]bool // the regions of stated
	denser   float64 // share of landings denser than the truth
	crps     [axes]float64
	single   [axes]float64 // the same of the one planned flight
	energy   float64       // m
	far      float64       // m, of the truth from the planned flight
	spread   float64       // m², mean square distance of landings from their mean
	miss     float64       // m², of the truth from that mean
	lost, of int           // flights that did not land
	lead     float64       // s
}

// offset is how far a point lies east and north of another, m.
func offset(from, to geo.Point) (x, y float64) {
	metres, bearing, _ := geo.Inverse(from, to)
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	return metres * sin, metres * cos
}

// fly flies a trial's ensemble.
func (c trial) fly() ([]ensemble.Outcome, error) {
	if c.fixes == nil {
		return ensemble.Run(context.Background(), c.scenes, &ground.Map{}, c.spec, nil)
	}
	n, err := ensemble.Narrow(context.Background(), c.scenes, &ground.Map{}, c.spec, c.fixes, nil)
	return n.Outcomes, err
}

// judge flies a trial's ensemble and holds it against the truth, with the scatter about its
// mean multiplied by each of some widths.
func judge(t *testing.T, c trial, widths []float64) []result {
	outcomes, err := c.fly()
	require.NoError(t, err)
	var points []landing.Weighted
	for _, o := range outcomes {
		if o.End == flight.Landed {
			points = append(points, landing.Weighted{At: o.At, Weight: 1})
		}
	}
	plan := c.scenes[0].Fly(planned(c.spec), nil)
	require.Equal(t, flight.Landed, plan.End)
	end := plan.Path[len(plan.Path)-1].At
	out := make([]result, len(widths))
	for i, width := range widths {
		drawn := points
		if width != 1 {
			drawn = widen(t, points, width)
		}
		out[i] = score(t, drawn, c, end)
		out[i].lost, out[i].of, out[i].lead = len(outcomes)-len(points), len(outcomes), c.lead
	}
	return out
}

// score holds landings, and where the planned flight lands, against a trial's truth.
func score(t *testing.T, points []landing.Weighted, c trial, plan geo.Point) (r result) {
	d, err := landing.Estimate(points, stated)
	require.NoError(t, err)
	for i, region := range d.Regions {
		r.inside[i] = region.Contains(c.truth)
	}
	denser, err := landing.Denser(points, []geo.Point{c.truth})
	require.NoError(t, err)
	r.denser = denser[0]
	energy, err := landing.Energy(points, c.truth)
	require.NoError(t, err)
	r.energy = energy.Plain

	dx, dy := offset(c.spec.Launch.At, plan)
	turn := func(x, y float64) [axes]float64 {
		k := 1 / math.Hypot(dx, dy)
		return [axes]float64{x, y, k * (x*dx + y*dy), k * (y*dx - x*dy)}
	}
	var values [axes][]float64
	var sum, square [2]float64
	n := float64(len(points))
	for _, p := range points {
		v := turn(offset(c.truth, p.At))
		for i := range v {
			values[i] = append(values[i], v[i])
		}
		for i := range sum {
			sum[i] += v[i] / n
			square[i] += v[i] * v[i] / n
		}
	}
	r.miss = sum[0]*sum[0] + sum[1]*sum[1]
	r.spread = (square[0] + square[1] - r.miss) * n / (n - 1)
	for i, v := range values {
		s, err := landing.CRPS(v, 0)
		require.NoError(t, err)
		r.crps[i] = s.Plain
	}
	x, y := offset(c.truth, plan)
	r.far = math.Hypot(x, y)
	for i, v := range turn(x, y) {
		r.single[i] = math.Abs(v)
	}
	return r
}

// widen moves points away from their mean, or toward it.
func widen(t *testing.T, points []landing.Weighted, width float64) []landing.Weighted {
	d, err := landing.Estimate(points, nil)
	require.NoError(t, err)
	out := make([]landing.Weighted, len(points))
	for i, p := range points {
		metres, bearing, _ := geo.Inverse(d.Mean, p.At)
		out[i] = landing.Weighted{At: geo.Direct(d.Mean, math.Mod(bearing+360, 360), width*metres), Weight: p.Weight}
	}
	return out
}

// judgeAll judges trials 0 to n-1, several at once; the answer does not depend on how many.
// It gives a tally for each width, those after the first of every fourth trial only where
// there are enough: of fewer than a hundred truths, all may lie inside a region of 95 %.
func judgeAll(t *testing.T, n int, widths []float64, make func(n uint64) trial) []tally {
	t.Helper()
	every := 4
	if n < 400 {
		every = 1
	}
	tallies := []tally{slices.Repeat(tally{{}}, n)}
	for range widths[1:] {
		tallies = append(tallies, slices.Repeat(tally{{}}, (n+every-1)/every))
	}
	var next atomic.Int64
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				some := widths
				if i%every != 0 {
					some = widths[:1]
				}
				results := judge(t, make(uint64(i)), some)
				tallies[0][i] = results[0]
				for k, r := range results[1:] {
					tallies[k+1][i/every] = r
				}
			}
		})
	}
	workers.Wait()
	return tallies
}

// tally is the results of many trials.
type tally []result

// hits is how many truths lay inside the region of a stated share.
func (a tally) hits(i int) int {
	n := 0
	for _, r := range a {
		if r.inside[i] {
			n++
		}
	}
	return n
}

// binomial is the least and the greatest number of n that a share is met by 95 times of 100.
func binomial(n int, share float64) (low, high int) {
	law := distuv.Binomial{N: float64(n), P: share}
	for law.CDF(float64(low)) < 0.025 {
		low++
	}
	for high = low; law.CDF(float64(high)) < 0.975; {
		high++
	}
	return low, high
}

// bins is how many parts the mass denser than the truth is sorted into.
const bins = 20

// uniform is chi-square of those masses over bins of even size, and how often chance alone
// makes it as large.
func (a tally) uniform() (chi2, chance float64) {
	var count [bins]float64
	for _, r := range a {
		count[min(int(bins*r.denser), bins-1)]++
	}
	want := float64(len(a)) / bins
	for _, n := range count {
		chi2 += (n - want) * (n - want) / want
	}
	return chi2, distuv.ChiSquared{K: bins - 1}.Survival(chi2)
}

// mean is the mean of a number of each result, and its standard error.
func (a tally) mean(of func(r result) float64) (mean, sd float64) {
	n, square := float64(len(a)), 0.0
	for _, r := range a {
		v := of(r)
		mean += v / n
		square += v * v / n
	}
	return mean, math.Sqrt(max(square-mean*mean, 0) / n)
}

// faults is in what a calibrated ensemble would not have come out so.
func (a tally) faults() (coverage, uniformity []string) {
	for i, share := range stated {
		low, high := binomial(len(a), share)
		if n := a.hits(i); n < low || n > high {
			coverage = append(coverage, fmt.Sprintf("%d of %d truths inside the %g %% region, want %d to %d", n, len(a), 100*share, low, high))
		}
	}
	if chi2, chance := a.uniform(); chance < 0.01 {
		uniformity = append(uniformity, fmt.Sprintf("the mass denser than the truth is not even: chi-square %.1f, p = %.2g", chi2, chance))
	}
	return coverage, uniformity
}

// table is a tally in words.
func (a tally) table(title string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d truths\n", title, len(a))
	fmt.Fprintf(&b, "  %-10s %8s %8s   %s\n", "region", "inside", "share", "95 of 100 times, if calibrated")
	for i, share := range stated {
		low, high := binomial(len(a), share)
		n, k := float64(len(a)), a.hits(i)
		verdict := ""
		if k < low || k > high {
			verdict = "   OUTSIDE"
		}
		fmt.Fprintf(&b, "  %8g %% %8d %7.2f %%   %d to %d (%.2f to %.2f %%)%s\n",
			100*share, k, 100*float64(k)/n, low, high, 100*float64(low)/n, 100*float64(high)/n, verdict)
	}
	chi2, chance := a.uniform()
	fmt.Fprintf(&b, "  mass denser than the truth, %d bins: chi-square %.1f (mean 19 if even), p = %.3g\n", bins, chi2, chance)
	square := func(of func(r result) float64) float64 { m, _ := a.mean(of); return math.Sqrt(m) / 1000 }
	fmt.Fprintf(&b, "  root mean square: landings from their mean %.2f km, truths from it %.2f km\n",
		square(func(r result) float64 { return r.spread }), square(func(r result) float64 { return r.miss }))
	fmt.Fprintf(&b, "  %-14s %10s %14s\n", "mean score, m", "ensemble", "planned flight")
	for i, name := range []string{"CRPS east", "CRPS north", "CRPS along", "CRPS across"} {
		e, _ := a.mean(func(r result) float64 { return r.crps[i] })
		s, _ := a.mean(func(r result) float64 { return r.single[i] })
		fmt.Fprintf(&b, "  %-14s %10.0f %14.0f\n", name, e, s)
	}
	e, _ := a.mean(func(r result) float64 { return r.energy })
	s, _ := a.mean(func(r result) float64 { return r.far })
	fmt.Fprintf(&b, "  %-14s %10.0f %14.0f\n", "energy", e, s)
	lost, of := 0, 0
	for _, r := range a {
		lost, of = lost+r.lost, of+r.of
	}
	fmt.Fprintf(&b, "  flights that left the forecast: %d of %d\n", lost, of)
	return b.String()
}
