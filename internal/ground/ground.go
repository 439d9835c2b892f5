// Package ground is what lies under a point of the Earth, and which airspace
// is closed above it: terrain height, water, forest, built-up and closed land,
// airfields, the far side of a border.
//
// It hides how each of these is stored: the coast and the lakes that are built
// in, the polygons of a GeoJSON file, the index that finds the polygons around
// a point without trying them all, the pixels of a raster, heights on a grid's nodes. Positions are
// geo.Point, degrees on WGS84; heights are metres above mean sea level. An edge
// of a polygon is straight in longitude and latitude (RFC 7946, section 3.1.1),
// not a great circle. Everything here may be read from several goroutines at
// once and never changes once it is made.
//
// It does not know how bad it is to come down somewhere, beyond handing on what
// a layer's maker said of it, nor where its octets came from.
package ground

import (
	"fmt"
	"iter"
	"time"

	"example.org/thistledown/internal/geo"
)

// Class is a kind of ground that matters to whoever must fetch a payload. The
// zero value is none of them.
type Class uint8

// The classes of ground.
const (
	Water    Class = iota + 1 // sea, lake
	Forest                    // trees that a canopy hangs in
	BuiltUp                   // houses, works, people
	Closed                    // land that nobody may enter
	Airfield                  // where aircraft take off and land
	Abroad                    // the other side of a national border
)

// classNames are the words for the classes, in plans and in results.
var classNames = [...]string{
	Water: "water", Forest: "forest", BuiltUp: "built_up", Closed: "closed", Airfield: "airfield", Abroad: "abroad",
}

// wantClass is what a fault says of a word or number that is no class.
const wantClass = "want water, forest, built_up, closed, airfield or abroad"

// Classes runs over all classes in the order in which they are declared.
func Classes() iter.Seq[Class] {
	return func(yield func(Class) bool) {
		for c := Water; c <= Abroad; c++ {
			if !yield(c) {
				return
			}
		}
	}
}

// String is the class's word as ParseClass reads it.
func (c Class) String() string {
	if c < Water || c > Abroad {
		return fmt.Sprintf("Class(%d)", uint8(c))
	}
	return classNames[c]
}

// ParseClass reads the word for a class: water, forest, built_up, closed,
// airfield or abroad.
func ParseClass(s string) (Class, error) {
	for c := range Classes() {
		if s == c.String() {
			return c, nil
		}
	}
	return 0, fmt.Errorf("ground class %q: %s", s, wantClass)
}

// Set is a set of classes; the zero value is the empty one.
type Set uint8

// Has reports whether c is in the set.
func (s Set) Has(c Class) bool { return s&(1<<c) != 0 }

// With is the set with c added.
func (s Set) With(c Class) Set { return s | 1<<c }

// MaxLayers is how many layers a map may hold.
const MaxLayers = 128

// LayerSet is a set of a map's layers, by their place in it; the zero value is
// the empty one.
type LayerSet [MaxLayers / 64]uint64

// Has reports whether layer i, 0 <= i < MaxLayers, is in the set.
func (s LayerSet) Has(i int) bool { return s[i/64]>>(i%64)&1 != 0 }

// With is the set with layer i, 0 <= i < MaxLayers, added.
func (s LayerSet) With(i int) LayerSet {
	s[i/64] |= 1 << (i % 64)
	return s
}

// Parcel is a piece of land whose owner is known: Owner is a number of the
// map's layer Layer, see Layer.Owner.
type Parcel struct {
	Layer uint8
	Owner uint32
}

// Found is what a map says of one point at one time.
type Found struct {
	Under    Set      // the classes of ground there
	Assessed Set      // the classes that some layer says something of there
	Layers   LayerSet // the layers that have some ground there
	// Own are those of the classes Under that only layers say of with a severity
	// of their own: the severity of the class itself then does not count.
	Own Set
	// Parcels are all whose land it is, in the order of the map's layers: each has
	// to be asked. Within the buffer of a layer, and on none of its parcels, it is
	// the nearest one alone.
	Parcels []Parcel
}

// Map is everything that is known of the ground and of closed airspace.
type Map struct {
	Layers  []*Layer
	Covers  []*Cover // several classes of ground at once
	Volumes []*Volume
}

// At says what lies under p at a time. A class that is not assessed is unknown
// at p, not absent. All is empty where p is no position (latitude beyond a pole,
// NaN). It panics if the map has more than MaxLayers layers, which is a bug of
// whoever made it.
func (m *Map) At(p geo.Point, when time.Time) Found {
	if len(m.Layers) > MaxLayers {
		panic(fmt.Sprintf("ground: %d layers: want at most %d", len(m.Layers), MaxLayers))
	}
	var f Found
	v, ok := place(p)
	if !ok {
		return f
	}
	p.Lon = geo.WrapLon(p.Lon)
	var common Set
	for i, l := range m.Layers {
		hit, covered := l.at(p, v, when)
		c := l.source.Class
		if covered && c != 0 {
			f.Assessed = f.Assessed.With(c)
		}
		if !hit {
			continue
		}
		f.Layers = f.Layers.With(i)
		for _, owner := range l.owners(p, v) {
			f.Parcels = append(f.Parcels, Parcel{Layer: uint8(i), Owner: owner})
		}
		if c == 0 {
			continue
		}
		f.Under = f.Under.With(c)
		if l.source.Severity == nil {
			common = common.With(c)
		}
	}
	for _, c := range m.Covers {
		under, assessed := c.At(p)
		f.Under, f.Assessed, common = f.Under|under, f.Assessed|assessed, common|under
	}
	f.Own = f.Under &^ common
	return f
}
