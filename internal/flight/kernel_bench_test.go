package flight_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
)

// drawn are releases from one site that differ as those of an ensemble do.
func drawn(n int, at geo.Point, height atmos.Geometric, start float64) []flight.Release {
	random := rand.New(rand.NewPCG(1, 2))
	// What the way down has more than the way up, from a source of its own.
	more := rand.New(rand.NewPCG(3, 5))
	releases := make([]flight.Release, n)
	for i := range releases {
		e := flight.WindError{Spacing: 1000}
		for _, values := range []*[]float64{&e.East, &e.North, &e.DownEast, &e.DownNorth} {
			*values = make([]float64, 51)
		}
		u, v := 2*random.NormFloat64(), 2*random.NormFloat64()
		for h := range e.East {
			u += 0.7*(2*random.NormFloat64()-0.3*u)*0.7 - 0.1*u
			v += 0.7*(2*random.NormFloat64()-0.3*v)*0.7 - 0.1*v
			e.East[h], e.North[h] = u, v
			e.DownEast[h], e.DownNorth[h] = 0.7*u+1.4*more.NormFloat64(), 0.7*v+1.4*more.NormFloat64()
		}
		releases[i] = flight.Release{
			At: at, Height: height, Time: start + 600 + 300*random.NormFloat64(),
			Train: balloon.Train{
				Ascent:  5 + 0.4*random.NormFloat64(),
				Burst:   atmos.Geometric(30e3 + 1500*random.NormFloat64()),
				Landing: 5 + 0.5*random.NormFloat64(),
			},
			Error: e,
		}
	}
	return releases
}

func benchScene(b *testing.B) (flight.Scene, []flight.Release) {
	b.Helper()
	return sceneOf(realwind.Field(b)), drawn(1024, geo.Point{Lat: 52.2, Lon: 9.4}, 100, 6*3600)
}

// One operation is 1,024 flights through the real forecast of 2017, what is
// made for the site not counted.
func BenchmarkKernel(b *testing.B) {
	scene, releases := benchScene(b)
	dense := flight.Scene{Wind: fine(b, scene.Wind, releases[0].At, 0.25), Terrain: scene.Terrain}
	for _, c := range []struct {
		name    string
		scene   flight.Scene
		workers int
	}{{"one", scene, 1}, {"two", scene, 2}, {"one,0.25°", dense, 1}, {"two,0.25°", dense, 2}} {
		b.Run(c.name, func(b *testing.B) {
			scene, workers := c.scene, c.workers
			var kernels []*flight.Kernel
			for range workers {
				var k flight.Kernel
				k.Prepare(scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
				kernels = append(kernels, &k)
			}
			results := make([]flight.Result, workers*len(releases))
			run := func() {
				var wait sync.WaitGroup
				for w, k := range kernels {
					wait.Go(func() { k.Fly(releases, results[w*len(releases):][:len(releases)]) })
				}
				wait.Wait()
			}
			run()
			b.ReportAllocs()
			for b.Loop() {
				run()
			}
			b.ReportMetric(float64(b.N*len(results))/b.Elapsed().Seconds(), "flights/s")
			require.Zero(b, kernels[0].Handed())
		})
	}
	b.Run("fresh", func(b *testing.B) {
		results := make([]flight.Result, len(releases))
		b.ReportAllocs()
		for b.Loop() {
			var k flight.Kernel
			k.Prepare(scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
			k.Fly(releases, results)
		}
		b.ReportMetric(float64(b.N*len(results))/b.Elapsed().Seconds(), "flights/s")
	})
	b.Run("integrator", func(b *testing.B) {
		var path []flight.Step
		i := 0
		for b.Loop() {
			path = scene.Fly(releases[i%len(releases)], path).Path
			i++
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "flights/s")
	})
}

// One operation is 2,048 flights by two kernels, of the releases that
// scripts/flight/tools.py flies with other tools: no wind error, from one site,
// on the points of a lattice. With THISTLEDOWN_LANDINGS set the converged
// landings are written to that file.
func BenchmarkAgainstTools(b *testing.B) {
	scene := sceneOf(realwind.Field(b))
	at := geo.Point{Lat: 52.2, Lon: 9.4}
	ground, ok := scene.Terrain.At(at)
	require.True(b, ok)
	const n = 1024
	releases := make([]flight.Release, n)
	for i := range releases {
		u := func(step float64) float64 { return math.Mod(float64(i)*step+0.5/n, 1) }
		releases[i] = flight.Release{
			At: at, Height: atmos.Geometric(ground), Time: 18000 + 2400*u(0.5497004779),
			Train: balloon.Train{Ascent: 4.2 + 1.6*u(1.0/n), Burst: atmos.Geometric(26e3 + 7e3*u(0.8191725134)), Landing: 4 + 2*u(0.6710436067)},
		}
	}
	var kernels [2]flight.Kernel
	var results [2][n]flight.Result
	run := func() {
		var wait sync.WaitGroup
		for w := range kernels {
			wait.Go(func() { kernels[w].Fly(releases, results[w][:]) })
		}
		wait.Wait()
	}
	for w := range kernels {
		kernels[w].Prepare(scene, flight.Site{At: at, Height: atmos.Geometric(ground)})
	}
	run()
	for b.Loop() {
		run()
	}
	b.ReportMetric(float64(b.N*2*n)/b.Elapsed().Seconds(), "flights/s")
	scene.Layer = 20
	var text strings.Builder
	var misses []float64
	var path []flight.Step
	for i, r := range releases {
		want := scene.Fly(r, path)
		path = want.Path
		miss, _, _ := geo.Inverse(last(want).At, results[0][i].At)
		misses = append(misses, miss)
		fmt.Fprintln(&text, last(want).At.Lat, last(want).At.Lon)
	}
	slices.Sort(misses)
	b.ReportMetric(misses[n*99/100], "m-at-99%")
	if file := os.Getenv("THISTLEDOWN_LANDINGS"); file != "" {
		require.NoError(b, os.WriteFile(file, []byte(text.String()), 0o600))
	}
}
