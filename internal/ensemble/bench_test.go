package ensemble

import (
	"context"
	"math"
	"testing"

	"example.org/thistledown/internal/flight"
)

// One operation is 1,024 flights through the real forecast, over the built-in
// coasts and one closed volume: all as planned, and with those that are not.
func BenchmarkRun(b *testing.B) {
	own := math.NaN()
	for _, c := range []struct {
		name         string
		chances      Chances
		sigma, scale float64
	}{{"planned", Chances{}, 2, 3000}, {"default error", Chances{}, own, own}, {"default error, off-nominal", usual(), own, own}} {
		b.Run(c.name, func(b *testing.B) {
			scene, over, s := coast(b)
			scene.Layer, s.OffNominal, s.WindError, s.WindScale = flight.Layer, c.chances, c.sigma, c.scale
			for b.Loop() {
				if _, err := Run(context.Background(), []flight.Scene{scene}, over, s, nil); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N*s.Scrambles*s.PerScramble)/b.Elapsed().Seconds(), "flights/s")
		})
	}
}

// One operation is the draws of 1,024 flights, without flying them.
func BenchmarkDraw(b *testing.B) {
	s := spec()
	draw, h := newDrawer(s, frozen(s.heights())), newHand(lanes)
	var scrambles []scramble
	for r := range s.Scrambles {
		scrambles = append(scrambles, newScramble(s.Seed, uint64(r), dimensions, 6))
	}
	b.ReportAllocs()
	for b.Loop() {
		for _, scramble := range scrambles {
			for i := range s.PerScramble {
				scramble.point(i, h.points[i%lanes][:])
				if i%lanes == lanes-1 {
					draw.draw(h, 0)
				}
			}
		}
	}
	b.ReportMetric(float64(b.N*s.Scrambles*s.PerScramble)/b.Elapsed().Seconds(), "draws/s")
}
