package ensemble

import (
	"context"
	"testing"

	"example.org/thistledown/internal/flight"
)

// One operation is 1,024 flights through the real forecast, over the built-in
// coasts and one closed volume.
func BenchmarkRun(b *testing.B) {
	scene, over, s := coast(b)
	scene.Layer = flight.Layer
	for b.Loop() {
		if _, err := Run(context.Background(), []flight.Scene{scene}, over, s, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*s.Scrambles*s.PerScramble)/b.Elapsed().Seconds(), "flights/s")
}

// One operation is the draws of 1,024 flights, without flying them.
func BenchmarkDraw(b *testing.B) {
	s := spec()
	for b.Loop() {
		draw, u := newDrawer(s), make([]float64, dimensions)
		for r := range s.Scrambles {
			scramble := newScramble(s.Seed, uint64(r), dimensions, 6)
			for i := range s.PerScramble {
				scramble.point(i, u)
				draw.release(u)
			}
		}
	}
}
