package synth_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/synth"
)

// alps is a small forecast in the middle latitudes, half a degree apart.
func alps() synth.Forecast {
	return synth.Forecast{
		Seed: 7, Start: spring, Box: geo.Box{South: 44, North: 50, West: 4, East: 13}, Spacing: 0.5,
		Hours: 12, Every: 3, First: 0, Last: 2,
	}
}

func step(t testing.TB, f synth.Forecast, k int) []byte {
	t.Helper()
	require.NoError(t, f.Check())
	var out bytes.Buffer
	require.NoError(t, f.WriteStep(&out, k))
	return out.Bytes()
}

// key names a field of a step.
type key struct {
	parameter grib.Parameter
	level     grib.Surface
	pressure  float64
	member    int
}

func read(t testing.TB, file []byte) (fields map[key]*grib.Field, values map[key][]float32) {
	t.Helper()
	fields, values = map[key]*grib.Field{}, map[key][]float32{}
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		v, err := f.Values(nil)
		require.NoError(t, err)
		k := key{f.Parameter(), f.Level.Surface, 0, f.Member.Number}
		if f.Level.Surface == grib.Isobaric {
			k.pressure = f.Level.Value
		}
		require.NotContains(t, fields, k, "two fields of the same")
		fields[k], values[k] = f, v
	}
	return fields, values
}

// TestWrittenIsAir: what is written for a step is the weather of that member at
// that time, node for node, to the precision of packing.
func TestWrittenIsAir(t *testing.T) {
	f := alps()
	grid := f.Grid()
	week := synth.New(f.Seed, f.Start)
	for k := range f.Steps() {
		fields, values := read(t, step(t, f, k))
		require.Len(t, fields, 3*(33*4+8))
		for member := range 3 {
			for n := range grid.NX * grid.NY {
				c := week.Member(member).Column(grid.Node(n), f.Step(k).Seconds())
				at := func(p grib.Parameter, s grib.Surface, pressure float64) float64 {
					return float64(values[key{p, s, pressure, member}][n])
				}
				for _, p := range []float64{100000, 50000, 1500, 100} {
					a := c.At(p)
					require.InDelta(t, float64(a.Height), at(grib.GeopotentialHeight, grib.Isobaric, p), 0.102)
					require.InDelta(t, a.Temperature, at(grib.Temperature, grib.Isobaric, p), 0.0201)
					require.InDelta(t, a.East, at(grib.EastwardWind, grib.Isobaric, p), 0.0201)
					require.InDelta(t, a.North, at(grib.NorthwardWind, grib.Isobaric, p), 0.0201)
				}
				s := c.Surface()
				require.InDelta(t, float64(s.Terrain.Geopotential(grid.Node(n).Lat)), at(grib.GeopotentialHeight, grib.Ground, 0), 0.501)
				require.InDelta(t, s.East, at(grib.EastwardWind, grib.HeightAboveGround, 0), 0.0201)
				require.InDelta(t, s.North, at(grib.NorthwardWind, grib.HeightAboveGround, 0), 0.0201)
				require.InDelta(t, s.Gust, at(grib.Gust, grib.Ground, 0), 0.0201)
				require.InDelta(t, s.Cloud, at(grib.CloudCover, grib.Atmosphere, 0), 0.501)
				require.InDelta(t, s.Precipitation, at(grib.PrecipitationRate, grib.Ground, 0), 1.01e-7)
				require.InDelta(t, s.Visibility, at(grib.Visibility, grib.Ground, 0), 10.01)
				require.InDelta(t, s.CAPE, at(grib.CAPE, grib.Ground, 0), 1.001)
			}
		}
		for key, f := range fields {
			require.Equal(t, time.Duration(3*k)*time.Hour, f.Step, "%v", key)
			require.True(t, f.Valid.Equal(spring.Add(f.Step)), "%v", key)
			require.Equal(t, uint16(65535), f.Centre)
			require.Equal(t, uint16(1), f.Product)
			require.Equal(t, 3, f.Member.Of)
		}
	}
}

// TestSaysInvented: each message says in plain text that it is invented, whether
// of an ensemble or of a single forecast.
func TestSaysInvented(t *testing.T) {
	f := alps()
	f.Last = 0
	file := step(t, f, 1)
	fields, _ := read(t, file)
	require.Len(t, fields, 33*4+8)
	assert.Equal(t, len(fields), bytes.Count(file, []byte("INVENTED WEATHER")))
	for _, f := range fields {
		assert.Equal(t, uint16(0), f.Product, "a single forecast")
	}
}

