package ground

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// noon is a time at which every layer without hours is active.
var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// geometry is a GeoJSON geometry.
func geometry(kind, coordinates string) string {
	return fmt.Sprintf(`{"type":%q,"coordinates":%s}`, kind, coordinates)
}

// collection is a FeatureCollection of geometries without properties.
func collection(geometries ...string) string {
	var features []string
	for _, g := range geometries {
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":null,"geometry":%s}`, g))
	}
	return fmt.Sprintf(`{"type":"FeatureCollection","features":[%s]}`, strings.Join(features, ","))
}

const (
	wood     = `[[[8,50],[9,50],[9,51],[8,51],[8,50]],[[8.4,50.4],[8.6,50.4],[8.6,50.6],[8.4,50.6],[8.4,50.4]]]` // with a clearing
	corner   = `[[[10,50],[11,50],[10,51],[10,50]]]`
	fijiPast = `[[[179,-17],[181,-17],[181,-16],[179,-16],[179,-17]],[[-179.6,-16.6],[-179.4,-16.6],[-179.4,-16.4],[-179.6,-16.4],[-179.6,-16.6]]]` // the hole written east of the line
	fijiCut  = `[[[[179,-17],[180,-17],[180,-16],[179,-16],[179,-17]]],[[[-180,-17],[-179,-17],[-179,-16],[-180,-16],[-180,-17]]]]`
)

func forest(t testing.TB, text string, covers ...geo.Box) *Layer {
	t.Helper()
	l, err := ReadLayer(LayerSource{Name: "woods", Class: Forest, Covers: covers}, []byte(text))
	require.NoError(t, err)
	return l
}

func TestReadLayerForms(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		lat, lon   float64
		want       bool
	}{
		{"collection, first feature", collection(geometry("Polygon", wood), geometry("Polygon", corner)), 50.2, 8.2, true},
		{"collection, second feature", collection(geometry("Polygon", wood), geometry("Polygon", corner)), 50.2, 10.2, true},
		{"clearing", collection(geometry("Polygon", wood)), 50.5, 8.5, false},
		{"one feature", `{"type":"Feature","geometry":` + geometry("Polygon", wood) + `,"properties":{"name":"a"}}`, 50.2, 8.2, true},
		{"bare polygon", geometry("Polygon", corner), 50.2, 10.2, true},
		{"bare multi-polygon", geometry("MultiPolygon", "["+wood+","+corner+"]"), 50.2, 10.2, true},
		{"third number in a position", geometry("Polygon", `[[[10,50,400],[11,50,400],[10,51,400],[10,50,400]]]`), 50.2, 10.2, true},
		{"white space and exponents", " { \"type\" : \"Polygon\" , \"coordinates\" :\n[ [ [ 1e1 , 50 ] ,[11,5.0E+1],\t[10 ,51 ], [10,50] ] ] } ", 50.2, 10.2, true},
		{"past the date line, west of it", geometry("Polygon", fijiPast), -16.5, 179.5, true},
		{"past the date line, east of it", geometry("Polygon", fijiPast), -16.2, -179.5, true},
		{"past the date line, in the hole", geometry("Polygon", fijiPast), -16.5, -179.5, false},
		{"past the date line, beyond", geometry("Polygon", fijiPast), -16.5, -178.5, false},
		{"past the date line, where the hole's longitude would be unmoved", geometry("Polygon", fijiPast), -16.5, 180, true},
		{"the whole way round, rounded", geometry("Polygon", `[[[180.00000000000014,-85],[90,-80],[-90,-80],[-180,-85],[-180,-90],[180.00000000000014,-90],[180.00000000000014,-85]]]`), -88, 7, true},
		{"half the way round, rounded", geometry("Polygon", `[[[180.00000000000014,10],[0,10],[0,20],[180.00000000000014,20],[180.00000000000014,10]]]`), 15, 90, true},
		{"half the way round, rounded, the other half", geometry("Polygon", `[[[180.00000000000014,10],[0,10],[0,20],[180.00000000000014,20],[180.00000000000014,10]]]`), 15, -90, false},
		{"cut at the date line, west of it", geometry("MultiPolygon", fijiCut), -16.5, 179.5, true},
		{"cut at the date line, on it", geometry("MultiPolygon", fijiCut), -16.5, 180, true},
		{"cut at the date line, east of it", geometry("MultiPolygon", fijiCut), -16.5, -179.5, true},
	} {
		hit, covered := forest(t, tt.text).At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, tt.want, hit, "%s: At(%g, %g) = %v, want %v", tt.name, tt.lat, tt.lon, hit, tt.want)
		assert.Equal(t, hit, covered, "%s: without Covers only the polygons are covered", tt.name)
	}
}

