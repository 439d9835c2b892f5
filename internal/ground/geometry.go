package ground

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/paulmach/orb"
)

// geometryReader reads the geometries of one feature.
type geometryReader struct {
	want wanted
	left *int // how many positions may still come
	into feature
}

// geometry reads one geometry, whose text is given; inside says that it is in a
// collection.
func (r *geometryReader) geometry(o object, text []byte, inside bool) error {
	if o.Type == "GeometryCollection" {
		return r.collection(o, text, inside)
	}
	kind, many := geometryType(o.Type)
	if kind&r.want == 0 {
		return fmt.Errorf("geometry type %q: %v", o.Type, r.want)
	}
	c := coordinates{text: o.Coordinates, left: r.left}
	one, word := r.polygon, "polygon"
	switch kind {
	case wantLines:
		one, word = r.line, "line"
	case wantPoints:
		one, word = r.point, "point"
	}
	var err error
	if many {
		count := 0
		err = c.list(word, func(n int) error {
			count = n
			return one(&c)
		})
		if err == nil && count == 0 {
			err = fmt.Errorf("no %ss: want at least one", word)
		}
	} else {
		err = one(&c)
	}
	if err != nil {
		return inMember(moved(err, 0), text, "coordinates")
	}
	return nil
}

// geometryType is what a type's name says: polygons, lines or points, and whether
// there may be many; 0 for any other name.
func geometryType(name string) (kind wanted, many bool) {
	switch name {
	case "Polygon", "MultiPolygon":
		return wantPolygons, name != "Polygon"
	case "LineString", "MultiLineString":
		return wantLines, name != "LineString"
	case "Point", "MultiPoint":
		return wantPoints, name != "Point"
	}
	return 0, false
}

// collection reads a GeometryCollection. One in another is refused: RFC 7946
// advises against it, and it could nest without end.
func (r *geometryReader) collection(o object, text []byte, inside bool) error {
	if inside {
		return errors.New("geometry type \"GeometryCollection\" in another one: want its geometries one level up")
	}
	if len(o.Geometries) == 0 {
		return errors.New("geometry type \"GeometryCollection\" without geometries: want at least one")
	}
	for i, raw := range o.Geometries {
		var g object
		err := json.Unmarshal(raw, &g)
		if err == nil {
			err = r.geometry(g, raw, true)
		}
		if err != nil {
			return inElement(fmt.Errorf("geometry %d: %w", i+1, err), text, "geometries", i)
		}
	}
	return nil
}

func (r *geometryReader) polygon(c *coordinates) error {
	p, err := c.polygon()
	r.into.polygons = append(r.into.polygons, p)
	return err
}

func (r *geometryReader) line(c *coordinates) error {
	line, err := c.line()
	r.into.lines = append(r.into.lines, line)
	return err
}

func (r *geometryReader) point(c *coordinates) error {
	p, err := c.position()
	r.into.lines = append(r.into.lines, orb.LineString{p})
	return err
}
