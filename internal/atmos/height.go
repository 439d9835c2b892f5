package atmos

import "math"

// WGS84 and its normal gravity: NIMA TR8350.2, 3rd edition, tables 3.1, 3.3
// and 3.4.
const (
	semiMajor   = 6378137.0         // a, m
	flattening  = 1 / 298.257223563 // f
	eccentric2  = 6.69437999014e-3  // e²
	equatorial  = 9.7803253359      // γe, gravity on the equator, m/s²
	somigliana  = 1.93185265241e-3  // k = bγp/(aγe) - 1
	centrifugal = 3.44978650684e-3  // m = ω²a²b/GM
)

// Geopotential is a height above mean sea level in geopotential metres: the
// geopotential there divided by StandardGravity, whatever the latitude. The
// levels of a forecast carry it.
type Geopotential float64

// Geometric is a height above mean sea level in metres, as a tape measures it.
// Terrain, bursts, landings and satellite fixes carry it. At 30 km it exceeds
// the geopotential height of the same place by 63 m at a pole to 222 m on the equator.
type Geometric float64

// Geometric is h in metres at a geodetic latitude in degrees. It is the
// inverse of Geometric.Geopotential, whose bounds of error hold here too.
func (h Geopotential) Geometric(lat float64) Geometric { return GravityAt(lat).Geometric(h) }

// Gravity is that of one latitude, for many heights there.
type Gravity struct{ radius, scaled float64 } // m

// GravityAt is the gravity at a geodetic latitude in degrees.
func GravityAt(lat float64) Gravity {
	gamma, radius := normalGravity(lat)
	return Gravity{radius: radius, scaled: gamma / StandardGravity * radius}
}

// Geometric is h in metres, as Geopotential.Geometric has it at the latitude.
func (g Gravity) Geometric(h Geopotential) Geometric {
	return Geometric(g.radius * float64(h) / (g.scaled - float64(h)))
}

// Geopotential is z in geopotential metres at a geodetic latitude in degrees.
// Against the exact normal potential of WGS84 the error is below 0.01 m from
// -5 to 30 km, below 0.035 m up to 50 km, and grows with the cube of the
// height. What real gravity has beyond the normal field is left out: an anomaly
// of 50 mGal, 5 parts in 100,000, would be worth 1.5 m at 30 km if it reached as
// high.
func (z Geometric) Geopotential(lat float64) Geopotential {
	gamma, radius := normalGravity(lat)
	return Geopotential(gamma / StandardGravity * radius * float64(z) / (radius + float64(z)))
}

// normalGravity is gravity on the ellipsoid (Somigliana's formula, m/s²) and
// the radius of the sphere on which it would fall off with height as it does
// there (m): to first order in height γ(z) = γ(1 - 2z/R), and R = a/(1 + f + m
// - 2f sin²φ). WMO-No. 8 has the same form with fewer digits (from memory).
func normalGravity(lat float64) (gamma, radius float64) {
	s := math.Sin(lat * math.Pi / 180)
	s2 := s * s
	gamma = equatorial * (1 + somigliana*s2) / math.Sqrt(1-eccentric2*s2)
	return gamma, semiMajor / (1 + flattening + centrifugal - 2*flattening*s2)
}
