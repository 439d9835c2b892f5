package ground

import (
	_ "embed" // for the data
	"errors"
	"fmt"

	"example.org/thistledown/internal/geo"
)

//go:embed borders.bin
var bordersFile []byte

// Country is a country, or a territory that the source draws apart from one.
type Country struct {
	// Code is its two letters by ISO 3166-1, empty where that standard has none for
	// it (Kosovo, Somaliland, Northern Cyprus, Baikonur, and a dozen bases, reefs
	// and strips of land).
	Code string
	Name string // as the source has it, shortened ("Bosnia and Herz.")
}

// Same reports whether two names are of one country: by the code where there is
// one, so an island that is drawn apart belongs to the country whose code it
// has. A territory with a code of its own (Greenland, Hong Kong, Puerto Rico,
// the Isle of Man) is a country of its own here.
func (c Country) Same(d Country) bool {
	if c.Code == "" || d.Code == "" {
		return c == d
	}
	return c.Code == d.Code
}

// territory is what lies near of one country.
type territory struct {
	Country
	land    *shapes
	extents []box // of the polygons of land
}

// The borders file, in the notation of the water file:
//
//	octets  field
//	4 · 8 f the steps, as in a group of the water file
//	u       number of countries
//	each country:
//	u       octets of its code, 0 or 2, then the code
//	u       octets of its name in UTF-8, 1 to 64, then the name
//	u       number of polygons
//	each polygon:
//	4 · s   its extent in steps: west, south, east, north; beyond 90 degrees if
//	        it holds a pole
//	u       octets of what follows: the polygon as in the water file
//
// Nothing follows the last country.
const maxCountryName = 64

// decodeBorders reads a borders file and keeps what is in a window.
func decodeBorders(b []byte, window box) ([]territory, error) {
	r := reader{rest: b}
	x, y := r.axis(), r.axis()
	c := clipper{window: window}
	var near []territory
	for range r.count(4) {
		country := Country{Code: r.text(2), Name: r.text(maxCountryName)}
		if r.err == nil && (len(country.Code) == 1 || country.Name == "") {
			r.fail(fmt.Errorf("country %q with code %q: want a name, and two letters or none", country.Name, country.Code))
		}
		land := &shapes{}
		for range r.count(5) {
			r.near(&c, land, x, y)
		}
		if r.err != nil {
			return nil, r.err
		}
		if len(land.polygons) == 0 {
			continue
		}
		t := territory{country, land, make([]box, len(land.polygons))}
		for k := range land.polygons {
			t.extents[k], _ = land.measure(k)
		}
		near = append(near, t)
	}
	return near, r.end()
}

// near reads a polygon behind its extent, if that meets the clipper's window,
// and appends what is in it.
func (r *reader) near(c *clipper, land *shapes, x, y axis) {
	west, south, east, north := x.at(r.signed()), y.at(r.signed()), x.at(r.signed()), y.at(r.signed())
	n := r.count(1)
	if r.err != nil {
		return
	}
	body := reader{rest: r.rest[:n]}
	r.rest = r.rest[n:]
	if !(box{west, south, east, north}).seen(c.window) {
		return
	}
	body.line = r.line
	land.begin()
	body.polygonIn(c, land, x, y)
	land.dropEmpty()
	r.line = body.line
	if err := body.end(); err != nil {
		r.fail(err)
	}
}

// text reads a text of at most some octets.
func (r *reader) text(most int) string {
	n := r.count(1)
	if r.err == nil && n > most {
		r.fail(fmt.Errorf("a text of %d octets: want at most %d", n, most))
	}
	if r.err != nil {
		return ""
	}
	s := string(r.rest[:n])
	r.rest = r.rest[n:]
	return s
}

// errElsewhere is why there is no answer about a country.
var errElsewhere = errors.New("want a place on land within the box of the map")

// Country is the country in which p lies, by Natural Earth (1:10m): borders as
// it draws them, which is who holds the ground, not whose it is by right; where
// that is disputed (Kashmir, Western Sahara, Crimea, the Golan and others) others
// draw them elsewhere. Borders are off by some hundreds of metres, in places more.
// It is false at sea, and outside of the box that w was made for; lakes are in
// the countries round them.
func (w *World) Country(p geo.Point) (Country, bool) {
	v, ok := place(p)
	if !ok {
		return Country{}, false
	}
	for _, t := range w.countries {
		if t.holds(v) {
			return t.Country, true
		}
	}
	return Country{}, false
}

// holds reports whether one of the polygons holds a point, by looking at all
// edges of those whose extent does; an index gives the same answer.
func (t territory) holds(v vertex) bool {
	for turns := int32(-1); turns <= 1; turns++ {
		at := vertex{v.x + turns*turn, v.y}
		for k, e := range t.extents {
			if (box{at.x, at.y, at.x, at.y}).meets(e) && t.land.odd(k, at) {
				return true
			}
		}
	}
	return false
}

// odd reports whether an odd number of edges of polygon k lies west of a point.
func (s *shapes) odd(k int, at vertex) bool {
	odd := false
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		for i := r.from; i < r.to-1; i++ {
			a, b := s.vertices[i], s.vertices[i+1]
			if (a.y > at.y) != (b.y > at.y) && eastOf(at, a, b) {
				odd = !odd
			}
		}
	}
	return odd
}

// Abroad is the layer of all ground in other countries than the one in which
// site lies. The sea is nobody's here: coming down in another country's waters
// is not told. It is an error if site is at sea or outside of the box that w was
// made for.
func (w *World) Abroad(site geo.Point) (*Layer, error) {
	home, ok := w.Country(site)
	if !ok {
		return nil, fmt.Errorf("no country at latitude %g, longitude %g: %w", site.Lat, site.Lon, errElsewhere)
	}
	var others shapes
	for _, t := range w.countries {
		if !t.Same(home) {
			others.join(t.land)
		}
	}
	return &Layer{
		source: LayerSource{
			Name:   "outside " + home.Name,
			Class:  Abroad,
			Credit: "Natural Earth, countries 1:10m, public domain",
			Covers: []geo.Box{w.near},
		},
		areas:  newIndex(&others),
		shapes: &others, polygons: len(others.polygons),
	}, nil
}

// join appends the polygons of t.
func (s *shapes) join(t *shapes) {
	rings, vertices := len(s.rings), len(s.vertices)
	s.vertices = append(s.vertices, t.vertices...)
	for _, r := range t.rings {
		s.rings = append(s.rings, span{r.from + vertices, r.to + vertices})
	}
	for _, p := range t.polygons {
		s.polygons = append(s.polygons, span{p.from + rings, p.to + rings})
	}
}
