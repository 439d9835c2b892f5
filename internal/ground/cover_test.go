package ground

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// eight is the legend of the reference data: the National Land Cover Database
// brought down to eight classes.
var eight = Legend{1: wet, 2: builtUp, 3: open, 4: trees, 5: open, 6: open, 7: open, 8: open}

func readCover(t testing.TB, path string, l Legend, box geo.Box) *Cover {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	c, err := ReadCover(CoverSource{Name: "cover", Legend: l}, bytes.NewReader(b), int64(len(b)), box)
	require.NoError(t, err)
	return c
}

// The codes are those that gdallocationinfo gives.
func TestCoverAgainstGDAL(t *testing.T) {
	l := Legend{}
	for code := range uint16(200) {
		l[code] = []Set{open, wet, trees, builtUp, trees | wet}[code%5]
	}
	for _, name := range []string{"lzw_predicted_u8.tif", "cloud_u8.tif", "utm33n_u8.tif", "laea_u8.tif", "albers_u8.tif", "date_line_u8.tif", "globe_u8.tif", "sparse_u8.tif", "south_up_u8.tif"} {
		c := readCover(t, filepath.Join(rasters, name), l, everywhere)
		for _, row := range table(t, "points.csv")[name] {
			p := geo.Point{Lat: number(t, row[0]), Lon: number(t, row[1])}
			under, assessed := c.At(p)
			if row[2] == "" || number(t, row[2]) >= 200 {
				assert.Zero(t, assessed, "%s: At(%v), code %s", name, p, row[2])
				assert.Zero(t, under, "%s: At(%v), code %s", name, p, row[2])
				continue
			}
			assert.Equal(t, wet|trees|builtUp, assessed, "%s: At(%v)", name, p)
			assert.Equal(t, l[uint16(number(t, row[2]))], under, "%s: At(%v), code %s", name, p, row[2])
		}
	}
}

// One pixel after the other of a strip of codes with gaps is what the legend
// says, and counted.
func TestCoverCountsWhatItDoesNotKnow(t *testing.T) {
	c := readCover(t, filepath.Join(rasters, "packbits_u8.tif"), Legend{90: trees, 91: open}, everywhere)
	_, all := whole(t, opened(t, filepath.Join(rasters, "packbits_u8.tif")))
	var want CoverCount
	for _, v := range all {
		switch {
		case math.IsNaN(v):
			want.NoData++
		case v == 90 || v == 91:
			want.Assessed++
		default:
			want.Unknown++
		}
	}
	got := c.Count()
	assert.Equal(t, want.Assessed, got.Assessed)
	assert.Equal(t, want.NoData, got.NoData)
	assert.Equal(t, want.Unknown, got.Unknown)
	assert.Positive(t, want.NoData)
	assert.Len(t, got.Codes, 10)
	assert.IsIncreasing(t, got.Codes)
	assert.NotContains(t, got.Codes, 90.0)
	_, assessed := c.At(geo.Point{Lat: 0, Lon: 0})
	assert.Zero(t, assessed, "outside")
	_, assessed = c.At(geo.Point{Lat: math.NaN(), Lon: 8})
	assert.Zero(t, assessed, "no position")
}

// Where box and file do not meet nothing is known, and that is no fault.
func TestCoverElsewhere(t *testing.T) {
	for _, name := range []string{"strips_u8.tif", "utm33n_u8.tif"} {
		c := readCover(t, filepath.Join(rasters, name), eight, geo.Box{South: -20, North: -10, West: 100, East: 110})
		assert.Zero(t, c.Count(), name)
		_, assessed := c.At(geo.Point{Lat: -15, Lon: 105})
		assert.Zero(t, assessed, name)
	}
}

// A box over the date line takes both ends of a raster that goes round.
func TestCoverOverTheDateLine(t *testing.T) {
	l := Legend{}
	for code := range uint16(256) {
		l[code] = []Set{open, wet, trees}[code%3]
	}
	all := readCover(t, filepath.Join(rasters, "globe_u8.tif"), l, everywhere)
	c := readCover(t, filepath.Join(rasters, "globe_u8.tif"), l, geo.Box{South: -35, North: 35, West: 155, East: -165})
	assert.Equal(t, 7*10, c.Count().Assessed, "columns around 155 E to 165 W, rows around 35 S to 35 N, and one more on each side")
	for lat := -34.0; lat < 35; lat += 7 {
		for lon := 156.0; lon < 195; lon += 3 {
			p := geo.Point{Lat: lat, Lon: lon}
			want, _ := all.At(p)
			got, assessed := c.At(p)
			assert.Equal(t, wet|trees, assessed, "At(%v)", p)
			assert.Equal(t, want, got, "At(%v)", p)
		}
	}
}

