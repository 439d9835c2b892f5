package report

import (
	"fmt"
	"io"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// WriteChaseGeoJSON writes a flight under way as an RFC 7946 FeatureCollection: the parts
// "landing region", "landing" and "most likely landing" as WriteGeoJSON has them, "track"
// for the believed fixes in order, "fix" for each of them and "rejected fix" for others,
// and "search cell" for the cells of a search, if there are some, the likeliest first.
func WriteChaseGeoJSON(w io.Writer, s Search) error {
	c := collection{}
	l := s.Launch
	c.regions(l)
	for i, cell := range s.Cells {
		classes := make([]string, len(cell.On))
		for k, class := range cell.On {
			classes[k] = class.String()
		}
		c.add("search cell", square(cell.Middle, s.Side), map[string]any{
			"order": i + 1, "share": cell.Share, "contained": cell.Contained, "classes": classes, "owners": cell.Owners,
		})
	}
	for _, i := range sample(l.Flown) {
		f := l.Flown[i]
		c.add("landing", place(f.At), map[string]any{
			"flight": i + 1, "member": f.Member + 1, "course": f.Course.String(), "time": stamp(f.Time), "speed_m_s": round(f.Speed, 100),
		})
	}
	c.seen(l.Path)
	for _, f := range s.Seen {
		c.add("fix", place(f.At), map[string]any{"number": f.Number + 1, "time": fine(f.Time), "height_m": round(f.Height, 10)})
	}
	for _, f := range s.Rejected {
		c.add("rejected fix", place(f.At), map[string]any{"number": f.Number + 1, "time": fine(f.Time), "height_m": round(f.Height, 10), "why": "it " + f.Why})
	}
	if d := l.Landing; d != nil {
		c.add("most likely landing", place(d.MostLikely), map[string]any{
			"distance_from_last_fix_m": s.Distance, "bearing_from_last_fix_deg": s.Bearing, "radius95_m": d.Radius95,
			"time_p05": stamp(d.Early), "time_p50": stamp(d.Middle), "time_p95": stamp(d.Late),
		})
	}
	return c.write(w)
}

// seen adds the believed fixes as a line.
func (c *collection) seen(p *Path) {
	var lines orb.MultiLineString
	for _, piece := range cut(p.Points) {
		var line orb.LineString
		for _, q := range piece {
			line = append(line, place(q.At))
		}
		if len(line) > 1 {
			lines = append(lines, line)
		}
	}
	if len(lines) > 0 {
		c.add("track", lines, map[string]any{})
	}
}

// square is a square of ground around a place, its sides north and east.
func square(middle geo.Point, side float64) orb.MultiPolygon {
	north, south := geo.Direct(middle, 0, side/2).Lat, geo.Direct(middle, 180, side/2).Lat
	east, west := geo.Direct(middle, 90, side/2).Lon, geo.Direct(middle, -90, side/2).Lon
	ring := func(west, east float64) orb.Polygon {
		return orb.Polygon{{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}}
	}
	if west > east { // across the date line
		return orb.MultiPolygon{ring(west, 180), ring(-180, east)}
	}
	return orb.MultiPolygon{ring(west, east)}
}

// maxSearchPoints is how many cells a navigation device is given.
const maxSearchPoints = 200

// WriteSearchGPX writes a flight under way for navigation devices, as GPX 1.1: waypoints at
// the last fix, at the most likely landing and at the middles of the likeliest cells, in
// order, and the believed fixes as a track.
func WriteSearchGPX(w io.Writer, s Search) error {
	g := gpx{Space: gpxSpace, Version: "1.1", Creator: "thistledown " + s.Launch.Version, Name: s.Launch.Plan}
	last := s.Last()
	seen := gpxPoint(last.At)
	seen.Ele, seen.Time, seen.Name = decimal(last.Height, 1), fine(last.Time), "Last fix"
	g.Waypoints = append(g.Waypoints, seen)
	if d := s.Launch.Landing; d != nil {
		likely := gpxPoint(d.MostLikely)
		likely.Time, likely.Name = stamp(d.Middle), "Most likely landing"
		likely.Desc = fmt.Sprintf("95 %% within %.1f km of it", d.Radius95/1000)
		g.Waypoints = append(g.Waypoints, likely)
	}
	for i, cell := range s.Cells[:min(len(s.Cells), maxSearchPoints)] {
		at := gpxPoint(cell.Middle)
		at.Name, at.Desc = fmt.Sprintf("Look %d", i+1), fmt.Sprintf("%.1f %%, so far %.0f %%; a square of %.0f m", 100*cell.Share, 100*cell.Contained, s.Side)
		g.Waypoints = append(g.Waypoints, at)
	}
	g.Track = trackOf("Fixes", "Where the flight was seen", s.Launch.Path.Points)
	return writeXML(w, g)
}
