package ground

import (
	"fmt"

	"example.org/thistledown/internal/geo"
)

// maxCovers bounds LayerSource.Covers.
const maxCovers = 1000

// LayerSource says what a layer is and where it was looked for.
type LayerSource struct {
	Name  string // what results and faults call it
	Class Class
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
	if s.Class < Water || s.Class > Closed {
		return fmt.Errorf("layer %q: class %v: want water, forest, built_up or closed", s.Name, s.Class)
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

// Layer is where one class of ground is, as one source has it.
type Layer struct {
	source  LayerSource
	areas   *index // of the class
	without *index // if there is one, everything outside its polygons is of the class too
}

// Source says what the layer is.
func (l *Layer) Source() LayerSource { return l.source }

// At reports whether ground of the layer's class lies under p, and whether the
// layer can tell: where there is some, it can. Both are false where p is no
// position.
func (l *Layer) At(p geo.Point) (hit, covered bool) {
	v, ok := place(p)
	if !ok {
		return false, false
	}
	if l.areas.contains(v) || l.without != nil && !l.without.contains(v) {
		return true, true
	}
	p.Lon = geo.WrapLon(p.Lon)
	for _, b := range l.source.Covers {
		if b.Contains(p) {
			return false, true
		}
	}
	return false, false
}

// ReadLayer reads a layer from GeoJSON (RFC 7946): a FeatureCollection, a
// Feature or a bare geometry, of Polygons and MultiPolygons. Ground is of the
// layer's class where it is in one of the polygons and in none of that
// polygon's holes. Edges are straight in longitude and latitude; positions are
// rounded to 2^-21 degree (5.3 cm); heights in positions are passed over.
//
// A polygon that crosses the date line is either cut there, as RFC 7946 asks,
// or its longitudes run on beyond 180 or -180, to 360 or -360 at most. An edge
// over more than 180 degrees of longitude is refused, since it may be meant
// either way round, unless it goes the whole way round (360).
//
// Features, polygons, rings and positions are counted from 1 in faults. Refused
// are also: more than MaxGeoJSON octets, more than two million positions, no
// feature at all, any other geometry, rings that are not closed or have fewer
// than four positions or three different ones, positions off the Earth, holes
// that reach beyond their outline's extent. Rings that cross themselves are not
// looked for: the even-odd rule decides within each polygon.
func ReadLayer(s LayerSource, geojson []byte) (*Layer, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	features, err := readFeatures(geojson)
	if err != nil {
		return nil, fmt.Errorf("layer %q: %w", s.Name, err)
	}
	var all shapes
	for _, f := range features {
		for _, p := range f.polygons {
			all.add(p)
		}
	}
	s.Covers = append([]geo.Box(nil), s.Covers...)
	return &Layer{source: s, areas: newIndex(&all)}, nil
}
