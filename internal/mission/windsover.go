package mission

import (
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// windsStep is the height between two heights at which the wind is told, m, and
// windsTop how far up it goes at most, m above mean sea level.
const (
	windsStep = 500.0
	windsTop  = 45e3
)

// windsOver is the forecast's wind over a place at a time, s since the field's
// start, from the ground at the given height to a top at every windsStep in
// between; it ends early where the forecast does. The first point is the wind at
// 10 m where the forecast has one.
func windsOver(f *wind.Field, at geo.Point, start, ground, top float64) []report.WindAt {
	top = min(top, windsTop)
	var all []report.WindAt
	add := func(height, east, north float64, held bool) {
		all = append(all, report.WindAt{
			Height: height, Speed: math.Hypot(east, north),
			From: math.Mod(math.Atan2(-east, -north)*180/math.Pi+360, 360),
			Held: held,
		})
	}
	z := ground
	east, outEast := f.Surface(wind.SurfaceEast, at, start)
	north, outNorth := f.Surface(wind.SurfaceNorth, at, start)
	if outEast == wind.Inside && outNorth == wind.Inside {
		add(ground+10, east, north, false)
		z = windsStep * (math.Floor((ground+10)/windsStep) + 1)
	}
	for z <= top {
		s, out := f.At(at, atmos.Geometric(z), start)
		if out != wind.Inside {
			break
		}
		add(z, s.East, s.North, s.Held)
		next := windsStep * (math.Floor(z/windsStep) + 1)
		if next > top && z < top {
			next = top
		}
		z = next
	}
	return all
}
