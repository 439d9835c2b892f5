package grib_test

import (
	"bufio"
	"compress/gzip"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// placed is where the points of a message lie by PROJ and ecCodes: a line of
// testdata/grids.jsonl.gz, written by scripts/grib/grids_reference.py.
type placed struct {
	Name      string
	Template  uint16
	Product   uint16
	NX, NY    int
	Scanning  byte
	AlongGrid int `json:"along_grid"`
	Kind      *int
	Member    int
	Of        int
	DataType  uint8 `json:"data_type"`
	Level     float64
	Lat, Lon  []float64 // 1e-7 degrees, in the order of the message
	Values    []float64
}

func readPlaced(t *testing.T) []placed {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", "grids.jsonl.gz"))
	require.NoError(t, err)
	defer file.Close()
	unzipped, err := gzip.NewReader(file)
	require.NoError(t, err)
	var all []placed
	lines := bufio.NewScanner(unzipped)
	for lines.Buffer(nil, 4<<20); lines.Scan(); {
		var p placed
		require.NoError(t, json.Unmarshal(lines.Bytes(), &p))
		all = append(all, p)
	}
	require.NoError(t, lines.Err())
	return all
}

// TestPlaces holds every point of Lambert, rotated and Gaussian grids in all
// sorts of scanning modes against PROJ 9.1 and ecCodes 2.28, and their headers.
func TestPlaces(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "grids.grib2"))
	require.NoError(t, err)
	fields, faults := scanAll(data)
	require.Empty(t, faults)
	all := readPlaced(t)
	require.Len(t, fields, len(all))
	for k, f := range fields {
		want := all[k]
		t.Run(want.Name, func(t *testing.T) {
			require.NoError(t, f.Supported())
			assert.Equal(t, want.Template, f.Grid.Template)
			assert.Equal(t, want.Product, f.Product)
			assert.Equal(t, want.AlongGrid == 1, f.Grid.AlongGrid)
			assert.Equal(t, want.DataType, f.DataType)
			assert.True(t, f.Level.At(grib.Isobaric, want.Level), "%v, want %g Pa", f.Level, want.Level)
			member := grib.Member{}
			if want.Kind != nil {
				member = grib.Member{Kind: grib.MemberKind(*want.Kind + 1), Number: want.Member, Of: want.Of}
			}
			assert.Equal(t, member, f.Member)
			require.Equal(t, [2]int{want.NX, want.NY}, [2]int{f.Grid.NX, f.Grid.NY})
			checkPlaces(t, f, want)
		})
	}
}

func checkPlaces(t *testing.T, f *grib.Field, want placed) {
	t.Helper()
	values, err := f.Values(nil)
	require.NoError(t, err)
	g := f.Grid
	for k := range want.Lat {
		node := nodeOf(g.NX, g.NY, k, want.Scanning)
		i, j := node%g.NX, node/g.NX
		require.Equal(t, float32(want.Values[k]), values[node], "value %d", k)
		lat, lon := g.Place(i, j)
		// The fixture is rounded to 1e-7; 1e-7 more is for corners and poles of
		// rotation, which the message has in microdegrees.
		wantLat, wantLon := want.Lat[k]/1e7, want.Lon[k]/1e7
		require.InDelta(t, wantLat, lat, 2e-7, "Place(%d, %d) = %g, %g, want %g, %g", i, j, lat, lon, wantLat, wantLon)
		if math.Abs(wantLat) < 89.999 {
			require.InDelta(t, 0, math.Remainder(wantLon-lon, 360), 2e-7, "Place(%d, %d) = %g, %g, want %g, %g", i, j, lat, lon, wantLat, wantLon)
		}
		require.True(t, lon >= -180 && lon < 180, "Place(%d, %d): longitude %g", i, j, lon)
		x, y, ok := g.Locate(lat, lon)
		require.True(t, ok, "Locate(%g, %g), node (%d, %d)", lat, lon, i, j)
		require.InDelta(t, j, y, 1e-9, "Locate(%g, %g)", lat, lon)
		if pole := g.Template == 1 && math.Abs(g.Lat0+float64(j)*g.DLat) > 89.999; !pole {
			require.InDelta(t, i, x, 1e-9, "Locate(%g, %g)", lat, lon)
		}
	}
}

