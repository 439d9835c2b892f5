package fetch

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/geo"
)

// gdal runs a program of GDAL, or leaves the test out.
func gdal(t *testing.T, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(args[0]); err != nil {
		t.Skip("left out: the check against GDAL, as " + args[0] + " is not there")
	}
	out, err := exec.Command(args[0], args[1:]...).CombinedOutput() //nolint:gosec // the test's own arguments
	require.NoError(t, err, "%s", out)
	return out
}

// squaresOf are sources of ground data in the layout of the built-in ones.
const squaresOf = `
ground:
  - {name: cover, title: Land cover of a park, terms: public domain, legend: nlcd, degrees: 3,
     roots: [https://ground.example.org], path: "v200/2021/map/Cover_{NS}{LAT2}{EW}{LON3}_Map.tif"}
  - {name: heights, title: Heights of a park, terms: public domain, degrees: 1,
     roots: [https://ground.example.org], path: "Heights_{NS}{LAT2}_00_{EW}{LON3}_00.tif"}
`

const (
	coverPath  = "/v200/2021/map/Cover_N36W114_Map.tif"
	heightPath = "/Heights_N37_00_W113_00.tif"
)

// zion is a part of the park, and of the two files.
var zion = geo.Box{South: 37.1957, North: 37.2391, West: -112.9893, East: -112.9262}

// groundSite publishes two real rasters as GDAL makes cloud-optimised GeoTIFF of
// them.
func groundSite(t *testing.T, options ...string) (s *site, files map[string]string) {
	t.Helper()
	s, files = newSite(t), map[string]string{}
	for path, name := range map[string]string{coverPath: "zion_nlcd_8class_wgs84.tif", heightPath: "zion_srtm_wgs84.tif"} {
		raw := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(raw, reference(t, "landcover", name), 0o600))
		cog := filepath.Join(t.TempDir(), "cog-"+name)
		args := append([]string{"gdal_translate", "-q", "-of", "COG", "-co", "BLOCKSIZE=128", "-co", "OVERVIEW_RESAMPLING=NEAREST"}, options...)
		gdal(t, append(args, raw, cog)...)
		content, err := os.ReadFile(cog)
		require.NoError(t, err)
		s.files[path], files[path] = content, cog
		s.tags[path] = `"` + sumOf(content)[:16] + `"`
	}
	return s, files
}

// about is what gdalinfo says of a raster.
type about struct {
	Size         []int
	GeoTransform []float64
	Metadata     map[string]map[string]string
	Bands        []struct {
		Checksum    int
		NoDataValue *float64
	}
}

func infoOf(t *testing.T, args ...string) about {
	t.Helper()
	var a about
	require.NoError(t, json.Unmarshal(gdal(t, append([]string{"gdalinfo", "-json", "-checksum"}, args...)...), &a))
	return a
}

