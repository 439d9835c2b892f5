package ground

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"os"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// load reads cases of testdata, whose README says where they are from.
func load[T any](t testing.TB, name string) []T {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	var cases []T
	require.NoError(t, json.Unmarshal(text, &cases))
	require.NotEmpty(t, cases)
	return cases
}

// ringsText is a geometry of rings with n positions in each for one, and in the
// other order if reversed.
func ringsText(t testing.TB, rings []orb.Ring, n int, reversed bool) string {
	t.Helper()
	var out []orb.Ring
	for _, ring := range rings {
		var again orb.Ring
		for _, at := range ring {
			for range n {
				again = append(again, at)
			}
		}
		if reversed {
			slices.Reverse(again)
		}
		out = append(out, again)
	}
	text, err := json.Marshal(out)
	require.NoError(t, err)
	return geometry("Polygon", string(text))
}

type polygonCase struct {
	Rings  []orb.Ring
	Points [][3]float64 // longitude, latitude, 1 for inside
}

// Inside and outside of polygons with holes as GEOS has them, whichever way
// round the rings run, and with every position written three times.
func TestInsideAgainstGEOS(t *testing.T) {
	inside := 0
	for k, c := range load[polygonCase](t, "polygons.json") {
		for name, text := range map[string]string{
			"as drawn": ringsText(t, c.Rings, 1, false), "reversed": ringsText(t, c.Rings, 1, true), "thrice": ringsText(t, c.Rings, 3, false),
		} {
			l := forest(t, text)
			parcels, err := ReadLayer(LayerSource{Name: "land", Parcels: true}, []byte(text))
			require.NoError(t, err)
			for _, at := range c.Points {
				p := geo.Point{Lat: at[1], Lon: at[0]}
				got, _ := l.At(p, noon)
				assert.Equal(t, at[2] == 1, got, "polygon %d, %s: At(%v)", k, name, p)
				found := (&Map{Layers: []*Layer{parcels}}).At(p, noon)
				assert.Equal(t, got, len(found.Parcels) == 1 && found.Parcels[0].Owner == 1, "polygon %d, %s: parcel at %v", k, name, p)
				inside += int(at[2])
			}
		}
	}
	assert.Greater(t, inside, 1000)
}

// Positions written again and again leave the index as it is without them: the
// same cells, edges and items.
func TestRepeatedPositionsLeaveTheIndex(t *testing.T) {
	for k, c := range load[polygonCase](t, "polygons.json") {
		once := forest(t, ringsText(t, c.Rings, 1, false)).areas
		thrice := forest(t, ringsText(t, c.Rings, 3, false)).areas
		assert.Equal(t, once, thrice, "polygon %d", k)
		width := float64(once.extent.east-once.extent.west) / steps
		outline := c.Rings[0].Bound()
		assert.InDelta(t, outline.Right()-outline.Left(), width, 2e-6, "polygon %d: the index is as wide as the polygon", k)
	}
}

type lineCase struct {
	Lat, Lon        float64
	Line            orb.LineString
	Metres, Bearing float64
}

// Distances to lines from 10 m to 20 km, up to 80 degrees of latitude and across
// the date line: within 1e-5 of what GeographicLib and GEOS say, beside 6 cm for
// the rounding of the line, those that buffers are measured by within 1e-4.
func TestDistanceAgainstGeographicLib(t *testing.T) {
	worst := 0.0
	for _, c := range load[lineCase](t, "lines.json") {
		text, err := json.Marshal(c.Line)
		require.NoError(t, err)
		line := []byte(geometry("LineString", string(text)))
		w, err := ReadWays("roads", line)
		require.NoError(t, err)
		p := geo.Point{Lat: c.Lat, Lon: c.Lon}
		metres, bearing, ok := w.Nearest(p)
		require.Equal(t, c.Metres <= MaxReach, ok, "Nearest(%v): nearest at %g m", p, c.Metres)
		if ok {
			assert.InDelta(t, c.Metres, metres, 1e-5*c.Metres+0.06, "Nearest(%v)", p)
			bound := (c.Metres/6.36e6*math.Tan(math.Abs(c.Lat)*math.Pi/180)/2 + 0.06/c.Metres) * 180 / math.Pi
			assert.InDelta(t, 0, math.Remainder(bearing-c.Bearing, 360), bound, "Nearest(%v): bearing %g, want %g", p, bearing, c.Bearing)
			at, ok := w.near.closest(p, MaxReach)
			require.True(t, ok)
			worst = max(worst, math.Abs(at.metres-c.Metres)-1e-4*c.Metres)
		}
		for _, off := range [...]float64{-1, 1} {
			buffer := c.Metres + off*(1e-4*c.Metres+0.06)
			if buffer > maxBuffer {
				continue
			}
			l, err := ReadLayer(LayerSource{Name: "power line", Class: Closed, Buffer: buffer}, line)
			require.NoError(t, err)
			got, _ := l.At(p, noon)
			assert.Equal(t, off > 0, got, "At(%v), %g m from a line with a buffer of %g m", p, c.Metres, buffer)
		}
	}
	assert.Less(t, worst, 0.06, "beyond 1e-4, m")
}

type validityCase struct {
	Ring orb.Ring
	Says string
}

// Rings that GEOS finds valid are taken, rings whose edges cross at points within
// both are refused; what touches is left to the even-odd rule.
func TestCrossingsAgainstGEOS(t *testing.T) {
	counts := map[string]int{}
	for k, c := range load[validityCase](t, "validity.json") {
		at, found, err := findCrossing(orb.Polygon{c.Ring})
		require.NoError(t, err)
		counts[fmt.Sprint(c.Says, found)]++
		if c.Says == "Valid Geometry" {
			assert.False(t, found, "ring %d %v: a crossing at %v", k, c.Ring, at.at)
		}
		if crossesExactly(c.Ring) {
			assert.True(t, found, "ring %d %v: no crossing found", k, c.Ring)
			assert.Contains(t, c.Says, "elf-intersection", "ring %d", k)
		}
		if found {
			assert.NotEqual(t, "Valid Geometry", c.Says, "ring %d %v: a crossing at %v", k, c.Ring, at.at)
		}
		if k%2 == 0 { // off the grid nothing touches
			assert.Equal(t, c.Says != "Valid Geometry", found, "ring %d %v, of which GEOS says %s", k, c.Ring, c.Says)
		}
	}
	t.Log(counts)
	assert.Greater(t, counts["Self-intersectiontrue"], 100)
	assert.Greater(t, counts["Valid Geometryfalse"], 50)
}

// crossesExactly reports, in exact fractions, whether two edges of a ring cross
// within both.
func crossesExactly(ring orb.Ring) bool {
	side := func(a, b, c orb.Point) int {
		r := func(v float64) *big.Rat { return new(big.Rat).SetFloat64(v) }
		sub := func(x, y float64) *big.Rat { return new(big.Rat).Sub(r(x), r(y)) }
		l := new(big.Rat).Mul(sub(a[0], c[0]), sub(b[1], c[1]))
		return l.Cmp(new(big.Rat).Mul(sub(a[1], c[1]), sub(b[0], c[0])))
	}
	for i := 1; i < len(ring); i++ {
		for k := 1; k < i; k++ {
			a, b, u, v := ring[i-1], ring[i], ring[k-1], ring[k]
			if side(a, b, u)*side(a, b, v) < 0 && side(u, v, a)*side(u, v, b) < 0 {
				return true
			}
		}
	}
	return false
}
