package synth_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/synth"
)

// belt is wind on rows of latitude, each all round the Earth.
type belt struct {
	lat         []float64
	east, north [][]float64
}

// belts are the rows of a grid between two latitudes.
func belts(g grib.LatLonGrid, u, v []float32, south, north float64) belt {
	var b belt
	for row := range g.NY {
		lat := g.Lat0 + float64(row)*g.DLat
		if lat < south || lat > north {
			continue
		}
		east, up := make([]float64, g.NX), make([]float64, g.NX)
		for i := range g.NX {
			east[i], up[i] = float64(u[row*g.NX+i]), float64(v[row*g.NX+i])
		}
		b.lat, b.east, b.north = append(b.lat, lat), append(b.east, east), append(b.north, up)
	}
	return b
}

// strength is the root-mean-square wind of a belt and of its departure from the
// mean along each row, by area.
func (b belt) strength() (all, eddy float64) {
	var weights float64
	for i, lat := range b.lat {
		mean := 0.0
		for _, u := range b.east[i] {
			mean += u / float64(len(b.east[i]))
		}
		w := math.Cos(lat * degree)
		for k, u := range b.east[i] {
			v := b.north[i][k]
			all += w * (u*u + v*v)
			eddy += w * ((u-mean)*(u-mean) + v*v)
			weights += w
		}
	}
	return math.Sqrt(all / weights), math.Sqrt(eddy / weights)
}

// length is the distance along the row at which the northward wind is still
// correlated by a half with itself, m, over all rows.
func (b belt) length() float64 {
	last := 1.0
	for k := 1; ; k++ {
		var product, square, dx float64
		for i, row := range b.north {
			for j, v := range row {
				product += v * row[(j+k)%len(row)]
				square += v * v
			}
			dx += 360 / float64(len(row)) * degree * radius * math.Cos(b.lat[i]*degree) / float64(len(b.north))
		}
		c := product / square
		if c < 0.5 || k == len(b.north[0])/2 {
			return (float64(k-1) + (last-0.5)/(last-c)) * dx
		}
		last = c
	}
}

// middle is the belts of middle latitudes, north and south.
var middle = [][2]float64{{30, 65}, {-65, -30}}

// measures are what belts of wind are compared by.
type measures struct{ energy, eddies, length float64 } // m²/s², m²/s², m

func (m *measures) add(b belt, share float64) {
	all, eddy := b.strength()
	m.energy += share * all * all
	m.eddies += share * eddy * eddy
	m.length += share * b.length()
}

// TestEnergy holds the invented winds against real ones at middle latitudes,
// level by level, in the mean of two days and both hemispheres, the
// invented ones of four members as well: twice the kinetic
// energy, that of the eddies alone, and the distance over which winds are alike.
// The real ones are GFS forecasts of NOAA/NCEP, in the public domain, that the
// grib module carries. Single belts and days differ by more: in September 2015
// the southern vortex reached down to 100 hPa, which the invented one never does.
func TestEnergy(t *testing.T) {
	const energyFactor, lengthFactor, draws = 1.75, 1.6, 4
	folder := realwind.Folder(t)
	levels := []float64{92500, 85000, 70000, 50000, 30000, 25000, 20000, 10000}
	genuine, invented := make([]measures, len(levels)), make([]measures, len(levels))
	for _, c := range []struct {
		file  string
		start time.Time
		seed  uint64
	}{
		{"gfs.t00z.pgrb2.2p50.f000", time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), 21},
		{"gfs.t18z.pgrb2.1p00.f003", time.Date(2015, 9, 12, 18, 0, 0, 0, time.UTC), 22},
	} {
		file, err := os.ReadFile(filepath.Join(folder, c.file))
		require.NoError(t, err)
		fields, values := readWinds(t, file)
		grid, ok := fields[key{grib.EastwardWind, grib.Isobaric, 25000, 0}].Grid.LatLon()
		require.True(t, ok)
		made := synth.Forecast{
			Seed: c.seed, Start: c.start, Box: geo.Box{South: -90, North: 90, West: -180, East: 180}, Spacing: 2.5, Hours: 3, Every: 3,
			Last: draws - 1,
		}
		_, own := read(t, step(t, made, 0))
		g := made.Grid()
		ownGrid := grib.LatLonGrid{NX: g.NX, NY: g.NY, Lat0: g.Lat0, DLat: g.DLat}
		for i, pressure := range levels {
			for _, m := range middle {
				for n := range draws {
					u, v := key{grib.EastwardWind, grib.Isobaric, pressure, n}, key{grib.NorthwardWind, grib.Isobaric, pressure, n}
					if n == 0 {
						genuine[i].add(belts(grid, values[u], values[v], m[0], m[1]), 0.25)
					}
					invented[i].add(belts(ownGrid, own[u], own[v], m[0], m[1]), 0.25/draws)
				}
			}
		}
	}
	for i, pressure := range levels {
		a, b := invented[i], genuine[i]
		t.Logf("%4.0f hPa: wind %4.1f m/s, real %4.1f; eddies %4.1f, real %4.1f; alike over %4.0f km, real %4.0f", pressure/100,
			math.Sqrt(a.energy), math.Sqrt(b.energy), math.Sqrt(a.eddies), math.Sqrt(b.eddies), a.length/1e3, b.length/1e3)
		within(t, energyFactor, a.energy, b.energy, pressure, "kinetic energy")
		within(t, energyFactor, a.eddies, b.eddies, pressure, "kinetic energy of eddies")
		within(t, lengthFactor, a.length, b.length, pressure, "correlation length")
	}
}

func within(t *testing.T, factor, got, want, pressure float64, what string) {
	t.Helper()
	if !(math.Abs(math.Log(got/want)) <= math.Log(factor)) {
		t.Errorf("%s at %g Pa = %.3g, real %.3g, want a factor of %g between at most", what, pressure, got, want, factor)
	}
}

// readWinds unpacks the isobaric winds of a file.
func readWinds(t *testing.T, file []byte) (fields map[key]*grib.Field, values map[key][]float32) {
	t.Helper()
	fields, values = map[key]*grib.Field{}, map[key][]float32{}
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		p := f.Parameter()
		if f.Level.Surface != grib.Isobaric || p != grib.EastwardWind && p != grib.NorthwardWind {
			continue
		}
		v, err := f.Values(nil)
		require.NoError(t, err)
		k := key{p, grib.Isobaric, f.Level.Value, 0}
		fields[k], values[k] = f, v
	}
	return fields, values
}
