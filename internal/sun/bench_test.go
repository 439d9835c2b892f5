package sun_test

import (
	"testing"
	"time"

	"example.org/thistledown/internal/sun"
)

var when = time.Date(2017, time.March, 22, 12, 0, 0, 0, time.UTC)

func BenchmarkAt(b *testing.B) {
	for b.Loop() {
		if _, err := sun.At(sun.Place{Lat: 52, Lon: 13}, when); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOn(b *testing.B) {
	for b.Loop() {
		if _, err := sun.On(sun.Place{Lat: 52, Lon: 13}, when, time.UTC); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNext(b *testing.B) {
	for _, c := range []struct {
		name string
		lat  float64
	}{{"a day off", 52}, {"half a year off", 90}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := sun.Next(sun.Place{Lat: c.lat, Lon: 13}, sun.Horizon, when); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
