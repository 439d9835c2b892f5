package wind_test

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// packed is what fields are as a cube of a box.
func packed(t *testing.T, b *fields, box geo.Box) (*cube.Cube, []byte) {
	t.Helper()
	forecasts, fetch, err := b.index()
	require.NoError(t, err)
	require.Len(t, forecasts, 1)
	var out bytes.Buffer
	shares := []float64{0}
	_, err = forecasts[0].Pack(&out, wind.Part{Box: box}, "NCEP", fetch, func(share float64) { shares = append(shares, share) })
	require.NoError(t, err)
	assert.IsIncreasing(t, shares)
	assert.Equal(t, 1.0, shares[len(shares)-1])
	c, err := cube.Open(bytes.NewReader(out.Bytes()), int64(out.Len()))
	require.NoError(t, err)
	require.NoError(t, c.Verify())
	return c, out.Bytes()
}

func always() error { return nil }

// What comes back out of a cube is what went in, but for the packing: 0.05 m/s,
// 1 m and 0.05 K at the most. On real winds of 2.5° it is a hundredth of that.
func TestCubeHoldsTheForecast(t *testing.T) {
	for name, box := range map[string]geo.Box{
		"Europe":        europe(),
		"the date line": {South: -41, North: -3, West: 165, East: -160},
		"the Earth":     realwind.Globe(),
	} {
		b := build(t, box, realwind.Files(t), every)
		want, _ := fieldOf(t, b)
		c, _ := packed(t, b, box)
		got, warnings, err := wind.FromCube(c, wind.Part{Box: box}, always)
		require.NoError(t, err, name)
		assert.Empty(t, warnings, name)
		require.Len(t, got, 1)
		f := got[0]
		assert.Equal(t, want.Grid(), f.Grid(), name)
		assert.Equal(t, want.Levels(), f.Levels(), name)
		assert.Equal(t, want.Times(), f.Times(), name)
		assert.Equal(t, want.Start(), f.Start(), name)
		r := rand.New(rand.NewPCG(5, 6))
		var air, ground, heat float64
		g := f.Grid()
		for range 20000 {
			p := geo.Point{
				Lat: min(max(g.Lat0+r.Float64()*float64(g.NY-1)*g.DLat, -89), 89),
				Lon: geo.WrapLon(g.Lon0 + r.Float64()*float64(g.NX-1)*g.DLon),
			}
			z, at := atmos.Geometric(40000*r.Float64()), 43200*r.Float64()
			w, out := want.At(p, z, at)
			require.Equal(t, wind.Inside, out)
			s, out := f.At(p, z, at)
			require.Equal(t, wind.Inside, out)
			air = max(air, math.Abs(w.East-s.East), math.Abs(w.North-s.North))
			heat = max(heat, math.Abs(w.Temperature-s.Temperature))
			w1, out1 := want.Surface(wind.Gust, p, at)
			s1, out2 := f.Surface(wind.Gust, p, at)
			require.Equal(t, out1, out2)
			ground = max(ground, math.Abs(w1-s1))
		}
		for k, z := range want.Terrain() {
			assert.InDelta(t, z, f.Terrain()[k], 0.1, "%s: terrain", name)
		}
		t.Logf("%s: winds to %.2g m/s, temperatures to %.2g K, gusts to %.2g m/s", name, air, heat, ground)
		assert.Less(t, air, 0.05, name)
		assert.Less(t, heat, 0.05, name)
		assert.Less(t, ground, 0.05, name)
		assert.Positive(t, air, name)
	}
}

