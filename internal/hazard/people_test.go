package hazard

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/ground"
)

// Of four landings one is on built-up ground, one in water, two in the open:
// (1000 + 0 + 2·10)/4 people per km² under a circle of radius 0.25 + 0.3 m, in
// closed form. A flight that did not land has no part.
func TestPeopleHit(t *testing.T) {
	flights := []Met{
		{Landed: true, Under: set(ground.BuiltUp)}, {Landed: true, Under: set(ground.Water)}, {Landed: true}, {Landed: true, Under: set(ground.Forest)}, {},
	}
	p := People{Open: 10e-6, BuiltUp: 1000e-6, Width: 0.5}
	assert.InEpsilon(t, 255e-6*math.Pi*0.55*0.55, p.Hit(flights), 1e-12)
	assert.Zero(t, p.Hit([]Met{{}}))
	assert.Zero(t, People{Width: 0.5}.Hit(flights))
}
