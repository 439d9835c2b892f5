package ensemble_test

import (
	"context"
	"fmt"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/wind"
)

// In an east wind of 10 m/s a flight up to 25 km and down again is carried some
// 75 km west; what share of landings is further west than that?
func Example() {
	field, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 9, NY: 5, Lat0: 50, Lon0: 10, DLat: 1, DLon: 1},
		Start: time.Date(2020, 6, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 86400}, Heights: []float64{0, 10e3, 20e3, 30e3, 40e3},
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		s.East = -10
		return s
	})
	if err != nil {
		panic(err)
	}
	scene := flight.Scene{Wind: field, Terrain: ground.Terrain{Grid: field.Grid(), Height: field.Terrain()}}
	site := geo.Point{Lat: 52, Lon: 15}
	outcomes, err := ensemble.Run(context.Background(), []flight.Scene{scene}, &ground.Map{}, ensemble.Spec{
		Launch:    flight.Release{At: site, Time: 6 * 3600},
		Ascent:    ensemble.Normal{Centre: 5, Spread: 0.4},
		Burst:     ensemble.Normal{Centre: 25e3, Spread: 1500},
		Landing:   ensemble.Normal{Centre: 5, Spread: 0.5},
		WindError: 2, WindScale: 3000,
		Scrambles: 4, PerScramble: 16, Seed: 1,
	}, nil)
	if err != nil {
		panic(err)
	}
	far := make([]bool, len(outcomes))
	for i, o := range outcomes {
		metres, _, _ := geo.Inverse(site, o.At)
		far[i] = o.End == flight.Landed && metres > 75e3
	}
	share := hazard.Share(far, 4)
	fmt.Printf("%d flights: %.2f of them, %.1f to %.1f\n", share.Of, share.Value, share.Low, share.High)
	// Output: 64 flights: 0.55 of them, 0.5 to 0.6
}
