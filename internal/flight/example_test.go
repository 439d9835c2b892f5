package flight_test

import (
	"fmt"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// A west wind of 12 m/s at every height, over a plain 300 m above mean sea
// level.
func ExampleScene_Fly() {
	grid := geo.Grid{NX: 5, NY: 3, Lat0: 46, Lon0: 8, DLat: 1, DLon: 1}
	field, err := wind.New(wind.Axes{
		Grid: grid, Start: time.Date(2020, 5, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 43200}, Heights: []float64{0, 10000, 20000, 31000},
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		air := wind.Still(z) // z in m
		air.East = 12        // m/s toward east
		return air
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	plain := ground.Terrain{Grid: grid, Height: make([]float32, grid.NX*grid.NY)}
	for k := range plain.Height {
		plain.Height[k] = 300 // m above mean sea level
	}
	scene := flight.Scene{Wind: field, Terrain: plain}
	f := scene.Fly(flight.Release{
		At: geo.Point{Lat: 47, Lon: 9}, Height: 300, // m above mean sea level
		Time:  3600,                                                 // s since the field's start
		Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 5.5}, // m/s, m, m/s
	}, nil)
	burst, end := f.Path[f.Burst], f.Path[len(f.Path)-1]
	fmt.Printf("burst at %.0f m and %.1f hPa after %.0f s\n", float64(burst.Height), burst.Pressure/100, burst.Time-3600)
	away, bearing, _ := geo.Inverse(geo.Point{Lat: 47, Lon: 9}, end.At)
	fmt.Printf("%v %.1f km away, bearing %.0f°, at %.0f m, falling at %.1f m/s\n", f.End, away/1000, bearing, float64(end.Height), f.Speed)
	// Output:
	// burst at 30000 m and 12.0 hPa after 5940 s
	// landed 100.1 km away, bearing 90°, at 300 m, falling at 5.6 m/s
}
