package report

import (
	"cmp"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// cut cuts a line where it goes over the meridian of 180 degrees, so that no piece
// does (RFC 7946, section 3.1.9): each goes on at the other side with the point in
// which it crossed. A line of less than two points is none.
func cut(points []PathPoint) [][]PathPoint {
	if len(points) < 2 {
		return nil
	}
	pieces := [][]PathPoint{{points[0]}}
	for i, b := range points[1:] {
		a, last := points[i], len(pieces)-1
		if math.Abs(b.At.Lon-a.At.Lon) <= 180 {
			pieces[last] = append(pieces[last], b)
			continue
		}
		end, start := crossing(a, b)
		if end.At != a.At {
			pieces[last] = append(pieces[last], end)
		}
		next := []PathPoint{start}
		if start.At != b.At {
			next = append(next, b)
		}
		pieces = append(pieces, next)
	}
	return slices.DeleteFunc(pieces, func(p []PathPoint) bool { return len(p) < 2 })
}

// crossing is where and when the short way from a to b meets the meridian of 180
// degrees, on a's side of it and on b's.
func crossing(a, b PathPoint) (end, start PathPoint) {
	east := geo.WrapLon(b.At.Lon - a.At.Lon)
	side := math.Copysign(180, east)
	f := (side - a.At.Lon) / east
	end = PathPoint{
		Time:   a.Time.Add(time.Duration(f * float64(b.Time.Sub(a.Time)))),
		At:     geo.Point{Lat: a.At.Lat + f*(b.At.Lat-a.At.Lat), Lon: side},
		Height: a.Height + f*(b.Height-a.Height),
	}
	start = end
	start.At.Lon = -side
	return end, start
}

// span is a range of longitudes, west not above east.
type span struct{ west, east float64 }

// bounds is the smallest box around things: west, south, east, north. It goes over
// the date line, west above east, where that makes it smaller (RFC 7946, section
// 5.2).
type bounds struct {
	spans        []span
	south, north float64
}

// add takes in a line or ring that does not go over the date line.
func (b *bounds) add(line ...orb.Point) {
	if len(line) == 0 {
		return
	}
	s := span{line[0][0], line[0][0]}
	if len(b.spans) == 0 {
		b.south, b.north = line[0][1], line[0][1]
	}
	for _, p := range line {
		s.west, s.east = min(s.west, p[0]), max(s.east, p[0])
		b.south, b.north = min(b.south, p[1]), max(b.north, p[1])
	}
	b.spans = append(b.spans, s)
}

// box is the box around all that was added, which must be something. It leaves out
// the widest gap between longitudes.
func (b *bounds) box() [4]float64 {
	slices.SortFunc(b.spans, func(s, t span) int { return cmp.Compare(s.west, t.west) })
	reach := math.Inf(-1) // the easternmost so far
	for _, s := range b.spans {
		reach = max(reach, s.east)
	}
	// Of equal gaps that over the date line is taken.
	west, east := b.spans[0].west, reach
	widest := west + 360 - east
	reach = b.spans[0].east
	for _, s := range b.spans[1:] {
		if gap := s.west - reach; gap > widest {
			widest, west, east = gap, s.west, reach
		}
		reach = max(reach, s.east)
	}
	return [4]float64{west, b.south, east, b.north}
}
