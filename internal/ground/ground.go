// Package ground is what lies under a point of the Earth, and which airspace
// is closed above it: terrain height, water, forest, built-up and closed land.
//
// It hides how each of these is stored: the coast and the lakes that are built
// in, the polygons of a GeoJSON file, the index that finds the polygons around
// a point without trying them all, the heights on a grid's nodes. Positions are
// geo.Point, degrees on WGS84; heights are metres above mean sea level. An edge
// of a polygon is straight in longitude and latitude (RFC 7946, section 3.1.1),
// not a great circle. Everything here may be read from several goroutines at
// once and never changes once it is made.
//
// It does not know how bad it is to come down somewhere, when an airspace is
// active, or where its octets came from.
package ground

import (
	"fmt"
	"iter"

	"example.org/thistledown/internal/geo"
)

// Class is a kind of ground that matters to whoever must fetch a payload. The
// zero value is none of them.
type Class uint8

// The classes of ground.
const (
	Water   Class = iota + 1 // sea, lake
	Forest                   // trees that a canopy hangs in
	BuiltUp                  // houses, works, people
	Closed                   // land that nobody may enter
)

// classNames are the words for the classes, in plans and in results.
var classNames = [...]string{Water: "water", Forest: "forest", BuiltUp: "built_up", Closed: "closed"}

// Classes runs over all classes in the order in which they are declared.
func Classes() iter.Seq[Class] {
	return func(yield func(Class) bool) {
		for c := Water; c <= Closed; c++ {
			if !yield(c) {
				return
			}
		}
	}
}

// String is the class's word as ParseClass reads it.
func (c Class) String() string {
	if c < Water || c > Closed {
		return fmt.Sprintf("Class(%d)", uint8(c))
	}
	return classNames[c]
}

// ParseClass reads the word for a class: water, forest, built_up or closed.
func ParseClass(s string) (Class, error) {
	for c := range Classes() {
		if s == c.String() {
			return c, nil
		}
	}
	return 0, fmt.Errorf("ground class %q: want water, forest, built_up or closed", s)
}

// Set is a set of classes; the zero value is the empty one.
type Set uint8

// Has reports whether c is in the set.
func (s Set) Has(c Class) bool { return s&(1<<c) != 0 }

// With is the set with c added.
func (s Set) With(c Class) Set { return s | 1<<c }

// Map is everything that is known of the ground and of closed airspace.
type Map struct {
	Layers  []*Layer
	Volumes []*Volume
}

// At says which classes of ground lie under p, and which classes at least one
// layer was made for there. A class that is not in assessed is unknown at p,
// not absent. Both are empty where p is no position (latitude beyond a pole,
// NaN).
func (m *Map) At(p geo.Point) (under, assessed Set) {
	for _, l := range m.Layers {
		hit, covered := l.At(p)
		if hit {
			under = under.With(l.source.Class)
		}
		if covered {
			assessed = assessed.With(l.source.Class)
		}
	}
	return under, assessed
}
