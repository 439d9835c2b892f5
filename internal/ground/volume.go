package ground

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"

	"example.org/thistledown/internal/geo"
)

// MaxVolumes is how many volumes of airspace one file may hold, and all the
// files of one map together.
const MaxVolumes = 4096

// maxName is how many characters a volume's name may have: it is printed.
const maxName = 120

// Volume is a piece of airspace: straight up and down over an area of the Earth,
// from a floor to a ceiling, at some hours or at all times.
type Volume struct {
	Name string
	// Kind is what its file calls it: of OpenAir the word after AC (A to G are
	// classes of airspace, P prohibited, Q danger, R restricted, CTR, TMZ, RMZ, W
	// wave, GP gliders prohibited and what else there is), of GeoJSON its
	// property class. Empty where it is not said.
	Kind           string
	Floor, Ceiling Limit
	// Hours are when it is active, if any of them is; none: at all times.
	Hours []Hours
	// Severity is how bad it is to cross it, 0 to 1; NaN: as bad as is usual.
	Severity float64
	area     *index
	shapes   *shapes
	extent   box // of the area, its longitudes as they run on across the date line
}

// newVolume puts a volume over an area, active at all times and as severe as is
// usual.
func newVolume(name, kind string, floor, ceiling Limit, area *shapes) *Volume {
	v := &Volume{Name: name, Kind: kind, Floor: floor, Ceiling: ceiling, Severity: math.NaN(), shapes: area}
	v.extent = box{math.MaxInt32, math.MaxInt32, math.MinInt32, math.MinInt32}
	for k := range area.polygons {
		e, _ := area.measure(k)
		v.extent.west, v.extent.east = min(v.extent.west, e.west), max(v.extent.east, e.east)
		v.extent.south, v.extent.north = min(v.extent.south, e.south), max(v.extent.north, e.north)
	}
	v.area = newIndex(area)
	return v
}

// Over reports whether p lies in the area, at whatever height. NaN never does.
func (v *Volume) Over(p geo.Point) bool {
	at, ok := place(p)
	return ok && v.area.contains(at)
}

// Active reports whether it is active at any time from one to another.
func (v *Volume) Active(from, to time.Time) bool {
	for _, h := range v.Hours {
		if h.during(from, to) {
			return true
		}
	}
	return len(v.Hours) == 0
}

// during reports whether it is active at any time from one to another, both
// included.
func (h Hours) during(from, to time.Time) bool {
	if h.Contains(from) {
		return true
	}
	zone := h.Zone
	if zone == nil {
		zone = time.UTC
	}
	// Otherwise it must begin in between: within eight days it does.
	y, m, d := from.In(zone).Date()
	for i := range 8 {
		begin := time.Date(y, m, d+i, int(h.From/time.Hour), int(h.From/time.Minute%60), int(h.From/time.Second%60), int(h.From%time.Second), zone)
		if begin.After(to) {
			return false
		}
		if !begin.Before(from) && h.Contains(begin) {
			return true
		}
	}
	return false
}

// A flight level lies as much higher than in the standard atmosphere as the air
// under it is warmer, and where the pressure at sea level is higher, 8 m for each
// hPa; lower likewise. A quarter and 1,500 m are more than either has been: the
// pressures on record are 870 to 1085 hPa (from memory), the column's mean
// temperature within 15 % of the standard's.
const (
	levelShare  = 0.25
	levelMetres = 1500.0
	// m above mean sea level: all ground lies between them (Dead Sea shore −430 m,
	// highest summit 8,849 m, from memory).
	deepestGround, highestGround = -500, 9000
)

// Top is a height in metres above mean sea level that the ceiling is never
// above: +Inf where it has none.
func (v *Volume) Top() float64 {
	switch v.Ceiling.Ref {
	case AboveSea:
		return v.Ceiling.Metres
	case AboveGround:
		return v.Ceiling.Metres + highestGround
	case FlightLevel:
		return v.Ceiling.Metres*(1+levelShare) + levelMetres
	}
	return math.Inf(1)
}

