package grib_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// listed is what ecCodes 2.28 makes of a field of the files of other centres.
type listed struct {
	Edition  int
	Product  *int   `json:"productDefinitionTemplateNumber"`
	Grid     string `json:"gridType"`
	Scanning byte   `json:"scanningMode"`
	Packing  string `json:"packingType"`
	Min, Max float64
	Mean     float64
	Missing  int                 `json:"nmiss"`
	Bitmap   int                 `json:"bitmapPresent"`
	Samples  map[string]*float64 // by index in the order of the message

	Kind   *int     `json:"typeOfEnsembleForecast"`
	Number int      // of the member
	Lat0   *float64 `json:"latitudeOfFirstGridPointInDegrees"`
	Lon0   *float64 `json:"longitudeOfFirstGridPointInDegrees"`
	Lat1   *float64 `json:"latitudeOfLastGridPointInDegrees"`
	Lon1   *float64 `json:"longitudeOfLastGridPointInDegrees"`
}

// supported reports whether the package is to unpack the field.
func (l listed) supported() bool {
	packed := slices.Contains([]string{"grid_simple", "grid_complex", "grid_complex_spatial_differencing", "grid_ieee", "grid_png", "grid_ccsds"}, l.Packing)
	grid := slices.Contains([]string{"regular_ll", "rotated_ll", "lambert", "regular_gg"}, l.Grid)
	return grid && packed && slices.Contains([]int{0, 1, 8, 11}, *l.Product)
}

// TestForeignFiles decodes GRIB2 of six centres: what is supported has the values
// of ecCodes, the rest is refused.
func TestForeignFiles(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("THISTLEDOWN_REFERENCE is not set: left out the GRIB files of other centres, in packings, grids and products that the grib module has none of")
	}
	paths, err := filepath.Glob(filepath.Join(dir, "grib*", "*.grib[12]"))
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	compared := 0
	for _, path := range paths {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			want := readListed(t, filepath.Join(dir, "ref", name+".jsonl"))
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			fields, faults := scanAll(data)
			if len(want) == 0 || want[0].Edition == 1 {
				assert.Empty(t, fields)
				assert.NotEmpty(t, faults)
				return
			}
			require.Len(t, fields, len(want))
			checkFaults(t, faults, name)
			for k, f := range fields {
				checkTags(t, f, want[k])
				if !want[k].supported() {
					assert.ErrorContains(t, f.Supported(), "not supported", "%s: field %d", name, k)
					_, err := f.Values(nil)
					assert.Error(t, err)
					continue
				}
				checkListed(t, f, want[k])
				compared++
			}
		})
	}
	assert.Greater(t, compared, 1180, "fields compared")
}

// checkFaults wants the faults that two of the files have, and no others.
func checkFaults(t *testing.T, faults []error, name string) {
	t.Helper()
	want := map[string]string{
		"gfs_truncated_mid_message.grib2":                "cut off: 5165 octets left in the file",
		"gefs_gep10_1p00_2005120812_f078_jpeg2000.grib2": "10186 octets from octet 1560165 on, after message 43, are neither a message",
	}[name]
	if want == "" {
		assert.Empty(t, faults)
		return
	}
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], want)
}

func readListed(t *testing.T, path string) []listed {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	var all []listed
	for lines := bufio.NewScanner(bytes.NewReader(data)); lines.Scan(); {
		var l listed
		require.NoError(t, json.Unmarshal(lines.Bytes(), &l))
		all = append(all, l)
	}
	return all
}

// checkTags holds member and grid against ecCodes, whether or not the values of
// the field can be had.
func checkTags(t *testing.T, f *grib.Field, want listed) {
	t.Helper()
	if f.Product == 1 || f.Product == 11 {
		require.NotNil(t, want.Kind)
		require.Equal(t, grib.MemberKind(*want.Kind+1), f.Member.Kind, "%v", f)
		require.Equal(t, want.Number, f.Member.Number, "%v", f)
	}
	if f.Grid.NX == 0 {
		return // not supported
	}
	corner := func(k int, lat, lon *float64) {
		if lat == nil || lon == nil || f.Grid.Template == 1 {
			return // none is given; rotated coordinates
		}
		node := nodeOf(f.Grid.NX, f.Grid.NY, k, want.Scanning)
		gotLat, gotLon := f.Grid.Place(node%f.Grid.NX, node/f.Grid.NX)
		require.InDelta(t, *lat, gotLat, 1e-6, "%v: point %d", f, k)
		within := 1e-6
		if float64(f.Grid.NX)*f.Grid.DLon == 360 {
			within = f.Grid.DLon / 1000 // rows that are made to go round the Earth exactly
		}
		require.InDelta(t, 0, math.Remainder(*lon-gotLon, 360), within, "%v: point %d", f, k)
	}
	corner(0, want.Lat0, want.Lon0)
	corner(f.Points-1, want.Lat1, want.Lon1)
}

func checkListed(t *testing.T, f *grib.Field, want listed) {
	t.Helper()
	values, err := f.Values(nil)
	require.NoError(t, err)
	missing, sum := 0, 0.0
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, v := range values {
		if v != v || want.Bitmap == 0 && v == 9999 { // which the reference took for missing
			missing++
			continue
		}
		low, high = min(low, v), max(high, v)
		sum += float64(v)
	}
	require.Equal(t, want.Missing, missing, "%v: missing values", f)
	if missing < len(values) {
		require.Equal(t, float32(want.Min), low, "%v: least value", f)
		require.Equal(t, float32(want.Max), high, "%v: greatest value", f)
		span := max(float64(high), -float64(low))
		require.InDelta(t, want.Mean, sum/float64(len(values)-missing), span/(1<<23), "%v: mean", f)
	}
	for index, v := range want.Samples {
		k, err := strconv.Atoi(index)
		require.NoError(t, err)
		got := values[nodeOf(f.Grid.NX, f.Grid.NY, k, want.Scanning)]
		if v == nil {
			require.True(t, got != got, "%v: value %d = %g, want it missing", f, k, got)
			continue
		}
		require.Equal(t, float32(*v), got, "%v: value %d", f, k)
	}
}

// nodeOf is where value k of the message is among values in rows from south to
// north, each from west to east.
func nodeOf(nx, ny, k int, scanning byte) int {
	i, j := k%nx, k/nx
	if scanning&0x30 == 0x10 && j%2 == 1 {
		i = nx - 1 - i
	}
	if scanning&0x20 != 0 {
		i, j = k/ny, k%ny
		if scanning&0x10 != 0 && i%2 == 1 {
			j = ny - 1 - j
		}
	}
	if scanning&0x80 != 0 {
		i = nx - 1 - i
	}
	if scanning&0x40 == 0 {
		j = ny - 1 - j
	}
	return j*nx + i
}
