package quantity_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/quantity"
)

// The square mile is 1609.344² m² (international mile, NIST SP 811, B.8).
func TestPerArea(t *testing.T) {
	for text, want := range map[string]float64{"20 /km2": 2e-5, "20/km²": 2e-5, "50 /mi2": 50 / 2589988.110336, "0 /km2": 0} {
		got, err := quantity.PerArea(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want, got, 1e-18, text)
	}
	for _, text := range []string{"20", "20 km2", "-1 /km2", "20 /ha", ""} {
		_, err := quantity.PerArea(text)
		assert.Error(t, err, text)
	}
}
