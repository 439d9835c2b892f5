package ground

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFindCrossing(t *testing.T) {
	outline := orb.Ring{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}
	for _, tt := range []struct {
		name  string
		p     orb.Polygon
		found bool
		at    orb.Point
	}{
		{"square", orb.Polygon{outline}, false, orb.Point{}},
		{"bow tie", orb.Polygon{{{0, 0}, {2, 2}, {2, 0}, {0, 2}, {0, 0}}}, true, orb.Point{1, 1}},
		{"bow tie, corner on the middle of an edge", orb.Polygon{{{0, 0}, {2, 2}, {2, 0}, {1, 1}, {0, 2}, {0, 0}}}, true, orb.Point{1, 1}},
		{"the same, that corner first", orb.Polygon{{{1, 1}, {0, 2}, {0, 0}, {2, 2}, {2, 0}, {1, 1}}}, true, orb.Point{1, 1}},
		{"the same, that corner twice", orb.Polygon{{{0, 0}, {2, 2}, {2, 0}, {1, 1}, {1, 1}, {0, 2}, {0, 0}}}, true, orb.Point{1, 1}},
		{"corner touches an edge", orb.Polygon{{{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}, {0, 0}}}, false, orb.Point{}},
		{"corners touch", orb.Polygon{{{0, 0}, {1, 1}, {2, 0}, {2, 2}, {1, 1}, {0, 2}, {0, 0}}}, false, orb.Point{}},
		{"spike", orb.Polygon{{{0, 0}, {4, 0}, {6, 0}, {4, 0}, {4, 4}, {0, 0}}}, false, orb.Point{}},
		{"repeated positions", orb.Polygon{{{0, 0}, {0, 0}, {4, 0}, {4, 0}, {4, 4}, {0, 0}, {0, 0}}}, false, orb.Point{}},
		{"hole inside", orb.Polygon{outline, {{1, 1}, {2, 1}, {2, 2}, {1, 1}}}, false, orb.Point{}},
		{"hole at a corner", orb.Polygon{outline, {{0, 0}, {2, 1}, {1, 2}, {0, 0}}}, false, orb.Point{}},
		{"hole along an edge", orb.Polygon{outline, {{2, 0}, {4, 0}, {4, 4}, {2, 4}, {2, 0}}}, false, orb.Point{}},
		{"hole through the outline", orb.Polygon{{{0, 0}, {10, 0}, {5, 10}, {0, 0}}, {{1, 1}, {9, 1}, {9, 3}, {1, 3}, {1, 1}}}, true, orb.Point{9, 2}},
		{"holes through each other", orb.Polygon{outline, {{1, 1}, {4, 1}, {4, 4}, {1, 4}, {1, 1}}, {{3, 2}, {6, 2}, {6, 3}, {3, 3}, {3, 2}}}, true, orb.Point{4, 2}},
		{"a hundredth of a millimetre over", orb.Polygon{{{0, 0}, {4, 0}, {4, 4}, {2, -1e-10}, {0, 4}, {0, 0}}}, true, orb.Point{2, 0}},
	} {
		c, found, err := findCrossing(tt.p)
		require.NoError(t, err)
		assert.Equal(t, tt.found, found, "%s: at %v", tt.name, c.at)
		if found {
			assert.InDelta(t, tt.at[0], c.at[0], 1e-9, tt.name)
			assert.InDelta(t, tt.at[1], c.at[1], 1e-9, tt.name)
		}
	}
}

// comb is a ring of so many long teeth beside each other, aslant, so that the
// boxes around all of them overlap.
func comb(teeth int) orb.Ring {
	var ring orb.Ring
	for k := range teeth {
		x := float64(k) / float64(teeth) / 10
		ring = append(ring, orb.Point{x, 0}, orb.Point{40 + x, 40})
	}
	return append(ring, orb.Point{0.2, 0}, orb.Point{0.2, -1}, orb.Point{0, -1}, orb.Point{0, 0})
}

// The search ends where the edges are laid so that it would try all pairs.
func TestSearchForCrossingsEnds(t *testing.T) {
	_, found, err := findCrossing(orb.Polygon{comb(200)})
	require.NoError(t, err)
	assert.False(t, found)
	_, _, err = findCrossing(orb.Polygon{comb(20_000)})
	assert.ErrorIs(t, err, errTangled)
}

// A ring of two hundred thousand positions that winds as coasts do is taken, and
// one crossing in it found.
func TestCrossingInALongRing(t *testing.T) {
	const n = 200_000
	ring := make(orb.Ring, n+1)
	for i := range ring {
		a := 2 * math.Pi * float64(i) / n
		r := 10 + math.Sin(50*a) + 0.3*math.Sin(2000*a) + 0.001*math.Sin(60_000*a)
		ring[i] = orb.Point{r * math.Cos(a), r * math.Sin(a)}
	}
	ring[n] = ring[0]
	_, found, err := findCrossing(orb.Polygon{ring})
	require.NoError(t, err)
	require.False(t, found)
	ring[123_456] = orb.Point{3 * ring[143_456][0], 3 * ring[143_456][1]} // out through the ring farther on
	c, found, err := findCrossing(orb.Polygon{ring})
	require.NoError(t, err)
	require.True(t, found)
	assert.Equal(t, 123_455, c.edge[0])
}

