package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
)

// collection is features under way; feature and geometry are RFC 7946's. The orb module's own writer
// is not used: it brings a database driver along.
type collection struct {
	features []feature
	around   bounds
}

type feature struct {
	Type       string         `json:"type"`
	Geometry   *geometry      `json:"geometry"` // null where it is nowhere in particular
	Properties map[string]any `json:"properties"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

// maxSample is how many landings a map is given.
const maxSample = 500

// WriteGeoJSON writes a launch as an RFC 7946 FeatureCollection. Each feature's
// property "part" says which it is, in the order in which a map draws them:
//
//	landing region       the largest first
//	landing              at most 500 of them, evenly chosen
//	central path         of the flight with nothing drawn; see Path
//	most likely landing
//	site
//	ground and airspace  what flights met and how often, the layers that some
//	                     came down on and whose land that is; it has no geometry
//
// Quantities carry their unit in the name; times are UTC. Heights are above mean
// sea level, and so stand in properties: a third coordinate would be a height above
// the ellipsoid.
func WriteGeoJSON(w io.Writer, l Launch) error {
	c := collection{}
	c.regions(l)
	for _, i := range sample(l.Flown) {
		f := l.Flown[i]
		c.add("landing", place(f.At), map[string]any{
			"flight": i + 1, "member": f.Member + 1, "course": f.Course.String(), "time": stamp(f.Time),
			"aloft_s": round(f.Aloft, 10), "burst_m": round(f.Burst, 10), "height_m": round(f.Height, 10), "speed_m_s": round(f.Speed, 100),
		})
	}
	c.path(l.Path)
	if d := l.Landing; d != nil {
		properties := map[string]any{
			"distance_m": d.Distance, "bearing_deg": d.Bearing, "radius95_m": d.Radius95,
			"time_p05": stamp(d.Early), "time_p50": stamp(d.Middle), "time_p95": stamp(d.Late),
		}
		if l.Hazard != nil {
			properties["score"] = l.Hazard.Value
			properties["score_if_unassessed_worst"] = l.Hazard.Worst
		}
		c.add("most likely landing", place(d.MostLikely), properties)
	}
	c.add("site", place(l.At), map[string]any{
		"name": l.Site, "plan": l.Plan, "launch": stamp(l.Time), "forecast_cycle": stamp(l.Forecast.Cycle), "height_m": l.Elevation,
	})
	c.met(l.Hazard)
	return c.write(w)
}

// write writes a line for each feature.
func (c *collection) write(w io.Writer) error {
	box, err := json.Marshal(c.around.box())
	if err != nil {
		return err
	}
	var b bytes.Buffer
	_, _ = fmt.Fprintf(&b, "{\"type\":\"FeatureCollection\",\"bbox\":%s,\"features\":[", box)
	for i, f := range c.features {
		line, err := json.Marshal(f)
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		b.Write(line)
	}
	b.WriteString("\n]}\n")
	_, err = w.Write(b.Bytes())
	return err
}

// sample is the indices of at most maxSample flights that landed, evenly chosen.
func sample(flown []Flown) []int {
	var landed []int
	for i, f := range flown {
		if f.End == flight.Landed {
			landed = append(landed, i)
		}
	}
	n := min(len(landed), maxSample)
	chosen := make([]int, n)
	for k := range chosen {
		chosen[k] = landed[k*len(landed)/n]
	}
	return chosen
}

// regions adds those of a landing, the largest first.
func (c *collection) regions(l Launch) {
	if l.Landing == nil {
		return
	}
	for _, r := range slices.Backward(l.Landing.Regions) {
		c.add("landing region", r.Shape, map[string]any{"share": r.Share, "area_m2": r.Area})
	}
}

// add puts a feature behind the others.
func (c *collection) add(part string, g orb.Geometry, properties map[string]any) {
	switch g := g.(type) {
	case orb.Point:
		c.around.add(g)
	case orb.LineString:
		c.around.add(g...)
	case orb.MultiLineString:
		for _, line := range g {
			c.around.add(line...)
		}
	case orb.MultiPolygon:
		for _, polygon := range g {
			for _, ring := range polygon {
				c.around.add(ring...)
			}
		}
	}
	properties["part"] = part
	c.features = append(c.features, feature{
		Type: "Feature", Properties: properties,
		Geometry: &geometry{Type: g.GeoJSONType(), Coordinates: g},
	})
}

// path puts the central path behind the others, with a height and a time for each
// of its positions.
func (c *collection) path(p *Path) {
	if p == nil {
		return
	}
	var lines orb.MultiLineString
	var heights []float64
	var times []string
	for _, piece := range cut(p.Points) {
		var line orb.LineString
		for _, q := range piece {
			line = append(line, place(q.At))
			heights = append(heights, round(q.Height, 10))
			times = append(times, fine(q.Time))
		}
		lines = append(lines, line)
	}
	properties := map[string]any{
		"heights_m": heights, "times": times, "end": p.End.String(), "within_m": round(p.Within, 10),
	}
	if p.Burst >= 0 {
		properties["burst_time"], properties["burst_m"] = fine(p.Points[p.Burst].Time), round(p.Points[p.Burst].Height, 10)
	}
	switch len(lines) {
	case 0:
	case 1:
		c.add("central path", lines[0], properties)
	default:
		c.add("central path", lines, properties)
	}
}

// met puts what flights met behind the others.
func (c *collection) met(h *hazard.Score) {
	if h == nil {
		return
	}
	classes := make([]map[string]any, len(h.Classes))
	for i, k := range h.Classes {
		classes[i] = chance(k.Landing)
		classes[i]["class"], classes[i]["severity"], classes[i]["points"] = k.Class.String(), k.Severity, k.Points
		classes[i]["not_assessed"] = k.NotAssessed.Value
	}
	layers := make([]map[string]any, 0, len(h.Layers))
	for _, k := range h.Layers {
		if k.Landing.Hits == 0 {
			continue
		}
		layer := chance(k.Landing)
		layer["name"], layer["points"] = k.Name, k.Points
		if k.Class != 0 { // else it says whose land it is alone
			layer["class"], layer["severity"] = k.Class.String(), k.Severity
		}
		layers = append(layers, layer)
	}
	owners := make([]map[string]any, len(h.Parcels))
	for i, k := range h.Parcels {
		owners[i] = chance(k.Landing)
		owners[i]["owner"], owners[i]["layer"] = k.Owner, k.Layer
	}
	airspace := make([]map[string]any, len(h.Crossings))
	for i, k := range h.Crossings {
		airspace[i] = chance(k.Probability)
		airspace[i]["name"], airspace[i]["points"] = k.Name, k.Points
	}
	c.features = append(c.features, feature{Type: "Feature", Properties: map[string]any{
		"part": "ground and airspace", "score": h.Value, "score_low": h.Low, "score_high": h.High,
		"score_if_unassessed_worst": h.Worst, "not_landed": h.NotLanded.Value, "classes": classes, "airspace": airspace,
		"layers": layers, "owners": owners, "owners_besides": h.OtherParcels,
	}})
}

// chance is a probability with its 95 % interval.
func chance(p hazard.Probability) map[string]any {
	return map[string]any{"probability": p.Value, "low": p.Low, "high": p.High, "hits": p.Hits, "of": p.Of}
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// fine is a time to a tenth of a second, in which what falls falls some metres.
func fine(t time.Time) string {
	return t.UTC().Round(100 * time.Millisecond).Format("2006-01-02T15:04:05.0Z07:00")
}

// round is v to a number of parts of one.
func round(v, parts float64) float64 { return math.Round(v*parts) / parts }

func place(p geo.Point) orb.Point { return orb.Point{p.Lon, p.Lat} }