// A crop is to GDAL what GDAL cuts out of the whole file, at each level, and no
// more is fetched than its tiles and the head of the file.
func TestGroundIsWhatGDALCuts(t *testing.T) {
	for _, options := range [][]string{
		{"-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES"}, {"-co", "COMPRESS=LZW"}, {"-co", "COMPRESS=DEFLATE", "-co", "BIGTIFF=YES"},
	} {
		s, files := groundSite(t, options...)
		for _, test := range []struct {
			source, path, legend string
			pixel                float64
			overview             int // -1: the whole
		}{
			{"cover", coverPath, "nlcd", 1, -1},
			{"cover", coverPath, "nlcd", 75, 0},
			{"heights", heightPath, "", 1, -1},
			{"heights", heightPath, "", 1000, 1},
		} {
			t.Run(fmt.Sprint(options, test.source, test.pixel), func(t *testing.T) {
				c, _ := still(march)
				s.nought()
				got, err := c.Ground(t.Context(), sourcesOf(t, squaresOf), GroundOrder{
					Source: test.source, Root: s.URL, Folder: t.TempDir(), Box: zion, Pixel: test.pixel,
				}, nil)
				require.NoError(t, err)
				require.Len(t, got.Squares, 1)
				assert.Equal(t, test.legend, got.Legend)
				var open []string
				if test.overview >= 0 {
					open = []string{"-oo", fmt.Sprintf("OVERVIEW_LEVEL=%d", test.overview)}
				}
				whole, crop := infoOf(t, append(open, files[test.path])...), infoOf(t, got.Squares[0].File)
				// Where the crop lies in the whole, by GDAL's own reading of both.
				a, b := whole.GeoTransform, crop.GeoTransform
				assert.InDelta(t, a[1], b[1], 1e-9)
				assert.InDelta(t, a[5], b[5], 1e-9)
				column, row := (b[0]-a[0])/a[1], (b[3]-a[3])/a[5]
				x, y := int(column+0.5), int(row+0.5)
				assert.InDelta(t, x, column, 1e-3)
				assert.InDelta(t, y, row, 1e-3)
				cut := filepath.Join(t.TempDir(), "cut.tif")
				gdal(t, append(append([]string{"gdal_translate", "-q"}, open...), "-srcwin",
					fmt.Sprint(x), fmt.Sprint(y), fmt.Sprint(crop.Size[0]), fmt.Sprint(crop.Size[1]), files[test.path], cut)...)
				want := infoOf(t, cut)
				assert.Equal(t, want.Size, crop.Size)
				assert.Equal(t, want.Bands[0].Checksum, crop.Bands[0].Checksum)
				assert.Equal(t, want.Bands[0].NoDataValue, crop.Bands[0].NoDataValue)
				// The box is in it.
				assert.LessOrEqual(t, b[0], zion.West)
				assert.GreaterOrEqual(t, b[3], zion.North)
				assert.GreaterOrEqual(t, b[0]+b[1]*float64(crop.Size[0]), zion.East)
				assert.LessOrEqual(t, b[3]+b[5]*float64(crop.Size[1]), zion.South)
				assert.Contains(t, crop.Metadata[""]["TIFFTAG_IMAGEDESCRIPTION"], s.URL+test.path)
				assert.Equal(t, "2017:03:22 05:00:00", crop.Metadata[""]["TIFFTAG_DATETIME"][:19])
				assert.Equal(t, s.octets(), got.Squares[0].Fetched)
				assert.LessOrEqual(t, s.octets(), int64(len(s.files[test.path])))
			})
		}
	}
}

// What is there of the same version of the source is left as it is; of another, for a
// wider box or coarser pixels it is fetched.
func TestGroundIsFetchedOnce(t *testing.T) {
	s, _ := groundSite(t, "-co", "COMPRESS=DEFLATE")
	inner := geo.Box{South: 37.21, North: 37.22, West: -112.97, East: -112.96}
	order := GroundOrder{Source: "heights", Root: s.URL, Folder: t.TempDir(), Box: inner, Pixel: 1}
	pull := func() (Square, int64) {
		c, _ := still(march)
		before := s.octets()
		var last GroundProgress
		got, err := c.Ground(t.Context(), sourcesOf(t, squaresOf), order, func(p GroundProgress) { last = p })
		require.NoError(t, err)
		require.Len(t, got.Squares, 1)
		assert.Equal(t, GroundProgress{1, 1, got.Squares[0].Fetched, last.Total}, last)
		assert.True(t, got.Squares[0].Already && last.Total == 0 || last.Total > 0 && last.Done >= last.Total, "progress %+v", last)
		assert.Equal(t, s.octets()-before, got.Squares[0].Fetched)
		return got.Squares[0], s.octets() - before
	}
	first, octets := pull()
	assert.False(t, first.Already)
	content, err := os.ReadFile(first.File)
	require.NoError(t, err)
	again, less := pull()
	assert.True(t, again.Already)
	assert.Less(t, less, octets)
	assert.Equal(t, first.Octets, again.Octets)
	now, err := os.ReadFile(first.File)
	require.NoError(t, err)
	assert.Equal(t, content, now)
	for i, change := range []func(){
		func() { s.tags[heightPath] = `"2"` },
		func() { order.Box = geo.Box{South: 37.16, North: 37.45, West: -113, East: -112.9} },
		func() { order.Pixel = 200 },
		func() { order.Box.East, s.tags[heightPath] = -112.9, "" }, // beyond the file's edge, of no version
		func() { require.NoError(t, os.WriteFile(first.File, []byte("II*"), 0o600)) },
	} {
		change()
		got, _ := pull()
		assert.False(t, got.Already, "change %d", i)
	}
	s.tags[heightPath] = `"3"`
	pull()
	got, _ := pull()
	assert.True(t, got.Already, "what lies beyond the source's own edge is not missed")
}