// Faults name the line of the file: of the position where one is at fault, of the
// ring, the geometry or the feature otherwise.
func TestFaultsNameTheLine(t *testing.T) {
	head := "{\"type\":\"FeatureCollection\",\n\"features\":[\n"
	good := `{"type":"Feature","properties":{"type":"[\n{"},"geometry":` + geometry("Polygon", corner) + "}"
	inFeature := func(geometry string) string {
		return head + good + ",\n\n{\"type\":\"Feature\",\n\"geometry\":\n" + geometry + "}]}" // the feature in line 5, the geometry in line 7
	}
	for _, tt := range []struct{ name, text, want string }{
		{
			"bow tie", inFeature("{\"coordinates\":[\n[[0,0],\n[2,2],\n[2,0],[0,2],\n[0,0]]],\n\"type\":\"Polygon\"}"),
			"line 8: feature 2: ring 1 crosses itself at longitude 1.000000, latitude 1.000000, between positions 1 and 2 and positions 3 and 4: want a ring that does not",
		},
		{
			"crossing between later positions", inFeature("{\"coordinates\":[[[0,0],\n[8,0],\n[8,8],\n[4,4],\n[6,4],[4,6],[0,0]]],\n\"type\":\"Polygon\"}"),
			"line 9: feature 2: ring 1 crosses itself at longitude 5.000000, latitude 5.000000, between positions 3 and 4 and positions 5 and 6",
		},
		{
			"holes", inFeature("{\"type\":\"Polygon\",\"coordinates\":[[[0,0],[9,0],[9,9],[0,9],[0,0]],\n[[1,1],[4,1],[4,4],[1,4],[1,1]],\n[[3,2],[6,2],[6,3],[3,3],[3,2]]]}"),
			"line 8: feature 2: ring 2 crosses ring 3 at longitude 4.000000, latitude 2.000000, between positions 2 and 3 and positions 1 and 2: want rings that do not",
		},
		{
			"second polygon's ring is open", inFeature("{\"type\":\"MultiPolygon\",\"coordinates\":[" + corner + ",\n[\n[[1,2],[3,2],\n[3,4],[1,4]]]]}"),
			"line 9: feature 2: polygon 2: ring 1: ends at longitude 1, latitude 4: want the first position again, 1, 2",
		},
		{
			"swapped", inFeature("{\"type\":\"Polygon\",\"coordinates\":[[[50,3],\n[50,4],\n[5,173],\n[50,3]]]}"),
			"line 9: feature 2: ring 1: position 3: latitude 173: want -90 to 90 (longitude comes first, both in degrees: are they swapped?)",
		},
		{"type unknown", inFeature("{\"type\":\"Circle\",\n\"coordinates\":[]}"), `line 7: feature 2: geometry type "Circle"`},
		{"no geometry", inFeature("null"), "line 5: feature 2: no geometry"},
		{"no feature", head + good + ",\n\n7]}", "line 5: feature 2: json: cannot unmarshal number"},
		{"bare", "\n\n" + geometry("Polygon", "[[[1,2],[3,2],\n\n[3,94],[1,2]]]"), "line 5: feature 1: ring 1: position 3: latitude 94"},
		{"a member twice", "{\"type\":\"Polygon\",\n\"coordinates\":[],\n\"Coordinates\":[[[1,2],\n[3,95]]]}", "line 4: feature 1: ring 1: position 2: latitude 95"},
	} {
		_, err := ReadLayer(LayerSource{Name: "woods", Class: Forest}, []byte(tt.text))
		assert.ErrorContains(t, err, `layer "woods": `+tt.want, tt.name)
	}
	collection := inFeature("{\"type\":\"GeometryCollection\",\"geometries\":[\n" + geometry("Point", "[1,2]") + ",\n" + geometry("LineString", "[[1,2],\n[3,92]]") + "]}")
	_, err := ReadLayer(LayerSource{Name: "woods", Class: Forest, Buffer: 5}, []byte(collection))
	assert.ErrorContains(t, err, "line 10: feature 2: geometry 2: position 2: latitude 92")
}

func TestCollectionsRefused(t *testing.T) {
	for text, want := range map[string]string{
		`{"type":"GeometryCollection","geometries":[]}`:                                               "without geometries: want at least one",
		`{"type":"GeometryCollection","geometries":[{"type":"GeometryCollection","geometries":[1]}]}`: "geometry 1: geometry type \"GeometryCollection\" in another one: want its geometries one level up",
		`{"type":"GeometryCollection","geometries":[5]}`:                                              "geometry 1: json: cannot unmarshal number",
		geometry("MultiPoint", "[]"):                                                                  "no points: want at least one",
		geometry("LineString", "[]"):                                                                  "0 positions: want at least 2",
		geometry("LineString", "[[0,0],[-170,0],[-340,0],[-200,1],[-50,1],[100,1]]"):                  "from longitude -340 to 100: want at most 360 degrees",
	} {
		_, err := ReadLayer(LayerSource{Name: "woods", Class: Forest, Buffer: 5}, []byte(text))
		assert.ErrorContains(t, err, want)
	}
	_, err := ReadLayer(LayerSource{Name: "power", Class: Forest}, []byte(geometry("LineString", "[[1,2],[3,4]]")))
	assert.ErrorContains(t, err, `geometry type "LineString": want Polygon or MultiPolygon (lines and points need a layer with a buffer)`)
}

// Maps that others drew, in which GEOS finds no ring that crosses itself, are
// taken as they are.
func TestOthersMaps(t *testing.T) {
	root := os.Getenv("THISTLEDOWN_REFERENCE")
	if root == "" {
		t.Skip("left out: maps of Natural Earth, as THISTLEDOWN_REFERENCE is not set")
	}
	files, err := filepath.Glob(filepath.Join(root, "vector", "*.geojson"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		_, err = ReadLayer(LayerSource{Name: filepath.Base(name), Class: Water, Buffer: 100}, text)
		assert.NoError(t, err)
	}
}
