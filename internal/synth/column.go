package synth

import (
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// place is a position in radians.
type place struct{ lat, lon, sin, cos float64 }

func placeAt(lat, lon float64) place {
	sin, cos := math.Sincos(lat * degree)
	return place{lat * degree, lon * degree, sin, max(cos, 0)}
}

// Column is the air above a place at a time. It is large: several Air or one
// Surface should be taken of one.
type Column struct {
	week    *Week
	lat     float64 // degrees
	sin     float64 // of it
	day     float64 // 0 in the small hours to 1 in the early afternoon
	terrain float64 // m above mean sea level, geometric
	jets    [len(jets)]struct{ potential, east float64 }
	waves   [waveCount]struct{ potential, east, north complex128 }
}

// Column is the air above p at t seconds since the start, 0 or more.
func (s *Sky) Column(p geo.Point, t float64) Column {
	w := s.week
	at := placeAt(p.Lat, p.Lon)
	c := Column{week: w, lat: p.Lat, sin: at.sin, terrain: w.terrain(at)}
	solar := w.hour + t/3600 + p.Lon/15
	c.day = (1 + math.Cos(2*math.Pi*(solar-14)/24)) / 2
	for i, j := range w.jets {
		c.jets[i].potential, c.jets[i].east = j.footprint(at, w.season)
	}
	for i, v := range w.waves {
		a := s.amplitude(i, t)
		potential, east, north := v.footprint(at, t)
		c.waves[i].potential, c.waves[i].east, c.waves[i].north = a*potential, a*east, a*north
	}
	return c
}

// level is what is the same all over a surface of pressure.
type level struct {
	pressure    float64
	potential   float64 // of the mean air, m²/s²
	temperature float64 // of the mean air, K
	jets        [len(jets)]shape
	waves       [waveCount]struct{ value, slope complex128 }
}

func (w *Week) level(pressure float64) level {
	zeta := zetaOf(pressure)
	l := level{pressure: pressure}
	l.potential, l.temperature = mean(zeta)
	for i, j := range w.jets {
		l.jets[i] = j.profile(zeta)
	}
	high, low := planetary(zeta), synoptic(zeta)
	for i, v := range w.waves {
		l.waves[i].value, l.waves[i].slope = v.profile(zeta, high, low)
	}
	return l
}

// balanced is the air on a level without friction: geostrophic, hydrostatic.
func (c *Column) balanced(l *level) Air {
	potential, warmth := l.potential, 0.0
	var east, north float64
	for i := range l.jets {
		potential += l.jets[i].value * c.jets[i].potential
		warmth += l.jets[i].slope * c.jets[i].potential
		east += l.jets[i].value * c.jets[i].east
	}
	for i := range l.waves {
		v, d, h := l.waves[i].value, l.waves[i].slope, &c.waves[i]
		potential += real(v)*real(h.potential) - imag(v)*imag(h.potential)
		warmth += real(d)*real(h.potential) - imag(d)*imag(h.potential)
		east += real(v)*real(h.east) - imag(v)*imag(h.east)
		north += real(v)*real(h.north) - imag(v)*imag(h.north)
	}
	return Air{
		East: east, North: north, Temperature: l.temperature + warmth/atmos.GasConstant,
		Pressure: l.pressure, Height: atmos.Geopotential(potential / atmos.StandardGravity),
	}
}

// on is the air on a level with friction.
func (c *Column) on(l *level) Air {
	return c.slowed(c.balanced(l))
}

// At is the air at a pressure in Pa, above 0; from 1100 to 1 hPa it is
// plausible. Under the ground it is what would be there if there were air.
func (c *Column) At(pressure float64) Air {
	l := c.week.level(pressure)
	return c.on(&l)
}

// AtHeight is the air at a geometric height above mean sea level in m, to a
// centimetre. From -0.5 to 48 km it is plausible.
func (c *Column) AtHeight(z atmos.Geometric) Air {
	const (
		enough = 0.01 // m
		rounds = 12   // where a profile is as bent as can be, 5 do
	)
	wanted := float64(z.Geopotential(c.lat))
	zeta := wanted / scaleHeight
	for range rounds { // Newton's, on the mean air alone
		potential, temperature := mean(zeta)
		step := (wanted*atmos.StandardGravity - potential) / (atmos.GasConstant * temperature)
		zeta += step
		if math.Abs(step) < 1e-3 {
			break
		}
	}
	var air Air
	for range rounds {
		l := c.week.level(pressureAt(zeta))
		air = c.balanced(&l)
		miss := wanted - float64(air.Height)
		if math.Abs(miss) < enough {
			break
		}
		zeta += miss * atmos.StandardGravity / (atmos.GasConstant * air.Temperature)
	}
	return c.slowed(air)
}