// What ends a pull of ground data leaves what was there as it was.
func TestGroundKeepsWhatWasThere(t *testing.T) {
	s, _ := groundSite(t, "-co", "COMPRESS=DEFLATE")
	folder := t.TempDir()
	order := GroundOrder{Source: "heights", Root: s.URL, Folder: folder, Box: zion, Pixel: 1}
	c, _ := still(march)
	got, err := c.Ground(t.Context(), sourcesOf(t, squaresOf), order, nil)
	require.NoError(t, err)
	file := got.Squares[0].File
	before, err := os.ReadFile(file)
	require.NoError(t, err)
	good := s.files[heightPath]
	for name, test := range map[string]struct {
		spoil func(c *Client)
		says  string
	}{
		"not there": {func(*Client) { delete(s.files, heightPath) }, "no file at"},
		"a web page": {func(*Client) {
			s.fault = func(w http.ResponseWriter, _ *http.Request, _ int) bool { say(w, "<html>"); return true }
		}, "web page"},
		"another file": {func(*Client) { s.files[heightPath] = []byte("GRIB2 it is, and no image at all, whatever one wants") }, "want a TIFF header"},
		"damaged tiles": {func(*Client) {
			b := append([]byte(nil), good...)
			for i := len(b) / 2; i < len(b); i++ {
				b[i] = 0xff
			}
			s.files[heightPath] = b
		}, "the crop cannot be used"},
		"full disk": {func(c *Client) {
			c.write = func(to *os.File, _ []byte) error {
				return &os.PathError{Op: "write", Path: to.Name(), Err: unix.ENOSPC}
			}
		}, "no space left"},
		"changes always": {func(*Client) {
			s.fault = func(http.ResponseWriter, *http.Request, int) bool {
				n := s.asked("")
				s.mutex.Lock()
				s.tags[heightPath] = fmt.Sprintf("%q", fmt.Sprint(n))
				s.mutex.Unlock()
				return false
			}
		}, "changed while it was fetched"},
	} {
		t.Run(name, func(t *testing.T) {
			s.files[heightPath], s.fault = good, nil
			s.tags[heightPath] = `"another-version"` // else what is there is left
			c, _ := still(march)
			test.spoil(&c)
			_, err := c.Ground(t.Context(), sourcesOf(t, squaresOf), order, nil)
			require.ErrorContains(t, err, test.says)
			now, err := os.ReadFile(file)
			require.NoError(t, err)
			assert.Equal(t, before, now)
			left, err := os.ReadDir(folder)
			require.NoError(t, err)
			assert.Len(t, left, 1)
		})
	}
}

// Squares are named by their south-west corner, across the date line too.
func TestSquares(t *testing.T) {
	g := groundSource{Degrees: 3, Path: "{NS}{LAT2}{EW}{LON3}"}
	got, err := g.squares(geo.Box{South: -1, North: 1, West: 179, East: -179})
	require.NoError(t, err)
	var names []string
	for _, q := range got {
		names = append(names, g.path(q.lat, q.lon))
		assert.NoError(t, q.box.Check())
		assert.GreaterOrEqual(t, q.box.West, float64(q.lon))
		assert.LessOrEqual(t, q.box.East, float64(q.lon+3))
	}
	assert.Equal(t, []string{"S03E177", "S03W180", "N00E177", "N00W180"}, names)
}
