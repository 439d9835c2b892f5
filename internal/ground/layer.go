package ground

import (
	"fmt"
	"slices"
	"time"

	"example.org/thistledown/internal/geo"
)

// Limits of a layer's source.
const (
	maxCovers = 1000
	maxBuffer = 10_000 // m
)

// LayerSource says what a layer is and where it was looked for.
type LayerSource struct {
	Name string // what results and faults call it
	// Class is none, 0, where the layer only says whose land it is: see Parcels.
	Class Class
	// Severity is how bad it is to come down there, 0 to 1; nil: as bad as the
	// class is.
	Severity *float64
	// Buffer is how far from its polygons, lines and points the layer still has
	// ground of its class, m, 0 to 10,000. Lines and points need one.
	Buffer float64
	// Active is when there is anything to mind: in any of these hours; none: at all
	// times. At other times the layer knows that nothing is there.
	Active []Hours
	// Parcels says that each feature is a piece of land with an owner to ask, whom
	// its property "owner" names, or else "name".
	Parcels bool
	// Credit is who made the data and under which terms, for reports; it may be
	// empty.
	Credit string
	// Covers is where whoever made the layer looked: there, ground outside its
	// polygons is known not to be of the class. Elsewhere it is unknown. With no
	// boxes, nothing is known outside the polygons.
	Covers []geo.Box
}

// check reports the first fault of s.
func (s LayerSource) check() error {
	if s.Name == "" {
		return fmt.Errorf("layer without a name: want one")
	}
	if s.Class > Abroad || s.Class == 0 && !s.Parcels {
		return fmt.Errorf("layer %q: class %v: %s", s.Name, s.Class, wantClass)
	}
	if s.Severity != nil && !(*s.Severity >= 0 && *s.Severity <= 1) {
		return fmt.Errorf("layer %q: severity %g: want 0 to 1", s.Name, *s.Severity)
	}
	if s.Severity != nil && s.Class == 0 {
		return fmt.Errorf("layer %q: severity %g without a class: %s", s.Name, *s.Severity, wantClass)
	}
	if !(s.Buffer >= 0 && s.Buffer <= maxBuffer) {
		return fmt.Errorf("layer %q: buffer %g m: want 0 to %d m", s.Name, s.Buffer, maxBuffer)
	}
	if len(s.Active) > maxHours {
		return fmt.Errorf("layer %q: %d active hours: want at most %d", s.Name, len(s.Active), maxHours)
	}
	for i, h := range s.Active {
		if err := h.check(); err != nil {
			return fmt.Errorf("layer %q: active hours %d: %w", s.Name, i+1, err)
		}
	}
	if len(s.Covers) > maxCovers {
		return fmt.Errorf("layer %q: %d covered boxes: want at most %d", s.Name, len(s.Covers), maxCovers)
	}
	for i, b := range s.Covers {
		if err := b.Check(); err != nil {
			return fmt.Errorf("layer %q: covered box %d: %w", s.Name, i+1, err)
		}
	}
	return nil
}

// active reports whether any of the hours holds a time.
func (s *LayerSource) active(when time.Time) bool {
	for _, h := range s.Active {
		if h.Contains(when) {
			return true
		}
	}
	return len(s.Active) == 0
}

// Layer is where one class of ground is, as one source has it.
type Layer struct {
	source  LayerSource
	areas   *index   // of the class
	without *index   // if there is one, everything outside its polygons is of the class too
	near    *near    // all edges, if the layer has a buffer
	parcels *parcels // the owners, if it has some

	shapes   *shapes // the polygons of areas, and after them lines, which are no polygons
	polygons int     // how many of these are polygons
	land     *shapes // the polygons of without
}

// Source says what the layer is.
func (l *Layer) Source() LayerSource { return l.source }

// Owner is the name of a Parcel's owner, the parcel being of this layer; empty
// if the layer has no such number.
func (l *Layer) Owner(number uint32) string {
	if l.parcels == nil || number == 0 || int(number) > len(l.parcels.names) {
		return ""
	}
	return l.parcels.names[number-1]
}

// At reports whether ground of the layer's class lies under p, or within the
// buffer of it, at a time at which the layer is active, and whether the layer
// can tell: where there is some at any time, it can. Both are false where p is
// no position.
func (l *Layer) At(p geo.Point, when time.Time) (hit, covered bool) {
	v, ok := place(p)
	if !ok {
		return false, false
	}
	p.Lon = geo.WrapLon(p.Lon)
	return l.at(p, v, when)
}

// at is At for a point whose longitude is wrapped, and its place in steps.
func (l *Layer) at(p geo.Point, v vertex, when time.Time) (hit, covered bool) {
	there := l.areas.contains(v) || l.without != nil && !l.without.contains(v)
	if !there && l.near != nil {
		_, there = l.near.closest(p, l.source.Buffer)
	}
	if there {
		return l.source.active(when), true
	}
	for _, b := range l.source.Covers {
		if b.Contains(p) {
			return false, true
		}
	}
	return false, false
}

