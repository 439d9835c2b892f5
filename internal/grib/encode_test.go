package grib_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// Encoded anew, testdata/encoded.grib2 must be followed by a run of
// scripts/grib/decode_reference.py.
var writeEncoded = flag.Bool("write-encoded", false, "write testdata/encoded.grib2")

// encodable is a header on a grid of 8 columns and 6 rows across the meridian
// of Greenwich.
func encodable() grib.Header {
	h := grib.Header{
		Centre: 65535, Status: 2, Process: 192, Note: "invented",
		Reference: time.Date(2026, 2, 28, 18, 0, 0, 0, time.UTC),
		Parameter: grib.EastwardWind, Statistic: grib.Instant, Step: 9 * time.Hour,
		Level: grib.Level{Surface: grib.Isobaric, Value: 25000, Surface2: grib.NoSurface},
		NX:    8, NY: 6, South: 44.25, West: -1.5, DLat: 0.25, DLon: 0.5, Precision: 0.01,
	}
	return h
}

// encodings are headers with all that Append has a way of writing.
func encodings() []grib.Header {
	single := encodable()
	member := encodable()
	member.Parameter, member.Precision = grib.GeopotentialHeight, 0.25
	member.Ensemble.Size, member.Ensemble.Kind, member.Ensemble.Number = 31, 3, 30
	rain := encodable()
	rain.Parameter, rain.Statistic, rain.StepStart, rain.Precision = grib.TotalPrecipitation, grib.Accumulation, 6*time.Hour, 1e-3
	rain.Level = grib.Level{Surface: grib.Ground, Value: math.NaN(), Surface2: grib.NoSurface}
	mean := rain
	mean.Parameter, mean.Statistic, mean.Precision = grib.PrecipitationRate, grib.Average, 1e-7
	mean.Ensemble.Size, mean.Ensemble.Kind = 31, 1
	south := encodable() // across the date line, south of the equator
	south.South, south.West, south.Note = -60, 179, ""
	south.Level = grib.Level{Surface: grib.HeightAboveGround, Value: 10, Surface2: grib.NoSurface}
	minutes := encodable()
	minutes.Step, minutes.Level.Value = 90*time.Minute, 0.5
	globe := encodable()
	globe.NX, globe.NY, globe.South, globe.West, globe.DLat, globe.DLon = 12, 7, -90, 0, 30, 30
	globe.Level = grib.Level{Surface: grib.Sigma, Value: 0.995, Surface2: grib.Ground, Value2: math.NaN()}
	return []grib.Header{single, member, rain, mean, south, minutes, globe}
}

// encodedValues are values of a field, drawn from a fixed seed: some tens on
// either side of zero, or above it.
func encodedValues(h grib.Header, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 7))
	values := make([]float32, h.NX*h.NY)
	for i := range values {
		values[i] = float32(h.Precision * 3000 * (r.Float64() - 0.4))
	}
	return values
}

func encodeAll(t *testing.T) (file []byte, fields []grib.Header) {
	t.Helper()
	for i, h := range encodings() {
		var err error
		file, err = h.Append(file, encodedValues(h, uint64(i)))
		require.NoError(t, err)
		fields = append(fields, h)
	}
	// Constant fields, of nothing and of something.
	for _, v := range []float32{0, -7.25} {
		h := encodable()
		values := make([]float32, h.NX*h.NY)
		for i := range values {
			values[i] = v
		}
		var err error
		file, err = h.Append(file, values)
		require.NoError(t, err)
		fields = append(fields, h)
	}
	return file, fields
}

// TestAppendRoundTrip: what Append writes, Scan and Values read.
func TestAppendRoundTrip(t *testing.T) {
	for i, h := range encodings() {
		values := encodedValues(h, uint64(i))
		file, err := h.Append([]byte("before"), values)
		require.NoError(t, err)
		file, found := bytes.CutPrefix(file, []byte("before"))
		require.True(t, found)
		n := 0
		for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
			require.NoError(t, err)
			n++
			checkEncoded(t, f, h)
			got, err := f.Values(nil)
			require.NoError(t, err)
			require.Len(t, got, len(values))
			checkPrecision(t, h, got, values)
		}
		require.Equal(t, 1, n, "fields")
	}
}

