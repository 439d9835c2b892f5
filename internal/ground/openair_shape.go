package ground

import (
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
)

const (
	flatError = 5.0 // m that the middle of a line may lie beside its arc
	widestArc = 5.0 // degrees of an arc that one line may stand for
	// sloppyArc is how much the ends of an arc between two points may differ in
	// their distance from its centre: 5 %, or so many m where that is more.
	sloppyArc, sloppyArcMetres = 0.05, 200.0
)

// outline is the area of a volume being drawn.
type outline struct {
	corners   []geo.Point // of the polygon
	rings     [][]geo.Point
	airway    []geo.Point
	width     float64 // m, of an airway; 0: not given
	centre    geo.Point
	hasCentre bool
	clockwise bool
	size      int // corners of all of these
	left      *budget
}

// budget is what a whole text may still take.
type budget struct{ corners, pairs int }

var (
	errNoCentre   = errors.New("no centre: want V X= before it")
	errTooManyOf  = fmt.Errorf("more than %d corners: want at most as many in one volume", maxCorners)
	errTooMany    = fmt.Errorf("more than %d corners in all: want at most as many in one file", maxTextCorners)
	errPole       = errors.New("goes round a pole: want an area beside it")
	errFewCorners = errors.New("fewer than 3 different corners: want at least 3, or a circle")
)

func (o *outline) grow(n int) error {
	if o.size += n; o.size > maxCorners {
		return errTooManyOf
	}
	if o.left.corners -= n; o.left.corners < 0 {
		return errTooMany
	}
	return nil
}

func (o *outline) corner(p geo.Point) error {
	if err := o.grow(1); err != nil {
		return err
	}
	o.corners = append(o.corners, p)
	return nil
}

func (o *outline) airwayPoint(p geo.Point) error {
	if err := o.grow(1); err != nil {
		return err
	}
	o.airway = append(o.airway, p)
	return nil
}

// circle draws a circle of a radius in m.
func (o *outline) circle(radius float64) error {
	if !o.hasCentre {
		return errNoCentre
	}
	n := pieces(radius, 360)
	if err := o.grow(n); err != nil {
		return err
	}
	o.rings = append(o.rings, circleAround(o.centre, radius))
	return nil
}

// pieces is how many lines stand for an arc of a radius in m and so many degrees.
func pieces(radius, degrees float64) int {
	// The middle of a line lies r·(1 − cos(α/2)) < r·α²/8 inside its arc of α.
	step := min(math.Sqrt(8*flatError/radius)*180/math.Pi, widestArc)
	return max(int(math.Ceil(degrees/step)), 1)
}

func circleAround(centre geo.Point, radius float64) []geo.Point {
	n := pieces(radius, 360)
	ring := make([]geo.Point, n)
	for i := range ring {
		ring[i] = geo.Direct(centre, 360*float64(i)/float64(n), radius)
	}
	return ring
}

// arc draws an arc of a radius in m from one bearing to another, degrees.
func (o *outline) arc(radius, from, to float64) error {
	switch {
	case !o.hasCentre:
		return errNoCentre
	case !(radius > 0 && radius <= maxRadius):
		return fmt.Errorf("radius %g nautical miles: want over 0, up to %g", radius/nauticalMile, maxRadius/nauticalMile)
	case !(math.Abs(from) <= 360 && math.Abs(to) <= 360):
		return fmt.Errorf("bearings %g and %g: want 0 to 360 degrees", from, to)
	}
	return o.sweep(radius, radius, from, o.turned(from, to))
}

// turned is how far an arc turns from one bearing to another, degrees: over 0 if
// clockwise, a whole turn where the two are the same.
func (o *outline) turned(from, to float64) float64 {
	by := math.Mod(to-from+720, 360)
	switch {
	case !o.clockwise:
		return by - 360
	case by == 0:
		return 360
	}
	return by
}

// sweep draws an arc around the centre from a bearing on, turning by so many
// degrees, while the radius goes from one to another.
func (o *outline) sweep(first, last, from, by float64) error {
	n := pieces(max(first, last), math.Abs(by))
	if err := o.grow(n + 1); err != nil {
		return err
	}
	for i := range n + 1 {
		part := float64(i) / float64(n)
		o.corners = append(o.corners, geo.Direct(o.centre, from+by*part, first+(last-first)*part))
	}
	return nil
}

