//go:build goexperiment.simd && amd64

package flight_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
)

// The kernel with vectors and without, turn about on one core, each at its
// quickest: on a busy machine the mean tells nothing. One operation is 1,024
// flights by each.
func BenchmarkKernelTogether(b *testing.B) {
	scene, releases := sceneOf(realwind.Field(b)), drawn(1024, geo.Point{Lat: 52.2, Lon: 9.4}, 100, 6*3600)
	dense := flight.Scene{Wind: fine(b, scene.Wind, releases[0].At, 0.25), Terrain: scene.Terrain}
	for _, c := range []struct {
		name  string
		scene flight.Scene
	}{{"2.5°", scene}, {"0.25°", dense}} {
		b.Run(c.name, func(b *testing.B) {
			var kernels [2]flight.Kernel // plain, together
			flight.Plainly(&kernels[0])
			results := make([]flight.Result, len(releases))
			for i := range kernels {
				kernels[i].Prepare(c.scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
				kernels[i].Fly(releases, results)
			}
			least := [2]float64{math.Inf(1), math.Inf(1)}
			for b.Loop() {
				for i := range kernels {
					from := time.Now()
					kernels[i].Fly(releases, results)
					least[i] = min(least[i], time.Since(from).Seconds())
				}
			}
			b.ReportMetric(float64(len(releases))/least[0], "plain-flights/s")
			b.ReportMetric(float64(len(releases))/least[1], "together-flights/s")
			b.ReportMetric(least[0]/least[1], "times-plain")
		})
	}
}

// A kernel with vectors lands within 1 m of one without, and ends as it does,
// whatever becomes of the flights.
func TestKernelTogetherAsPlain(t *testing.T) {
	coarse := realwind.Field(t)
	at := geo.Point{Lat: 34.7, Lon: 138.2}
	dense := flight.Scene{Wind: fine(t, coarse, at, 0.25), Terrain: sceneOf(coarse).Terrain}
	profiles := drawn(300, at, 50, 4*3600)
	for i := range profiles {
		if i%3 > 0 {
			profiles[i].Profile = flight.Profile{Spacing: 2000, Rate: []float64{5, 4.5, 6 + float64(i%7)/10, 5.5}}
		}
	}
	type set struct {
		scene    flight.Scene
		releases []flight.Release
	}
	sets := []set{
		{sceneOf(coarse), drawn(700, at, 50, 4*3600)},
		{sceneOf(coarse), drawn(300, geo.Point{Lat: 52.2, Lon: 9.4}, 100, 6*3600)},
		{dense, drawn(700, at, 50, 4*3600)},
		{dense, profiles},
	}
	random := rand.New(rand.NewPCG(11, 12))
	for n := range 30 {
		scene, releases := rare(t, random, n%3 == 0)
		sets = append(sets, set{scene, releases})
	}
	worst, landed, others := 0.0, 0, 0
	for n, s := range sets {
		var plain, together flight.Kernel
		flight.Plainly(&plain)
		site := flight.Site{At: s.releases[0].At, Height: s.releases[0].Height}
		plain.Prepare(s.scene, site)
		together.Prepare(s.scene, site)
		require.False(t, flight.Together(&plain))
		if !flight.Together(&together) {
			t.Skip("left out: the processor has no AVX2 with FMA")
		}
		want, got := make([]flight.Result, len(s.releases)), make([]flight.Result, len(s.releases))
		plain.Fly(s.releases, want)
		together.Fly(s.releases, got)
		assert.Equal(t, plain.Handed(), together.Handed(), "set %d: flights handed on", n)
		for i := range want {
			require.Equal(t, want[i].End, got[i].End, "set %d, flight %d: end", n, i)
			require.Equal(t, want[i].Held, got[i].Held, "set %d, flight %d: held", n, i)
			assert.InDelta(t, want[i].Time, got[i].Time, 0.1, "set %d, flight %d: time", n, i)
			miss, _, _ := geo.Inverse(want[i].At, got[i].At)
			assert.Less(t, miss, 1.0, "set %d, flight %d: place", n, i)
			worst = max(worst, miss)
			if got[i].End == flight.Landed {
				landed++
			} else {
				others++
			}
		}
	}
	t.Logf("%d landed, %d ended otherwise, worst %.3f m apart", landed, others, worst)
	assert.Greater(t, landed, 1500)
	assert.Greater(t, others, 200)
	assert.Positive(t, worst, "the kernels are one")
}
