package landing

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// TestEstimateGivesUp: wherever it asks whether to go on it can be stopped, and where
// it is not it is Estimate.
func TestEstimateGivesUp(t *testing.T) {
	points := circular.land(site, even(4096, 0.3))
	want, err := Estimate(points, standard)
	require.NoError(t, err)
	asked := 0
	got, err := EstimateUnless(points, standard, func() error { asked++; return nil })
	require.NoError(t, err)
	assert.Equal(t, want, got)
	assert.Equal(t, 5+1+len(standard), asked, "in five steps of putting the points together, before the few distances and before each region")
	stop := errors.New("stopped")
	for k := range asked {
		times := 0
		_, err := EstimateUnless(points, standard, func() error {
			if times++; times > k {
				return stop
			}
			return nil
		})
		require.ErrorIs(t, err, stop)
		require.Equal(t, k+1, times, "nothing is asked after the answer")
	}
}

// TestRadiusGivesUp: of landings that are all as far away all are measured, and after each
// 1,024 of them it is asked whether to go on.
func TestRadiusGivesUp(t *testing.T) {
	points := make([]Weighted, 4096)
	for i := range points {
		points[i] = Weighted{geo.Direct(site, 360*float64(i)/float64(len(points)), 4000), 1}
	}
	s, err := gather(points, never)
	require.NoError(t, err)
	asked := 0
	got, err := radius(s, site, 0.95, func() error { asked++; return nil })
	require.NoError(t, err)
	assert.InDelta(t, 4000, got, 1e-3)
	assert.Equal(t, 4, asked)
	stop := errors.New("stopped")
	for k := range asked {
		times := 0
		_, err := radius(s, site, 0.95, func() error {
			if times++; times > k {
				return stop
			}
			return nil
		})
		require.ErrorIs(t, err, stop)
		require.Equal(t, k+1, times)
	}
}
