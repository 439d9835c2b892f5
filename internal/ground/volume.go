package ground

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode"

	"example.org/thistledown/internal/geo"
)

// MaxVolumes is how many closed volumes one file may hold.
const MaxVolumes = 64

// maxName is how many characters a volume's name may have: it is printed.
const maxName = 120

// Volume is a piece of closed airspace: straight up and down over an area of
// the Earth. It is taken to be closed at all times.
type Volume struct {
	Name           string
	Floor, Ceiling float64 // m above mean sea level, Floor below Ceiling
	area           *index
}

// Contains reports whether a height in metres above mean sea level over p is in
// the volume; floor and ceiling belong to it. NaN never does.
func (v *Volume) Contains(p geo.Point, height float64) bool {
	if !(height >= v.Floor && height <= v.Ceiling) {
		return false
	}
	at, ok := place(p)
	return ok && v.area.contains(at)
}

// ReadVolumes reads closed airspace from GeoJSON under the same rules as
// ReadLayer, one volume for each feature. The feature's properties must have
// floor_m and ceiling_m, metres above mean sea level as numbers, and may have
// name; a volume without one is named by the file and the feature's number.
func ReadVolumes(name string, geojson []byte) ([]*Volume, error) {
	features, err := readFeatures(geojson)
	if err != nil {
		return nil, fmt.Errorf("airspace %q: %w", name, err)
	}
	if len(features) > MaxVolumes {
		return nil, fmt.Errorf("airspace %q: %d features: want at most %d", name, len(features), MaxVolumes)
	}
	volumes := make([]*Volume, 0, len(features))
	for i, f := range features {
		v, err := newVolume(f)
		if err != nil {
			return nil, fmt.Errorf("airspace %q: feature %d: %w", name, i+1, err)
		}
		if v.Name == "" {
			v.Name = fmt.Sprintf("%s, feature %d", name, i+1)
		}
		volumes = append(volumes, v)
	}
	return volumes, nil
}

// newVolume is the volume that a feature describes.
func newVolume(f feature) (*Volume, error) {
	var p struct {
		Name    *string  `json:"name"`
		Floor   *float64 `json:"floor_m"`
		Ceiling *float64 `json:"ceiling_m"`
	}
	if len(f.properties) > 0 {
		if err := json.Unmarshal(f.properties, &p); err != nil {
			return nil, fmt.Errorf("properties: %w: want floor_m and ceiling_m as numbers in metres, name as text", err)
		}
	}
	switch {
	case p.Floor == nil:
		return nil, fmt.Errorf("property floor_m is missing: want metres above mean sea level")
	case p.Ceiling == nil:
		return nil, fmt.Errorf("property ceiling_m is missing: want metres above mean sea level")
	case !(*p.Floor < *p.Ceiling):
		return nil, fmt.Errorf("floor_m %g and ceiling_m %g: want the floor below the ceiling", *p.Floor, *p.Ceiling)
	}
	v := &Volume{Floor: *p.Floor, Ceiling: *p.Ceiling}
	if p.Name != nil {
		v.Name = *p.Name
	}
	unprintable := func(r rune) bool { return !unicode.IsPrint(r) }
	if len([]rune(v.Name)) > maxName || strings.ContainsFunc(v.Name, unprintable) {
		return nil, fmt.Errorf("name %.40q: want at most %d characters, all of them printable", v.Name, maxName)
	}
	var s shapes
	for _, polygon := range f.polygons {
		s.add(polygon)
	}
	v.area = newIndex(&s)
	return v, nil
}
