package cube_test

import (
	"bytes"
	"fmt"
	"time"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// A cube is written band by band and read by windows.
func Example() {
	axes := cube.Axes{
		Centre:  7,
		Cycle:   time.Date(2026, 3, 14, 6, 0, 0, 0, time.UTC),
		Grid:    geo.Grid{NX: 4, NY: 3, Lat0: 47, Lon0: 8, DLat: 0.25, DLon: 0.25},
		Levels:  []float64{85000, 50000}, // Pa
		Steps:   []time.Duration{0, 3 * time.Hour},
		Members: []cube.Member{{Kind: cube.Single}},
	}
	var file bytes.Buffer
	w, err := cube.NewWriter(&file, axes)
	if err != nil {
		fmt.Println(err)
		return
	}
	for step := range axes.Steps {
		band := make([][]float32, axes.Planes()) // nil planes are missing
		band[axes.Plane(cube.East, 1)] = []float32{10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21}
		if err := w.Band(0, step, 0, band); err != nil {
			fmt.Println(err)
			return
		}
	}
	if err := w.Close(); err != nil {
		fmt.Println(err)
		return
	}

	c, err := cube.Open(bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil {
		fmt.Println(err)
		return
	}
	part := cube.Part{
		Window: cube.Window{Row: 1, Col: 2, Rows: 2, Cols: 2},
		Planes: make([][]float32, axes.Planes()),
	}
	east := make([]float32, 4)
	part.Planes[axes.Plane(cube.East, 1)] = east
	if err := c.Read(0, 1, &part); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f m/s at %g Pa, %v after %s\n", east, c.Axes().Levels[1], c.Axes().Steps[1], c.Axes().Cycle.Format(time.RFC3339))
	// Output: [16.000 17.000 20.000 21.000] m/s at 50000 Pa, 3h0m0s after 2026-03-14T06:00:00Z
}
