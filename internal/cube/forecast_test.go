package cube_test

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// forecast is the isobaric fields of one step of a forecast.
type forecast struct {
	axes   cube.Axes
	planes [][]float32 // by Axes.Plane
}

// realForecast reads one of the public-domain GFS files (NOAA) that the grib
// module carries.
func realForecast(t testing.TB, name string) forecast {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib").Output()
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(out)), "griblib", "integrationtestdata", name))
	require.NoError(t, err)
	f := forecast{axes: cube.Axes{Members: []cube.Member{{Kind: cube.Single}}}}
	fields := map[float64]*[4][]float32{}
	for field, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
		require.NoError(t, err)
		q := slices.Index([]grib.Parameter{grib.EastwardWind, grib.NorthwardWind, grib.GeopotentialHeight, grib.Temperature}, field.Parameter())
		if q < 0 || !field.Level.At(grib.Isobaric, field.Level.Value) {
			continue
		}
		values, err := field.Values(nil)
		require.NoError(t, err)
		if fields[field.Level.Value] == nil {
			fields[field.Level.Value] = new([4][]float32)
		}
		fields[field.Level.Value][q] = values
		g := field.Grid
		f.axes.Centre, f.axes.Cycle, f.axes.Steps = field.Centre, field.Reference, []time.Duration{field.Step}
		f.axes.Grid = geo.Grid{NX: g.NX, NY: g.NY, Lat0: g.Lat0, Lon0: g.Lon0, DLat: g.DLat, DLon: g.DLon}
	}
	for pressure := range fields {
		f.axes.Levels = append(f.axes.Levels, pressure)
	}
	slices.Sort(f.axes.Levels)
	slices.Reverse(f.axes.Levels)
	f.planes = make([][]float32, f.axes.Planes())
	for i, pressure := range f.axes.Levels {
		for q, values := range fields[pressure] {
			require.NotNil(t, values, "quantity %d at %g Pa", q, pressure)
			f.planes[f.axes.Plane(cube.Quantity(q), i)] = values
		}
	}
	return f
}

// TestRealForecast: what the package comment states of the error holds on real
// fields, node by node, and is not slack; and in the units it is far below the
// bounds.
func TestRealForecast(t *testing.T) {
	for _, c := range []struct {
		name   string
		levels int // by ecCodes
	}{
		{"gfs.t00z.pgrb2.2p50.f006", 31},
		{"gfs.t18z.pgrb2.1p00.f003", 26},
	} {
		f := realForecast(t, c.name)
		g := f.axes.Grid
		require.Len(t, f.axes.Levels, c.levels)
		require.True(t, g.Wraps())
		data := pack(t, f.axes, func(_, _, plane, node int) float32 { return f.planes[plane][node] })
		part := room(f.axes, whole(g))
		require.NoError(t, open(t, data).Read(0, 0, part))
		var worst [4]float64 // in units
		share := 0.0         // of half a scale
		for p, got := range part.Planes {
			q := p / len(f.axes.Levels)
			at := func(node int) float32 { return f.planes[p][node] }
			for node := range got {
				missed := math.Abs(float64(got[node]) - float64(at(node)))
				if missed <= 0.9*worst[q] && node%97 != 0 {
					continue // the bound is slow to have
				}
				bound := tileBound(g, node, at)
				require.LessOrEqual(t, missed, bound, "plane %d, node %d", p, node)
				worst[q] = max(worst[q], missed)
				if bound > 0 {
					share = max(share, missed/bound)
				}
			}
		}
		t.Logf("%s: worst error %.2g and %.2g m/s, %.2g m, %.2g K; %.3f of the stated", c.name, worst[0], worst[1], worst[2], worst[3], share)
		require.Greater(t, share, 0.95, "the stated error is slack")
		for q, most := range []float64{0.05, 0.05, 1, 0.05} {
			require.Less(t, worst[q], most/10)
			require.Greater(t, worst[q], most/1000)
		}
	}
}
