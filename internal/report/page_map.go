package report

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/page"
)

// How much a map may hold, in points of outlines: they are thinned out until they
// do, and what is small is left out. A point takes some 7 octets of the page.
const (
	mapPoints    = 24_000 // of the ground and the air in all
	layerPoints  = 6_000  // of one layer
	volumePoints = 400    // of one volume of air
	regionPoints = 160    // of one landing region
	pathPoints   = 300    // of one central path
	mapNames     = 40     // written on the map
	named        = 12     // areas that a layer may have for its name to be written
)

// mapView is the map of all launch times.
type mapView struct {
	Wide, High, ViewWide, ViewHigh int
	Equator, PerRadian             float64
	Units                          string // as quantity.System has them
	Scale                          string // of the whole chart in the view
	Base                           []baseView
	Names                          []pinView
	Flights                        []flightView
	Legend                         []legendView
	Credits                        []string
	Cover                          bool // there are rasters, which are not drawn
}

// baseView is what one layer or volume draws.
type baseView struct {
	Class  string
	Shapes []page.Shape
	Lines  string
}

// pinView is a mark with its words, of the same size at every scale.
type pinView struct {
	Kind, Text string
	X, Y       int
	Transform  string // where it stands before a script has put it there
}

// legendView is a line of the legend.
type legendView struct{ Class, Words string }

// flightView is what is drawn of one launch time.
type flightView struct {
	Number       int
	Best         bool
	Regions      []regionView
	Path         string
	Pins         []pinView
	Box, Landing string // left, top, right, bottom on the chart
	Spoken       string
}

// regionView is a landing region.
type regionView struct {
	Share  string
	Shapes []page.Shape
}

// chartOf is the map on which some windows of a page have room.
func chartOf(p Page, full []int) page.Chart {
	const least = 0.2 // degrees of latitude and of longitude
	if len(full) == 0 {
		return page.NewChart(-least, -least, least, least)
	}
	at := p.Windows[full[0]].Launch.At
	b := orb.Bound{Min: orb.Point{0, at.Lat}, Max: orb.Point{0, at.Lat}} // longitudes from that site's
	add := func(lon, lat float64) { b = b.Extend(orb.Point{geo.WrapLon(lon - at.Lon), lat}) }
	for _, i := range full {
		l := p.Windows[i].Launch
		add(l.At.Lon, l.At.Lat)
		if l.Path != nil {
			for _, q := range l.Path.Points {
				add(q.At.Lon, q.At.Lat)
			}
		}
		for _, r := range l.Landing.Regions {
			for _, polygon := range r.Shape {
				for _, q := range polygon[0] {
					add(q.Lon(), q.Lat())
				}
			}
		}
	}
	if short := least - (b.Max[1] - b.Min[1]); short > 0 {
		b.Min[1], b.Max[1] = b.Min[1]-short/2, b.Max[1]+short/2
	}
	return page.NewChart(at.Lon+b.Min[0], b.Min[1], at.Lon+b.Max[0], b.Max[1])
}

// mapOf draws the ground and some windows; nil where there is none of them.
func (t *text) mapOf(p Page, full []int, c page.Chart) *mapView {
	if len(full) == 0 {
		return nil
	}
	m := &mapView{
		Wide: page.Wide, High: page.High, ViewWide: page.ViewWide, ViewHigh: page.ViewHigh,
		Equator: c.Equator, PerRadian: c.PerRadian, Units: t.units.String(), Scale: fmt.Sprintf("scale(%.4f)", float64(page.ViewWide)/page.Wide),
	}
	for place, i := range full {
		f := t.flight(p.Windows[i], i, c)
		f.Best = place == 0
		m.Flights = append(m.Flights, f)
	}
	if p.Map != nil {
		d := drawing{m: m, c: c, left: mapPoints, legend: map[string]bool{}}
		d.west, d.south, d.east, d.north = c.Box()
		d.ground(p.Map)
		t.air(&d, p.Map)
		m.Cover = len(p.Map.Covers) > 0
	}
	return m
}