// TestSnyder: the numerical examples for Lambert's projection in Snyder (1987),
// USGS Professional Paper 1395, pages 295–298, to their last digit: parallels 33°
// and 45°N, origin 23°N 96°W, point 35°N 75°W, on the sphere of radius 1 and on
// the Clarke 1866 ellipsoid. The figures are from memory; PROJ 9.1 has them too.
func TestSnyder(t *testing.T) {
	const e2 = 0.00676866
	for _, c := range []struct {
		earth        grib.Earth
		x, y, within float64
	}{
		{grib.Earth{Major: 1, Minor: 1}, 0.2966785, 0.2462112, 0.5e-7},
		{grib.Earth{Major: 6378206.4, Minor: 6378206.4 * math.Sqrt(1-e2)}, 1894410.9, 1564649.5, 0.05},
	} {
		step := c.earth.Major / 1000
		g := grib.Grid{
			Template: 30, NX: 1000, NY: 1000, Lat0: 23, Lon0: -96,
			Cone: grib.Cone{Latin1: 33, Latin2: 45, LoV: -96, DX: step, DY: step, Earth: c.earth},
		}
		x, y, ok := g.Locate(35, -75)
		require.True(t, ok)
		assert.InDelta(t, c.x, x*step, c.within)
		assert.InDelta(t, c.y, y*step, c.within)
	}
}

// TestGrid211: the corners of NCEP grid 211 as NCEP Office Note 388, table B,
// prints them, to a thousandth of a degree; from memory. Its spacing is printed
// as 81.2705 km on a sphere of 6371.2 km, which is the same grid.
func TestGrid211(t *testing.T) {
	f := only(t, sealed(0, section1(referenceTime), cone211(93, 65).section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 93*65)...)))
	for _, c := range []struct {
		i, j     int
		lat, lon float64
	}{
		{0, 0, 12.190, -133.459},
		{0, 64, 54.536, -152.856},
		{92, 64, 57.290, -49.385},
		{92, 0, 14.335, -65.091},
	} {
		lat, lon := f.Grid.Place(c.i, c.j)
		assert.InDelta(t, c.lat, lat, 0.001, "latitude of (%d, %d)", c.i, c.j)
		assert.InDelta(t, c.lon, lon, 0.001, "longitude of (%d, %d)", c.i, c.j)
	}
	assert.Equal(t, "Lambert conformal 93 × 65, 81.271 km × 81.271 km", f.Grid.String())
	assert.InDelta(t, 81.271/111.19, f.Grid.Spacing(), 1e-3) // 111.19 km per degree
}

// TestGaussian: the nodes of Gauss's rule in Abramowitz and Stegun, table 25.4,
// are the sines of the latitudes, for 2N = 2, 4 and 10; from memory.
func TestGaussian(t *testing.T) {
	for _, c := range []struct {
		n    int
		node []float64 // from the equator to the north
	}{
		{1, []float64{0.577350269189626}},
		{2, []float64{0.339981043584856, 0.861136311594053}},
		{5, []float64{0.148874338981631, 0.433395394129247, 0.679409568299024, 0.865063366688985, 0.973906528517172}},
	} {
		g := grib.Grid{Template: 40, NX: 4, NY: 2 * c.n, DLon: 90, Gauss: grib.Gauss{N: c.n}}
		for k, node := range c.node {
			north, _ := g.Place(0, c.n+k)
			south, _ := g.Place(0, c.n-1-k)
			assert.InDelta(t, node, math.Sin(north*math.Pi/180), 1e-15, "node %d of N = %d", k, c.n)
			assert.Equal(t, -north, south) //nolint:testifylint // exactly, by symmetry
		}
	}
	// From mpmath 1.2.1 with 30 digits, rows from the north.
	for _, c := range []struct {
		n, m int
		lat  float64
	}{
		{32, 1, 87.863798839232583751},
		{32, 32, 1.3953069108194960269},
		{320, 1, 89.784876907218301593},
		{640, 1, 89.892396445591714505},
		{640, 320, 45.052709407729232883},
	} {
		g := grib.Grid{Template: 40, NX: 1, NY: 2 * c.n, Gauss: grib.Gauss{N: c.n}}
		lat, _ := g.Place(0, 2*c.n-c.m)
		assert.InDelta(t, c.lat, lat, 5e-12, "row %d of N = %d", c.m, c.n)
	}
	// Near the pole the angle from it is j/(n + ½) within 1/n³, j = 2.404825557695773
	// the first zero of the Bessel function J0 (Abramowitz and Stegun 22.15.1).
	for _, n := range []int{640, 2048} {
		g := grib.Grid{Template: 40, NX: 1, NY: 2 * n, Gauss: grib.Gauss{N: n}}
		lat, _ := g.Place(0, 2*n-1)
		want := 2.404825557695773 / (2*float64(n) + 0.5)
		assert.InDelta(t, want, (90-lat)*math.Pi/180, want/(4*float64(n*n)), "N = %d", n)
	}
}

