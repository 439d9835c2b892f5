package report

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// kmlSchema is what KML 2.2's schema (OGC 07-147r2, ogckml22.xsd 2.2.0) says of the
// elements that are written here and of those that may stand between them: an element of
// a group, such as TimeStamp, in its group's place.
var kmlSchema = map[string]kind{
	"kml":      {sequence: []part{{"NetworkLinkControl", 0, 1}, {"Document", 0, 1}}},
	"Document": {sequence: append(kmlFeature, part{"Schema", 0, 0}, part{"Placemark", 0, 0})},
	"Style": {attrs: "id", sequence: []part{
		{"IconStyle", 0, 1}, {"LabelStyle", 0, 1}, {"LineStyle", 0, 1}, {"PolyStyle", 0, 1}, {"BalloonStyle", 0, 1}, {"ListStyle", 0, 1},
	}},
	"IconStyle":     {sequence: []part{{"color", 0, 1}, {"colorMode", 0, 1}, {"scale", 0, 1}, {"heading", 0, 1}, {"hotSpot", 0, 1}}}, //nolint:misspell // KML spells so; no Icon: nothing from outside
	"LabelStyle":    {sequence: []part{{"color", 0, 1}, {"colorMode", 0, 1}, {"scale", 0, 1}}},
	"LineStyle":     {sequence: []part{{"color", 0, 1}, {"colorMode", 0, 1}, {"width", 0, 1}}},
	"PolyStyle":     {sequence: []part{{"color", 0, 1}, {"colorMode", 0, 1}, {"fill", 0, 1}, {"outline", 0, 1}}},
	"Placemark":     {sequence: append(kmlFeature, part{"MultiGeometry", 0, 1})},
	"TimeStamp":     {sequence: []part{{"when", 1, 1}}}, // the schema lets it be left out; then it says nothing
	"TimeSpan":      {sequence: []part{{"begin", 1, 1}, {"end", 1, 1}}},
	"MultiGeometry": {sequence: []part{{"Point LineString Polygon", 1, 0}}},
	"Point":         {sequence: []part{{"extrude", 0, 1}, {"altitudeMode", 0, 1}, {"coordinates", 1, 1}}},
	"LineString":    {sequence: []part{{"extrude", 0, 1}, {"tessellate", 0, 1}, {"altitudeMode", 0, 1}, {"coordinates", 1, 1}}},
	"Polygon": {sequence: []part{
		{"extrude", 0, 1}, {"tessellate", 0, 1}, {"altitudeMode", 0, 1}, {"outerBoundaryIs", 1, 1}, {"innerBoundaryIs", 0, 0},
	}},
	"outerBoundaryIs": {sequence: []part{{"LinearRing", 1, 1}}}, "innerBoundaryIs": {sequence: []part{{"LinearRing", 1, 1}}},
	"LinearRing": {sequence: []part{{"extrude", 0, 1}, {"tessellate", 0, 1}, {"altitudeMode", 0, 1}, {"coordinates", 1, 1}}},

	"name": {text: anyText}, "description": {text: anyText}, "open": {text: matching("[01]")}, "tessellate": {text: matching("[01]")},
	"when": {text: utcTime}, "begin": {text: utcTime}, "end": {text: utcTime},
	"styleUrl": {text: matching("#[a-z]+")}, "color": {text: matching("[0-9a-f]{8}")}, "scale": {text: matching("0")}, "width": {text: between(0, 10, false)},
	"altitudeMode": {text: matching("clampToGround|absolute")}, "coordinates": {text: func(s string) error { _, err := kmlPositions(s); return err }},
}

var kmlFeature = []part{
	{"name", 0, 1},
	{"visibility", 0, 1},
	{"open", 0, 1},
	{"author", 0, 1},
	{"link", 0, 1},
	{"address", 0, 1},
	{"AddressDetails", 0, 1},
	{"phoneNumber", 0, 1},
	{"Snippet", 0, 1},
	{"description", 0, 1},
	{"Camera LookAt", 0, 1},
	{"TimeStamp TimeSpan", 0, 1},
	{"styleUrl", 0, 1},
	{"Style StyleMap", 0, 0},
	{"Region", 0, 1},
	{"ExtendedData", 0, 1},
}

func matching(pattern string) func(string) error {
	return func(s string) error {
		if !regexp.MustCompile("^(" + pattern + ")$").MatchString(s) {
			return fmt.Errorf("%q: want %s", s, pattern)
		}
		return nil
	}
}

// kmlPositions reads coordinates: longitude, latitude and maybe height, with commas and no
// blanks between, blanks between one and the next.
func kmlPositions(s string) ([][]float64, error) {
	var out [][]float64
	for _, word := range strings.Fields(s) {
		var p []float64
		for i, n := range strings.Split(word, ",") {
			if i > 2 {
				return nil, fmt.Errorf("%q: more than three numbers", word)
			}
			if err := between([]float64{-180, -90, -12000}[i], []float64{180, 90, 60000}[i], false)(n); err != nil {
				return nil, fmt.Errorf("%q: %w", word, err)
			}
			v, err := strconv.ParseFloat(n, 64)
			if err != nil {
				return nil, err
			}
			p = append(p, v)
		}
		if len(p) < 2 {
			return nil, fmt.Errorf("%q: less than two numbers", word)
		}
		out = append(out, p)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no coordinates")
	}
	return out, nil
}