// TestWrittenBalance checks the fields as a reader has them, half a degree and
// 50 hPa apart: thickness against temperature, wind against the slope of
// heights, and the change of wind from level to level against the slope of
// temperature. The bounds are what such differences can tell: the shortest waves
// are 16 nodes long and turn by up to 90 degrees from level to level, and
// heights are written to 0.1 m.
func TestWrittenBalance(t *testing.T) {
	const thicknessBound, windBound, thermalBound = 4, 1.2, 1.2 // m, m/s, m/s
	f := alps()
	grid := f.Grid()
	_, values := read(t, step(t, f, 2))
	dy := grid.DLat * degree * radius
	var thickness, wind, thermal, strongest float64
	levels := []float64{50000, 45000, 40000, 35000, 30000, 25000, 20000}
	for member := range 3 {
		field := func(p grib.Parameter, pressure float64) func(n int) float64 {
			v := values[key{p, grib.Isobaric, pressure, member}]
			return func(n int) float64 { return float64(v[n]) }
		}
		for i, lower := range levels[:len(levels)-1] {
			upper := levels[i+1]
			z1, z2 := field(grib.GeopotentialHeight, lower), field(grib.GeopotentialHeight, upper)
			t1, t2 := field(grib.Temperature, lower), field(grib.Temperature, upper)
			u1, u2 := field(grib.EastwardWind, lower), field(grib.EastwardWind, upper)
			v1, v2 := field(grib.NorthwardWind, lower), field(grib.NorthwardWind, upper)
			depth := math.Log(lower / upper)
			for row := 1; row < grid.NY-1; row++ {
				lat := grid.Lat0 + float64(row)*grid.DLat
				coriolis := 2 * rotation * math.Sin(lat*degree)
				dx := dy * math.Cos(lat*degree)
				for n := row*grid.NX + 1; n < (row+1)*grid.NX-1; n++ {
					got := z2(n) - z1(n)
					want := atmos.GasConstant / atmos.StandardGravity * depth * (t1(n) + t2(n)) / 2
					thickness = max(thickness, math.Abs(got-want)/depth*0.1) // for a tenth of ζ, some 800 m

					slope := func(z func(int) float64) (u, v float64) {
						return -(z(n+grid.NX) - z(n-grid.NX)) / (2 * dy) / coriolis, (z(n+1) - z(n-1)) / (2 * dx) / coriolis
					}
					gu, gv := slope(z1)
					gu, gv = gu*atmos.StandardGravity, gv*atmos.StandardGravity
					wind = max(wind, math.Hypot(gu-u1(n), gv-v1(n)))
					strongest = max(strongest, math.Hypot(gu, gv))

					tu, tv := slope(func(n int) float64 { return (t1(n) + t2(n)) / 2 })
					tu, tv = tu*atmos.GasConstant*depth, tv*atmos.GasConstant*depth
					thermal = max(thermal, math.Hypot(tu-(u2(n)-u1(n)), tv-(v2(n)-v1(n))))
				}
			}
		}
	}
	t.Logf("worst: thickness %.2f m in a tenth of ζ, wind %.2f m/s of %.0f, thermal wind %.2f m/s in a layer", thickness, wind, strongest, thermal)
	for _, c := range []struct {
		name       string
		got, bound float64
	}{{"thickness", thickness, thicknessBound}, {"geostrophic wind", wind, windBound}, {"thermal wind", thermal, thermalBound}} {
		if c.got > c.bound || c.got < c.bound/10 {
			t.Errorf("%s: worst error %.3g, want at most %g and not a tenth of it", c.name, c.got, c.bound)
		}
	}
	assert.Greater(t, strongest, 20.0, "m/s: the check has seen wind")
}

// TestReproducible: a step depends on the forecast's settings alone.
func TestReproducible(t *testing.T) {
	f := alps()
	first := step(t, f, 3)
	step(t, f, 0)
	assert.Equal(t, first, step(t, f, 3), "the same seed")
	other := f
	other.Seed++
	assert.NotEqual(t, first, step(t, other, 3), "another seed")

	part := f
	part.First, part.Last = 2, 2
	_, all := read(t, first)
	_, one := read(t, step(t, part, 3))
	for k, v := range one {
		assert.Equal(t, all[k], v, "member 2 alone and among others: %v", k)
	}
	a, b := all[key{grib.EastwardWind, grib.Isobaric, 25000, 0}], all[key{grib.EastwardWind, grib.Isobaric, 25000, 1}]
	assert.NotEqual(t, a, b, "two members")
}

