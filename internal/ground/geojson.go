package ground

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Limits of a GeoJSON text.
const (
	MaxGeoJSON   = 64 << 20  // octets
	maxPositions = 2_000_000 // in all rings together
)

// feature is one GeoJSON feature whose polygons have been checked.
type feature struct {
	properties json.RawMessage
	polygons   []orb.Polygon
}

// object is any GeoJSON object, its members not yet read.
type object struct {
	Type        string            `json:"type"`
	Features    []json.RawMessage `json:"features"`
	Geometry    json.RawMessage   `json:"geometry"`
	Properties  json.RawMessage   `json:"properties"`
	Coordinates json.RawMessage   `json:"coordinates"`
}

// readFeatures reads and checks a whole GeoJSON text. A bare geometry is one
// feature without properties. Coordinates are read here and not by the geometry
// module's own reader, which takes a missing latitude for zero.
func readFeatures(text []byte) ([]feature, error) {
	if len(text) > MaxGeoJSON {
		return nil, fmt.Errorf("%d octets: want at most %d", len(text), MaxGeoJSON)
	}
	var top object
	if err := json.Unmarshal(text, &top); err != nil {
		return nil, fmt.Errorf("not GeoJSON: %w", err)
	}
	left := maxPositions
	if top.Type != "FeatureCollection" {
		f, err := top.feature(&left)
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
			f, err = o.feature(&left)
		}
		if err != nil {
			return nil, fmt.Errorf("feature %d: %w", i+1, err)
		}
		features = append(features, f)
	}
	return features, nil
}

// feature reads a feature or a bare geometry; left is how many positions may
// still come.
func (o object) feature(left *int) (feature, error) {
	f := feature{}
	if o.Type == "Feature" {
		f.properties = o.Properties
		raw := o.Geometry
		o = object{}
		if len(raw) > 0 {
			if err := json.Unmarshal(raw, &o); err != nil {
				return f, fmt.Errorf("geometry: %w", err)
			}
		}
		if o.Type == "" {
			return f, errors.New("no geometry: want Polygon or MultiPolygon")
		}
	}
	var err error
	c := coordinates{text: o.Coordinates, left: left}
	switch o.Type {
	case "Polygon":
		var p orb.Polygon
		p, err = c.polygon()
		f.polygons = []orb.Polygon{p}
	case "MultiPolygon":
		err = c.list("polygon", func(int) error {
			p, err := c.polygon()
			f.polygons = append(f.polygons, p)
			return err
		})
	default:
		return f, fmt.Errorf("geometry type %q: want Polygon or MultiPolygon", o.Type)
	}
	if err == nil && len(f.polygons) == 0 {
		err = errors.New("no polygons: want at least one")
	}
	return f, err
}

// checkPolygon refuses what RFC 7946 does not allow in a polygon, and moves each
// hole by whole turns of longitude to where its outline is.
func checkPolygon(p orb.Polygon) error {
	if len(p) == 0 {
		return errors.New("no rings: want at least the outline")
	}
	outline := p[0].Bound()
	for k, ring := range p {
		if err := checkRing(ring); err != nil {
			return fmt.Errorf("ring %d: %w", k+1, err)
		}
		if k > 0 && !moveInto(ring, outline) {
			b := ring.Bound()
			return fmt.Errorf("ring %d (a hole) from %g to %g east, %g to %g north: want it within the outline, %g to %g east, %g to %g north",
				k+1, b.Left(), b.Right(), b.Bottom(), b.Top(), outline.Left(), outline.Right(), outline.Bottom(), outline.Top())
		}
	}
	return nil
}

// moveInto moves a ring by whole turns of longitude into an extent; false if it
// does not fit there.
func moveInto(ring orb.Ring, outline orb.Bound) bool {
	b := ring.Bound()
	for _, east := range [...]float64{0, 360, -360, 720, -720} {
		if b.Left()+east < outline.Left() || b.Right()+east > outline.Right() {
			continue
		}
		for i := range ring {
			ring[i][0] += east
		}
		return b.Bottom() >= outline.Bottom() && b.Top() <= outline.Top()
	}
	return false
}

// checkRing refuses a ring that is open, too short, too wide, or that may be
// meant either way round the Earth.
func checkRing(ring orb.Ring) error {
	if len(ring) < 4 {
		return fmt.Errorf("%d positions: want at least 4, the last one the first again", len(ring))
	}
	if first, last := ring[0], ring[len(ring)-1]; first != last {
		return fmt.Errorf("ends at longitude %g, latitude %g: want the first position again, %g, %g",
			last.Lon(), last.Lat(), first.Lon(), first.Lat())
	}
	different, second := 1, ring[0]
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if wide := math.Abs(b.Lon() - a.Lon()); wide > 180 && wide != 360 {
			return fmt.Errorf("positions %d and %d: from longitude %g to %g: want at most 180 degrees (cut the ring at the date line, or let longitudes run on beyond 180)",
				i, i+1, a.Lon(), b.Lon())
		}
		if different < 3 && b != ring[0] && b != second {
			different, second = different+1, b
		}
	}
	if different < 3 {
		return fmt.Errorf("%d different positions: want at least 3", different)
	}
	if b := ring.Bound(); b.Right()-b.Left() > 360 {
		return fmt.Errorf("from longitude %g to %g: want at most 360 degrees", b.Left(), b.Right())
	}
	return nil
}
