package grib

import (
	"fmt"
	"math"

	"github.com/nilsmagnus/grib/griblib"
)

// Earth is the sphere or ellipsoid that a projection is taken from.
type Earth struct {
	Major, Minor float64 // half axes, m; equal on a sphere
}

// eccentricity of the ellipsoid, 0 of a sphere.
func (e Earth) eccentricity() float64 {
	ratio := e.Minor / e.Major
	return math.Sqrt(1 - ratio*ratio)
}

// earth reads the shape of the Earth, octets 15–30 of a grid definition, code
// table 3.2. What is not supported goes to blame.
//
//	octets  field
//	15      shape of the Earth
//	16–20   radius of a sphere: scale factor, scaled value
//	21–25   major axis of an ellipsoid
//	26–30   minor axis
func earth(h griblib.GridHeader, blame *error) (Earth, error) {
	sphere := func(radius float64) Earth { return Earth{radius, radius} }
	var e Earth
	switch h.EarthShape {
	case 0:
		return sphere(6367470), nil
	case 1:
		e = sphere(length(h.SphericalRadius))
	case 2:
		return Earth{6378160, 6356775}, nil // IAU 1965
	case 3:
		e = Earth{1000 * length(h.MajorAxis), 1000 * length(h.MinorAxis)}
	case 4:
		return Earth{6378137, 6356752.314}, nil // IAG-GRS80
	case 5:
		return Earth{6378137, 6378137 * (1 - 1/298.257223563)}, nil // WGS84
	case 6:
		return sphere(6371229), nil
	case 7:
		e = Earth{length(h.MajorAxis), length(h.MinorAxis)}
	case 8:
		return sphere(6371200), nil
	case 9:
		return Earth{6377563.396, 6356256.909}, nil // OSGB 1936, Airy
	default:
		*blame = fmt.Errorf("shape of the Earth %d of code table 3.2 not supported", h.EarthShape)
		return Earth{}, nil
	}
	if !(e.Major >= 6.3e6 && e.Major <= 6.4e6 && e.Minor >= 6.3e6 && e.Minor <= e.Major) {
		return Earth{}, fmt.Errorf("shape of the Earth %d with half axes of %g and %g m: want 6.3e6 to 6.4e6, the minor one last", h.EarthShape, e.Major, e.Minor)
	}
	return e, nil
}

// length is a scaled value of the shape of the Earth, NaN if missing.
func length(v griblib.ScaledValue) float64 {
	return surfaceValue(griblib.Surface{Scale: v.Scale, Value: v.Value})
}
