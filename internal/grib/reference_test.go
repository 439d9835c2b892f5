package grib_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// decoded is what ecCodes 2.28 makes of a field: a line of testdata/*.jsonl.gz,
// written by scripts/grib/decode_reference.py.
type decoded struct {
	Discipline, Category, Number uint8
	Centre, Product, Packing     uint16
	Surface, Surface2            grib.Surface
	Value, Value2                *float64
	Step                         [2]int // hours
	ReferenceDate                int    `json:"reference_date"`
	ReferenceTime                int    `json:"reference_time"`
	ValidDate                    int    `json:"valid_date"`
	ValidTime                    int    `json:"valid_time"`
	NX, NY                       int
	SouthWest                    [2]float64 `json:"south_west"`
	Spacing                      [2]float64
	Missing                      int
	Min, Max                     float32
	Mean                         float64
	Index                        []int
	Sample                       []*float32
}

// gridModule is the folder of the public-domain GFS files (NOAA) that the grib
// module carries.
func gridModule(t testing.TB) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib").Output()
	require.NoError(t, err)
	return filepath.Join(strings.TrimSpace(string(out)), "griblib", "integrationtestdata")
}

// moduleFiles are the files there, with the number of their fields by ecCodes.
var moduleFiles = []struct {
	name   string
	fields int
}{
	{"gfs.t00z.pgrb2.2p50.f000", 352},
	{"gfs.t00z.pgrb2.2p50.f006", 415},
	{"gfs.t00z.pgrb2.2p50.f012", 415},
	{"gfs.t06z.pgrb2.1p00.f000", 354},
	{"gfs.t18z.pgrb2.1p00.f003", 366},
	{"template5_0.grib2", 2},
	{"template5_2.grib2", 2},
	{"template5_3.grib2", 2},
}

// TestAgainstEcCodes decodes every field of every file of the grib module.
func TestAgainstEcCodes(t *testing.T) {
	dir := gridModule(t)
	for _, file := range moduleFiles {
		t.Run(file.name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, file.name))
			require.NoError(t, err)
			want := readDecoded(t, filepath.Join("testdata", file.name+".jsonl.gz"))
			require.Len(t, want, file.fields)
			n := 0
			var values []float32
			for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
				require.NoError(t, err)
				require.Less(t, n, len(want), "more fields than ecCodes finds")
				checkHeader(t, f, want[n])
				values, err = f.Values(values)
				require.NoError(t, err)
				checkValues(t, f, values, want[n])
				n++
			}
			assert.Equal(t, len(want), n, "fields")
		})
	}
}

func readDecoded(t *testing.T, path string) []decoded {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	unzipped, err := gzip.NewReader(file)
	require.NoError(t, err)
	var all []decoded
	for lines := bufio.NewScanner(unzipped); lines.Scan(); {
		var d decoded
		require.NoError(t, json.Unmarshal(lines.Bytes(), &d))
		all = append(all, d)
	}
	return all
}

func checkHeader(t *testing.T, f *grib.Field, want decoded) {
	t.Helper()
	require.NoError(t, f.Supported())
	type head struct {
		discipline, category, number uint8
		centre, product, packing     uint16
		surface, surface2            grib.Surface
		start, step                  time.Duration
		reference, valid             string
		nx, ny, points               int
	}
	got := head{
		f.Discipline, f.Category, f.Number,
		f.Centre, f.Product, f.Packing,
		f.Level.Surface, f.Level.Surface2,
		f.StepStart, f.Step,
		f.Reference.Format("200601021504"), f.Valid.Format("200601021504"),
		f.Grid.NX, f.Grid.NY, f.Points,
	}
	stamp := func(date, hhmm int) string { return strconv.Itoa(date*10000 + hhmm) }
	require.Equal(t, head{
		want.Discipline, want.Category, want.Number,
		want.Centre, want.Product, want.Packing,
		want.Surface, want.Surface2,
		time.Duration(want.Step[0]) * time.Hour, time.Duration(want.Step[1]) * time.Hour,
		stamp(want.ReferenceDate, want.ReferenceTime), stamp(want.ValidDate, want.ValidTime),
		want.NX, want.NY, want.NX * want.NY,
	}, got, "field %d", f.Message)
	assert.Equal(t, f.Product != 8, f.Statistic == grib.Instant, "%v: statistic %d", f, f.Statistic)
	checkSurface(t, f.Level.Value, want.Value)
	if f.Level.Surface2 != grib.NoSurface {
		checkSurface(t, f.Level.Value2, want.Value2)
	}
	// ecCodes prints degrees of the microdegrees in the message.
	assert.InDelta(t, want.SouthWest[0], f.Grid.Lat0, 1e-9)
	assert.InDelta(t, 0, math.Remainder(want.SouthWest[1]-f.Grid.Lon0, 360), 1e-9)
	assert.InDelta(t, want.Spacing[0], f.Grid.DLat, 1e-9)
	assert.InDelta(t, want.Spacing[1], f.Grid.DLon, 1e-9)
}

