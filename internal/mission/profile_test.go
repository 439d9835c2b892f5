package mission

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// The central path of a weighed train rises as its climb does, level by level.
func TestProfileIsTheClimb(t *testing.T) {
	var none *trained
	assert.Empty(t, none.profile().Rate, "a plan that gives the rate itself")
	weighed := &trained{climb: balloon.Climb{Steps: []balloon.Step{
		{Height: 100, Speed: 4}, {Height: 10000, Time: 2200, Speed: 5}, {Height: 20100, Time: 4000, Speed: 6.5},
	}}}
	p := weighed.profile()
	for z := 250.0; z <= 20000; z += 250 {
		want, _, ok := weighed.climb.At(atmos.Geometric(z))
		assert.True(t, ok)
		assert.InDelta(t, want, p.At(z), 1e-9, "rate at %g m", z)
	}
	assert.Equal(t, 4.0, p.At(-100), "below the release it is that of the release")
	assert.Equal(t, 6.5, p.At(25000))
}
