package grib_test

import (
	"fmt"

	"example.org/thistledown/internal/grib"
)

// The octets of a file are walked once; of the fields that are wanted the values
// are unpacked into memory that is used again.
func ExampleScan() {
	file, size := reader(plain())
	var unpacker grib.Unpacker
	var values []float32
	for f, err := range grib.Scan(file, size) {
		if err != nil {
			fmt.Println(err)
			continue
		}
		if f.Parameter() != grib.EastwardWind || f.Level.Surface != grib.Isobaric {
			continue
		}
		if values, err = unpacker.Values(f, values); err != nil {
			fmt.Println(err)
			continue
		}
		g := f.Grid
		fmt.Println(f, "from", f.Reference.Format("2 January 2006 15:04 MST"))
		for k, v := range values {
			i, j := k%g.NX, k/g.NX
			fmt.Printf("%g°N %g°E: %g m/s\n", g.Lat0+float64(j)*g.DLat, g.Lon0+float64(i)*g.DLon, v)
		}
	}
	// Output:
	// UGRD at 50000 Pa, 6h0m0s from 22 March 2017 00:00 UTC
	// 50°N 10°E: 4 m/s
	// 50°N 12°E: 5 m/s
	// 50°N 14°E: 6 m/s
	// 51°N 10°E: 1 m/s
	// 51°N 12°E: 2 m/s
	// 51°N 14°E: 3 m/s
}

// Wind along a Lambert grid (NCEP grid 211), turned to east and north at a place.
// PROJ 9.1 has the same column and row; the angle is sin 25° times the ten degrees
// to the meridian of the cone.
func ExampleGrid_Turn() {
	g := grib.Grid{
		Template: 30, NX: 93, NY: 65, Lat0: 12.19, Lon0: -133.459, AlongGrid: true,
		Cone: grib.Cone{Latin1: 25, Latin2: 25, LoV: -95, DX: 81271, DY: 81271, Earth: grib.Earth{Major: 6371229, Minor: 6371229}},
	}
	lat, lon := 40.0, -105.0 // degrees
	x, y, ok := g.Locate(lat, lon)
	fmt.Printf("column %.2f, row %.2f, on the grid: %t\n", x, y, ok)
	u, v := 20.0, 0.0 // m/s along rows and columns
	sin, cos := g.Turn(lat, lon)
	fmt.Printf("%.2f m/s toward the east, %.2f m/s toward the north\n", u*cos-v*sin, u*sin+v*cos)
	// Output:
	// column 41.14, row 31.42, on the grid: true
	// 19.95 m/s toward the east, 1.47 m/s toward the north
}

// Of a large grid a window is enough, here the northern row but for its first
// column.
func ExampleUnpacker_Window() {
	file, size := reader(plain())
	var unpacker grib.Unpacker
	for f, err := range grib.Scan(file, size) {
		if err != nil {
			fmt.Println(err)
			continue
		}
		part, err := unpacker.Window(f, grib.Window{Row: 1, Col: 1, Rows: 1, Cols: 2}, nil)
		fmt.Println(part, err)
	}
	// Output: [2 3] <nil>
}