// The legends' facts: each code, and how many there are.
func TestLegends(t *testing.T) {
	for name, want := range map[string]struct {
		codes                  int
		water, forest, builtUp uint16
	}{
		"worldcover": {11, 80, 10, 50},
		"nlcd":       {20, 11, 42, 24},
		"corine":     {88, 512, 312, 111}, // 44 by number and 44 by row
		"igbp":       {18, 17, 1, 13},
	} {
		l, err := NamedLegend(name)
		require.NoError(t, err)
		assert.Len(t, l, want.codes, name)
		assert.Equal(t, wet, l[want.water], name)
		assert.Equal(t, trees, l[want.forest], name)
		assert.Equal(t, builtUp, l[want.builtUp], name)
		assert.Equal(t, wet|trees|builtUp, l.classes(), name)
	}
	l, err := NamedLegend("corine")
	require.NoError(t, err)
	assert.Equal(t, l[312], l[24], "coniferous forest is row 24")
	assert.Equal(t, l[523], l[44], "sea and ocean is row 44")
	assert.Equal(t, l[512], l[41], "water bodies are row 41")
	_, err = NamedLegend("moon")
	assert.ErrorContains(t, err, `legend "moon": want worldcover, nlcd, corine or igbp`)
}

func TestCoverWithoutALegend(t *testing.T) {
	_, err := ReadCover(CoverSource{Name: "bare", Legend: Legend{1: open}}, bytes.NewReader(nil), 0, everywhere)
	assert.ErrorContains(t, err, `land cover "bare": no code of its legend stands for a class`)
	_, err = ReadCover(CoverSource{Legend: eight}, bytes.NewReader(nil), 0, everywhere)
	assert.ErrorContains(t, err, "without a name")
	_, err = ReadCover(CoverSource{Name: "empty", Legend: eight}, bytes.NewReader(nil), 0, everywhere)
	assert.ErrorContains(t, err, `land cover "empty": 8 octets at octet 0: beyond the file's end, octet 0`)
}

// The reference data in UTM and drawn over to longitude and latitude by GDAL's
// nearest neighbour are one land cover. GDAL works out places to an eighth of a
// pixel only (its default), so that of the pairs of unlike neighbours along a
// row and along a column at most an eighth may be told apart differently.
func TestReferenceCoverInTwoProjections(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: one land cover in two projections, as THISTLEDOWN_REFERENCE is not set")
	}
	utm := readCover(t, filepath.Join(dir, "landcover/zion_nlcd_8class_utm12n.tif"), eight, everywhere)
	lonLat := readCover(t, filepath.Join(dir, "landcover/zion_nlcd_8class_wgs84.tif"), eight, everywhere)
	plain := readCover(t, filepath.Join(dir, "landcover/zion_nlcd_8class_wgs84_uncompressed.tif"), eight, everywhere)
	assert.Equal(t, lonLat.is, plain.is, "packed by LZW or not")
	g := lonLat.frame
	at := func(c *Cover, col, row int) (Set, bool) {
		under, assessed := c.At(geo.Point{Lat: g.y0 + float64(row)*g.dy, Lon: g.x0 + float64(col)*g.dx})
		return under, assessed != 0
	}
	all, unlike, neighbours := 0, 0, 0
	for row := range g.ny {
		for col := range g.nx {
			want, known := at(lonLat, col, row)
			got, assessed := at(utm, col, row)
			if !known || !assessed {
				continue
			}
			all++
			if want != got {
				unlike++
			}
			for _, next := range [][2]int{{col + 1, row}, {col, row + 1}} {
				if other, ok := at(lonLat, next[0], next[1]); ok && other != want {
					neighbours++
				}
			}
		}
	}
	t.Logf("%d of %d pixels unlike, %d unlike neighbours", unlike, all, neighbours)
	assert.Greater(t, all, 1400000)
	assert.Less(t, float64(unlike), float64(neighbours)/8)
}
