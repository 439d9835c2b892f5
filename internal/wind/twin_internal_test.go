package wind

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// rough is a field whose nodes are all different and whose columns have levels
// at heights of their own, some fewer of them than others.
func rough() *Field {
	const levels = 7
	r := rand.New(rand.NewPCG(11, 12))
	f := &Field{
		grid:  geo.Grid{NX: 6, NY: 5, Lat0: 30, Lon0: 170, DLat: 2, DLon: 4},
		start: time.Unix(0, 0).UTC(), times: []float64{0, 1800, 5400, 6000},
		levels: make([]float64, levels),
	}
	for range f.times {
		var nodes []node
		var first []uint8
		for range f.grid.NX * f.grid.NY {
			z := 500 * r.Float32()
			for l := range levels {
				nodes = append(nodes, node{z, r.Float32()*80 - 40, r.Float32()*80 - 40, 200 + 80*r.Float32(), 11 - float32(l) + r.Float32()/2})
				z += 200 + 3000*r.Float32()
			}
			first = append(first, uint8(r.IntN(3)))
		}
		f.nodes, f.first = append(f.nodes, nodes), append(f.first, first)
	}
	return f
}

// around is a value of the levels below and above z in a column, the same
// twice beyond its ends, and the share of the upper.
func around(column []node, z float64, of func(node) float64) (below, above, share float64) {
	last := len(column) - 1
	if z <= float64(column[0].z) {
		return of(column[0]), of(column[0]), 0
	}
	for l := 1; l <= last; l++ {
		low, high := float64(column[l-1].z), float64(column[l].z)
		if z <= high {
			return of(column[l-1]), of(column[l]), (z - low) / (high - low)
		}
	}
	return of(column[last]), of(column[last]), 0
}

// TestAtAgainstASlowTwin: the contract's order of interpolation, written plainly
// with no care for speed. Each sample also lies between the least and greatest
// of the 16 nodes around it.
func TestAtAgainstASlowTwin(t *testing.T) {
	f := rough()
	levels := len(f.levels)
	quantities := []func(node) float64{
		func(n node) float64 { return float64(n.u) },
		func(n node) float64 { return float64(n.v) },
		func(n node) float64 { return float64(n.t) },
		func(n node) float64 { return float64(n.lnp) },
	}
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(30, 38).Draw(t, "lat")
		lon := rapid.Float64Range(170, 190).Draw(t, "lon")
		z := rapid.Float64Range(0, 9000).Draw(t, "z")
		at := rapid.Float64Range(0, 6000).Draw(t, "t")
		got, out := f.At(geo.Point{Lat: lat, Lon: geo.WrapLon(lon)}, atmos.Geometric(z), at)
		if out != Inside {
			require.Equal(t, AboveTop, out)
			return
		}
		have := []float64{got.East, got.North, got.Temperature, math.Log(got.Pressure)}
		x, y := (lon-170)/4, (lat-30)/2
		i, j := min(int(x), 4), min(int(y), 3)
		s := 0
		for s < 2 && at >= f.times[s+1] {
			s++
		}
		w := (at - f.times[s]) / (f.times[s+1] - f.times[s])
		low := false // below some column's lowest level, where pressure is no node's
		for q, of := range quantities {
			want, least, most := 0.0, math.Inf(1), math.Inf(-1)
			for corner := range 8 {
				a, b, c := corner&1, corner>>1&1, corner>>2
				k := (j+b)*6 + i + a
				column := f.nodes[s+c][k*levels+int(f.first[s+c][k]) : (k+1)*levels]
				low = low || z < float64(column[0].z)
				below, above, share := around(column, z, of)
				least, most = min(least, below, above), max(most, below, above)
				want += pick(a, x-float64(i)) * pick(b, y-float64(j)) * pick(c, w) * (below + share*(above-below))
			}
			if q == 3 && low {
				continue
			}
			// Heights are compared and subtracted in float32.
			require.InDelta(t, want, have[q], 1e-4, "quantity %d of At(%g, %g, %g, %g)", q, lat, lon, z, at)
			require.GreaterOrEqual(t, have[q], least-1e-9, "quantity %d of At(%g, %g, %g, %g)", q, lat, lon, z, at)
			require.LessOrEqual(t, have[q], most+1e-9, "quantity %d of At(%g, %g, %g, %g)", q, lat, lon, z, at)
		}
	})
}

// pick is the weight of the far side, or of the near one.
func pick(far int, fraction float64) float64 {
	if far == 1 {
		return fraction
	}
	return 1 - fraction
}