// TestInEcCodes decodes every value of a step with the ecCodes of this machine.
func TestInEcCodes(t *testing.T) {
	f := alps()
	f.Box = geo.Box{South: -52, North: -48, West: 177, East: -178}
	file := step(t, f, 4)
	name := filepath.Join(t.TempDir(), "invented.grib2")
	require.NoError(t, os.WriteFile(name, file, 0o600))
	decoded, err := exec.Command("/usr/bin/python3", filepath.Join("..", "..", "scripts", "grib", "values.py"), name).Output()
	var exit *exec.ExitError
	if errors.Is(err, os.ErrNotExist) || errors.As(err, &exit) && exit.ExitCode() == 3 {
		t.Skip("left out: ecCodes for Python is not installed here")
	}
	require.NoError(t, err)
	n := 0
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(decoded), 4)
		require.Equal(t, f.Points, int(binary.LittleEndian.Uint32(decoded)))
		values, err := f.Values(nil)
		require.NoError(t, err)
		for i, v := range values {
			w := math.Float64frombits(binary.LittleEndian.Uint64(decoded[4+8*i:]))
			require.Equal(t, float32(w), v, "%v: value %d", f, i)
		}
		decoded = decoded[4+8*f.Points:]
		n++
	}
	require.Empty(t, decoded)
	require.Equal(t, 3*(33*4+8), n)
}

// TestPlausible: over the whole Earth, for several seeds, seasons, members and
// times, the weather stays within what weather does.
func TestPlausible(t *testing.T) {
	strongest, wettest := 0.0, 0.0
	low, high := math.Inf(1), math.Inf(-1)
	cloudy, n := 0.0, 0.0
	for seed := range uint64(6) {
		start := []time.Time{spring, january, july}[seed%3]
		week := synth.New(seed, start)
		for i, lead := range []float64{0, 100, 384} {
			sky := week.Member(i)
			for lat := -90.0; lat <= 90; lat += 6 {
				for lon := -180.0; lon < 180; lon += 7 {
					c := sky.Column(geo.Point{Lat: lat, Lon: lon}, lead*hour)
					last := atmos.Geopotential(-2000)
					for _, p := range []float64{100000, 92500, 85000, 70000, 50000, 30000, 25000, 20000, 10000, 5000, 2000, 1000, 500, 100} {
						a := c.At(p)
						strongest = max(strongest, math.Hypot(a.East, a.North))
						low, high = min(low, a.Temperature), max(high, a.Temperature)
						require.Greater(t, a.Height, last+300, "height of %g Pa at %g°, %g°", p, lat, lon)
						last = a.Height
					}
					s := c.Surface()
					speed := math.Hypot(s.East, s.North)
					require.Less(t, speed, 35.0, "10 m wind")
					require.GreaterOrEqual(t, s.Gust, speed, "gust")
					require.Less(t, s.Gust, 60.0)
					require.True(t, s.Cloud >= 0 && s.Cloud <= 100, "cloud %g %%", s.Cloud)
					require.True(t, s.Precipitation >= 0 && s.Precipitation <= 3e-3, "rain %g", s.Precipitation)
					require.True(t, s.Visibility >= 100 && s.Visibility <= 24000, "visibility %g m", s.Visibility)
					require.True(t, s.CAPE >= 0 && s.CAPE < 8000, "CAPE %g J/kg", s.CAPE)
					require.True(t, s.Terrain >= 0 && s.Terrain < 1500, "terrain %g m", s.Terrain)
					wettest = max(wettest, s.Precipitation)
					cloudy += s.Cloud
					n++
				}
			}
		}
	}
	t.Logf("strongest wind %.0f m/s, temperatures %.0f to %.0f K, most rain %.1f mm/h, mean cloud %.0f %%", strongest, low, high, wettest*3600, cloudy/n)
	assert.Less(t, strongest, 100.0)
	assert.Greater(t, strongest, 60.0)
	assert.Greater(t, low, 180.0)
	assert.Less(t, high, 320.0)
	assert.Greater(t, wettest, 2e-4)
	assert.InDelta(t, 50, cloudy/n, 15)
}