func checkEncoded(t *testing.T, f *grib.Field, h grib.Header) {
	t.Helper()
	assert.Equal(t, h.Parameter, f.Parameter())
	assert.Equal(t, h.Centre, f.Centre)
	assert.True(t, h.Reference.Equal(f.Reference), "reference %v, want %v", f.Reference, h.Reference)
	assert.Equal(t, h.Level.Surface, f.Level.Surface)
	assert.Equal(t, h.Level.Surface2, f.Level.Surface2)
	if math.IsNaN(h.Level.Value) {
		assert.True(t, math.IsNaN(f.Level.Value), "level %g, want none", f.Level.Value)
	} else {
		assert.Equal(t, h.Level.Value, f.Level.Value)
	}
	require.NoError(t, f.Supported())
	assert.Equal(t, h.Step, f.Step)
	assert.Equal(t, h.Statistic, f.Statistic)
	if h.Statistic != grib.Instant {
		assert.Equal(t, h.StepStart, f.StepStart)
	}
	grid, ok := f.Grid.LatLon()
	require.True(t, ok, "a grid of latitude and longitude")
	assert.Equal(t, [2]int{h.NX, h.NY}, [2]int{grid.NX, grid.NY})
	for _, c := range [][2]float64{{h.South, grid.Lat0}, {h.DLat, grid.DLat}, {h.DLon, grid.DLon}} {
		assert.InDelta(t, c[0], c[1], 1e-9)
	}
	assert.InDelta(t, 0, math.Remainder(h.West-grid.Lon0, 360), 1e-9)
}

// checkPrecision holds values to the precision asked for, from both sides: the
// step is a power of two, so the greatest error is over half of it.
func checkPrecision(t *testing.T, h grib.Header, got, want []float32) {
	t.Helper()
	worst := 0.0
	for i := range got {
		worst = max(worst, math.Abs(float64(got[i])-float64(want[i])))
	}
	if bound := h.Precision * (1 + 1e-3); worst > bound || worst < 0.4*h.Precision {
		t.Errorf("%v: worst error of packing %g, want at most %g and over 0.4 of it", h.Parameter, worst, h.Precision)
	}
}

// TestAppendInEcCodes holds what Append writes against what ecCodes 2.28 makes
// of it: header, values, and by testdata/encoded.grib2 that it is the same file
// still.
func TestAppendInEcCodes(t *testing.T) {
	file, fields := encodeAll(t)
	name := filepath.Join("testdata", "encoded.grib2")
	if *writeEncoded {
		require.NoError(t, os.WriteFile(name, file, 0o644))
	}
	written, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, written, file, "Append writes other octets than those that ecCodes decoded")
	want := readDecoded(t, name+".jsonl.gz")
	require.Len(t, want, len(fields))
	n := 0
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		w := want[n]
		// Discipline, category, number, centre, product, surfaces, columns, rows.
		require.Equal(t,
			[]any{w.Discipline, w.Category, w.Number, w.Centre, w.Product, w.Surface, w.Surface2, w.NX, w.NY},
			[]any{f.Discipline, f.Category, f.Number, f.Centre, f.Product, f.Level.Surface, f.Level.Surface2, f.Grid.NX, f.Grid.NY})
		require.Equal(t, strconv.Itoa(w.ReferenceDate*10000+w.ReferenceTime), f.Reference.Format("200601021504"))
		require.Equal(t, strconv.Itoa(w.ValidDate*10000+w.ValidTime), f.Valid.Format("200601021504"))
		checkSurface(t, f.Level.Value, w.Value)
		grid, _ := f.Grid.LatLon()
		require.InDelta(t, w.SouthWest[0], grid.Lat0, 1e-9)
		require.InDelta(t, 0, math.Remainder(w.SouthWest[1]-grid.Lon0, 360), 1e-9)
		require.InDelta(t, w.Spacing[0], grid.DLat, 1e-9)
		require.InDelta(t, w.Spacing[1], grid.DLon, 1e-9)
		values, err := f.Values(nil)
		require.NoError(t, err)
		checkValues(t, f, values, w)
		n++
	}
	require.Equal(t, len(fields), n)
}

