package ensemble_test

import (
	"fmt"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
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
	if err != nil || n < 100 {
		t.Fatalf("THISTLEDOWN_CALIBRATE=%q: want a number of truths, 100 or more", text)
	}
	return n
}

// single is an invented forecast with an error that is not the ensemble's (see process):
// of the size that the tool assumes by lead time, but of another shape, with a size, height
// scale and life of its own for each truth.
func single(n uint64) trial {
	o := newOccasion(1, n, 120)
	sky := o.week.Truth(0, 0)
	scene := o.scene(sky)
	sigma := ensemble.WindErrorAt(o.lead)
	s := o.spec(scene, sigma, 3000)
	r := o.r
	size := sigma * (0.8 + 0.4*r.Float64()) / 1.00664 // divided by the root mean square
	error := newProcess(size, 2000+2000*r.Float64(), 3600*(12+36*r.Float64()), r)
	w := reality{o, sky, error}
	return trial{[]flight.Scene{scene}, s, w.fly(released(s, r), scene.Terrain), o.lead}
}

func TestCalibrationOfASingleForecast(t *testing.T) {
	calibrated(t, truths(t), "a single forecast", single)
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
