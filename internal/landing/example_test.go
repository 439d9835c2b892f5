package landing_test

import (
	"fmt"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/landing"
)

// Two hundred landings on 34 km² along a valley, more of them in its middle.
func ExampleEstimate() {
	points := make([]landing.Weighted, 0, 200)
	for i := range 200 {
		along, across := float64(i%20)-9.5, float64(i/20)-4.5
		at := geo.Point{Lat: 47.2 + 0.002*across, Lon: 11.4 + 0.01*along}
		weight := 100 - along*along + 20 - across*across // more in the middle
		points = append(points, landing.Weighted{At: at, Weight: weight})
	}
	d, err := landing.Estimate(points, []float64{0.8})
	if err != nil {
		fmt.Println(err)
		return
	}
	r := d.Regions[0]
	fmt.Printf("most likely near %.1f, %.1f; %.0f %% in less than 34 km²: %t\n",
		d.MostLikely.Lat, d.MostLikely.Lon, 100*r.Share, r.Area < 34e6)
	fmt.Println(r.Contains(geo.Point{Lat: 47.2, Lon: 11.4}), r.Contains(geo.Point{Lat: 47.3, Lon: 11.4}))
	_, err = landing.Estimate([]landing.Weighted{{At: geo.Point{Lat: 95}, Weight: 1}}, nil)
	fmt.Println(err)
	// Output:
	// most likely near 47.2, 11.4; 80 % in less than 34 km²: true
	// true false
	// landing point 0: latitude 95: want -90 to 90
}
