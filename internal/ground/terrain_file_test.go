package ground

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

func readHeights(t testing.TB, path string, box geo.Box) Terrain {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	h, err := ReadTerrain(path, bytes.NewReader(b), int64(len(b)), box)
	require.NoError(t, err)
	return h
}

// heightSquare is a .hgt file of a plane that rises 2 m a step eastward and 1 m a step
// northward, with a gap at one point.
func heightSquare(gapCol, gapRow int) []byte {
	const side = 1201
	b := make([]byte, 0, 2*side*side)
	for row := range side {
		for col := range side {
			h := int16(2*col + side - 1 - row - 600)
			if col == gapCol && row == gapRow {
				h = -32768
			}
			b = binary.BigEndian.AppendUint16(b, uint16(h))
		}
	}
	return b
}

func TestSquareOfHeights(t *testing.T) {
	b := heightSquare(600, 300)
	var zipped bytes.Buffer
	z := zip.NewWriter(&zipped)
	for _, name := range []string{"readme.txt", "S23W070.hgt"} {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write(b)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	for name, file := range map[string][]byte{"dir/s23w070.HGT": b, `c:\dem\S23W070.SRTMGL3.hgt`: b, "any.zip": zipped.Bytes()} {
		h, err := ReadTerrain(name, bytes.NewReader(file), int64(len(file)), geo.Box{South: -22.9, North: -22, West: -70, East: 291})
		require.NoError(t, err, name)
		for _, p := range []geo.Point{{Lat: -22.9, Lon: -70}, {Lat: -22, Lon: -69}, {Lat: -22, Lon: -70}, {Lat: -22.3333, Lon: -69.2}} {
			got, ok := h.At(p)
			assert.True(t, ok, "%s: At(%v)", name, p)
			assert.InDelta(t, 2400*(p.Lon+70)+1200*(p.Lat+23)-600, got, 1e-3, "%s: At(%v)", name, p) // rounding of float32 and of the places
		}
		for _, p := range []geo.Point{{Lat: -22.9999, Lon: -69.5}, {Lat: -22.25, Lon: -69.5}, {Lat: -22.2503, Lon: -69.5003}} {
			_, ok := h.At(p)
			assert.False(t, ok, "%s: At(%v): outside the box, or a gap", name, p)
		}
		_, ok := h.At(geo.Point{Lat: -22.2509, Lon: -69.5})
		assert.True(t, ok, "%s: beside the gap", name)
	}
}

func TestSquaresAreRefused(t *testing.T) {
	b := heightSquare(-1, -1)
	var two bytes.Buffer
	z := zip.NewWriter(&two)
	for _, name := range []string{"N10E010.hgt", "N11E010.hgt"} {
		_, err := z.Create(name)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	for _, c := range []struct {
		name, want string
		file       []byte
	}{
		{"N44W072.hgt", `terrain "N44W072.hgt": 2884800 octets: want a GeoTIFF file, or 1201² or 3601² heights of 2 octets each`, b[:len(b)-2]},
		{"alps.hgt", "name does not give the south-west corner", b},
		{"N90E010.hgt", "south-west corner 90, 10 from the name: want -90 to 89", b},
		{"N10E180.hgt", "south-west corner 10, 180", b},
		{"two.zip", "zip with N10E010.hgt and N11E010.hgt: want one .hgt file", two.Bytes()},
		{"half.zip", "zip: ", two.Bytes()[:40]},
		{"empty.hgt", "0 octets: want", nil},
	} {
		_, err := ReadTerrain(c.name, bytes.NewReader(c.file), int64(len(c.file)), everywhere)
		assert.ErrorContains(t, err, c.want, c.name)
	}
}

// GDAL's values are those of pixels, and at a pixel's middle the height is its
// own: so the heights are held to the reader's pixels, which the other tests
// hold to GDAL's, and between them to bilinear interpolation by hand.
func TestTerrainOfAGeographicFile(t *testing.T) {
	for _, name := range []string{"deflate_floats.tif", "points_i16.tif", "south_up_u8.tif", "globe_east_i16.tif", "date_line_u8.tif"} {
		path := filepath.Join(rasters, name)
		r := opened(t, path)
		w, all := whole(t, r)
		h := readHeights(t, path, everywhere)
		for row := range w.ny {
			for col := range w.nx {
				p := geo.Point{Lat: r.y0 + float64(row)*r.dy, Lon: r.x0 + float64(col)*r.dx}
				got, ok := h.At(p)
				want := all[row*w.nx+col]
				if !math.IsNaN(want) && ok { // beside a gap the height is not known at the very node
					assert.InDelta(t, want, got, 1e-6*math.Abs(want)+1e-3, "%s: At(%v)", name, p)
				}
				if math.IsNaN(want) {
					assert.False(t, ok, "%s: At(%v) of a gap", name, p)
				}
				if row == w.ny-1 || col == w.nx-1 {
					continue
				}
				p.Lat, p.Lon = p.Lat+0.25*r.dy, p.Lon+0.5*r.dx
				k := row*w.nx + col
				want = 0.75*(all[k]+all[k+1])/2 + 0.25*(all[k+w.nx]+all[k+w.nx+1])/2
				got, ok = h.At(p)
				assert.Equal(t, !math.IsNaN(want), ok, "%s: At(%v)", name, p)
				if ok {
					assert.InDelta(t, want, got, 1e-6*math.Abs(want)+1e-3, "%s: At(%v)", name, p)
				}
			}
		}
	}
}

// parabola writes an uncompressed float GeoTIFF of UTM zone 33 north by hand:
// pixels of 30 m whose height is c/2 of the squares of the distances in metres
// from the middle.
func parabola(n int, c float64) []byte {
	o := binary.LittleEndian
	data := 8
	b := append([]byte("II*\x00"), 0, 0, 0, 0)
	for row := range n {
		for col := range n {
			x, y := 30*float64(col-n/2), 30*float64(row-n/2)
			b = o.AppendUint32(b, math.Float32bits(float32(c/2*(x*x+y*y))))
		}
	}
	doubles := len(b)
	for _, v := range []float64{30, 30, 0, 0, 0, 0, 500000, 5500000, 0} {
		b = o.AppendUint64(b, math.Float64bits(v))
	}
	keys := len(b)
	for _, v := range []uint16{1, 1, 0, 3, keyModel, 0, 1, 1, keyRasterType, 0, 1, 1, keyProjected, 0, 1, 32633} {
		b = o.AppendUint16(b, v)
	}
	o.PutUint32(b[4:], uint32(len(b)))
	entries := [][4]int{
		{tagWidth, 4, 1, n},
		{tagLength, 4, 1, n},
		{tagBits, 3, 1, 32},
		{tagCompression, 3, 1, 1},
		{tagStripOffsets, 4, 1, data},
		{tagSamples, 3, 1, 1},
		{tagRowsPerStrip, 4, 1, n},
		{tagStripCounts, 4, 1, 4 * n * n},
		{tagFormat, 3, 1, 3},
		{tagPixelScale, 12, 3, doubles},
		{tagTiepoint, 12, 6, doubles + 24},
		{tagGeoKeys, 3, 16, keys},
	}
	b = o.AppendUint16(b, uint16(len(entries)))
	for _, e := range entries {
		b = o.AppendUint16(o.AppendUint16(b, uint16(e[0])), uint16(e[1]))
		b = o.AppendUint32(o.AppendUint32(b, uint32(e[2])), uint32(e[3]))
	}
	return b
}

// Of ground whose second derivatives are c along both axes, bilinear
// interpolation between pixels d apart is off by up to d²c/4 in the middle of a
// cell (d²c/8 for each axis), and a projected file's heights are off twice. The
// bound is nearly reached.
func TestTerrainOfAProjectedFile(t *testing.T) {
	const n, c = 101, 0.002 // 1/m: 2 m of height 45 m from the middle
	b := parabola(n, c)
	h, err := ReadTerrain("hill.tif", bytes.NewReader(b), int64(len(b)), everywhere)
	require.NoError(t, err)
	utm := newUTM(ellipsoid{semiMajor, 1 / wgs84Inv}, 33, false)
	worst := 0.0
	for y := -1400.0; y <= 1400; y += 17 {
		for x := -1400.0; x <= 1400; x += 17 {
			middle := 30.0 * (n/2 + 0.5)
			p, ok := utm.round(500000+middle+x, 5500000-middle+y)
			require.True(t, ok)
			got, ok := h.At(p)
			require.True(t, ok, "At(%v)", p)
			worst = max(worst, math.Abs(got-c/2*(x*x+y*y)))
		}
	}
	const bound = 30 * 30 * c / 2
	t.Logf("off by %.3f m at most: bound %.3f m", worst, bound)
	assert.Less(t, worst, bound)
	assert.Greater(t, worst, 0.7*bound)
	_, ok := h.At(geo.Point{Lat: 48, Lon: 15})
	assert.False(t, ok, "outside the file")
}

// The slope of a plane is the plane's: heights a·x + b·y with x and y metres,
// along the ellipsoid's radii of curvature at each node's latitude.
func TestSlopeOfAPlane(t *testing.T) {
	g := geo.Grid{NX: 21, NY: 21, Lat0: 59.99, Lon0: 10, DLat: 0.001, DLon: 0.001}
	meridian, normal := geo.Radii(60)
	const east, north = 0.3, -0.4
	h := Terrain{Grid: g}
	for k := range g.NX * g.NY {
		p := g.Node(k)
		x := (p.Lon - 10) * degree * normal * math.Cos(60*degree)
		y := (p.Lat - 60) * degree * meridian
		h.Height = append(h.Height, float32(east*x+north*y))
	}
	for _, p := range []geo.Point{{Lat: 60, Lon: 10.01}, {Lat: 59.9932, Lon: 10.0041}, {Lat: 60.0099, Lon: 10.0199}} {
		got, ok := h.Slope(p)
		assert.True(t, ok)
		// atan(0.5); the parallel's length changes by 0.03 % over the grid.
		assert.InDelta(t, 26.5651, got, 0.02, "Slope(%v)", p)
	}
	_, ok := h.Slope(geo.Point{Lat: 61, Lon: 10})
	assert.False(t, ok)
	level := Terrain{Grid: g, Height: make([]float32, 441)}
	got, ok := level.Slope(geo.Point{Lat: 60, Lon: 10.01})
	assert.True(t, ok)
	assert.Zero(t, got)
}

// Terrain that is finer is asked first, and where it does not know the coarse
// one is.
func TestFinerTerrainFirst(t *testing.T) {
	flat := func(g geo.Grid, metres float32) Terrain {
		h := Terrain{Grid: g}
		for range g.NX * g.NY {
			h.Height = append(h.Height, metres)
		}
		return h
	}
	coarse := flat(geo.Grid{NX: 5, NY: 5, Lat0: 40, Lon0: 0, DLat: 1, DLon: 1}, 100)
	first := flat(geo.Grid{NX: 11, NY: 11, Lat0: 41, Lon0: 1, DLat: 0.1, DLon: 0.1}, 200)
	first.Height[60] = float32(math.NaN())
	second := flat(geo.Grid{NX: 11, NY: 11, Lat0: 41.3, Lon0: 1.3, DLat: 0.1, DLon: 0.1}, 300)
	coarse.Finer = []Terrain{first, second}
	for _, c := range []struct {
		at   geo.Point
		want float64
	}{
		{geo.Point{Lat: 40.5, Lon: 0.5}, 100},
		{geo.Point{Lat: 41.2, Lon: 1.2}, 200},
		{geo.Point{Lat: 41.9, Lon: 1.9}, 200},
		{geo.Point{Lat: 41.5, Lon: 1.5}, 300},
		{geo.Point{Lat: 42.2, Lon: 2.2}, 300},
		{geo.Point{Lat: 42.5, Lon: 2.2}, 100},
	} {
		got, ok := coarse.At(c.at)
		assert.True(t, ok)
		assert.InDelta(t, c.want, got, 1e-9, "At(%v)", c.at)
	}
	_, ok := coarse.At(geo.Point{Lat: 45, Lon: 1})
	assert.False(t, ok)
}

// Two files whose pixels lie side by side leave no gap: in the pixel between
// their outermost heights the one that is asked first goes on.
func TestFilesSideBySideLeaveNoGap(t *testing.T) {
	name := filepath.Join(rasters, "points_i16.tif")
	b, err := os.ReadFile(name)
	require.NoError(t, err)
	left := readHeights(t, name, everywhere)
	r := opened(t, name)
	east := r.x0 + float64(r.nx)*r.dx // of the next file's first pixels
	at := bytes.Index(b, binary.LittleEndian.AppendUint64(nil, math.Float64bits(r.x0)))
	require.Positive(t, at, "the tie point's longitude")
	next := bytes.Clone(b)
	binary.LittleEndian.PutUint64(next[at:], math.Float64bits(east))
	right, err := ReadTerrain("next.tif", bytes.NewReader(next), int64(len(next)), everywhere)
	require.NoError(t, err)
	both := Terrain{Finer: []Terrain{left, right}}
	for lon := r.x0; lon < east+float64(r.nx-1)*r.dx; lon += r.dx / 7 {
		_, ok := both.At(geo.Point{Lat: r.y0 + 2.5*r.dy, Lon: lon})
		assert.True(t, ok, "At(longitude %g)", lon)
	}
	edge, ok := both.At(geo.Point{Lat: r.y0 + 2*r.dy, Lon: east - r.dx})
	require.True(t, ok)
	between, ok := both.At(geo.Point{Lat: r.y0 + 2*r.dy, Lon: east - r.dx/2})
	require.True(t, ok)
	assert.InDelta(t, edge, between, 1e-3)
}

// The bounds of a box hold each height in it; without blocks they are the
// bounds of the nodes themselves, and those of all the Earth are the least and
// the greatest height.
func TestBoundsHoldTheGround(t *testing.T) {
	b := heightSquare(40, 50)
	square, err := ReadTerrain("N44W072.hgt", bytes.NewReader(b), int64(len(b)), everywhere)
	require.NoError(t, err)
	plain := Terrain{Grid: square.Grid, Height: square.Height}
	both := Terrain{Grid: geo.Grid{NX: 36, NY: 19, Lat0: -90, Lon0: 0, DLat: 10, DLon: 10}, Height: make([]float32, 36*19), Finer: []Terrain{square}}
	both.Height[7] = -77
	for _, h := range []Terrain{square, plain} {
		low, high := h.Bounds(everywhere)
		assert.InDelta(t, -600, low, 0)
		assert.InDelta(t, 3000, high, 0)
	}
	low, high := both.Bounds(everywhere)
	assert.InDelta(t, -600, low, 0)
	assert.InDelta(t, 3000, high, 0)
	low, high = both.Bounds(geo.Box{South: -90, North: -75, West: 355, East: 75})
	assert.InDelta(t, -77, low, 0)
	assert.InDelta(t, 0, high, 0)
	for k := range 40 {
		x, y := float64(k%7)/7, float64(k%11)/11
		box := geo.Box{South: 44 + 0.9*y, North: 44 + 0.9*y + 0.07, West: -72 + 0.9*x, East: -72 + 0.9*x + 0.05}
		low, high := square.Bounds(box)
		closeLow, closeHigh := plain.Bounds(box)
		// The plane rises 2400 m a degree eastward and 1200 m northward; a node more
		// on each side is 3 m, a block on each side 3·64 m.
		trueLow := 2400*(box.West+72) + 1200*(box.South-44) - 600
		trueHigh := 2400*(box.East+72) + 1200*(box.North-44) - 600
		assert.True(t, closeLow <= trueLow && closeLow >= trueLow-6.01 && closeHigh >= trueHigh && closeHigh <= trueHigh+6.01, "Bounds(%+v) = %g, %g, want %g, %g", box, closeLow, closeHigh, trueLow, trueHigh)
		assert.True(t, low <= closeLow && low >= closeLow-3*64 && high >= closeHigh && high <= closeHigh+3*64, "Bounds(%+v) = %g, %g, want about %g, %g", box, low, high, closeLow, closeHigh)
	}
	low, high = plain.Bounds(geo.Box{South: 10, North: 20, West: 0, East: 5})
	assert.True(t, low > high, "nothing there: %g, %g", low, high)
}