// Bottom is a height in metres above mean sea level that the floor is never
// below: -Inf where that is the ground, which a terrain may have anywhere.
func (v *Volume) Bottom() float64 {
	switch {
	case v.Floor.Ref == AboveSea:
		return v.Floor.Metres
	case v.Floor.Ref == AboveGround && v.Floor.Metres > 0:
		return v.Floor.Metres + deepestGround
	case v.Floor.Ref == FlightLevel:
		return v.Floor.Metres*(1-levelShare) - levelMetres
	}
	return math.Inf(-1)
}

// Near reports whether the area's extent meets a box, whose West is not east of
// its East: longitudes run on across the date line, from -540 to 540.
func (v *Volume) Near(b geo.Box) bool {
	const step = 1.0 / steps
	if float64(v.extent.south)*step > b.North || float64(v.extent.north)*step < b.South {
		return false
	}
	west, east := float64(v.extent.west)*step, float64(v.extent.east)*step
	for turns := -1080.0; turns <= 1080; turns += 360 {
		if west+turns <= b.East && east+turns >= b.West {
			return true
		}
	}
	return false
}

// Cuts appends to a slice where the straight line from a to b (in longitude and
// latitude, the short way round) meets an edge of the area, as fractions of the
// way, in no order. Between two neighbouring cuts the line is all in the area or
// all outside it, but for pieces shorter than the 5 cm to which positions are
// rounded. Where the line runs along an edge, the edges that follow cut it.
func (v *Volume) Cuts(a, b geo.Point, cuts []float64) []float64 {
	lon := geo.WrapLon(a.Lon)
	l := line{x: lon * steps, y: a.Lat * steps, dx: geo.WrapLon(b.Lon-a.Lon) * steps, dy: (b.Lat - a.Lat) * steps}
	low, high := min(l.x, l.x+l.dx)-1, max(l.x, l.x+l.dx)+1
	south, north := min(l.y, l.y+l.dy)-1, max(l.y, l.y+l.dy)+1
	for turns := -3; turns <= 3; turns++ {
		east := float64(turns) * turn
		if float64(v.extent.west)+east > high || float64(v.extent.east)+east < low {
			continue
		}
		for _, r := range v.shapes.rings {
			ring := v.shapes.vertices[r.from:r.to]
			for i := 1; i < len(ring); i++ {
				px, py := float64(ring[i-1].x)+east, float64(ring[i-1].y)
				qx, qy := float64(ring[i].x)+east, float64(ring[i].y)
				if max(px, qx) < low || min(px, qx) > high || max(py, qy) < south || min(py, qy) > north {
					continue
				}
				if t, ok := l.meets(px, py, qx-px, qy-py); ok {
					cuts = append(cuts, t)
				}
			}
		}
	}
	return cuts
}

// line is a straight line in steps, from (x, y).
type line struct{ x, y, dx, dy float64 }

// meets is the fraction of the line at which it meets an edge from (x, y).
func (l line) meets(x, y, dx, dy float64) (float64, bool) {
	det := l.dx*dy - l.dy*dx
	if det == 0 {
		return 0, false
	}
	x, y = x-l.x, y-l.y
	along, edge := (x*dy-y*dx)/det, (x*l.dy-y*l.dx)/det
	// An edge is taken a little too long: a cut too many does no harm.
	const more = 1e-9
	return along, along >= 0 && along <= 1 && edge >= -more && edge <= 1+more
}

// ReadAirspace reads airspace in either of the forms that ReadVolumes and
// ReadOpenAir read: GeoJSON if the first character that is not blank is {.
func ReadAirspace(name string, text []byte) ([]*Volume, error) {
	if isJSON(text) {
		return ReadVolumes(name, text)
	}
	return ReadOpenAir(name, text)
}

func isJSON(text []byte) bool {
	for _, b := range text {
		switch b {
		case ' ', '\t', '\r', '\n', 0xEF, 0xBB, 0xBF: // the last three: a byte order mark
		default:
			return b == '{'
		}
	}
	return false
}

