package ground

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// water is the built-in layer, or the end of the test.
func water(t testing.TB) *Layer {
	t.Helper()
	l, err := BuiltInWater()
	require.NoError(t, err)
	return l
}

// Positions are from memory, to 0.01 or 0.1 degree, each several times that and
// the data's own error away from the shore that matters; those marked NE are
// rounded from Natural Earth's populated places.
var places = []struct {
	name     string
	lat, lon float64
	water    bool
}{
	{"mid-Atlantic", 30, -40, true},
	{"Pacific on the equator", 0, -150, true},
	{"Gulf of Guinea, latitude and longitude zero", 0, 0, true},
	{"North Sea", 56, 3, true},
	{"Irish Sea", 53.7, -5, true},
	{"English Channel", 50.2, -0.5, true},
	{"Baltic east of Gotland", 58, 20, true},
	{"Mediterranean, Ionian Sea", 36, 18, true},
	{"Black Sea", 43, 34, true},
	{"Caspian Sea", 42, 50.5, true},
	{"Red Sea", 20, 38.5, true},
	{"Hudson Bay", 60, -85, true},
	{"Gulf of Mexico", 25, -90, true},
	{"Great Australian Bight", -34, 130, true},

	{"Lake Superior", 47.7, -87.5, true},
	{"Lake Michigan", 43.5, -87, true},
	{"Lake Ontario", 43.6, -77.9, true},
	{"Great Bear Lake", 66, -121, true},
	{"Great Salt Lake", 41.2, -112.6, true},
	{"Lake Titicaca", -15.8, -69.4, true},
	{"Lake Victoria", -1, 33, true},
	{"Lake Tanganyika", -6.5, 29.7, true},
	{"Lake Malawi", -12, 34.5, true},
	{"Lake Ladoga", 60.9, 31.4, true},
	{"Lake Onega", 61.6, 35.5, true},
	{"Vänern", 58.9, 13.3, true},
	{"Lake Geneva", 46.45, 6.6, true},
	{"Lake Constance", 47.6, 9.4, true},
	{"Lough Neagh", 54.61, -6.4, true},
	{"Lake Baikal", 52.2, 105.8, true},
	{"Dead Sea", 31.6, 35.5, true},
	{"Lake Taupo", -38.8, 175.9, true},

	{"Iceland", 64.9, -18.6, false},
	{"Isle of Man", 54.2, -4.55, false},
	{"Isle of Wight", 50.68, -1.3, false},
	{"Gotland", 57.5, 18.5, false},
	{"Malta", 35.88, 14.42, false},
	{"Hawaii", 19.6, -155.5, false},
	{"Tasmania", -42, 146.6, false},
	{"Manitoulin, an island in Lake Huron", 45.75, -82.2, false},

	{"Madrid (NE)", 40.40, -3.68, false},
	{"Moscow (NE)", 55.75, 37.61, false},
	{"Ulaanbaatar (NE)", 47.92, 106.91, false},
	{"Denver (NE)", 39.74, -104.98, false},
	{"Alice Springs (NE)", -23.7, 133.87, false},
	{"Timbuktu (NE)", 16.77, -3.01, false},
	{"La Paz (NE)", -16.5, -68.15, false},
	{"between Lake Michigan and Lake Huron", 44.5, -84.5, false},

	{"date line on the equator, from the west", 0, 180, true},
	{"date line on the equator, from the east", 0, -180, true},
	{"Bering Sea on the date line", 59, 180, true},
	{"Chukotka west of the date line", 67.5, 179.5, false},
	{"Chukotka on the date line", 67.5, 180, false},
	{"Chukotka on the date line, from the east", 67.5, -180, false},
	{"Chukotka east of the date line", 66.5, -175, false},
	{"Chukotka, longitude written beyond 180", 66.5, 185, false},
	{"Wrangel Island west of the date line", 71.2, 179.7, false},
	{"Wrangel Island east of the date line", 71.2, -179.7, false},
	{"Vanua Levu, Fiji", -16.6, 179.2, false},
	{"Taveuni, Fiji, on the date line", -16.85, -179.97, false},
	{"Koro Sea, Fiji", -17.7, -179.9, true},

	{"north pole", 90, 0, true},
	{"north pole, by another meridian", 90, -123, true},
	{"near the north pole on the date line", 89.9, 180, true},
	{"south pole", -90, 0, false},
	{"south pole, by another meridian", -90, 77, false},
	{"near the south pole on the date line", -89.9, -180, false},
	{"Antarctica, East", -78.46, 106.84, false},
	{"Antarctica on the date line", -86, 180, false},
	{"Weddell Sea", -70, -40, true},
	{"Ross Ice Shelf, which floats", -81, -178, true},
}