func TestLayerCovers(t *testing.T) {
	l := forest(t, geometry("Polygon", wood), geo.Box{South: 49, West: 7, North: 51, East: 9}, geo.Box{South: -20, West: 170, North: -10, East: -170})
	for _, tt := range []struct {
		lat, lon     float64
		hit, covered bool
	}{
		{50.2, 8.2, true, true},
		{50.5, 8.5, false, true}, // the clearing
		{49.5, 7.5, false, true},
		{52, 8, false, false},
		{-15, 179, false, true},
		{-15, -179, false, true},
		{-15, 181, false, true},
		{-15, -160, false, false},
		{math.NaN(), 8, false, false},
		{50, math.Inf(1), false, false},
		{95, 8, false, false},
	} {
		hit, covered := l.At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, [2]bool{tt.hit, tt.covered}, [2]bool{hit, covered}, "At(%g, %g): hit, covered", tt.lat, tt.lon)
	}
}

func TestMapAt(t *testing.T) {
	estate, err := ReadLayer(LayerSource{Name: "estate", Class: Closed, Covers: []geo.Box{{South: 40, West: 0, North: 60, East: 20}}},
		[]byte(geometry("Polygon", `[[[8.1,50.1],[8.3,50.1],[8.3,50.3],[8.1,50.3],[8.1,50.1]]]`)))
	require.NoError(t, err)
	m := Map{Layers: []*Layer{water(t), forest(t, geometry("Polygon", wood)), estate}}
	require.Equal(t, []string{"coast and lakes", "woods", "estate"}, names(&m, func(*Layer) bool { return true }))
	all := Set(0).With(Water).With(Forest).With(Closed)
	for _, tt := range []struct {
		name            string
		lat, lon        float64
		under, assessed Set
		hits            []string
	}{
		{"wood in the estate", 50.2, 8.2, Set(0).With(Forest).With(Closed), all, []string{"woods", "estate"}},
		{"wood beside the estate", 50.2, 8.7, Set(0).With(Forest), all, []string{"woods"}},
		{"field", 50.5, 12, 0, Set(0).With(Water).With(Closed), nil},
		{"sea", 30, -40, Set(0).With(Water), Set(0).With(Water), []string{"coast and lakes"}},
		{"no place", math.NaN(), 0, 0, 0, nil},
	} {
		p := geo.Point{Lat: tt.lat, Lon: tt.lon}
		found := m.At(p, noon)
		assert.Equal(t, tt.under, found.Under, "%s: At(%v): under", tt.name, p)
		assert.Equal(t, tt.assessed, found.Assessed, "%s: At(%v): assessed", tt.name, p)
		assert.Equal(t, tt.hits, names(&m, func(l *Layer) bool { hit, _ := l.At(p, noon); return hit }), "%s: layers hit at %v", tt.name, p)
	}
	assert.Zero(t, (&Map{}).At(geo.Point{}, noon), "At with no layers")
}

func TestClasses(t *testing.T) {
	var s Set
	n := 0
	for c := range Classes() {
		got, err := ParseClass(c.String())
		require.NoError(t, err)
		assert.Equal(t, c, got, "ParseClass(%q)", c.String())
		assert.False(t, s.Has(c), "Has(%v) before With", c)
		s = s.With(c)
		assert.True(t, s.Has(c), "Has(%v) after With", c)
		n++
	}
	assert.Equal(t, 6, n)
	for range Classes() {
		break
	}
	_, err := ParseClass("lake")
	assert.EqualError(t, err, `ground class "lake": want water, forest, built_up, closed, airfield or abroad`)
	assert.Equal(t, "Class(0)", Class(0).String())
	assert.Equal(t, "Class(200)", Class(200).String())
}