// drawing is a map under way.
type drawing struct {
	m                        *mapView
	c                        page.Chart
	left                     int // points that may still be drawn
	west, south, east, north float64
	legend                   map[string]bool
}

func (d *drawing) box() geo.Box {
	return geo.Box{South: d.south, North: d.north, West: d.west, East: d.east}
}

// layerWords are what the legend calls the classes of ground.
var layerWords = map[ground.Class]string{
	0: "other land whose owner is known", ground.Water: "water", ground.Forest: "forest", ground.BuiltUp: "houses", ground.Closed: "closed ground",
	ground.Airfield: "airfield", ground.Abroad: "across a border",
}

// ground draws the layers, those that are lands before what lies on them.
func (d *drawing) ground(m *ground.Map) {
	for _, class := range [...]ground.Class{ground.Abroad, ground.Forest, ground.Water, ground.BuiltUp, 0, ground.Airfield, ground.Closed} {
		for _, l := range m.Layers {
			s := l.Source()
			if s.Class != class {
				continue
			}
			areas, lines := l.Outlines(d.box())
			kind := strings.ReplaceAll(class.String(), "_", "-")
			if class == 0 {
				kind = "owned"
			}
			if d.draw(kind, areas, lines, layerPoints) {
				d.note(kind, layerWords[class], s.Credit)
				if (class == ground.Forest || class == ground.Closed) && len(areas) <= named {
					d.name(s.Name, areas)
				}
			}
		}
	}
}

// air draws the volumes of air.
func (t *text) air(d *drawing, m *ground.Map) {
	for _, v := range m.Volumes {
		areas := v.Outlines(d.box())
		if !d.draw("air", areas, nil, volumePoints) {
			continue
		}
		d.note("air", "airspace to look out for", "")
		d.name(fmt.Sprintf("%s, %s to %s", v.Name, t.limit(v.Floor), t.limit(v.Ceiling)), areas)
	}
}

// limit is a floor or a ceiling of airspace in words.
func (t *text) limit(l ground.Limit) string {
	switch {
	case l.Ref == ground.AboveSea:
		return t.units.Altitude(l.Metres) + " above the sea"
	case l.Ref == ground.AboveGround && l.Metres == 0:
		return "the ground"
	case l.Ref == ground.AboveGround:
		return t.units.Altitude(l.Metres) + " above the ground"
	case l.Ref == ground.Unlimited:
		return "no ceiling"
	}
	return l.String() // a flight level
}

// draw draws outlines of a kind as far as there is room; false where nothing came
// of it.
func (d *drawing) draw(kind string, areas orb.MultiPolygon, lines orb.MultiLineString, most int) bool {
	b := baseView{Class: kind, Shapes: d.c.Areas(areas, min(most, d.left))}
	for _, s := range b.Shapes {
		d.left -= s.Points
	}
	thin := d.c.Lines(lines, max(0, min(most, d.left)))
	d.left -= thin.Points
	b.Lines = thin.Path
	if len(b.Shapes) == 0 && b.Lines == "" {
		return false
	}
	d.m.Base = append(d.m.Base, b)
	return true
}

// note puts a kind into the legend, and whom it is owed to.
func (d *drawing) note(kind, words, credit string) {
	if !d.legend[kind] {
		d.legend[kind] = true
		d.m.Legend = append(d.m.Legend, legendView{kind, words})
	}
	if credit != "" && !d.legend[credit] {
		d.legend[credit] = true
		d.m.Credits = append(d.m.Credits, credit)
	}
}

// name writes a name in the middle of the largest of some areas.
func (d *drawing) name(name string, areas orb.MultiPolygon) {
	if len(d.m.Names) >= mapNames || len(areas) == 0 {
		return
	}
	best, most := orb.Point{}, -1.0
	for _, p := range areas {
		if at, area := planar.CentroidArea(p[0]); math.Abs(area) > most {
			best, most = at, math.Abs(area)
		}
	}
	d.m.Names = append(d.m.Names, pinOf(d.c, "name", name, geo.Point{Lat: best[1], Lon: best[0]}))
}

