package ground

import (
	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// Outlines is what of the layer is in a box, for drawing it: polygons cut at the
// box's edges, a hundredth of a degree beyond it, and the lines and lone points
// of a layer with a buffer, those that reach into the box whole. The even-odd
// rule holds within each polygon, and polygons may overlap. Rings are closed; they
// may run along the cut, there and back. Longitudes run on eastward from the box's west
// edge, across the date line if need be. Hours at which the layer is active do
// not count, nor does its buffer. It is empty for a box that geo.Box.Check
// refuses.
func (l *Layer) Outlines(near geo.Box) (areas orb.MultiPolygon, lines orb.MultiLineString) {
	if near.Check() != nil {
		return nil, nil
	}
	c := clipper{window: windowOf(near)}
	if l.without != nil {
		areas = append(areas, l.land.around(&c))
	}
	for k := range l.polygons {
		if p := l.shapes.within(&c, k); len(p) > 0 {
			areas = append(areas, p)
		}
	}
	for k := l.polygons; k < len(l.shapes.polygons); k++ {
		lines = append(lines, l.shapes.linesIn(c.window, k)...)
	}
	return areas, lines
}

// Outlines is what of the volume's area is in a box, as that of a layer.
func (v *Volume) Outlines(near geo.Box) orb.MultiPolygon {
	if near.Check() != nil {
		return nil
	}
	c := clipper{window: windowOf(near)}
	var areas orb.MultiPolygon
	for k := range v.shapes.polygons {
		if p := v.shapes.within(&c, k); len(p) > 0 {
			areas = append(areas, p)
		}
	}
	return areas
}

// within is what of polygon k is in a window, nothing if none of it is.
func (s *shapes) within(c *clipper, k int) orb.Polygon {
	extent, _ := s.measure(k)
	if !extent.seen(c.window) {
		return nil
	}
	var cut shapes
	cut.begin()
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		for turns, most := extent.turnsInto(c.window); turns <= most; turns++ {
			c.ring(&cut, s.vertices[r.from:r.to-1], turns*turn)
		}
	}
	var p orb.Polygon
	for _, r := range cut.rings {
		p = append(p, orb.Ring(positions(cut.vertices[r.from:r.to], 0)))
	}
	return p
}

// around is a window without what of the polygons is in it.
func (s *shapes) around(c *clipper) orb.Polygon {
	w := c.window
	p := orb.Polygon{orb.Ring(positions([]vertex{
		{w.west, w.south}, {w.east, w.south}, {w.east, w.north}, {w.west, w.north}, {w.west, w.south},
	}, 0))}
	for k := range s.polygons {
		p = append(p, s.within(c, k)...)
	}
	return p
}

// linesIn are the lines of polygon k, which are no rings, that reach into a window.
func (s *shapes) linesIn(window box, k int) orb.MultiLineString {
	var lines orb.MultiLineString
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		e := nowhere
		for _, v := range s.vertices[r.from:r.to] {
			e = e.with(box{v.x, v.y, v.x, v.y})
		}
		for turns, most := e.turnsInto(window); turns <= most && e.south <= window.north && window.south <= e.north; turns++ {
			lines = append(lines, orb.LineString(positions(s.vertices[r.from:r.to], turns*turn)))
		}
	}
	return lines
}

// positions are vertices moved east by some steps, in degrees.
func positions(vertices []vertex, east int32) []orb.Point {
	points := make([]orb.Point, len(vertices))
	for i, v := range vertices {
		points[i] = orb.Point{float64(v.x+east) / steps, float64(v.y) / steps}
	}
	return points
}