// requireKML reads KML and holds it to the schema and to what the standard says beside it.
func requireKML(t *testing.T, document string) *element {
	t.Helper()
	e, err := parse(document)
	require.NoError(t, err)
	delete(e.attrs, "xmlns")
	require.NoError(t, obeys(e, "http://www.opengis.net/kml/2.2", kmlSchema))
	require.NotContains(t, document, "href", "nothing comes from outside")
	styles := map[string]bool{}
	for _, s := range e.all("Style") {
		require.False(t, styles["#"+s.attrs["id"]], "two styles of one id")
		styles["#"+s.attrs["id"]] = true
	}
	for _, p := range e.all("Placemark") {
		require.True(t, styles[p.child("styleUrl")], "no style %s", p.child("styleUrl"))
	}
	for _, kind := range []string{"outerBoundaryIs", "innerBoundaryIs"} {
		for _, b := range e.all(kind) {
			positions, err := kmlPositions(b.all("coordinates")[0].text)
			require.NoError(t, err)
			require.GreaterOrEqual(t, len(positions), 4, "07-147r2, 10.5.3.4: four positions and more")
			require.Equal(t, positions[0], positions[len(positions)-1], "the ring is closed")
			ring := make(orb.Ring, len(positions))
			for i, p := range positions {
				ring[i] = orb.Point{p[0], p[1]}
			}
			want := map[string]orb.Orientation{"outerBoundaryIs": orb.CCW, "innerBoundaryIs": orb.CW}[kind]
			require.Equal(t, want, ring.Orientation(), kind)
		}
	}
	for _, line := range e.all("LineString") {
		positions, err := kmlPositions(line.child("coordinates"))
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(positions), 2)
		for i, p := range positions[1:] {
			require.LessOrEqual(t, p[0]-positions[i][0], 180.0, "over the date line")
			require.GreaterOrEqual(t, p[0]-positions[i][0], -180.0, "over the date line")
		}
	}
	return e
}

func TestKML(t *testing.T) {
	everywhere(t, func(t *testing.T, l Launch) {
		e := requireKML(t, written(t, WriteKML, l))
		marks := e.all("Placemark")
		require.Len(t, marks, 8) // three regions, up, down, burst, site, most likely
		for i, mark := range marks[:3] {
			region := l.Landing.Regions[2-i]
			polygons := mark.all("Polygon")
			require.Len(t, polygons, len(region.Shape), "the largest region first")
			for k, p := range polygons {
				require.Len(t, p.all("LinearRing"), len(region.Shape[k]))
				require.Equal(t, "clampToGround", p.child("altitudeMode"))
				positions, err := kmlPositions(p.all("coordinates")[0].text)
				require.NoError(t, err)
				for n, q := range positions {
					require.Equal(t, region.Shape[k][0][n], orb.Point{q[0], q[1]}, "to the last digit")
				}
			}
		}
		heights := 0.0
		for _, name := range []string{"Way up", "Way down"} {
			for _, mark := range marks {
				if mark.child("name") != name {
					continue
				}
				for _, line := range mark.all("LineString") {
					require.Equal(t, "absolute", line.child("altitudeMode"))
					positions, err := kmlPositions(line.child("coordinates"))
					require.NoError(t, err)
					for _, p := range positions {
						require.Len(t, p, 3)
						heights = max(heights, p[2])
					}
				}
				span := mark.all("TimeSpan")[0]
				require.Less(t, span.child("begin"), span.child("end"))
			}
		}
		assert.Equal(t, 27000.0, heights)
		for _, p := range e.all("Point") {
			require.NotEmpty(t, p.child("coordinates"))
		}
		assert.Equal(t, "0", e.all("IconStyle")[0].child("scale"), "a point has no picture")
	})
}

// Holes and further pieces of a region are in it.
func TestKMLHoles(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	square := func(x, y, size float64) orb.Ring {
		return orb.Ring{{x, y}, {x + size, y}, {x + size, y + size}, {x, y + size}, {x, y}}
	}
	hole, other := square(11, 51, 2), square(14, 51, 2)
	hole.Reverse()
	other.Reverse()
	l.Landing.Regions[0].Shape = orb.MultiPolygon{{square(10, 50, 8), hole, other}, {square(20, 50, 1)}}
	e := requireKML(t, written(t, WriteKML, l))
	polygons := e.all("Placemark")[2].all("Polygon")
	require.Len(t, polygons, 2)
	holes := polygons[0].all("innerBoundaryIs")
	require.Len(t, holes, 2)
	assert.Equal(t, "11,51 11,53 13,53 13,51 11,51", holes[0].all("coordinates")[0].text)
	assert.Equal(t, "14,51 14,53 16,53 16,51 14,51", holes[1].all("coordinates")[0].text)
}

// The outline of a place lies as far around it as it should, and names say what it is.
func TestKMLPlaces(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	e := requireKML(t, written(t, WriteKML, l))
	for _, mark := range e.all("Placemark") {
		at, metres := l.At, 60.0
		switch mark.child("name") {
		case "Launch: Field":
		case "Most likely landing":
			at, metres = l.Landing.MostLikely, l.Landing.Radius95/100
		default:
			continue
		}
		positions, err := kmlPositions(mark.all("LineString")[0].child("coordinates"))
		require.NoError(t, err)
		require.Equal(t, positions[0], positions[len(positions)-1])
		for _, p := range positions {
			off, _, _ := geo.Inverse(at, geo.Point{Lat: p[1], Lon: p[0]})
			assert.InDelta(t, metres, off, 1e-3)
		}
	}
}