func TestBuiltInWaterAtKnownPlaces(t *testing.T) {
	l := water(t)
	for _, tt := range places {
		hit, covered := l.At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, tt.water, hit, "%s: At(%g, %g) = %v, want %v", tt.name, tt.lat, tt.lon, hit, tt.water)
		assert.True(t, covered, "%s: At(%g, %g) is not covered, want it covered", tt.name, tt.lat, tt.lon)
	}
}

func TestBuiltInWaterSource(t *testing.T) {
	s := water(t).Source()
	assert.Equal(t, Water, s.Class)
	assert.NotEmpty(t, s.Name)
	assert.Contains(t, s.Credit, "Natural Earth")
}

// The even-odd rule by trying all edges gives the same answer at every point:
// spread over the Earth evenly by area, close to vertices, and on and beside
// edges, where the index's arithmetic is most easily wrong.
func TestBuiltInWaterAgreesWithTryingAllEdges(t *testing.T) {
	land, lakes, err := decodeWater(waterFile)
	require.NoError(t, err)
	for _, tt := range []struct {
		name   string
		s      *shapes
		spread int
		near   int
	}{{"land", land, 50_000, 4_000}, {"lakes", lakes, 50_000, 4_000}} {
		ix, slow := newIndex(tt.s), newTwin(tt.s)
		inside, wrong := 0, 0
		check := func(v vertex) {
			want := slow.contains(v)
			if want {
				inside++
			}
			if got := ix.contains(v); got != want {
				wrong++
				t.Logf("%s: contains(%v) = %v, want %v", tt.name, v, got, want)
			}
		}
		r := rand.New(rand.NewPCG(1, 2))
		for range tt.spread {
			check(mustPlace(t, anywhere(r)))
		}
		for range tt.near {
			for _, v := range nearEdge(r, tt.s) {
				check(v)
			}
		}
		assert.Zero(t, wrong, "%s: points with another answer", tt.name)
		t.Logf("%s: %d of %d points inside", tt.name, inside, tt.spread+5*tt.near)
	}
}

// The geometry module's own plane test, which shares no code with this package,
// agrees at random points that are not within rounding of an edge.
func TestBuiltInLandAgreesWithAnotherLibrary(t *testing.T) {
	land, _, err := decodeWater(waterFile)
	require.NoError(t, err)
	ix := newIndex(land)
	var all []orb.Polygon
	var bounds []orb.Bound
	for k := range land.polygons {
		all = append(all, degrees(land, k))
		bounds = append(bounds, all[k].Bound())
	}
	r := rand.New(rand.NewPCG(3, 4))
	inside := 0
	for range 1000 {
		p := anywhere(r)
		want := false
		for k, polygon := range all {
			for _, east := range [...]float64{0, 360, -360} {
				at := orb.Point{p.Lon + east, p.Lat}
				want = want || bounds[k].Contains(at) && planar.PolygonContains(polygon, at)
			}
		}
		if want {
			inside++
		}
		assert.Equal(t, want, ix.contains(mustPlace(t, p)), "contains(%v)", p)
	}
	// Land is 29 % of the Earth's surface (common knowledge); the ice shelves are
	// not in it. Five standard errors of 1,000 draws are 7 %.
	assert.InDelta(t, 290, inside, 72, "points of 1000 on land")
}