func TestReadLayerRefusesSource(t *testing.T) {
	for _, tt := range []struct {
		s    LayerSource
		want string
	}{
		{LayerSource{Class: Forest}, "layer without a name"},
		{LayerSource{Name: "woods"}, `layer "woods": class Class(0): want water, forest, built_up, closed, airfield or abroad`},
		{LayerSource{Name: "woods", Class: 9}, "class Class(9)"},
		{LayerSource{Name: "woods", Class: Forest, Covers: make([]geo.Box, maxCovers+1)}, "1001 covered boxes: want at most 1000"},
		{LayerSource{Name: "woods", Class: Forest, Covers: []geo.Box{{}, {South: 95, North: 96}}}, `layer "woods": covered box 2: `},
	} {
		_, err := ReadLayer(tt.s, []byte(geometry("Polygon", wood)))
		assert.ErrorContains(t, err, tt.want)
	}
}

func TestReadLayerRefuses(t *testing.T) {
	polygon := func(rings string) string { return geometry("Polygon", rings) }
	long := make([]string, maxPositions+2)
	for i := range long {
		long[i] = "[1,2]"
	}
	for _, tt := range []struct {
		name, text string
		want       string
	}{
		{"nothing", "", "not GeoJSON: unexpected end of JSON input"},
		{"a page", "<html>", "not GeoJSON: invalid character '<'"},
		{"cut off", collection(polygon(wood))[:60], "not GeoJSON: unexpected end"},
		{"an array", "[]", "not GeoJSON: json: cannot unmarshal array"},
		{"other JSON", `{"a":1}`, `feature 1: geometry type "": want Polygon or MultiPolygon`},
		{"null", "null", `feature 1: geometry type "": want`},
		{"no features", `{"type":"FeatureCollection","features":[]}`, "no features: want at least one"},
		{"features missing", `{"type":"FeatureCollection"}`, "no features: want at least one"},
		{"a feature is null", `{"type":"FeatureCollection","features":[null]}`, `feature 1: type "": want Feature`},
		{"a feature is a number", `{"type":"FeatureCollection","features":[7]}`, "feature 1: json: cannot unmarshal number"},
		{"a feature is a bare geometry", `{"type":"FeatureCollection","features":[` + polygon(wood) + `]}`, `feature 1: type "Polygon": want Feature`},
		{"geometry is null", collection(polygon(wood), "null"), "feature 2: no geometry: want Polygon or MultiPolygon"},
		{"geometry missing", `{"type":"Feature"}`, "feature 1: no geometry"},
		{"geometry is text", collection(`"x"`), "feature 1: geometry: json: cannot unmarshal string"},
		{"a line", collection(polygon(wood), geometry("LineString", "[[1,2],[3,4]]")), `feature 2: geometry type "LineString": want Polygon or MultiPolygon`},
		{"a point", geometry("Point", "[1,2]"), `feature 1: geometry type "Point"`},
		{"a collection of geometries", `{"type":"GeometryCollection","geometries":[]}`, `geometry type "GeometryCollection"`},
		{"no coordinates", `{"type":"Polygon"}`, "feature 1: nothing: want a list of each ring's coordinates"},
		{"coordinates are null", polygon("null"), "feature 1: null: want a list of each ring's coordinates"},
		{"no rings", polygon("[]"), "feature 1: no rings: want at least the outline"},
		{"no polygons", geometry("MultiPolygon", "[]"), "feature 1: no polygons: want at least one"},
		{"polygon without rings", geometry("MultiPolygon", "["+wood+",[]]"), "feature 1: polygon 2: no rings"},
		{"a ring without positions", polygon("[[]]"), "feature 1: ring 1: 0 positions: want at least 4"},
		{"three positions", polygon("[[[1,2],[3,4],[1,2]]]"), "ring 1: 3 positions: want at least 4, the last one the first again"},
		{"not closed", polygon("[[[1,2],[3,2],[3,4],[1,4]]]"), "ring 1: ends at longitude 1, latitude 4: want the first position again, 1, 2"},
		{"second ring not closed", polygon("[[[0,0],[9,0],[9,9],[0,0]],[[1,1],[2,1],[2,2],[1,2]]]"), "ring 2: ends at longitude 1, latitude 2"},
		{"two different positions", polygon("[[[1,2],[3,2],[3,2],[1,2],[1,2]]]"), "ring 1: 2 different positions: want at least 3"},
		{"one position again and again", polygon("[[[1,2],[1,2],[1,2],[1,2]]]"), "ring 1: 1 different positions"},
		{"back and forth", polygon("[[[1,2],[3,2],[1,2],[3,2],[1,2]]]"), "ring 1: 2 different positions"},
		{"swapped", polygon("[[[50,173],[50,174],[51,174],[50,173]]]"), "feature 1: ring 1: position 1: latitude 173: want -90 to 90 (longitude comes first, both in degrees: are they swapped?)"},
		{"metres", polygon("[[[870000,50],[3,2],[3,4],[870000,50]]]"), "position 1: longitude 870000: want -360 to 360"},
		{"infinite", polygon("[[[1,2],[1e999,2],[3,4],[1,2]]]"), "ring 1: position 2: number 1: 1e999: want a number of degrees"},
		{"NaN", polygon("[[[1,2],[NaN,2],[3,4],[1,2]]]"), "not GeoJSON: invalid character 'N'"},
		{"text for a number", polygon(`[[["1",2],[3,2],[3,4],["1",2]]]`), `position 1: number 1: "1": want a number of degrees`},
		{"null for a number", polygon(`[[[1,null],[3,2],[3,4],[1,2]]]`), "position 1: number 2: null: want a number of degrees"},
		{"latitude missing", polygon("[[[1],[3,2],[3,4],[1]]]"), "position 1: 1 numbers: want longitude and latitude"},
		{"position empty", polygon("[[[],[3,2],[3,4],[]]]"), "position 1: 0 numbers: want longitude and latitude"},
		{"a level too few", polygon("[[1,2],[3,2],[3,4],[1,2]]"), "ring 1: position 1: 1: want [longitude, latitude]"},
		{"a level too many", polygon("[[[[1,2],[3,2],[3,4],[1,2]]]]"), "ring 1: position 1: number 1: [1: want a number of degrees"},
		{"an object for a ring", polygon(`[{"a":1}]`), `ring 1: {"a":1}: want a list of each position's coordinates`},
		{"an object for a number", polygon(`[[[{"a":[1,2]},2]]]`), `number 1: {"a":[1: want a number of degrees`},
		{"over the date line either way", polygon("[[[179,0],[-179,0],[-179,1],[179,1],[179,0]]]"), "ring 1: positions 1 and 2: from longitude 179 to -179: want at most 180 degrees (cut the ring at the date line, or let longitudes run on beyond 180)"},
		{"a little more than half round", polygon("[[[180.00001,10],[0,10],[0,20],[180.00001,20],[180.00001,10]]]"), "ring 1: positions 1 and 2: from longitude 180.00001 to 0: want at most 180 degrees"},
		{"more than once round", polygon("[[[-200,0],[-100,0],[0,0],[100,0],[200,1],[100,1],[0,1],[-100,1],[-200,0]]]"), "ring 1: from longitude -200 to 200: want at most 360 degrees"},
		{"hole elsewhere", polygon("[[[0,0],[9,0],[9,9],[0,0]],[[20,1],[21,1],[21,2],[20,1]]]"), "ring 2 (a hole) from 20 to 21 east, 1 to 2 north: want it within the outline, 0 to 9 east, 0 to 9 north"},
		{"hole north of it", polygon("[[[0,0],[9,0],[9,9],[0,0]],[[2,8],[3,8],[3,10],[2,8]]]"), "ring 2 (a hole)"},
		{"too many positions", polygon("[[" + strings.Join(long, ",") + "]]"), "ring 1: position 2000001: too many positions: want at most 2000000 in all"},
		{"too long", strings.Repeat(" ", MaxGeoJSON+1), "67108865 octets: want at most 67108864"},
	} {
		_, err := ReadLayer(LayerSource{Name: "woods", Class: Forest}, []byte(tt.text))
		if assert.ErrorContains(t, err, tt.want, tt.name) {
			assert.True(t, strings.HasPrefix(err.Error(), `layer "woods": `), "%s: %v does not name the layer", tt.name, err)
			assert.NotContains(t, err.Error(), "\n", tt.name)
			assert.Less(t, len(err.Error()), 260, "%s: a line of %d octets", tt.name, len(err.Error()))
		}
	}
}

// names are the layers of a map, in its order, that pass a test.
func names(m *Map, pass func(*Layer) bool) []string {
	var out []string
	for _, l := range m.Layers {
		if pass(l) {
			out = append(out, l.Source().Name)
		}
	}
	return out
}
