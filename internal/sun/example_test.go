package sun_test

import (
	"fmt"
	"time"

	"example.org/thistledown/internal/sun"
)

// When it gets dark at a place on a local date, and how long a landing at
// 16:40 is before that.
func ExampleOn() {
	zone := time.FixedZone("", -7*3600)
	site := sun.Place{Lat: 39, Lon: -105}
	landing := time.Date(2015, time.January, 2, 16, 40, 0, 0, zone)
	day, err := sun.On(site, landing, zone)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, level := range []sun.Level{sun.Horizon, sun.Civil} {
		span := day.Levels[level]
		fmt.Println(level, span.State, span.Rises[0].Format("15:04"), span.Sets[0].Format("15:04"))
	}
	next, err := sun.Next(site, sun.Horizon, landing)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("rises next:", next.Up, "in", next.Time.Sub(landing).Round(time.Minute))
	// Output:
	// horizon crosses 07:19 16:49
	// civil twilight crosses 06:49 17:19
	// rises next: false in 9m0s
}

// How high the sun stands, and where.
func ExampleAt() {
	when := time.Date(2003, time.October, 17, 19, 30, 30, 0, time.UTC)
	p, err := sun.At(sun.Place{Lat: 39.742476, Lon: -105.1786}, when)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f degrees high, bearing %.1f\n", p.Elevation, p.Azimuth)
	// Output:
	// 39.87 degrees high, bearing 194.3
}
