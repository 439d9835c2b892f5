package flight_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
)

// flyOne flies one release with a kernel of its own.
func flyOne(t testing.TB, scene flight.Scene, r flight.Release) (flight.Result, int) {
	t.Helper()
	var k flight.Kernel
	k.Prepare(scene, flight.Site{At: r.At, Height: r.Height})
	results := make([]flight.Result, 1)
	k.Fly([]flight.Release{r}, results)
	return results[0], k.Handed()
}

func TestKernelAgainstAnIndependentIntegration(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	var misses []float64
	handed := 0
	for _, l := range readLaunches(t) {
		got, n := flyOne(t, scene, l.release)
		handed += n
		require.Equal(t, flight.Landed, got.End, "%s: %+v", l.id, l.release)
		miss, _, _ := geo.Inverse(l.landing, got.At)
		misses = append(misses, miss)
		if miss > 5 {
			t.Logf("%s miss %.1f m, time %.2f s, handed %d; %+v", l.id, miss, got.Time-l.time, n, l.release)
		}
	}
	slices.Sort(misses)
	t.Logf("%d launches, %d handed: miss 50 %% %.2f m, 90 %% %.2f, 99 %% %.2f m, worst %.2f m", len(misses), handed, misses[len(misses)/2], misses[len(misses)*9/10], misses[len(misses)*99/100], misses[len(misses)-1])
	assert.False(t, math.IsNaN(misses[0]))
}
