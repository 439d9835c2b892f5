package ground

import (
	"bufio"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// builtIn is the built-in map of a box, or the end of the test.
func builtIn(t testing.TB, near geo.Box) *World {
	t.Helper()
	w, err := BuiltIn(near)
	require.NoError(t, err)
	return w
}

// layerOf is the layer of a name.
func layerOf(t testing.TB, w *World, name string) *Layer {
	t.Helper()
	for _, l := range w.Layers() {
		if l.source.Name == name {
			return l
		}
	}
	require.FailNow(t, "no layer "+name)
	return nil
}

// zone is a city that a time zone is named after.
type zone struct {
	country, name string
	at            geo.Point
}

// zones are the cities of the time zone database (public domain), their
// positions to a minute of arc, most of them.
func zones(t testing.TB) []zone {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "zone.tab"))
	require.NoError(t, err)
	defer f.Close()
	var all []zone
	for s := bufio.NewScanner(f); s.Scan(); {
		if strings.HasPrefix(s.Text(), "#") {
			continue
		}
		columns := strings.Split(s.Text(), "\t")
		cut := strings.LastIndexAny(columns[1], "+-")
		all = append(all, zone{columns[0], columns[2], geo.Point{Lat: degreesOf(t, columns[1][:cut], 2), Lon: degreesOf(t, columns[1][cut:], 3)}})
	}
	require.Greater(t, len(all), 400, "cities")
	return all
}

// degreesOf reads ±DDMM or ±DDMMSS with some digits of degrees.
func degreesOf(t testing.TB, s string, digits int) float64 {
	t.Helper()
	v, scale := 0.0, 1.0
	for at, n := 1, digits; at < len(s); at, n = at+n, 2 {
		d, err := strconv.Atoi(s[at : at+n])
		require.NoError(t, err)
		v += float64(d) / scale
		scale *= 60
	}
	if s[0] == '-' {
		return -v
	}
	return v
}

// boxRound is a box of some degrees round a point.
func boxRound(p geo.Point, degrees float64) geo.Box {
	return geo.Box{
		South: max(p.Lat-degrees, -90), North: min(p.Lat+degrees, 90),
		West: geo.WrapLon(p.Lon - degrees), East: geo.WrapLon(p.Lon + degrees),
	}
}

// The boxes of these tests: the whole Earth, over the date line from either side,
// round the poles, a coast with islands, one without any coast.
var boxes = []geo.Box{
	everywhere,
	{South: -30, North: 10, West: 170, East: -170},
	{South: 60, North: 75, West: 150, East: 200},
	{South: -90, North: -60, West: -180, East: 180},
	{South: 70, North: 90, West: 0, East: 360},
	{South: 55, North: 65, West: -5, East: 15},
	{South: 48, North: 50, West: 8, East: 10},
	{South: 49.4, North: 49.6, West: 8.4, East: 8.55},  // edges in towns, along the Rhine
	{South: 49.95, North: 50.03, West: 8.5, East: 8.6}, // an edge in an airport
	{South: 20, North: 50, West: -200, East: -120},
	{South: 64, North: 68, West: -178, East: -170},   // Chukotka, east of the date line
	{South: 70, North: 72, West: -179.9, East: -177}, // Wrangel Island, whose outline runs on to the west
	{South: 70, North: 72, West: 179.5, East: 179.4}, // all round but for some of it
	{South: -90, North: -88, West: 10, East: 20},     // the pole, far from any vertex
}

// A map of a box has what the map of the whole Earth has, at every point of the
// box, and knows of nothing outside of it. The water is also that of
// BuiltInWater, which is made in another way.
func TestBuiltInHasTheSameInABox(t *testing.T) {
	coast, all := water(t), builtIn(t, everywhere)
	r := rand.New(rand.NewPCG(11, 12))
	for _, b := range boxes {
		for k, l := range builtIn(t, b).Layers() {
			whole := all.Layers()[k]
			there, wrong := 0, 0
			for range 20_000 {
				p := within(r, b)
				want, _ := whole.At(p, time.Time{})
				hit, covered := l.At(p, time.Time{})
				if want {
					there++
				}
				if wet, _ := coast.At(p, time.Time{}); hit != want || covered != (k == 0 || hit) || k == 0 && hit != wet {
					wrong++
				}
			}
			assert.Zero(t, wrong, "box %v, %s: points of 20000 with another answer (%d there)", b, l.source.Name, there)
			for range 1000 {
				p := anywhere(r)
				if hit, covered := l.At(p, time.Time{}); covered && !hit {
					assert.True(t, b.Contains(p), "box %v, %s: At(%v) is known to be free, want it unknown", b, l.source.Name, p)
				}
			}
		}
	}
}

