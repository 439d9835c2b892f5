package ground

import (
	"fmt"

	"example.org/thistledown/internal/geo"
)

// MaxReach is how far Ways.Nearest looks, m.
const MaxReach = 20_000

// Ways are the roads or tracks of one source: where a car can go.
type Ways struct {
	Name string
	near *near
}

// ReadWays reads ways from GeoJSON under the rules of ReadLayer: LineStrings and
// MultiLineStrings, in GeometryCollections or not. Other geometries are refused.
func ReadWays(name string, geojson []byte) (*Ways, error) {
	features, err := readGeometries(geojson, wantLines)
	if err != nil {
		return nil, fmt.Errorf("ways %q: %w", name, err)
	}
	var s shapes
	s.begin()
	for _, f := range features {
		for _, line := range f.lines {
			s.line(line)
		}
	}
	return &Ways{Name: name, near: newNear(&s)}, nil
}

// Nearest is how far it is from p to the nearest way in a straight line, m, and
// its bearing, degrees clockwise from true north, 0 to 360. It is false where
// there is none within MaxReach, or p is no position. The bearing is as exact as
// half the distance over the Earth's radius times the tangent of the latitude:
// 0.05 degrees for 10 km at 45 degrees. Roads bend: driving is
// farther, and the way may be on the other side of a river.
func (w *Ways) Nearest(p geo.Point) (metres, bearing float64, ok bool) {
	if _, ok := place(p); !ok {
		return 0, 0, false
	}
	p.Lon = geo.WrapLon(p.Lon)
	at, ok := w.near.closest(p, MaxReach)
	if !ok {
		return 0, 0, false
	}
	metres, bearing, _ = geo.Inverse(p, geo.Point{Lat: p.Lat + at.north, Lon: geo.WrapLon(p.Lon + at.east)})
	return metres, bearing, true
}
