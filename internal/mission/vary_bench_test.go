package mission_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/mission"
)

// BenchmarkVary is a search of 108 plans with 1,024 flights, beside flying each of
// them by itself.
func BenchmarkVary(b *testing.B) {
	w, p := shore(b), varied(b)
	p.PerScramble = 128
	p.Vary.Delays, p.Vary.Canopies = p.Vary.Delays[1:3], nil
	plans, err := mission.Variants(p)
	require.NoError(b, err)
	worlds := worldsAt(w, shoreSite)
	b.Run("search", func(b *testing.B) {
		for b.Loop() {
			found, err := mission.Vary(b.Context(), worlds, plans, mission.Options{})
			require.NoError(b, err)
			b.ReportMetric(float64(found.Fully), "in-full")
		}
	})
	b.Run("each", func(b *testing.B) {
		for b.Loop() {
			alone(b, w, plans)
		}
	})
}
