package mission

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
)

// Bayes' rule by hand: of 40 landings in one place and 60 in another, where the first was
// looked at with a detection of 0.75, it would have been found with 0.4·0.75 = 0.3, and
// 0.4·0.25 of 0.7, one of seven, is left there.
func TestUnfound(t *testing.T) {
	here, there := geo.Point{Lat: 50, Lon: 10}, geo.Point{Lat: 50.1, Lon: 10}
	var outcomes []ensemble.Outcome
	for i := range 700 {
		o := ensemble.Outcome{End: flight.Landed, At: there}
		if i%5 < 2 {
			o.At = here
		}
		outcomes = append(outcomes, o)
	}
	found, err := unfound(outcomes, 7, []plan.Searched{{At: geo.Direct(here, 30, 90), Radius: 100, Detection: 0.75}})
	require.NoError(t, err)
	assert.InDelta(t, 0.3, found, 1e-12)
	for from := 0; from < 700; from += 100 {
		left := 0
		for _, o := range outcomes[from : from+100] {
			if o.At == here {
				left++
			}
		}
		assert.InDelta(t, 100.0/7, left, 1, "of each scramble")
	}
	_, err = unfound(outcomes, 7, []plan.Searched{{At: here, Radius: 20000, Detection: 1}})
	var fault *TrackFault
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "track.searched", fault.Field)
}

// Sides are round, and such that the cells on an area are about forty.
func TestFittingSide(t *testing.T) {
	for area, want := range map[float64]float64{1: 20, 40 * 100 * 100: 100, 1e6: 200, 5e8: 5000, 1e12: 5000, 40 * 240 * 240: 200, 40 * 260 * 260: 500} {
		assert.InDelta(t, want, fittingSide(area), 1e-6, "%g m²", area)
	}
}
