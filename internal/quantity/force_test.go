package quantity_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/quantity"
)

// NIST SP 811 (2008), B.8: square inch 6.4516 E−04 m², square foot 9.290 304 E−02
// m², pound-force 4.448 222 E+00 N (rounded there).
func TestAreaAndForce(t *testing.T) {
	for _, test := range []struct {
		text string
		read func(string) (float64, error)
		want float64
		off  float64 // of the source's rounding, in SI
	}{
		{"1 in2", quantity.Area, 6.4516e-4, 0},
		{"24 sq in", quantity.Area, 24 * 6.4516e-4, 1e-18},
		{"1 ft²", quantity.Area, 9.290304e-2, 0},
		{"240 cm2", quantity.Area, 0.0240, 0},
		{"50 mm2", quantity.Area, 50e-6, 0},
		{"1 lbf", quantity.Force, 4.448222, 5e-7},
		{"230 N", quantity.Force, 230, 0},
		{"0.05 kN", quantity.Force, 50, 0},
	} {
		got, err := test.read(test.text)
		require.NoError(t, err, test.text)
		assert.InDelta(t, test.want, got, test.off, test.text)
	}
	for _, bad := range []string{"", "50", "50 lb", "5 kg", "-1 N", "50 N ± 5 N"} {
		_, err := quantity.Force(bad)
		require.Error(t, err, bad)
	}
	for _, bad := range []string{"", "24", "24 in", "-1 cm2"} {
		_, err := quantity.Area(bad)
		require.Error(t, err, bad)
	}
}
