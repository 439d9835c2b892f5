package ground

import (
	"fmt"
	"math"

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
// there is none within MaxReach, or p is no position. Roads bend: driving is
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
	x, y := scales(p.Lat + at.north/2)
	bearing = math.Atan2(at.east*x, at.north*y) * 180 / math.Pi
	if bearing < 0 {
		bearing += 360
	}
	return at.metres, bearing, true
}
