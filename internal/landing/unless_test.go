package landing

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