// TestTurn: the angle between east and a row is the bearing of the next column.
func TestTurn(t *testing.T) {
	globe := grib.Earth{Major: 6378137, Minor: 6356752.314}
	for name, g := range map[string]grib.Grid{
		"northern cone": {Template: 30, Cone: grib.Cone{Latin1: 25, Latin2: 60, LoV: -95, DX: 1, DY: 1, Earth: globe}},
		"southern cone": {Template: 30, Cone: grib.Cone{Latin1: -25, Latin2: -60, LoV: 170, DX: 1, DY: 1, Earth: globe}},
		"rotated":       {Template: 1, DLat: 1e-5, DLon: 1e-5, Rotation: grib.Rotation{Lat: -37.5, Lon: -27.5}},
		"by an angle":   {Template: 1, DLat: 1e-5, DLon: 1e-5, Rotation: grib.Rotation{Lat: 20, Lon: 100, Angle: 40}},
	} {
		g.NX, g.NY = 2, 2
		for _, at := range [][2]float64{{50, -100}, {50, 80}, {-20, 175}, {-20, -150}, {3, 0}, {75, 60}, {-75, 60}} {
			g.Lat0, g.Lon0 = at[0], at[1]
			lat, lon := g.Place(0, 0)
			sin, cos := g.Turn(lat, lon)
			assert.Equal(t, [2]float64{0, 1}, [2]float64{sin, cos}, "%s: components along the compass", name)
			g.AlongGrid = true
			sin, cos = g.Turn(lat, lon)
			assert.InDelta(t, 1, math.Hypot(sin, cos), 1e-12, name)
			east, north := toward(g, 1, 0)
			assert.InDelta(t, cos, east, 1e-5, "%s: east of a row at %g, %g", name, lat, lon)
			assert.InDelta(t, sin, north, 1e-5, "%s: north of a row at %g, %g", name, lat, lon)
			east, north = toward(g, 0, 1)
			assert.InDelta(t, -sin, east, 1e-5, "%s: east of a column at %g, %g", name, lat, lon)
			assert.InDelta(t, cos, north, 1e-5, "%s: north of a column at %g, %g", name, lat, lon)
			g.AlongGrid = false
		}
	}
}

// toward is the unit vector from node (0, 0) to node (i, j) nearby, on the
// sphere or on the ellipsoid of the grid.
func toward(g grib.Grid, i, j int) (east, north float64) {
	lat0, lon0 := g.Place(0, 0)
	lat, lon := g.Place(i, j)
	e := 0.0
	if g.Template == 30 {
		e = 1 - g.Cone.Earth.Minor*g.Cone.Earth.Minor/g.Cone.Earth.Major/g.Cone.Earth.Major
	}
	// Radii of curvature of parallel and meridian, but for a common factor.
	sin, cos := math.Sincos(lat0 * math.Pi / 180)
	east = math.Remainder(lon-lon0, 360) * cos * (1 - e*sin*sin)
	north = (lat - lat0) * (1 - e)
	size := math.Hypot(east, north)
	return east / size, north / size
}

// TestEarth: the shapes of WMO-No. 306, code table 3.2.
func TestEarth(t *testing.T) {
	for _, c := range []struct {
		shape        byte
		major, minor uint32 // of the message
		want         grib.Earth
	}{
		{0, 0, 0, grib.Earth{Major: 6367470, Minor: 6367470}},
		{1, 6370997, 0, grib.Earth{Major: 6370997, Minor: 6370997}},
		{2, 0, 0, grib.Earth{Major: 6378160, Minor: 6356775}},
		{3, 6378, 6356, grib.Earth{Major: 6378000, Minor: 6356000}},
		{4, 0, 0, grib.Earth{Major: 6378137, Minor: 6356752.314}},
		{5, 0, 0, grib.Earth{Major: 6378137, Minor: 6356752.3142}},
		{6, 0, 0, grib.Earth{Major: 6371229, Minor: 6371229}},
		{7, 6378137, 6356752, grib.Earth{Major: 6378137, Minor: 6356752}},
		{8, 0, 0, grib.Earth{Major: 6371200, Minor: 6371200}},
		{9, 0, 0, grib.Earth{Major: 6377563.396, Minor: 6356256.909}},
	} {
		l := cone211(3, 2)
		l.shape, l.major, l.minor = c.shape, c.major, c.minor
		f := only(t, sealed(0, section1(referenceTime), l.section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 6)...)))
		require.NoError(t, f.Supported())
		assert.InDelta(t, c.want.Major, f.Grid.Cone.Earth.Major, 1e-4, "shape %d", c.shape)
		assert.InDelta(t, c.want.Minor, f.Grid.Cone.Earth.Minor, 1e-4, "shape %d", c.shape)
	}
	l := cone211(3, 2)
	l.shape, l.major = 1, 63712290
	three := l.section3()
	three[15] = 1 // scale factor
	f := only(t, sealed(0, section1(referenceTime), three, wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 6)...)))
	assert.InDelta(t, 6371229, f.Grid.Cone.Earth.Major, 1e-9)
}