// within is a point of a box, uniform in its degrees.
func within(r *rand.Rand, b geo.Box) geo.Point {
	width := b.East - b.West
	if width < 0 {
		width += 360
	}
	return geo.Point{Lat: b.South + (b.North-b.South)*r.Float64(), Lon: geo.WrapLon(b.West + width*r.Float64())}
}

// elsewhere is where the two sources differ by what they call a country, not by
// a place, or the map is too coarse: the letters that Country gives there.
var elsewhere = map[string]string{
	// Parts of a country with letters of their own, which the map does not draw apart.
	"America/Kralendijk": "NL", "America/Cayenne": "FR", "America/Guadeloupe": "FR", "America/Martinique": "FR",
	"Indian/Reunion": "FR", "Indian/Mayotte": "FR", "Arctic/Longyearbyen": "NO", "Pacific/Fakaofo": "NZ",
	// "Indian Ocean Ter.", without letters.
	"Indian/Cocos": "", "Indian/Christmas": "",
	// Who holds the ground is not who claims it.
	"Asia/Nicosia": "", "Asia/Famagusta": "", "Africa/El_Aaiun": "MA", "Europe/Simferopol": "RU", "Asia/Jerusalem": "PS",
	// Within 3 km of a border that the map draws through or past the city, or too small for it.
	"Africa/Bangui": "CD", "America/Lower_Princes": "MF", "Europe/Busingen": "CH", "Europe/Vatican": "IT",
}

// adrift are the cities round which there is no land within 6 km on the map:
// atolls that it lacks or draws in part, and positions that are that far off.
var adrift = []string{
	"Pacific/Majuro", "Pacific/Kwajalein", "Pacific/Tarawa", "Pacific/Chuuk", "Pacific/Marquesas",
	"Asia/Aden", "Asia/Bahrain", "Antarctica/Davis", "Antarctica/DumontDUrville",
}

// The time zone database says in which country its cities lie. Their positions
// are rounded to a minute of arc, 1.9 km, and many are ports: a city in the sea
// counts if the country is the nearest land within 6 km.
func TestCountryOfEachTimeZone(t *testing.T) {
	w := builtIn(t, everywhere)
	ashore, near := 0, 0
	for _, z := range zones(t) {
		got, ok := w.Country(z.at)
		if ok {
			ashore++
		}
		for metres := 500.0; !ok && metres <= 6000; metres += 500 {
			for bearing := 0.0; !ok && bearing < 360; bearing += 15 {
				got, ok = w.Country(geo.Direct(z.at, bearing, metres))
			}
			if ok {
				near++
			}
		}
		want, other := elsewhere[z.name]
		if !other {
			want = z.country
		}
		if slices.Contains(adrift, z.name) {
			assert.False(t, ok, "%s: Country near %v = %v, want none", z.name, z.at, got)
			continue
		}
		assert.True(t, ok, "%s: Country(%v) is none, want %s within 6 km", z.name, z.at, want)
		assert.Equal(t, want, got.Code, "%s: Country(%v) = %v, want %v", z.name, z.at, got, want)
	}
	t.Logf("%d cities ashore, %d at sea but near", ashore, near)
}

// Both sides of borders, positions from memory to 0.01 degree and several times
// that from the border; enclaves; both sides of the date line; the pole.
var borderTowns = []struct {
	name     string
	lat, lon float64
	code     string // empty: no country
}{
	{"Strasbourg, west of the Rhine", 48.58, 7.72, "FR"},
	{"Kehl, east of it", 48.57, 7.85, "DE"},
	{"Baden, north of Lake Constance", 47.9, 9.1, "DE"},
	{"Tijuana", 32.48, -117.0, "MX"},
	{"San Diego", 32.75, -117.1, "US"},
	{"Salzburg", 47.79, 13.05, "AT"},
	{"Tornio", 65.9, 24.3, "FI"},
	{"Haparanda, inland of it", 65.9, 23.9, "SE"},
	{"middle of Lesotho, an enclave", -29.5, 28.2, "LS"},
	{"Bloemfontein, round it", -29.1, 26.2, "ZA"},
	{"San Marino, an enclave", 43.94, 12.46, "SM"},
	{"Kaliningrad, an exclave", 54.7, 20.5, "RU"},
	{"Nakhchivan, an exclave", 39.2, 45.4, "AZ"},
	{"Alaska, an exclave", 64, -150, "US"},
	{"Chukotka west of the date line", 67.5, 179.5, "RU"},
	{"Chukotka on the date line", 67.5, 180, "RU"},
	{"Chukotka east of the date line", 66.5, -175, "RU"},
	{"Chukotka, longitude written beyond 180", 66.5, 185, "RU"},
	{"Vanua Levu, Fiji", -16.6, 179.2, "FJ"},
	{"Taveuni, Fiji, on the date line", -16.85, -179.97, "FJ"},
	{"south pole", -90, 0, "AQ"},
	{"Antarctica on the date line", -86, 180, "AQ"},
	{"Caspian Sea", 42, 50.5, ""},
	{"North Sea", 56, 3, ""},
	{"Lake Constance", 47.6, 9.4, "DE"},
	{"no position", 91, 0, ""},
}

