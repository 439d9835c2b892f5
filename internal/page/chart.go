package page

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// Wide is how many of its units a chart is from west to east.
const Wide = 40_000

// High is how many of its units a chart is from north to south.
const High = 36_000

// ViewWide is the width of the viewBox of the SVG element that a map stands in.
const ViewWide = 1000

// ViewHigh is the height of that viewBox.
const ViewHigh = 900

const (
	mostNorth        = 85.0 // degrees: Mercator's projection has no pole
	leastWide        = 1e-4 // radians of longitude: 600 m on the equator
	doublings        = 24   // of the tolerance, from half a unit: then it is beyond any chart
	firstTolerance   = 0.5  // chart units
	fewestRingPoints = 4
)

// Chart is a map of a box of the Earth in Mercator's projection, on which angles
// are true: x eastward from 0 to Wide, y southward from 0 to High.
type Chart struct {
	// PerRadian is how many units of the chart a radian of longitude is wide.
	PerRadian float64
	// Equator is the y of the equator.
	Equator float64

	lon0 float64 // degrees, of the middle
}

// NewChart is the smallest chart that has a box of longitudes and latitudes in
// degrees in its middle, and an eighth of it around. East may be beyond 180, and
// latitudes beyond 85 degrees count as that.
func NewChart(west, south, east, north float64) Chart {
	low, high := mercator(south), mercator(north)
	wide := max((east-west)*math.Pi/180, (high-low)*Wide/High, leastWide) * 1.25
	c := Chart{PerRadian: Wide / wide, lon0: (west + east) / 2}
	c.Equator = High/2 + c.PerRadian*(low+high)/2
	return c
}

// mercator is how far north a latitude is, in radians of longitude.
func mercator(lat float64) float64 {
	return math.Asinh(math.Tan(min(max(lat, -mostNorth), mostNorth) * math.Pi / 180))
}

// At is where a longitude and a latitude are on the chart, on the short way around
// the Earth from its middle.
func (c Chart) At(lon, lat float64) (x, y float64) {
	d := lon - c.lon0
	d -= 360 * math.Round(d/360)
	return Wide/2 + c.PerRadian*d*math.Pi/180, c.Equator - c.PerRadian*mercator(lat)
}

// Box is what the chart shows: west, south, east, north in degrees, east beyond 180
// where it goes over the date line, at most a whole turn wide.
func (c Chart) Box() (west, south, east, north float64) {
	half := min(Wide/2/c.PerRadian*180/math.Pi, 179.9)
	lat := func(y float64) float64 { return math.Atan(math.Sinh((c.Equator-y)/c.PerRadian)) * 180 / math.Pi }
	west = c.lon0 - half
	west -= 360 * math.Floor((west+180)/360)
	return west, max(lat(High), -90), west + 2*half, min(lat(0), 90)
}

// Shape is one element of a drawing.
type Shape struct {
	Path    string // of SVG, in whole chart units
	EvenOdd bool   // how it is filled; else nonzero
	Points  int    // of its rings or lines
}

// Areas draws polygons, the even-odd rule holding within each of them. Outlines are
// thinned out by as little as lets them have no more than most points in all
// (Douglas and Peucker 1973); what is then too small to be seen is left out.
func (c Chart) Areas(areas orb.MultiPolygon, most int) []Shape {
	placed := make([]orb.Polygon, len(areas))
	for i, p := range areas {
		for _, ring := range p {
			placed[i] = append(placed[i], orb.Ring(c.place(ring)))
		}
	}
	for tolerance, n := firstTolerance, 0; n < doublings; tolerance, n = 2*tolerance, n+1 {
		if shapes, points := draw(placed, tolerance); points <= most {
			return shapes
		}
	}
	return nil
}

// Lines draws lines, thinned out as Areas does it.
func (c Chart) Lines(lines orb.MultiLineString, most int) Shape {
	for tolerance, n := firstTolerance, 0; n < doublings; tolerance, n = 2*tolerance, n+1 {
		var s Shape
		for _, line := range lines {
			thin := simplify.DouglasPeucker(tolerance).LineString(orb.LineString(c.place(line)))
			s.Path += path(thin, false)
			s.Points += len(thin)
		}
		if s.Points <= most {
			return s
		}
	}
	return Shape{}
}

// place is positions on the chart.
func (c Chart) place(positions []orb.Point) []orb.Point {
	out := make([]orb.Point, len(positions))
	for i, p := range positions {
		out[i][0], out[i][1] = c.At(p.Lon(), p.Lat())
	}
	return out
}

// draw draws polygons on a chart: those of one ring as one shape, all the same way
// round, and each of the others as its own.
func draw(polygons []orb.Polygon, tolerance float64) (shapes []Shape, points int) {
	var simple Shape
	for _, p := range polygons {
		s := Shape{EvenOdd: true}
		rings := 0
		for _, ring := range p {
			b := ring.Bound()
			if max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]) < 2*tolerance {
				continue
			}
			thin := simplify.DouglasPeucker(tolerance).Ring(ring.Clone())
			if len(thin) < fewestRingPoints {
				continue
			}
			if len(p) == 1 && thin.Orientation() == orb.CW {
				thin.Reverse()
			}
			rings++
			s.Path += path(thin, true)
			s.Points += len(thin)
		}
		points += s.Points
		if rings == 0 {
			continue
		}
		if len(p) > 1 {
			shapes = append(shapes, s)
			continue
		}
		simple.Path += s.Path
		simple.Points += s.Points
	}
	if simple.Points > 0 {
		shapes = append(shapes, simple)
	}
	return shapes, points
}

// path is a line of chart units as SVG has it, each point by how far it is from the
// one before; a closed one leaves its last point out.
func path(line []orb.Point, closed bool) string {
	if closed {
		line = line[:len(line)-1]
	}
	b := make([]byte, 0, 8*len(line))
	var x, y int64
	for i, p := range line {
		px, py := int64(math.Round(p[0])), int64(math.Round(p[1]))
		switch i {
		case 0:
			b = append(b, 'M')
		case 1:
			b = append(b, 'l')
		default:
			b = append(b, ' ')
		}
		b = strconv.AppendInt(b, px-x, 10)
		b = append(b, ' ')
		b = strconv.AppendInt(b, py-y, 10)
		x, y = px, py
	}
	if closed {
		b = append(b, 'z')
	}
	return string(b)
}