// The same coast and lakes at 1:50m, where that is at hand, differ only near the
// shores.
func TestBuiltInWaterAgreesWithCoarserCoast(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("THISTLEDOWN_REFERENCE is not set: left out the comparison with Natural Earth at 1:50m")
	}
	coarse := func(name string) *Layer {
		b, err := os.ReadFile(filepath.Join(dir, "vector", name))
		require.NoError(t, err)
		l, err := ReadLayer(LayerSource{Name: name, Class: Water}, b)
		require.NoError(t, err)
		return l
	}
	land, lakes, ours := coarse("ne_50m_land.geojson"), coarse("ne_50m_lakes.geojson"), water(t)
	r := rand.New(rand.NewPCG(5, 6))
	const n = 20_000
	coast, lake, shifted := 0, 0, 0
	for range n {
		p := anywhere(r)
		v := mustPlace(t, p)
		if ours.without.contains(v) != land.areas.contains(v) {
			coast++
		}
		if ours.areas.contains(v) != lakes.areas.contains(v) {
			lake++
		}
		if ours.without.contains(mustPlace(t, geo.Point{Lat: p.Lat, Lon: p.Lon + 0.25})) != land.areas.contains(v) {
			shifted++
		}
	}
	t.Logf("of %d points, land at 1:10m and 1:50m differ at %d (%d with a shift by a quarter of a degree), lakes at %d", n, coast, shifted, lake)
	// How much the two scales differ is nowhere published: the bound is set so
	// that a shift by a quarter of a degree breaks it, which is checked too. The
	// lakes that the built-in source leaves out are some 0.04 % of the Earth.
	const most = n * 4 / 1000
	assert.LessOrEqual(t, coast, most, "points where the two coasts differ")
	assert.Greater(t, shifted, most, "points where the coasts differ after a shift")
	assert.LessOrEqual(t, lake, n*2/1000, "points where the lakes differ")
}

func TestDecodeWaterRefuses(t *testing.T) {
	group := func(kind byte, polygons ...byte) []byte {
		b := []byte{1, kind}
		for range 2 {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(0.5))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(-90))
		}
		return append(b, polygons...)
	}
	good := group(groupLand, 1, 1, 0, 3, 0, 0, 2, 0, 0, 2)
	land, _, err := decodeWater(good)
	require.NoError(t, err)
	require.Equal(t, []vertex{{-90 * steps, -90 * steps}, {-89.5 * steps, -90 * steps}, {-89.5 * steps, -89.5 * steps}, {-90 * steps, -90 * steps}}, land.vertices)
	for n := range good {
		_, _, err := decodeWater(good[:n])
		assert.Error(t, err, "decodeWater of the first %d of %d octets", n, len(good))
	}
	stretched := append([]byte(nil), good...)
	binary.LittleEndian.PutUint64(stretched[2:], math.Float64bits(math.NaN()))
	for _, tt := range []struct {
		name string
		b    []byte
		want string
	}{
		{"octets after the end", append(append([]byte(nil), good...), 0), "1 octets after the last group"},
		{"another kind", group(9, 0), "group of kind 9"},
		{"no land", group(groupLakes, 1, 1, 0, 3, 0, 0, 2, 0, 0, 2), "no land"},
		{"no ring", group(groupLand, 1, 0), "a polygon without a ring"},
		{"two vertices", group(groupLand, 1, 1, 0, 2, 0, 0, 2, 0), "ring of 2 vertices"},
		{"closes in no known way", group(groupLand, 1, 1, 3, 3, 0, 0, 2, 0, 0, 2), "closes in way 3"},
		{"south of the pole", group(groupLand, 1, 1, 0, 3, 0, 1, 2, 0, 0, 2), "latitude -90.5"},
		{"far east", group(groupLand, 1, 1, 0, 3, 0xFE, 0x7F, 0, 2, 0, 0, 2), "longitude 4"},
		{"wider than the Earth", group(groupLand, 1, 1, 0, 3, 0, 0, 0xA2, 0x0B, 0, 0, 2), "at most 754974720"},
		{"more than there can be", group(groupLand, 1, 1, 0, 0xFF, 0xFF, 0xFF, 0xFF, 0x0F, 0, 0), "a count of 4294967295"},
		{"a number that never ends", group(groupLand, 1, 1, 0, 3, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF), "above 2^32"},
		{"a step that is not a number", stretched, "step NaN"},
	} {
		_, _, err := decodeWater(tt.b)
		assert.ErrorContains(t, err, tt.want, tt.name)
	}
}
