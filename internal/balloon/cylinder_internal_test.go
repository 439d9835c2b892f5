package balloon

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Lemmon, Huber, Leachman, J. Res. NIST 113 (2008) 341, Table 2, seen as copies:
// all five points that the authors give to check a program.
func TestHydrogenTable(t *testing.T) {
	for _, c := range []struct{ temperature, megapascal, z float64 }{
		{200, 1, 1.00675450},
		{300, 10, 1.05985282},
		{400, 50, 1.24304763},
		{500, 200, 1.74461629},
		{200, 200, 2.85953449},
	} {
		assert.InDelta(t, c.z, hydrogenZ(c.megapascal, c.temperature), 0.6e-8, "hydrogenZ(%g, %g)", c.megapascal, c.temperature)
	}
}
