package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// kml and what it holds are KML 2.2's types (OGC 07-147r2, ogckml22.xsd), fields in
// the order of their sequences.
type kml struct {
	XMLName  xml.Name    `xml:"kml"`
	Space    string      `xml:"xmlns,attr"`
	Document kmlDocument `xml:"Document"`
}

type kmlDocument struct {
	Name        string      `xml:"name"`
	Open        int         `xml:"open"`
	Description string      `xml:"description"`
	Styles      []kmlStyle  `xml:"Style"`
	Placemarks  []placemark `xml:"Placemark"`
}

type kmlStyle struct {
	ID    string    `xml:"id,attr"`
	Icon  *kmlIcon  `xml:"IconStyle"`
	Label *kmlColor `xml:"LabelStyle"`
	Line  *kmlLine  `xml:"LineStyle"`
	Poly  *kmlColor `xml:"PolyStyle"`
}

// kmlIcon with a scale of 0 leaves a point its label and no picture: without one,
// viewers put a picture of their own.
type kmlIcon struct {
	Scale float64 `xml:"scale"`
}

// kmlColor is a colour as KML writes it: alpha, blue, green, red.
type kmlColor struct {
	Color string `xml:"color"`
}

type kmlLine struct {
	Color string  `xml:"color"`
	Width float64 `xml:"width"` // pixels
}

type placemark struct {
	Name        string      `xml:"name"`
	Description string      `xml:"description,omitempty"`
	Stamp       *timeStamp  `xml:"TimeStamp"`
	Span        *timeSpan   `xml:"TimeSpan"`
	Style       string      `xml:"styleUrl"`
	Geometry    kmlGeometry `xml:"MultiGeometry"`
}

type timeStamp struct {
	When string `xml:"when"`
}

type timeSpan struct {
	Begin string `xml:"begin"`
	End   string `xml:"end"`
}

type kmlGeometry struct {
	Points   []kmlPoint   `xml:"Point"`
	Lines    []kmlString  `xml:"LineString"`
	Polygons []kmlPolygon `xml:"Polygon"`
}

type kmlPoint struct {
	Mode        string `xml:"altitudeMode"`
	Coordinates string `xml:"coordinates"`
}

type kmlString struct {
	Tessellate  int    `xml:"tessellate"` // 1: it follows the ground
	Mode        string `xml:"altitudeMode"`
	Coordinates string `xml:"coordinates"`
}

type kmlPolygon struct {
	Tessellate int       `xml:"tessellate"`
	Mode       string    `xml:"altitudeMode"`
	Outer      kmlRing   `xml:"outerBoundaryIs"`
	Inner      []kmlRing `xml:"innerBoundaryIs"`
}

type kmlRing struct {
	Coordinates string `xml:"LinearRing>coordinates"`
}

const (
	kmlSpace = "http://www.opengis.net/kml/2.2"
	clamp    = "clampToGround"
	absolute = "absolute" // m above mean sea level
)

// kmlStyles are the looks: thistle purple over the ground, the way up ochre, the way
// down teal, places in near-black outlines with words.
func kmlStyles() []kmlStyle {
	const purple, ochre, teal, dark = "9a4f7a", "1a6fc4", "7a7214", "2e2626" // blue, green, red
	region := func(id, alpha string) kmlStyle {
		return kmlStyle{ID: id, Line: &kmlLine{"ff" + purple, 1.5}, Poly: &kmlColor{alpha + purple}}
	}
	return []kmlStyle{
		region("region", "48"),
		{ID: "up", Line: &kmlLine{"ff" + ochre, 3}},
		{ID: "down", Line: &kmlLine{"ff" + teal, 3}},
		{ID: "place", Icon: &kmlIcon{0}, Label: &kmlColor{"ffffffff"}, Line: &kmlLine{"ff" + dark, 2.5}},
	}
}

