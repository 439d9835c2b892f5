package wind

import (
	"fmt"

	"example.org/thistledown/internal/atmos"
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
	if !ok {
		return nil
	}
	low, high, unit := float32(-maxWind), float32(maxWind), "m/s"
	if q == temperature {
		low, high, unit = minTemperature, maxTemperature, "K"
	}
	if q == height {
		middle, known := standardHeight(f.Level.Value)
		if !known {
			return nil // that they increase from level to level is checked when columns are made
		}
		low, high, unit = float32(middle-2000-0.1*middle), float32(middle+2000+0.1*middle), "m"
	}
	for _, v := range values {
		if v < low || v > high {
			return fmt.Errorf("%v: %g %s: want %g to %g %s; the file is damaged", f, v, unit, low, high, unit)
		}
	}
	return nil
}

// standardHeight is the height of a pressure, Pa, in the U.S. Standard Atmosphere
// 1976, m, to some metres; false beyond it. The heights of weather lie within 2 km
// and a tenth of it (common practice).
func standardHeight(pressure float64) (metres float64, ok bool) {
	low, high := 0.0, 80e3
	top, _ := atmos.Standard(atmos.Geometric(high))
	bottom, _ := atmos.Standard(0)
	if pressure > bottom.Pressure {
		return 0, true
	}
	if pressure < top.Pressure {
		return 0, false
	}
	for range 40 {
		middle := (low + high) / 2
		air, _ := atmos.Standard(atmos.Geometric(middle))
		if air.Pressure > pressure {
			low = middle
		} else {
			high = middle
		}
	}
	return low, true
}
