package geo_test

import (
	"fmt"

	"example.org/thistledown/internal/geo"
)

func ExampleInverse() {
	site, landing := geo.Point{Lat: 40, Lon: -105}, geo.Point{Lat: 40.56, Lon: -103.39}
	metres, bearing, final := geo.Inverse(site, landing)
	fmt.Printf("%.1f km toward %.1f°, arriving toward %.1f°\n", metres/1000, bearing, final)
	// Output: 150.4 km toward 65.1°, arriving toward 66.1°
}

func ExampleDirect() {
	end := geo.Direct(geo.Point{Lat: 0.5, Lon: 179.9}, 90, 50e3) // degrees, metres
	fmt.Printf("%.4f°, %.4f°\n", end.Lat, end.Lon)
	// Output: 0.5000°, -179.6508°
}

func ExampleRingArea() {
	field := []geo.Point{{Lat: 52, Lon: 13}, {Lat: 52, Lon: 13.01}, {Lat: 52.01, Lon: 13.01}, {Lat: 52.01, Lon: 13}}
	fmt.Printf("%.1f hectares\n", geo.RingArea(field)/1e4)
	// Output: 76.4 hectares
}

func ExampleBox_Contains() {
	pacific := geo.Box{South: -10, North: 10, West: 170, East: -170}
	fmt.Println(pacific.Contains(geo.Point{Lat: 0, Lon: -175}), pacific.Contains(geo.Point{Lat: 0, Lon: 0}))
	// Output: true false
}

func ExampleGrid_Cell() {
	g := geo.Grid{NX: 144, NY: 73, Lat0: -90, Lon0: 0, DLat: 2.5, DLon: 2.5}
	c, ok := g.Cell(geo.Point{Lat: 1, Lon: -0.5}) // between the last column and the first
	fmt.Println(ok, c.SW, c.SE, c.NW, c.NE)
	fmt.Printf("%.1f of a cell east, %.1f north\n", c.X, c.Y)
	// Output:
	// true 5327 5184 5471 5328
	// 0.8 of a cell east, 0.4 north
}