// WriteKML writes a launch as KML 2.2: the landing regions on the ground, the largest
// first, the central path at its heights above mean sea level, up and down apart and
// each with its times, and the site, the burst and the most likely landing as outlines
// with a name. It refers to nothing outside itself.
func WriteKML(w io.Writer, l Launch) error {
	d := kmlDocument{Name: l.Plan, Open: 1, Styles: kmlStyles(), Description: "Landing regions and the central path. " + pathWords + "."}
	if l.Landing != nil {
		for i := len(l.Landing.Regions) - 1; i >= 0; i-- {
			r := l.Landing.Regions[i]
			d.Placemarks = append(d.Placemarks, placemark{
				Name:        fmt.Sprintf("%.4g %% of landings", 100*r.Share),
				Description: fmt.Sprintf("%.4g km²", r.Area/1e6),
				Style:       "#region", Geometry: kmlGeometry{Polygons: kmlPolygons(r.Shape)},
			})
		}
	}
	d.path(l.Path)
	const siteSize = 60.0 // m
	site := kmlPlace(l.At, 0, clamp)
	site.Lines = kmlLines(ring(l.At, 4, siteSize), clamp)
	d.Placemarks = append(d.Placemarks, placemark{Name: "Launch: " + l.Site, Stamp: &timeStamp{stamp(l.Time)}, Style: "#place", Geometry: site})
	if at := l.Landing; at != nil {
		likely := kmlPlace(at.MostLikely, 0, clamp)
		likely.Lines = kmlLines(ring(at.MostLikely, 24, max(at.Radius95/100, siteSize)), clamp)
		d.Placemarks = append(d.Placemarks, placemark{
			Name:        "Most likely landing",
			Description: fmt.Sprintf("95 %% of landings are within %.1f km of it", at.Radius95/1000),
			Span:        &timeSpan{stamp(at.Early), stamp(at.Late)}, Style: "#place", Geometry: likely,
		})
	}
	return writeXML(w, kml{Space: kmlSpace, Document: d})
}

// path puts the central path behind the other placemarks.
func (d *kmlDocument) path(p *Path) {
	if p == nil {
		return
	}
	leg := func(name, style string, points []PathPoint) {
		if lines := kmlLines(points, absolute); len(lines) > 0 {
			d.Placemarks = append(d.Placemarks, placemark{
				Name: name, Style: style, Geometry: kmlGeometry{Lines: lines},
				Span: &timeSpan{fine(points[0].Time), fine(points[len(points)-1].Time)},
			})
		}
	}
	if p.Burst < 0 {
		leg("Way up", "#up", p.Points)
		return
	}
	burst := p.Points[p.Burst]
	leg("Way up", "#up", p.Points[:p.Burst+1])
	leg("Way down", "#down", p.Points[p.Burst:])
	d.Placemarks = append(d.Placemarks, placemark{
		Name: fmt.Sprintf("Burst at %.0f m", burst.Height), Stamp: &timeStamp{fine(burst.Time)}, Style: "#place",
		Geometry: kmlPlace(burst.At, burst.Height, absolute),
	})
}

// ring is a closed line of so many corners around a place, m away from it.
func ring(at geo.Point, corners int, metres float64) []PathPoint {
	points := make([]PathPoint, corners+1)
	for i := range points {
		points[i].At = geo.Direct(at, math.Mod(45+360/float64(corners)*float64(i), 360), metres)
	}
	points[corners] = points[0]
	return points
}

func kmlPlace(p geo.Point, height float64, mode string) kmlGeometry {
	return kmlGeometry{Points: []kmlPoint{{Mode: mode, Coordinates: kmlCoordinate(place(p), height, mode)}}}
}

// kmlLines is a line, cut at the date line.
func kmlLines(points []PathPoint, mode string) []kmlString {
	var lines []kmlString
	for _, piece := range cut(points) {
		words := make([]string, len(piece))
		for i, q := range piece {
			words[i] = kmlCoordinate(place(q.At), q.Height, mode)
		}
		line := kmlString{Mode: mode, Coordinates: strings.Join(words, " ")}
		if mode == clamp {
			line.Tessellate = 1
		}
		lines = append(lines, line)
	}
	return lines
}

func kmlPolygons(shape orb.MultiPolygon) []kmlPolygon {
	polygons := make([]kmlPolygon, len(shape))
	for i, p := range shape {
		polygons[i] = kmlPolygon{Tessellate: 1, Mode: clamp}
		for k, r := range p {
			words := make([]string, len(r))
			for n, at := range r {
				words[n] = kmlCoordinate(at, 0, clamp)
			}
			line := kmlRing{strings.Join(words, " ")}
			if k == 0 {
				polygons[i].Outer = line
			} else {
				polygons[i].Inner = append(polygons[i].Inner, line)
			}
		}
	}
	return polygons
}

// kmlCoordinate is longitude, latitude and, where it counts, height.
func kmlCoordinate(p orb.Point, height float64, mode string) string {
	word := strconv.FormatFloat(p[0], 'f', -1, 64) + "," + strconv.FormatFloat(p[1], 'f', -1, 64)
	if mode == absolute {
		word += "," + decimal(height, 1)
	}
	return word
}
