package hazard

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
)

// circles is an OpenAir text of so many circles of 64 to 73 corners each, in rows
// one degree apart from 40° N 20° W on.
func circles(t testing.TB, n int) []*ground.Volume {
	t.Helper()
	var text []byte
	for i := range n {
		text = fmt.Appendf(text, "AC R\nAN Z%d\nAL GND\nAH FL 95\nV X=%d:30 N %d:30 E\nDC 10\n", i, 40+i/64, i%64)
	}
	v, err := ground.ReadOpenAir("circles", text)
	require.NoError(t, err)
	return v
}

// away is a flight of 80 points, 1 km of height apart, north-eastward from a
// place.
func away(lat, lon float64) []flight.Step {
	var steps [][3]float64
	for i := range 80 {
		steps = append(steps, [3]float64{lat + 0.005*float64(i), lon + 0.02*float64(i), 1000 * math.Min(float64(i), float64(79-i))})
	}
	return path(steps...)
}

// A flight that crosses nothing allocates nothing.
func TestNothingCrossedAllocatesNothing(t *testing.T) {
	m := &ground.Map{Volumes: circles(t, 200)}
	for name, p := range map[string][]flight.Step{"far off": away(10, 10), "between circles": away(40.6, 5)} {
		f := flight.Flight{Path: p}
		sky := Sky{PressureAltitude: isothermal(101325, 280)}
		require.Equal(t, Crossed{}, Meet(m, f, sky).Crossed, name)
		require.Zero(t, testing.AllocsPerRun(100, func() { Meet(m, f, sky) }), name)
	}
}

func BenchmarkMeet(b *testing.B) {
	for _, n := range []int{64, 1024, ground.MaxVolumes} {
		m := &ground.Map{Volumes: circles(b, min(n, 64*45))}
		for len(m.Volumes) < n {
			m.Volumes = append(m.Volumes, m.Volumes[:min(len(m.Volumes), n-len(m.Volumes))]...)
		}
		for name, p := range map[string][]flight.Step{"far off": away(10, 10), "through some": away(40.2, 5.02)} {
			b.Run(fmt.Sprintf("%d volumes, %s", n, name), func(b *testing.B) {
				f, sky := flight.Flight{Path: p}, Sky{PressureAltitude: isothermal(101325, 280)}
				b.ReportAllocs()
				for b.Loop() {
					Meet(m, f, sky)
				}
			})
		}
	}
}