// TestAppendInEcCodesNow decodes every value with the ecCodes of this machine.
func TestAppendInEcCodesNow(t *testing.T) {
	file, fields := encodeAll(t)
	name := filepath.Join(t.TempDir(), "encoded.grib2")
	require.NoError(t, os.WriteFile(name, file, 0o600))
	decoded, err := exec.Command("/usr/bin/python3", filepath.Join("..", "..", "scripts", "grib", "values.py"), name).Output()
	var exit *exec.ExitError
	if errors.Is(err, os.ErrNotExist) || errors.As(err, &exit) && exit.ExitCode() == 3 {
		t.Skip("left out: ecCodes for Python is not installed here")
	}
	require.NoError(t, err)
	n, compared := 0, 0
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(decoded), 4)
		count := int(binary.LittleEndian.Uint32(decoded))
		require.Equal(t, f.Points, count)
		values, err := f.Values(nil)
		require.NoError(t, err)
		for i, v := range values {
			w := math.Float64frombits(binary.LittleEndian.Uint64(decoded[4+8*i:]))
			require.Equal(t, float32(w), v, "%v: value %d", f, i)
			compared++
		}
		decoded = decoded[4+8*count:]
		n++
	}
	require.Empty(t, decoded)
	require.Equal(t, len(fields), n)
	require.Greater(t, compared, 400)
}

func TestAppendRefuses(t *testing.T) {
	cases := []struct {
		change func(h *grib.Header, values []float32)
		want   string
	}{
		{func(h *grib.Header, _ []float32) { h.NX = 0 }, "0 × 6 points"},
		{func(h *grib.Header, _ []float32) { h.NY = 7 }, "48 values: want 8 × 7"},
		{func(h *grib.Header, _ []float32) { h.NX = 1 << 24 }, "want at least one of each and at most"},
		{func(h *grib.Header, _ []float32) { h.DLon = -0.5 }, "spacing of 0.25 and -0.5 degrees"},
		{func(h *grib.Header, _ []float32) { h.DLon = 60 }, "want once round at most"},
		{func(h *grib.Header, _ []float32) { h.South = 89 }, "rows from latitude 89 to 90.25"},
		{func(h *grib.Header, _ []float32) { h.DLat = 1. / 3 }, "whole millionths"},
		{func(h *grib.Header, _ []float32) { h.Precision = 0 }, "precision 0"},
		{func(h *grib.Header, _ []float32) { h.Precision = 1e-9 }, "fewer than 2^24 steps"},
		{func(h *grib.Header, _ []float32) { h.Level.Value = math.Pi }, "level of 3.14159"},
		{func(h *grib.Header, _ []float32) { h.Step = time.Millisecond }, "want whole seconds"},
		{func(h *grib.Header, _ []float32) { h.Statistic, h.StepStart = grib.Maximum, 10*time.Hour }, "start first"},
		{func(h *grib.Header, _ []float32) { h.Note = string(make([]byte, 1025)) }, "note of 1025 octets"},
		{func(h *grib.Header, _ []float32) { h.Reference = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }, "year 10000"},
		{func(_ *grib.Header, v []float32) { v[3] = float32(math.NaN()) }, "value 3 is NaN"},
		{func(_ *grib.Header, v []float32) { v[4] = float32(math.Inf(1)) }, "value 4 is +Inf"},
	}
	for _, c := range cases {
		h := encodable()
		values := encodedValues(h, 1)
		c.change(&h, values)
		got, err := h.Append([]byte{1, 2, 3}, values)
		require.ErrorContains(t, err, c.want)
		require.Equal(t, []byte{1, 2, 3}, got, "what there was before an error")
	}
}

func BenchmarkAppend(b *testing.B) {
	h := encodable()
	h.NX, h.NY, h.South, h.West, h.DLat, h.DLon = 360, 181, -90, 0, 1, 1
	values := encodedValues(h, 1)
	b.SetBytes(int64(4 * len(values)))
	var file []byte
	for b.Loop() {
		var err error
		if file, err = h.Append(file[:0], values); err != nil {
			b.Fatal(err)
		}
	}
}