// A part of a cube is the same part of the whole, to the last bit, in space and
// in time, for each member.
func TestPartOfACube(t *testing.T) {
	b := &fields{box: realwind.Globe()}
	for step := range 3 {
		as(t, b, step, grib.Member{Kind: grib.ControlLow}, nil)
		as(t, b, step, member(7), nil)
	}
	c, _ := packed(t, b, realwind.Globe())
	whole, _, err := wind.FromCube(c, wind.Part{Box: realwind.Globe()}, always)
	require.NoError(t, err)
	require.Len(t, whole, 2)
	assert.Equal(t, "control", whole[0].Member().String())
	assert.Equal(t, "member 7", whole[1].Member().String())
	for _, box := range []geo.Box{europe(), {South: -20, North: 3, West: 170, East: -150}, {South: 80, North: 90, West: -180, East: 180}} {
		part := wind.Part{Box: box, From: whole[0].Cycle().Add(7 * 3600e9), To: whole[0].Cycle().Add(8 * 3600e9)}
		cut, _, err := wind.FromCube(c, part, always)
		require.NoError(t, err)
		for i, f := range cut {
			assert.Equal(t, 2, f.Steps())
			g := f.Grid()
			assert.Less(t, g.NY, 73)
			for k := range g.NX * g.NY {
				p := g.Node(k)
				if math.Abs(p.Lat) > 89 {
					continue
				}
				got, out := f.At(p, 15000, 3600)
				require.Equal(t, wind.Inside, out)
				want, out := whole[i].At(p, 15000, 7*3600)
				require.Equal(t, wind.Inside, out)
				assert.Equal(t, want, got, "%v", p)
			}
		}
	}
}

// What a forecast lacks is said again when its cube is opened, and levels
// without temperature have none there either.
func TestCubeSaysWhatIsMissing(t *testing.T) {
	b := build(t, europe(), realwind.Files(t)[:2], func(f *grib.Field) bool {
		return !isobaric(f, grib.EastwardWind, 25000) && !isobaric(f, grib.Temperature, 50000) &&
			!(f.Step == 0 && f.Parameter() == grib.Gust)
	})
	want, lacks := fieldOf(t, b)
	require.Len(t, lacks, 2)
	c, _ := packed(t, b, europe())
	fields, warnings, err := wind.FromCube(c, wind.Part{Box: europe()}, always)
	require.NoError(t, err)
	assert.Equal(t, lacks, warnings)
	assert.Equal(t, "NCEP", c.Axes().Source)
	_, out := fields[0].Surface(wind.Gust, geo.Point{Lat: 50, Lon: 10}, 0)
	assert.Equal(t, wind.Missing, out)
	w, _ := want.Surface(wind.Gust, geo.Point{Lat: 50, Lon: 10}, 21600)
	g, out := fields[0].Surface(wind.Gust, geo.Point{Lat: 50, Lon: 10}, 21600)
	assert.Equal(t, wind.Inside, out)
	assert.InDelta(t, w, g, 0.01)
}

func TestCubeErrors(t *testing.T) {
	b := build(t, europe(), realwind.Files(t)[:1], every)
	c, content := packed(t, b, europe())
	_, _, err := wind.FromCube(c, wind.Part{Box: geo.Box{South: -10, North: -5, West: 10, East: 12}}, always)
	assert.ErrorContains(t, err, "the forecast covers latitudes 42.5 to 57.5")
	stop := errors.New("stopped")
	_, _, err = wind.FromCube(c, wind.Part{Box: europe()}, func() error { return stop })
	require.ErrorIs(t, err, stop)
	content[len(content)/2] ^= 1
	_, _, err = wind.FromCube(c, wind.Part{Box: europe()}, always)
	assert.ErrorContains(t, err, "checksum")
}

func TestMapsOfACube(t *testing.T) {
	b := build(t, europe(), realwind.Files(t)[:1], every)
	c, _ := packed(t, b, europe())
	n := 0
	require.NoError(t, wind.CubeMaps(c, func(m wind.CubeMap) error {
		values, err := m.Values()
		require.NoError(t, err)
		require.Len(t, values, m.Points)
		if m.Parameter == grib.Temperature && m.Surface == grib.Isobaric && m.Level == 50000 {
			n++
			for _, v := range values { // 500 hPa in Europe in March, K
				assert.True(t, v > 230 && v < 270, "%g K", v)
			}
		}
		return nil
	}))
	assert.Equal(t, 1, n)
	stop := errors.New("stopped")
	assert.ErrorIs(t, wind.CubeMaps(c, func(wind.CubeMap) error { return stop }), stop)
}
