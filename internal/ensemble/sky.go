package ensemble

import (
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/wind"
)

// skyOf is what the limits of airspace need to know of a scene: flight levels lie
// where its forecast has their pressure.
func skyOf(s flight.Scene) hazard.Sky {
	return hazard.Sky{
		Start:   s.Wind.Start(),
		Terrain: s.Terrain,
		PressureAltitude: func(p geo.Point, z atmos.Geometric, t float64) (atmos.Geopotential, bool) {
			air, out := s.Wind.At(p, z, t)
			if out != wind.Inside {
				return 0, false
			}
			return atmos.PressureAltitude(air.Pressure)
		},
	}
}
