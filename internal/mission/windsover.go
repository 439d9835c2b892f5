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
			From: from(east, north),
			Held: held,
		})
	}
	z := ground
	if east, north, ok := lowest(f, at, start); ok {
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

// lowest is the wind at 10 m; false where the forecast has none.
func lowest(f *wind.Field, at geo.Point, start float64) (east, north float64, ok bool) {
	east, outEast := f.Surface(wind.SurfaceEast, at, start)
	north, outNorth := f.Surface(wind.SurfaceNorth, at, start)
	return east, north, outEast == wind.Inside && outNorth == wind.Inside
}

// from is where a wind toward east and north blows from, degrees clockwise from
// north, 0 to 360.
func from(east, north float64) float64 {
	return math.Mod(math.Atan2(-east, -north)*180/math.Pi+360, 360)
}