// owners are the numbers of all whose parcels the point, which the layer hits,
// lies in; of none, the owner of the nearest within the buffer.
func (l *Layer) owners(p geo.Point, v vertex) []uint32 {
	if l.parcels == nil {
		return nil
	}
	if in := l.parcels.owners(v); len(in) > 0 || l.near == nil {
		return in
	}
	if at, ok := l.near.closest(p, l.source.Buffer); ok {
		return []uint32{l.parcels.ring[l.near.ring(at.edge)]}
	}
	return nil
}

// Extent is the box around everything in the layer, its buffer left out; where
// the smallest one lies across the date line, all longitudes. False for a layer that
// reaches everywhere, as the built-in water does, or has nothing in it.
func (l *Layer) Extent() (geo.Box, bool) {
	e := nowhere
	if l.near != nil {
		e = l.near.tree.extent()
	} else if l.areas.extent.west <= l.areas.extent.east {
		e = l.areas.extent
	}
	if e == nowhere || l.without != nil {
		return geo.Box{}, false
	}
	b := geo.Box{
		South: float64(e.south) / steps, West: float64(e.west) / steps,
		North: float64(e.north) / steps, East: float64(e.east) / steps,
	}
	if b.West < -180 || b.East > 180 {
		b.West, b.East = -180, 180
	}
	return b, true
}

// ReadLayer reads a layer from GeoJSON (RFC 7946): a FeatureCollection, a
// Feature or a bare geometry, of Polygons and MultiPolygons and, if the layer
// has a buffer, of LineStrings, MultiLineStrings, Points and MultiPoints; also
// of GeometryCollections of these, one in another excepted. Ground is of the
// layer's class where it is in one of the polygons and in none of that polygon's
// holes, or not farther than the buffer from a polygon, a line or a point. Up to
// 80 degrees of latitude that distance is the geodesic's within 0.01 % and 6 cm;
// nearer a pole it gets worse. Edges are straight in longitude and latitude;
// positions are rounded to 2^-21 degree (5.3 cm); heights in positions are
// passed over. Which way round a ring runs makes no difference.
//
// A polygon or line that crosses the date line is either cut there, as RFC 7946
// asks, or its longitudes run on beyond 180 or -180, to 360 or -360 at most. An
// edge over more than 180 degrees of longitude is refused, since it may be meant
// either way round, unless it goes the whole way round (360).
//
// Features, polygons, rings and positions are counted from 1 in faults, which
// also say the line of the file. Refused are also: more than MaxGeoJSON octets,
// more than two million positions, no feature at all, any other geometry, rings
// that are not closed or have fewer than four positions or three different ones,
// rings of a polygon that cross themselves or each other (touching is allowed:
// the even-odd rule decides), positions off the Earth, holes that reach beyond
// their outline's extent.
func ReadLayer(s LayerSource, geojson []byte) (*Layer, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	want := wantPolygons
	if s.Buffer > 0 {
		want = wantAny
	}
	features, err := readGeometries(geojson, want)
	if err != nil {
		return nil, fmt.Errorf("layer %q: %w", s.Name, err)
	}
	s.Covers, s.Active = slices.Clone(s.Covers), slices.Clone(s.Active)
	if s.Severity != nil {
		own := *s.Severity
		s.Severity = &own
	}
	l := &Layer{source: s}
	if err := l.take(features); err != nil {
		return nil, fmt.Errorf("layer %q: %w", s.Name, err)
	}
	return l, nil
}

// take makes the layer's indexes.
func (l *Layer) take(features []feature) error {
	var all shapes
	var owners []uint32 // of the features
	var names []string
	if l.source.Parcels {
		numbers := map[string]uint32{}
		for i, f := range features {
			name, err := ownerOf(f.properties, i+1)
			if err != nil {
				return fmt.Errorf("feature %d: %w", i+1, err)
			}
			if numbers[name] == 0 {
				names = append(names, name)
				numbers[name] = uint32(len(names))
			}
			owners = append(owners, numbers[name])
		}
	}
	var rings []uint32 // the owners of the rings
	own := func(i int) {
		for l.source.Parcels && len(rings) < len(all.rings) {
			rings = append(rings, owners[i])
		}
	}
	for i, f := range features {
		for _, p := range f.polygons {
			all.add(p)
		}
		own(i)
	}
	polygons := len(all.polygons)
	l.areas = newIndex(&all)
	l.shapes, l.polygons = &all, polygons
	all.begin() // of what follows no index knows: it is no polygon
	for i, f := range features {
		for _, line := range f.lines {
			all.line(line)
		}
		own(i)
	}
	if l.source.Buffer > 0 {
		l.near = newNear(&all)
	}
	if l.source.Parcels {
		l.parcels = newParcels(&all, polygons, rings, names)
	}
	return nil
}
