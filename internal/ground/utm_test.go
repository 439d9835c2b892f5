package ground

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// system is the projection of a row of testdata/projections.csv.
func system(t *testing.T, name string) projection {
	t.Helper()
	if name == "exact" { // UTM's scale, no false easting, on a meridian of 9 E
		u := newUTM(ellipsoid{semiMajor, 1 / wgs84Inv}, 32, false)
		u.east0 = 0
		return u
	}
	code, err := strconv.ParseUint(name, 10, 32)
	require.NoError(t, err)
	p, err := projectionOf(code)
	require.NoError(t, err)
	return p
}

// The places are GeographicLib's, by elliptic functions ("exact"), and PROJ's:
// see scripts/ground/projections.py. Rounding of the file is 1 nm, of a degree
// there 0.1 µm.
func TestProjectionsAgainstGeographicLibAndPROJ(t *testing.T) {
	text, err := os.ReadFile("testdata/projections.csv")
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	worst := map[string]float64{}
	for _, row := range rows[1:] {
		s := system(t, row[0])
		p := geo.Point{Lat: number(t, row[1]), Lon: number(t, row[2])}
		wantX, wantY := number(t, row[3]), number(t, row[4])
		x, y, ok := s.flat(p)
		require.True(t, ok, "%s: flat(%v)", row[0], p)
		worst[row[0]] = max(worst[row[0]], math.Hypot(x-wantX, y-wantY))
		back, ok := s.round(wantX, wantY)
		require.True(t, ok, "%s: round(%g, %g)", row[0], wantX, wantY)
		metres, _, _ := geo.Inverse(p, back)
		worst[row[0]+" back"] = max(worst[row[0]+" back"], metres)
	}
	require.Len(t, worst, 18)
	for name, metres := range worst {
		t.Logf("%s: %.3g m at most", name, metres)
		assert.Less(t, metres, 1e-7, name)
	}
}

// What is far from a projection's middle, or no place, is not laid flat; no
// number makes round panic or never end.
func TestProjectionsEnd(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, code := range []uint64{32633, 32733, 3035, 5070} {
		s, err := projectionOf(code)
		require.NoError(t, err)
		for _, p := range []geo.Point{{Lat: nan, Lon: 15}, {Lat: 50, Lon: nan}, {Lat: 91, Lon: 15}, {Lat: 10, Lon: s.middle() + 179}, {Lat: 10, Lon: inf}} {
			_, _, ok := s.flat(p)
			assert.False(t, ok, "EPSG:%d: flat(%v)", code, p)
		}
		for _, xy := range [][2]float64{{nan, 0}, {0, nan}, {inf, 0}, {1e12, 0}, {0, -1e12}, {3e7, 3e7}} {
			_, ok := s.round(xy[0], xy[1])
			assert.False(t, ok, "EPSG:%d: round(%v)", code, xy)
		}
		for _, lat := range []float64{-90, 90} {
			if x, y, ok := s.flat(geo.Point{Lat: lat, Lon: s.middle()}); ok {
				back, ok := s.round(x, y)
				assert.True(t, ok, "EPSG:%d: round of latitude %g", code, lat)
				assert.InDelta(t, lat, back.Lat, 1e-5, "EPSG:%d", code) // degrees: at a pole the root of the rounding of q, 3e-8 rad
			}
		}
	}
	for _, code := range []uint64{0, 3857, 32600, 32661, 26900, 26924, 25827, 25839, 32800, userDefined} {
		_, err := projectionOf(code)
		assert.ErrorContains(t, err, strconv.FormatUint(code, 10))
	}
}

func BenchmarkUTM(b *testing.B) {
	s := newUTM(ellipsoid{semiMajor, 1 / wgs84Inv}, 33, false)
	for b.Loop() {
		s.flat(geo.Point{Lat: 51.2, Lon: 13.7})
	}
}
