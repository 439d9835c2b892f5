package grib_test

import (
	"fmt"

	"example.org/thistledown/internal/grib"
)

// The octets of a file are walked once; of the fields that are wanted the values
// are unpacked into memory that is used again.
func ExampleScan() {
	file, size := reader(plain())
	var values []float32
	for f, err := range grib.Scan(file, size) {
		if err != nil {
			fmt.Println(err)
			continue
		}
		if f.Parameter() != grib.EastwardWind || f.Level.Surface != grib.Isobaric {
			continue
		}
		if values, err = f.Values(values); err != nil {
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
