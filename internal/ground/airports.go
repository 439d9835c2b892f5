package ground

import (
	_ "embed" // for the names
	"fmt"
	"strings"

	"example.org/thistledown/internal/geo"
)

// airportNames are a line for each airport, in the order of the airports file: its
// code and its name, parted by a tab.
//
//go:embed airport_names.txt
var airportNames string

// Airport is a built-in airport, as OurAirports has it (public domain).
type Airport struct {
	// Code is the source's own: the location indicator (ICAO) where there is one, or
	// else that of a country.
	Code, Name string
	At         geo.Point // its reference point, longitude −180 to 180
	Large      bool      // else a medium one
}

// Airports are the built-in airports within a box, large and medium ones: see
// World.Layers for what they lack. Telephone numbers are not among what is known.
func Airports(near geo.Box) ([]Airport, error) {
	if err := near.Check(); err != nil {
		return nil, fmt.Errorf("airports: %w", err)
	}
	return airportsIn(near, airportsFile, airportNames)
}

// airportsIn are those of an airports file and its names.
func airportsIn(near geo.Box, file []byte, names string) ([]Airport, error) {
	everywhere := windowOf(geo.Box{South: -90, North: 90, West: -180, East: 180})
	points, err := decodePoints(file, everywhere)
	if err != nil {
		return nil, fmt.Errorf("airports: %w", err)
	}
	lines := strings.Split(strings.TrimSuffix(names, "\n"), "\n")
	if len(lines) != len(points) {
		return nil, fmt.Errorf("airports: %d names: want %d, as many as there are airports", len(lines), len(points))
	}
	var all []Airport
	for i, p := range points {
		at := geo.Point{Lat: float64(p.at.y) / steps, Lon: geo.WrapLon(float64(p.at.x) / steps)}
		if !near.Contains(at) {
			continue
		}
		code, name, ok := strings.Cut(lines[i], "\t")
		if !ok || code == "" || name == "" {
			return nil, fmt.Errorf("airports: line %d of the names: want a code, a tab and a name", i+1)
		}
		all = append(all, Airport{Code: code, Name: name, At: at, Large: p.size == airportSizeLarge})
	}
	return all, nil
}
