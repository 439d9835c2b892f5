package ground_test

import (
	"fmt"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// An invented wood on an island: one layer that someone made for a box of half a
// degree, and the coast and lakes that are built in.
func Example() {
	water, err := ground.BuiltInWater()
	if err != nil {
		fmt.Println(err)
		return
	}
	wood, err := ground.ReadLayer(
		ground.LayerSource{Name: "wood", Class: ground.Forest, Covers: []geo.Box{{South: 54, West: -5, North: 54.5, East: -4.3}}},
		[]byte(`{"type":"Polygon","coordinates":[[[-4.6,54.2],[-4.5,54.2],[-4.5,54.3],[-4.6,54.2]]]}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	m := ground.Map{Layers: []*ground.Layer{water, wood}}
	when := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	for _, p := range []geo.Point{{Lat: 54.22, Lon: -4.52}, {Lat: 54.4, Lon: -4.95}, {Lat: 53.7, Lon: -4.8}} {
		found := m.At(p, when)
		fmt.Printf("%.2f %.2f:", p.Lat, p.Lon)
		for c := range ground.Classes() {
			switch {
			case found.Under.Has(c):
				fmt.Printf(" %v yes", c)
			case found.Assessed.Has(c):
				fmt.Printf(" %v no", c)
			}
		}
		fmt.Println()
	}
	// Output:
	// 54.22 -4.52: water no forest yes
	// 54.40 -4.95: water yes forest no
	// 53.70 -4.80: water yes
}
