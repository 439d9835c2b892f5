package wind

import (
	"fmt"

	"example.org/thistledown/internal/grib"
)

// What isobaric winds and temperatures are taken to be at the most. GRIB2 has
// no checksum: a damaged file can be read without a fault and hold winds that
// never blew. The strongest winds of the stratospheric night, and the ends of
// the mesosphere's temperatures, lie inside (common practice).
const (
	maxWind        = 250.0 // m/s on each axis
	minTemperature = 120.0 // K
	maxTemperature = 370.0 // K
)

// plausible refuses a field with a value that no air has. Missing values pass.
func plausible(f *grib.Field, values []float32) error {
	q, _, _, ok := upperField(f)
	if !ok || q == height {
		return nil // heights must increase from level to level, which stack checks
	}
	low, high, unit := float32(-maxWind), float32(maxWind), "m/s"
	if q == temperature {
		low, high, unit = minTemperature, maxTemperature, "K"
	}
	for _, v := range values {
		if v < low || v > high {
			return fmt.Errorf("%v: %g %s: want %g to %g %s; the file is damaged", f, v, unit, low, high, unit)
		}
	}
	return nil
}
