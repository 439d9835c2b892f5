package balloon_test

import (
	"testing"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// typical is a flight of a common size: 600 g envelope, 1.8 kg of load, helium.
func typical() balloon.Lifter {
	return balloon.Lifter{
		Envelope: balloon.Envelope{Mass: 0.6, Burst: 6, BurstSpread: 0.5},
		Filling:  balloon.Filling{Gas: balloon.LiftingGas{Helium: 0.99}, Moles: 135},
		Load:     1.8,
		Drag:     balloon.SoundingDrag(),
	}
}

func usAir(t testing.TB, bottom, top, step float64) balloon.Air {
	t.Helper()
	air, err := balloon.StandardAir(atmos.Geometric(bottom), atmos.Geometric(top), step)
	if err != nil {
		t.Fatal(err)
	}
	return air
}

func BenchmarkAscend(b *testing.B) {
	air := usAir(b, 0, 40000, 500)
	l := typical()
	steps := make([]balloon.Step, 0, len(air)+1)
	var c balloon.Climb
	b.ReportAllocs()
	for b.Loop() {
		c = l.Ascend(air, steps)
	}
	b.ReportMetric(float64(len(c.Steps)), "steps")
	b.Log(c.Ending, c.Last(), c.Mean(), c.NearGround())
}
