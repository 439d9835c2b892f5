package sun

import (
	"math"
	"time"
)

const (
	degree = math.Pi / 180 // radians

	// parallax of the sun at one astronomical unit in degrees: 8.794", key Meeus1998 ch. 40.
	parallax = 8.794 / 3600

	// lag is TT - UT1 in seconds as of 2017 (68.6 to 69.4 from 2017 to 2026, from
	// memory). It was 29 in 1950 and -3 in 1900; the sun moves 0.04" in a second.
	lag = 69.0

	secondsPerDay  = 86400.0
	daysPerCentury = 36525.0
)

// body is the sun as the centre of the Earth sees it at one time.
type body struct {
	longitude   float64 // apparent, on the ecliptic of date, degrees
	obliquity   float64 // true, degrees
	ascension   float64 // apparent right ascension, degrees, -180 to 180
	declination float64 // apparent, degrees
	distance    float64 // astronomical units
	greenwich   float64 // apparent sidereal time at Greenwich, degrees, not reduced; 0 until bodyAt sets it
}

// bodyIn is the sun at a time in Julian centuries of TT from 2000-01-01 12 h,
// key Meeus1998 ch. 25, low accuracy, and ch. 22 for the mean obliquity.
func bodyIn(c float64) body {
	meanLongitude := 280.46646 + c*(36000.76983+c*0.0003032)
	anomaly := 357.52911 + c*(35999.05029-c*0.0001537)
	eccentricity := 0.016708634 - c*(0.000042037+c*0.0000001267)
	m := anomaly * degree
	centre := (1.914602-c*(0.004817+c*0.000014))*math.Sin(m) +
		(0.019993-c*0.000101)*math.Sin(2*m) + 0.000289*math.Sin(3*m)
	distance := 1.000001018 * (1 - eccentricity*eccentricity) / (1 + eccentricity*math.Cos((anomaly+centre)*degree))

	node := (125.04 - 1934.136*c) * degree // of the moon's orbit: what nutation is here
	longitude := meanLongitude + centre - 0.00569 - 0.00478*math.Sin(node)
	mean := 23 + (26+(21.448-c*(46.8150+c*(0.00059-c*0.001813)))/60)/60
	obliquity := mean + 0.00256*math.Cos(node)

	sinL, cosL := math.Sincos(longitude * degree)
	sinO, cosO := math.Sincos(obliquity * degree)
	return body{
		longitude:   longitude,
		obliquity:   obliquity,
		ascension:   math.Atan2(cosO*sinL, cosL) / degree,
		declination: math.Asin(sinO*sinL) / degree,
		distance:    distance,
	}
}

// bodyAt is the sun at a time, with the turn of the Earth, key Meeus1998 eq.
// 12.4 and the nutation in longitude that bodyIn has.
func bodyAt(t time.Time) body {
	epoch := time.Date(2000, time.January, 1, 12, 0, 0, 0, time.UTC)
	days := t.Sub(epoch).Seconds() / secondsPerDay
	b := bodyIn((days + lag/secondsPerDay) / daysPerCentury)
	c := days / daysPerCentury
	mean := 280.46061837 + 360.98564736629*days + c*c*(0.000387933-c/38710000)
	nutation := -0.00478 * math.Sin((125.04-1934.136*c)*degree)
	b.greenwich = mean + nutation*math.Cos(b.obliquity*degree)
	return b
}

// hour is the sun's hour angle at a longitude in degrees, west positive, -180
// to 180: 0 at noon.
func (b body) hour(lon float64) float64 {
	return math.Remainder(b.greenwich+lon-b.ascension, 360)
}

// seen is the elevation of the sun above the horizontal plane, without air and
// parallax, and its azimuth clockwise from north, both in degrees.
func (b body) seen(lat, lon float64) (elevation, azimuth float64) {
	sinD, cosD := math.Sincos(b.declination * degree)
	sinP, cosP := math.Sincos(lat * degree)
	sinH, cosH := math.Sincos(b.hour(lon) * degree)
	up := sinP*sinD + cosP*cosD*cosH
	north := cosP*sinD - sinP*cosD*cosH
	east := -cosD * sinH
	azimuth = math.Atan2(east, north) / degree
	if azimuth < 0 {
		azimuth += 360
	}
	return math.Atan2(up, math.Hypot(north, east)) / degree, azimuth
}
