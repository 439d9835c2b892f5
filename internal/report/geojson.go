package report

import (
	"encoding/json"
	"io"
	"time"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// collection, feature and geometry are RFC 7946's. The orb module's own writer
// is not used: it brings a database driver along.
type collection struct {
	Type     string    `json:"type"`
	Features []feature `json:"features"`
}

type feature struct {
	Type       string         `json:"type"`
	Geometry   geometry       `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

// WriteGeoJSON writes the landing regions, largest first so that a map draws
// the smaller ones over the larger, then the most likely place and the site,
// as an RFC 7946 FeatureCollection. Each feature's property "part" says which
// it is; quantities carry their unit in the name.
func WriteGeoJSON(w io.Writer, l Launch) error {
	c := collection{Type: "FeatureCollection"}
	if d := l.Landing; d != nil {
		for i := len(d.Regions) - 1; i >= 0; i-- {
			r := d.Regions[i]
			c.add("landing region", r.Shape, map[string]any{"share": r.Share, "area_m2": r.Area})
		}
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
		"name": l.Site, "launch": stamp(l.Time), "forecast_cycle": stamp(l.Forecast.Cycle),
	})
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", " ")
	return encoder.Encode(c)
}

// add puts a feature behind the others.
func (c *collection) add(part string, g orb.Geometry, properties map[string]any) {
	properties["part"] = part
	c.Features = append(c.Features, feature{
		Type: "Feature", Properties: properties,
		Geometry: geometry{Type: g.GeoJSONType(), Coordinates: g},
	})
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

func place(p geo.Point) orb.Point { return orb.Point{p.Lon, p.Lat} }
