package ground

import (
	"fmt"

	"example.org/thistledown/internal/geo"
)

// Airport is a built-in airport. The source's names and telephone numbers are not
// kept.
type Airport struct {
	At    geo.Point // its reference point, longitude −180 to 180
	Large bool      // as its source has it; else a medium one
}

// Airports are the built-in airports within a box, large and medium ones: see
// World.Layers for what they lack.
func Airports(near geo.Box) ([]Airport, error) {
	if err := near.Check(); err != nil {
		return nil, fmt.Errorf("airports: %w", err)
	}
	points, err := decodePoints(airportsFile, windowOf(near))
	if err != nil {
		return nil, fmt.Errorf("airports: %w", err)
	}
	var all []Airport
	for _, p := range points {
		at := geo.Point{Lat: float64(p.at.y) / steps, Lon: geo.WrapLon(float64(p.at.x) / steps)}
		if near.Contains(at) { // the window is a little wider
			all = append(all, Airport{At: at, Large: p.size == airportSizeLarge})
		}
	}
	return all, nil
}
