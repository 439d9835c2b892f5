// Package sun is where the sun stands over a place: elevation and azimuth at a
// time, and when it rises, sets and leaves twilight on a local date. It hides
// the theory of the sun's motion and the search for crossings. Positions are
// degrees, north and east positive; times go in and come out as time.Time, and
// the clock is never asked. It knows nothing of hills, weather or flights.
package sun

import (
	"fmt"
	"math"
	"time"
)

// MaxError bounds the angle in degrees between the computed and the true
// direction of the sun from 1950 to 2050, refraction left out: theoryError, and
// 0.004 for taking UTC as UT1, which differ by up to 0.9 s. A rise or set is
// wrong by that angle over the speed at which the sun climbs or sinks,
// 15 cos φ cos δ sin H degrees an hour: 4 s for most of the inhabited Earth,
// minutes where the sun grazes the horizon. Real air bends light by some tenths
// of a degree more or less than the 34' of the convention, which is not counted.
const MaxError = 0.014

// theoryError bounds the part of MaxError that the formulas make, in degrees:
// key Meeus1998 ch. 25 says 0.01 for the low accuracy that is used here, and
// 40,000 directions of another theory agree (0.0098 at worst, 0.0035 root mean
// square). TT - UT1 held at one value adds 0.001 in 1950, 0.002 or so at the
// ends of the years that are served.
const theoryError = 0.010

// Years that are served, first and last, in UTC.
const (
	FirstYear = 1900
	LastYear  = 2100
)

// MaxHeight is the greatest height of an observer in metres.
const MaxHeight = 60e3

// meanRadius of the Earth in metres, WGS 84, key TR8350.2: (2a+b)/3.
const meanRadius = 6371008.77

// Place is where the sun is looked at from.
type Place struct {
	Lat, Lon float64 // degrees, -90 to 90 and -180 to 180
	Height   float64 // metres of the eye above the ground or sea that makes the horizon, 0 to MaxHeight; 0 for plain sunrise and sunset
}

// check refuses what is no place.
func (p Place) check() error {
	switch {
	case !(p.Lat >= -90 && p.Lat <= 90):
		return fmt.Errorf("sun: latitude %v: want -90 to 90 degrees", p.Lat)
	case !(p.Lon >= -180 && p.Lon <= 180):
		return fmt.Errorf("sun: longitude %v: want -180 to 180 degrees", p.Lon)
	case !(p.Height >= 0 && p.Height <= MaxHeight):
		return fmt.Errorf("sun: height %v above the horizon's ground: want 0 to %v m", p.Height, MaxHeight)
	}
	return nil
}

// served refuses a time that the theory is not meant for.
func served(t time.Time) error {
	if y := t.UTC().Year(); y < FirstYear || y > LastYear {
		return fmt.Errorf("sun: year %d: want %d to %d", y, FirstYear, LastYear)
	}
	return nil
}

// Position is the direction of the centre of the sun's disc, in degrees. The
// height of the place does not enter.
type Position struct {
	Elevation float64 // above the horizontal plane as if there were no air, seen from the Earth's surface, -90 to 90
	Apparent  float64 // Elevation lifted by refraction in air of 1010 hPa and 10 °C at sea level; equal to it once the disc is wholly below the horizon
	Azimuth   float64 // clockwise from north, 0 to 360; at a pole, from the meridian of the place's longitude
}

// At is the direction of the sun from a place at a time, in any zone.
func At(p Place, t time.Time) (Position, error) {
	if err := p.check(); err != nil {
		return Position{}, err
	}
	if err := served(t); err != nil {
		return Position{}, err
	}
	b := bodyAt(t)
	elevation, azimuth := b.seen(p.Lat, p.Lon)
	elevation -= parallax / b.distance * math.Cos(elevation*degree)
	lifted := elevation + refraction(elevation, 1010, 10)
	return Position{Elevation: elevation, Apparent: lifted, Azimuth: azimuth}, nil
}

// refraction is how far air of a pressure in hPa and a temperature in °C at the
// observer lifts the sun, in degrees, key Reda2008 eq. 42 (after Meeus1998 eq.
// 16.4). The elevation is that without air, in degrees; below that at which
// the upper limb is gone the result is 0.
func refraction(elevation, pressure, celsius float64) float64 {
	if elevation < -sunset {
		return 0
	}
	return pressure / 1010 * 283 / (273 + celsius) *
		1.02 / (60 * math.Tan((elevation+10.3/(elevation+5.11))*degree))
}

// dip is the angle in degrees from the horizontal plane down to the horizon of
// an eye this many metres above it, air left out. What the air does beside the
// 34' of the convention would make the sun set later still by up to 9 % of the
// dip: 3' at 30 m, 0.4 degrees at 30 km.
func dip(height float64) float64 {
	// acos(R/(R+h)) by its tangent, which keeps its digits at a small height.
	return math.Atan(math.Sqrt(height*(2*meanRadius+height))/meanRadius) / degree
}
