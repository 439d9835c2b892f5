package ensemble

import (
	"math/rand/v2"
	"testing"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
)

// BenchmarkNarrow is one more fix of a flight that was seen every two minutes until it was
// half-way down: 5,120 flights, on one core.
func BenchmarkNarrow(b *testing.B) {
	scene, s := chased(b)
	s.Scrambles, s.PerScramble, s.Workers = 5, 1024, 1
	f, _ := truth(scene, s, 3)
	fixes := seenAt(f, 120, 0.8, rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		if _, err := Narrow(b.Context(), []flight.Scene{scene}, &ground.Map{}, s, fixes, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(fixes)), "fixes")
}