func TestCountryOnBothSidesOfBorders(t *testing.T) {
	all := builtIn(t, everywhere)
	for _, tt := range borderTowns {
		p := geo.Point{Lat: tt.lat, Lon: tt.lon}
		got, ok := all.Country(p)
		assert.Equal(t, tt.code, got.Code, "%s: Country(%v) = %v, want %q", tt.name, p, got, tt.code)
		assert.Equal(t, tt.code != "", ok, "%s: Country(%v) is known: %v", tt.name, p, ok)
		if tt.lat > 90 {
			continue
		}
		near, _ := builtIn(t, boxRound(p, 1)).Country(p)
		assert.Equal(t, got, near, "%s: Country(%v) of a map of 2 degrees = %v, want %v", tt.name, p, near, got)
	}
}

// Abroad is what Country says is another country, at every point; the sea is not
// abroad; nothing is known outside the box.
func TestAbroadAgreesWithCountry(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for _, site := range []geo.Point{{Lat: 47.7, Lon: 7.9}, {Lat: -16.6, Lon: 179.2}, {Lat: 67.5, Lon: -179}, {Lat: -29.5, Lon: 28.2}, {Lat: -88, Lon: 20}} {
		b := boxRound(site, 6)
		w := builtIn(t, b)
		home, ok := w.Country(site)
		require.True(t, ok, "Country(%v)", site)
		l, err := w.Abroad(site)
		require.NoError(t, err)
		abroad, wrong := 0, 0
		for range 3000 {
			p := within(r, b)
			c, land := w.Country(p)
			want := land && !c.Same(home)
			if want {
				abroad++
			}
			if hit, covered := l.At(p, time.Time{}); hit != want || !covered {
				wrong++
			}
		}
		t.Logf("from %v: %d of 3000 points abroad", home, abroad)
		assert.Zero(t, wrong, "from %v: points with another answer", home)
		hit, covered := l.At(geo.Point{Lat: -site.Lat, Lon: site.Lon}, time.Time{})
		assert.False(t, hit || covered, "from %v: outside the box: %v, %v", home, hit, covered)
	}
	_, err := builtIn(t, boxRound(geo.Point{Lat: 56, Lon: 3}, 1)).Abroad(geo.Point{Lat: 56, Lon: 3})
	assert.ErrorContains(t, err, "no country at latitude 56, longitude 3: want a place on land")
}

func TestCountrySame(t *testing.T) {
	for _, tt := range []struct {
		a, b Country
		want bool
	}{
		{Country{"AU", "Australia"}, Country{"AU", "Ashmore and Cartier Is."}, true},
		{Country{"RS", "Serbia"}, Country{"", "Kosovo"}, false},
		{Country{"", "Kosovo"}, Country{"", "Somaliland"}, false},
		{Country{"", "Kosovo"}, Country{"", "Kosovo"}, true},
		{Country{"DK", "Denmark"}, Country{"GL", "Greenland"}, false},
	} {
		assert.Equal(t, tt.want, tt.a.Same(tt.b), "%v.Same(%v)", tt.a, tt.b)
	}
}

// A long edge is cut where it crosses the window's sides, and the ring runs along
// them: by hand.
func TestClipperCutsWhereEdgesCross(t *testing.T) {
	got := &shapes{}
	got.begin()
	c := clipper{window: box{-50, -80, 200, 50}}
	c.ring(got, []vertex{{-100, 0}, {300, 200}, {300, -200}}, 0)
	want := []vertex{{0, 50}, {200, 50}, {200, -80}, {60, -80}, {-50, -25}, {-50, 25}}
	assert.ElementsMatch(t, want, got.vertices[:len(got.vertices)-1], "polygon = %v, want %v", got.vertices, want)
}