func pinOf(c page.Chart, kind, words string, at geo.Point) pinView {
	x, y := c.At(at.Lon, at.Lat)
	const scale, large = float64(page.ViewWide) / page.Wide, 1.8
	return pinView{
		Kind: kind, Text: words, X: int(math.Round(x)), Y: int(math.Round(y)),
		Transform: fmt.Sprintf("translate(%.1f %.1f) scale(%g)", x*scale, y*scale, large),
	}
}

// flight draws one launch time that has a landing.
func (t *text) flight(one Window, number int, c page.Chart) flightView {
	l := one.Launch
	v := flightView{Number: number, Spoken: "Map. " + t.headline(one) + ": " + t.lands(l)}
	all, landing := extent{}, extent{}
	all.add(c.At(l.At.Lon, l.At.Lat))
	pins := []pinView{pinOf(c, "site", l.Site, l.At), pinOf(c, "likely", "most likely landing", l.Landing.MostLikely)}
	landing.add(c.At(l.Landing.MostLikely.Lon, l.Landing.MostLikely.Lat))
	for i := len(l.Landing.Regions) - 1; i >= 0; i-- { // the widest first, so that the others lie on it
		r := l.Landing.Regions[i]
		share := fmt.Sprintf("%.0f", 100*r.Share)
		v.Regions = append(v.Regions, regionView{share, c.Areas(r.Shape, regionPoints)})
		for _, polygon := range r.Shape {
			for _, q := range polygon[0] {
				landing.add(c.At(q.Lon(), q.Lat()))
			}
		}
		if at, ok := labelPlace(r.Shape, i); ok {
			pins = append(pins, pinOf(c, "share", share+" %", at))
		}
	}
	if l.Path != nil {
		line := make(orb.LineString, len(l.Path.Points))
		for i, q := range l.Path.Points {
			line[i] = place(q.At)
			all.add(c.At(q.At.Lon, q.At.Lat))
		}
		v.Path = c.Lines(orb.MultiLineString{line}, pathPoints).Path
		if b := l.Path.Burst; b >= 0 && b < len(l.Path.Points) {
			pins = append(pins, pinOf(c, "burst", "burst at "+t.units.Altitude(l.Path.Points[b].Height), l.Path.Points[b].At))
		}
	}
	all.join(landing)
	v.Pins, v.Box, v.Landing = pins, all.String(), landing.String()
	return v
}

// labelPlace is where the label of a region's outline is put: by turns at its
// northern, southern and western end, so that those of three regions stand apart.
func labelPlace(shape orb.MultiPolygon, turn int) (geo.Point, bool) {
	best, found, area := orb.Point{}, false, -1.0
	less := []func(a, b orb.Point) bool{
		func(a, b orb.Point) bool { return a[1] > b[1] },
		func(a, b orb.Point) bool { return a[1] < b[1] },
		func(a, b orb.Point) bool { return a[0] < b[0] },
	}[turn%3]
	for _, polygon := range shape {
		b := polygon[0].Bound()
		if size := (b.Max[0] - b.Min[0]) * (b.Max[1] - b.Min[1]); size > area {
			area, best, found = size, polygon[0][0], true
			for _, q := range polygon[0] {
				if less(q, best) {
					best = q
				}
			}
		}
	}
	return geo.Point{Lat: best[1], Lon: best[0]}, found
}

// extent is the box around some points of a chart.
type extent struct {
	begun                    bool
	left, top, right, bottom float64
}

func (e *extent) add(x, y float64) {
	if !e.begun {
		*e = extent{true, x, y, x, y}
		return
	}
	e.left, e.right = min(e.left, x), max(e.right, x)
	e.top, e.bottom = min(e.top, y), max(e.bottom, y)
}

func (e *extent) join(o extent) {
	if o.begun {
		e.add(o.left, o.top)
		e.add(o.right, o.bottom)
	}
}

// String is the box as the script reads it.
func (e *extent) String() string {
	return fmt.Sprintf("%.0f %.0f %.0f %.0f", e.left, e.top, e.right, e.bottom)
}