func TestGrid(t *testing.T) {
	for _, c := range []struct {
		box     geo.Box
		spacing float64
		want    geo.Grid
	}{
		{geo.Box{South: 44, North: 50, West: 4, East: 13}, 0.5, geo.Grid{NX: 19, NY: 13, Lat0: 44, Lon0: 4}},
		{geo.Box{South: 44.1, North: 49.9, West: 4.2, East: 12.9}, 0.5, geo.Grid{NX: 19, NY: 13, Lat0: 44, Lon0: 4}},
		{geo.Box{South: -50, North: -48, West: 179, East: -179}, 1, geo.Grid{NX: 3, NY: 3, Lat0: -50, Lon0: 179}},
		{geo.Box{South: -90, North: 90, West: -180, East: 180}, 2.5, geo.Grid{NX: 144, NY: 73, Lat0: -90, Lon0: -180}},
		{geo.Box{South: 90, North: 90, West: 0, East: 0}, 1, geo.Grid{NX: 2, NY: 2, Lat0: 89, Lon0: 0}},
		{geo.Box{South: 51.3, North: 51.3, West: 7.7, East: 7.7}, 1, geo.Grid{NX: 2, NY: 2, Lat0: 51, Lon0: 7}},
		{geo.Box{South: 10, North: 20, West: 0.1, East: 359.9}, 1, geo.Grid{NX: 360, NY: 11, Lat0: 10, Lon0: -180}},
	} {
		c.want.DLat, c.want.DLon = c.spacing, c.spacing
		f := synth.Forecast{Start: spring, Box: c.box, Spacing: c.spacing, Hours: 3, Every: 3}
		require.NoError(t, f.Check())
		assert.Equal(t, c.want, f.Grid(), "%v by %g", c.box, c.spacing)
		fields, _ := read(t, step(t, f, 0))
		grid, ok := fields[key{grib.EastwardWind, grib.Isobaric, 25000, 0}].Grid.LatLon()
		require.True(t, ok)
		assert.InDelta(t, c.want.Lat0, grid.Lat0, 1e-9)
		assert.InDelta(t, 0, math.Remainder(c.want.Lon0-grid.Lon0, 360), 1e-9)
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		change func(f *synth.Forecast)
		want   string
	}{
		{func(f *synth.Forecast) { f.Box.South = 60 }, "box from latitude 60 to 50"},
		{func(f *synth.Forecast) { f.Start = spring.Add(time.Minute) }, "want a full hour"},
		{func(f *synth.Forecast) { f.Start = time.Time{}.AddDate(-1, 0, 0) }, "want a full hour in the years"},
		{func(f *synth.Forecast) { f.Spacing = 0.7 }, "spacing 0.7 degrees"},
		{func(f *synth.Forecast) { f.Spacing = 180. / 1025 }, "in whole millionths"},
		{func(f *synth.Forecast) { f.Spacing = math.NaN() }, "spacing NaN degrees"},
		{func(f *synth.Forecast) { f.Spacing = 0.01 }, "spacing 0.01 degrees"},
		{func(f *synth.Forecast) { f.Every = 0 }, "12 hours every 0"},
		{func(f *synth.Forecast) { f.Every = 5 }, "12 hours every 5"},
		{func(f *synth.Forecast) { f.Hours = 387 }, "387 hours every 3: want 0 to 384"},
		{func(f *synth.Forecast) { f.First = 3 }, "members 3 to 2"},
		{func(f *synth.Forecast) { f.Last = 100 }, "members 0 to 100: want 0 to 99"},
		{func(f *synth.Forecast) {
			f.Spacing, f.Box = 0.25, geo.Box{South: -90, North: 90, West: -180, East: 180}
		}, "1440 × 721 points"},
		{func(f *synth.Forecast) {
			f.Spacing, f.Box, f.Hours, f.Last = 0.5, geo.Box{South: -90, North: 90, West: -180, East: 180}, 384, 99
		}, "values in all"},
	} {
		f := alps()
		c.change(&f)
		require.ErrorContains(t, f.Check(), c.want)
	}
	f := alps()
	for _, spacing := range []float64{0.05, 0.1, 0.125, 0.2, 0.25, 0.3, 0.4, 0.6, 0.72, 0.75, 0.9, 1.2, 1.5, 2.4, 2.5, 10} {
		f.Spacing, f.Box = spacing, geo.Box{South: -60.02, North: -57.3, West: 171.2, East: -175.1}
		f.Last = 0
		step(t, f, 1)
	}
	f = alps()
	assert.ErrorContains(t, f.WriteStep(&bytes.Buffer{}, 5), "step 5: want 0 to 4")
	assert.ErrorIs(t, f.WriteStep(full{}, 0), errFull)
}

var errFull = errors.New("full")

// full is a disk without room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

func BenchmarkWriteStep(b *testing.B) {
	f := alps()
	f.Box = geo.Box{South: 40, North: 55, West: 0, East: 15}
	f.First, f.Last = 0, 0
	b.SetBytes(int64(len(step(b, f, 1))))
	for b.Loop() {
		if err := f.WriteStep(&bytes.Buffer{}, 1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkColumn(b *testing.B) {
	sky := synth.New(1, spring).Member(0)
	for b.Loop() {
		sky.Column(geo.Point{Lat: 47, Lon: 8}, 3600)
	}
}

func BenchmarkAtHeight(b *testing.B) {
	c := synth.New(1, spring).Member(0).Column(geo.Point{Lat: 47, Lon: 8}, 3600)
	for b.Loop() {
		c.AtHeight(12345)
	}
}