func checkSurface(t *testing.T, got float64, want *float64) {
	t.Helper()
	if want == nil {
		assert.True(t, math.IsNaN(got), "surface value %g, want none", got)
		return
	}
	assert.InDelta(t, *want, got, 1e-12*math.Abs(*want)) // twelve digits in the fixture
}

// checkValues wants every value within one unit in the last place of the float32
// next to what ecCodes decodes: both take (R + X·2^E)·10^-D in float64, but round
// 10^-D differently.
func checkValues(t *testing.T, f *grib.Field, values []float32, want decoded) {
	t.Helper()
	require.Len(t, values, f.Points)
	missing, sum := 0, 0.0
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, v := range values {
		if v != v {
			missing++
			continue
		}
		low, high = min(low, v), max(high, v)
		sum += float64(v)
	}
	require.Equal(t, want.Missing, missing, "%v: missing values", f)
	for k, i := range want.Index {
		v := values[i]
		if want.Sample[k] == nil {
			require.True(t, v != v, "%v: value %d = %g, want it missing", f, i, v)
			continue
		}
		require.LessOrEqual(t, ulps(v, *want.Sample[k]), 0, "%v: value %d = %g, want %g", f, i, v, *want.Sample[k])
	}
	if missing == len(values) {
		return
	}
	require.LessOrEqual(t, ulps(low, want.Min), 0, "%v: least value %g, want %g", f, low, want.Min)
	require.LessOrEqual(t, ulps(high, want.Max), 0, "%v: greatest value %g, want %g", f, high, want.Max)
	// Each value is within half a unit in the last place of the double, one at
	// most of the greatest magnitude; the fixture has twelve digits.
	mean := sum / float64(len(values)-missing)
	bound := math.Max(math.Abs(float64(low)), math.Abs(float64(high))) * (math.Exp2(-23) + 1e-12)
	require.InDelta(t, want.Mean, mean, bound, "%v: mean", f)
}

// ulps is how many float32 lie between a and b, counting one of the two.
func ulps(a, b float32) int {
	order := func(v float32) int64 {
		if n := int64(math.Float32bits(v)); n < 1<<31 {
			return n
		}
		return 1<<31 - int64(math.Float32bits(v))
	}
	d := order(a) - order(b)
	if d < 0 {
		d = -d
	}
	return int(d)
}

// TestAgainstWgrib2 decodes the 10 m wind of 6 January 2019 in the packings 5.0,
// 5.2 and 5.3. The grib module carries what wgrib2 makes of the original file,
// with six digits, northern row first.
func TestAgainstWgrib2(t *testing.T) {
	dir := gridModule(t)
	east, north := readNumbers(t, filepath.Join(dir, "template_ugrd.csv")), readNumbers(t, filepath.Join(dir, "template_vgrd.csv"))
	for _, name := range []string{"template5_0.grib2", "template5_2.grib2", "template5_3.grib2"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		n := 0
		for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			require.NoError(t, err)
			want := east
			if f.Parameter() == grib.NorthwardWind {
				want = north
			}
			require.True(t, f.Level.At(grib.HeightAboveGround, 10), "%v", f.Level)
			values, err := f.Values(nil)
			require.NoError(t, err)
			require.Len(t, values, len(want))
			for i, v := range values {
				row, column := f.Grid.NY-1-i/f.Grid.NX, i%f.Grid.NX
				got := strconv.FormatFloat(float64(v), 'g', 6, 64)
				require.Equal(t, want[row*f.Grid.NX+column], got, "%s: %v: value %d", name, f, i)
			}
			n++
		}
		assert.Equal(t, 2, n, "%s: fields", name)
	}
}

func readNumbers(t *testing.T, path string) []string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return strings.Fields(string(data))
}