// ReadVolumes reads airspace from GeoJSON under the same rules as ReadLayer, one
// volume for each feature. The feature's properties must have a floor and a
// ceiling: floor_m and ceiling_m as numbers in metres above mean sea level, or
// floor and ceiling as ParseLimit reads them. They may have name, class (which
// becomes the volume's Kind), severity, 0 to 1, and active, a list of hours such
// as "Mon-Fri 07:00-16:00", in UTC. A volume without a name is named by the file
// and the feature's number.
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
		v, err := featureVolume(f)
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

// volumeProperties are those that a feature of airspace may have.
type volumeProperties struct {
	Name        string   `json:"name"`
	Class       string   `json:"class"`
	FloorM      *float64 `json:"floor_m"`
	CeilingM    *float64 `json:"ceiling_m"`
	FloorText   *string  `json:"floor"`
	CeilingText *string  `json:"ceiling"`
	Severity    *float64 `json:"severity"`
	Active      []string `json:"active"`
}

// featureVolume is the volume that a feature describes.
func featureVolume(f feature) (*Volume, error) {
	var p volumeProperties
	if len(f.properties) > 0 {
		if err := json.Unmarshal(f.properties, &p); err != nil {
			return nil, fmt.Errorf("properties: %w: want floor_m, ceiling_m and severity as numbers, name, class, floor and ceiling as text, active as a list of texts", err)
		}
	}
	floor, err := propertyLimit("floor", p.FloorM, p.FloorText)
	if err != nil {
		return nil, err
	}
	ceiling, err := propertyLimit("ceiling", p.CeilingM, p.CeilingText)
	if err != nil {
		return nil, err
	}
	if err := checkLimits(floor, ceiling); err != nil {
		return nil, err
	}
	for what, s := range map[string]string{"name": p.Name, "class": p.Class} {
		if err := checkName(what, s); err != nil {
			return nil, err
		}
	}
	var s shapes
	for _, polygon := range f.polygons {
		s.add(polygon)
	}
	v := newVolume(p.Name, p.Class, floor, ceiling, &s)
	if p.Severity != nil {
		if v.Severity = *p.Severity; !(v.Severity >= 0 && v.Severity <= 1) {
			return nil, fmt.Errorf("severity %g: want 0 to 1", v.Severity)
		}
	}
	if len(p.Active) > maxHours {
		return nil, fmt.Errorf("active: %d hours: want at most %d", len(p.Active), maxHours)
	}
	for _, text := range p.Active {
		h, err := ParseHours(text)
		if err != nil {
			return nil, err
		}
		v.Hours = append(v.Hours, h)
	}
	return v, nil
}

// propertyLimit is a limit that a feature gives as a number or as a text.
func propertyLimit(name string, metres *float64, text *string) (Limit, error) {
	switch {
	case metres != nil && text != nil:
		return Limit{}, fmt.Errorf("properties %s_m and %s: want one of them", name, name)
	case text != nil:
		l, err := ParseLimit(*text)
		if err != nil {
			return Limit{}, fmt.Errorf("%s: %w", name, err)
		}
		return l, nil
	case metres == nil:
		return Limit{}, fmt.Errorf("property %[1]s_m is missing: want metres above mean sea level, or %[1]s as text", name)
	case !(*metres >= lowestLimit && *metres <= highestLimit):
		return Limit{}, fmt.Errorf("%s_m %g: want %d to %d m above mean sea level", name, *metres, lowestLimit, highestLimit)
	}
	return Limit{AboveSea, *metres}, nil
}

// checkName refuses what cannot be printed on a line.
func checkName(what, s string) error {
	unprintable := func(r rune) bool { return !unicode.IsPrint(r) }
	if len([]rune(s)) > maxName || strings.ContainsFunc(s, unprintable) {
		return fmt.Errorf("%s %.40q: want at most %d characters, all of them printable", what, s, maxName)
	}
	return nil
}
