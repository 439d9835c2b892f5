package ground

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/paulmach/orb"
)

// Limits of a GeoJSON text.
const (
	MaxGeoJSON   = 64 << 20  // octets
	maxPositions = 2_000_000 // in all rings together
)

// wanted is which geometries are read.
type wanted uint8

const (
	wantPolygons wanted = 1 << iota
	wantLines
	wantPoints

	wantAny = wantPolygons | wantLines | wantPoints
)

// String is what a fault says of them.
func (w wanted) String() string {
	switch w {
	case wantPolygons:
		return "want Polygon or MultiPolygon (lines and points need a layer with a buffer)"
	case wantLines:
		return "want LineString or MultiLineString"
	}
	return "want Polygon, LineString or Point, Multi- or not, or a GeometryCollection"
}

// feature is one GeoJSON feature whose geometries have been checked. A point is
// a line of one position.
type feature struct {
	properties json.RawMessage
	polygons   []orb.Polygon
	lines      []orb.LineString
}

// object is any GeoJSON object, its members not yet read.
type object struct {
	Type        string            `json:"type"`
	Features    []json.RawMessage `json:"features"`
	Geometry    json.RawMessage   `json:"geometry"`
	Geometries  []json.RawMessage `json:"geometries"`
	Properties  json.RawMessage   `json:"properties"`
	Coordinates json.RawMessage   `json:"coordinates"`
}

// readFeatures reads and checks a whole GeoJSON text of polygons.
func readFeatures(text []byte) ([]feature, error) { return readGeometries(text, wantPolygons) }

// readGeometries reads and checks a whole GeoJSON text. A bare geometry is one
// feature without properties. Coordinates are read here and not by the geometry
// module's own reader, which takes a missing latitude for zero.
func readGeometries(text []byte, want wanted) ([]feature, error) {
	if len(text) > MaxGeoJSON {
		return nil, fmt.Errorf("%d octets: want at most %d", len(text), MaxGeoJSON)
	}
	features, err := decodeFeatures(text, want)
	if at := new(located); errors.As(err, &at) {
		return nil, fmt.Errorf("line %d: %w", 1+bytes.Count(text[:min(at.at, len(text))], []byte("\n")), err)
	}
	return features, err
}

func decodeFeatures(text []byte, want wanted) ([]feature, error) {
	var top object
	if err := json.Unmarshal(text, &top); err != nil {
		return nil, fmt.Errorf("not GeoJSON: %w", err)
	}
	left := maxPositions
	if top.Type != "FeatureCollection" {
		f, err := top.feature(text, geometryReader{want: want, left: &left})
		if err != nil {
			return nil, fmt.Errorf("feature 1: %w", err)
		}
		return []feature{f}, nil
	}
	if len(top.Features) == 0 {
		return nil, errors.New("no features: want at least one")
	}
	features := make([]feature, 0, len(top.Features))
	for i, raw := range top.Features {
		var o object
		err := json.Unmarshal(raw, &o)
		if err == nil && o.Type != "Feature" {
			err = fmt.Errorf("type %q: want Feature", o.Type)
		}
		var f feature
		if err == nil {
			f, err = o.feature(raw, geometryReader{want: want, left: &left})
		}
		if err != nil {
			return nil, inElement(fmt.Errorf("feature %d: %w", i+1, err), text, "features", i)
		}
		features = append(features, f)
	}
	return features, nil
}

// feature reads a feature or a bare geometry, whose text is given.
func (o object) feature(text []byte, r geometryReader) (feature, error) {
	if o.Type != "Feature" {
		err := r.geometry(o, text, false)
		return r.into, err
	}
	var g object
	if len(o.Geometry) > 0 {
		if err := json.Unmarshal(o.Geometry, &g); err != nil {
			return feature{}, inMember(fmt.Errorf("geometry: %w", err), text, "geometry")
		}
	}
	if g.Type == "" {
		return feature{}, fmt.Errorf("no geometry: %v", r.want)
	}
	r.into.properties = o.Properties
	err := r.geometry(g, o.Geometry, false)
	if err != nil {
		err = inMember(err, text, "geometry")
	}
	return r.into, err
}
