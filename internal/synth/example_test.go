package synth_test

import (
	"bytes"
	"fmt"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/synth"
)

func ExampleWeek() {
	week := synth.New(7, time.Date(2026, 3, 22, 0, 0, 0, 0, time.UTC))
	place := geo.Point{Lat: 50, Lon: 10}
	const lead = 120 * 3600 // s
	for _, sky := range []*synth.Sky{week.Member(0), week.Member(1), week.Truth(0, 1)} {
		c := sky.Column(place, lead)
		a := c.AtHeight(10000) // m
		fmt.Printf("toward east %.0f m/s, north %.0f m/s; %.0f K, %.0f hPa\n", a.East, a.North, a.Temperature, a.Pressure/100)
	}
	fmt.Printf("two members differ by %.0f m/s\n", week.Spread(50, 26500, lead))
	// Output:
	// toward east 8 m/s, north -8 m/s; 216 K, 261 hPa
	// toward east 33 m/s, north -10 m/s; 218 K, 259 hPa
	// toward east 17 m/s, north -1 m/s; 215 K, 256 hPa
	// two members differ by 13 m/s
}

func ExampleForecast() {
	f := synth.Forecast{
		Seed: 7, Start: time.Date(2026, 3, 22, 0, 0, 0, 0, time.UTC),
		Box: geo.Box{South: 44, North: 46, West: 7, East: 9}, Spacing: 0.5, Hours: 168, Every: 3,
	}
	if err := f.Check(); err != nil {
		fmt.Println(err)
		return
	}
	var file bytes.Buffer
	if err := f.WriteStep(&file, 0); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(f.Steps(), "steps; the first begins with", string(file.Bytes()[:4]))
	// Output: 57 steps; the first begins with GRIB
}