// between draws the arc around the centre from one point to another, both of
// which are corners as they are given.
func (o *outline) between(from, to geo.Point) error {
	if !o.hasCentre {
		return errNoCentre
	}
	first, bearing, _ := geo.Inverse(o.centre, from)
	last, end, _ := geo.Inverse(o.centre, to)
	far := max(first, last)
	switch {
	case !(min(first, last) > 0 && far <= maxRadius):
		return fmt.Errorf("ends %.0f and %.0f m from the centre: want over 0, up to %.0f", first, last, maxRadius)
	case math.Abs(first-last) > max(sloppyArc*far, sloppyArcMetres):
		return fmt.Errorf("ends %.0f and %.0f m from the centre: want them as far from it", first, last)
	}
	at := len(o.corners)
	if err := o.sweep(first, last, bearing, o.turned(bearing, end)); err != nil {
		return err
	}
	o.corners[at], o.corners[len(o.corners)-1] = from, to
	return nil
}

// shapes is the area: the polygon, the circles and the airway together.
func (o *outline) shapes() (*shapes, error) {
	rings := o.rings
	if len(o.airway) > 0 {
		way, err := o.corridor()
		if err != nil {
			return nil, err
		}
		rings = append(rings, way...)
	}
	if len(o.corners) > 0 || len(rings) == 0 {
		rings = append(rings, o.corners)
	}
	var s shapes
	for _, r := range rings {
		ring, err := stepRing(r)
		if err != nil {
			return nil, err
		}
		loops, err := untangle(ring, &o.left.pairs)
		if err != nil {
			return nil, err
		}
		for _, loop := range loops {
			s.begin()
			from := len(s.vertices)
			s.vertices = append(s.vertices, loop...)
			s.close(from)
		}
	}
	return &s, nil
}

// corridor is the airway: a box along each leg, as long as that and as wide as
// the airway, and a circle where two legs meet.
func (o *outline) corridor() ([][]geo.Point, error) {
	switch {
	case o.width == 0:
		return nil, errors.New("an airway without a width: want V W= and nautical miles")
	case len(o.airway) < 2:
		return nil, errors.New("an airway of one point: want at least 2 DY")
	}
	if err := o.grow(len(o.airway) * (4 + pieces(o.width/2, 360))); err != nil {
		return nil, err
	}
	var rings [][]geo.Point
	half := o.width / 2
	for i := 1; i < len(o.airway); i++ {
		a, b := o.airway[i-1], o.airway[i]
		length, there, onward := geo.Inverse(a, b)
		if !(length > 0 && length <= maxRadius) {
			return nil, fmt.Errorf("a leg of an airway of %.0f m: want over 0, up to %.0f", length, maxRadius)
		}
		rings = append(rings, []geo.Point{
			geo.Direct(a, there-90, half), geo.Direct(b, onward-90, half),
			geo.Direct(b, onward+90, half), geo.Direct(a, there+90, half),
		})
		if i > 1 {
			rings = append(rings, circleAround(a, half))
		}
	}
	return rings, nil
}

// stepRing rounds a ring to steps, lets its longitudes run on across the date
// line, and leaves out corners that come twice in a row. The first is not
// repeated at the end.
func stepRing(points []geo.Point) ([]vertex, error) {
	var ring []vertex
	lon := 0.0
	for i, p := range points {
		if i == 0 {
			lon = geo.WrapLon(p.Lon)
		} else {
			lon += geo.WrapLon(p.Lon - lon)
		}
		if !(math.Abs(lon) <= 360) {
			return nil, errPole
		}
		v := vertex{round(lon), round(p.Lat)}
		if len(ring) == 0 || v != ring[len(ring)-1] {
			ring = append(ring, v)
		}
	}
	for len(ring) > 1 && ring[0] == ring[len(ring)-1] {
		ring = ring[:len(ring)-1]
	}
	different := map[vertex]bool{}
	for _, v := range ring {
		if different[v] = true; len(different) == 3 {
			break
		}
	}
	if len(different) < 3 {
		return nil, errFewCorners
	}
	if wide := ring[0].x - ring[len(ring)-1].x; wide > halfTurn || wide < -halfTurn {
		return nil, errPole
	}
	return ring, nil
}
