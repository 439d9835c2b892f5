package hazard

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ground"
)

// HalfWidth is that of the one thing that varies between flights, be it a
// crossing, a class, whether a class was assessed, or whether they land: its
// share's own interval, and what nothing or everything is known of adds nothing.
func TestHalfWidthOfWhatVaries(t *testing.T) {
	hit := draw(rand.New(rand.NewPCG(5, 5)), 0.3, 16, 64, 1)
	want := Share(hit, 16).HalfWidth()
	require.Greater(t, want, 0.02)
	every := ground.Set(0)
	for c := range ground.Classes() {
		every = every.With(c)
	}
	for _, c := range []struct {
		name string
		met  Met
	}{
		{"crossing", Met{Landed: true, Assessed: every, Crossed: up(2)}},
		{"class", Met{Landed: true, Assessed: every, Under: ground.Set(0).With(ground.Forest)}},
		{"not assessed", Met{Landed: true, Assessed: every &^ ground.Set(0).With(ground.Water)}},
		{"off-nominal", Met{Landed: true, Assessed: every, OffNominal: true}},
		{"not landed", Met{}},
	} {
		flights := make([]Met, len(hit))
		for i, h := range hit {
			flights[i] = Met{Landed: true, Assessed: every}
			if h {
				flights[i] = c.met
			}
		}
		got := Assess(flights, 16, Severity{}, named(2)).HalfWidth
		assert.InDelta(t, want, got, 1e-12, c.name)
	}
	// Ground that nobody looked at does not widen it, at 1 − 0.05^(1/1024) for
	// shares of none and of all.
	got := Assess(make([]Met, 1024), 16, Severity{}, empty).HalfWidth
	assert.InDelta(t, 0.5, got, 1e-12, "not one flight lands")
	for i := range hit {
		hit[i] = true
	}
	flights := make([]Met, 1024)
	for i := range flights {
		flights[i] = Met{Landed: true}
	}
	assert.InDelta(t, 0.0029212446353880095/2, Assess(flights, 16, Severity{}, empty).HalfWidth, 1e-12)
}
