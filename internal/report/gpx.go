package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"strconv"

	"example.org/thistledown/internal/geo"
)

// gpx and what it holds are GPX 1.1's types (Topografix 2004,
// http://www.topografix.com/GPX/1/1/gpx.xsd), fields in the order of their
// sequences.
type gpx struct {
	XMLName   xml.Name   `xml:"gpx"`
	Space     string     `xml:"xmlns,attr"`
	Version   string     `xml:"version,attr"`
	Creator   string     `xml:"creator,attr"`
	Name      string     `xml:"metadata>name"`
	Waypoints []waypoint `xml:"wpt"`
	Track     *track     `xml:"trk"`
}

type waypoint struct {
	Lat  string `xml:"lat,attr"`
	Lon  string `xml:"lon,attr"`
	Ele  string `xml:"ele,omitempty"`  // m above mean sea level
	Time string `xml:"time,omitempty"` // UTC
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
}

type track struct {
	Name   string     `xml:"name"`
	Desc   string     `xml:"desc"`
	Points []waypoint `xml:"trkseg>trkpt"`
}

const gpxSpace = "http://www.topografix.com/GPX/1/1"

// WriteGPX writes a launch for navigation devices, as GPX 1.1: waypoints at the site
// and at the most likely landing, how sure that is in the latter's words, and the
// central path as a track. Heights are above mean sea level, times UTC. Waypoints name
// no symbol.
func WriteGPX(w io.Writer, l Launch) error {
	g := gpx{Space: gpxSpace, Version: "1.1", Creator: "thistledown " + l.Version, Name: l.Plan}
	site := gpxPoint(l.At)
	site.Ele, site.Time, site.Name, site.Desc = decimal(l.Elevation, 1), stamp(l.Time), "Launch", l.Site
	g.Waypoints = append(g.Waypoints, site)
	if d := l.Landing; d != nil {
		likely := gpxPoint(d.MostLikely)
		likely.Time, likely.Name = stamp(d.Middle), "Most likely landing"
		likely.Desc = fmt.Sprintf("95 %% of landings are within %.1f km of it; nine in ten are from %s to %s",
			d.Radius95/1000, stamp(d.Early), stamp(d.Late))
		g.Waypoints = append(g.Waypoints, likely)
	}
	if p := l.Path; p != nil {
		g.Track = trackOf("Central path", pathWords, p.Points)
	}
	return writeXML(w, g)
}

// trackOf is a track through points.
func trackOf(name, words string, points []PathPoint) *track {
	t := &track{Name: name, Desc: words}
	for _, q := range points {
		at := gpxPoint(q.At)
		at.Ele, at.Time = decimal(q.Height, 1), fine(q.Time)
		t.Points = append(t.Points, at)
	}
	return t
}

// pathWords say what the central path is.
const pathWords = "One flight with nothing drawn: every quantity at its centre, no wind error, nothing breaking, the forecast's first member"

// gpxPoint is a position; the longitude of the date line is -180, as GPX has none
// of 180.
func gpxPoint(p geo.Point) waypoint {
	lat, lon := round(p.Lat, 1e7), geo.WrapLon(round(p.Lon, 1e7))
	return waypoint{Lat: strconv.FormatFloat(lat, 'f', -1, 64), Lon: strconv.FormatFloat(lon, 'f', -1, 64)}
}

// writeXML writes a document with its declaration. What is no character of XML in a
// name becomes U+FFFD.
func writeXML(w io.Writer, document any) error {
	content, err := xml.MarshalIndent(document, "", " ")
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, xml.Header+string(content)+"\n")
	return err
}
