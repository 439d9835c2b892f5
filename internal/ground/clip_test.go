package ground

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/geo"
)

// A ring loses the vertices that are seen to be cut off before it is cut: what is
// left holds the same points as if all of it had been cut.
func TestClipperLeavesOutOnlyWhatIsCutOff(t *testing.T) {
	fewer := 0
	rapid.Check(t, func(t *rapid.T) {
		w := box{-100, -50, 100, 50}
		// Each band as often: ways past the window's corners are rare otherwise.
		x := rapid.OneOf(rapid.Int32Range(-160, -101), rapid.Int32Range(-100, 100), rapid.Int32Range(101, 160))
		y := rapid.OneOf(rapid.Int32Range(-80, -51), rapid.Int32Range(-50, 50), rapid.Int32Range(51, 80))
		ring := make([]vertex, rapid.IntRange(3, 30).Draw(t, "length"))
		for i := range ring {
			ring[i] = vertex{x.Draw(t, "x"), y.Draw(t, "y")}
		}
		var got, want shapes
		got.begin()
		want.begin()
		c, d := clipper{window: w}, clipper{window: w}
		c.load(ring, 0)
		fewer += len(ring) - len(c.from)
		c.sides(&got)
		d.from, d.beyond = append(d.from, ring...), beyondWest|beyondEast|beyondSouth|beyondNorth
		d.sides(&want)
		fast, slow := newTwin(&got), newTwin(&want)
		for range 200 {
			p := vertex{rapid.Int32Range(w.west, w.east).Draw(t, "px"), rapid.Int32Range(w.south, w.north).Draw(t, "py")}
			if got, want := fast.contains(p), slow.contains(p); got != want {
				t.Fatalf("%v cut to %v: contains(%v) = %v, want %v", ring, w, p, got, want)
			}
		}
	})
	require.Positive(t, fewer, "vertices that were left out")
}

// Land that runs on across the date line, whole turns away from where a window
// has it, is clipped as the index of all of it answers.
func TestWaterInAWindowWhereverItsLongitudesAre(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for _, west := range []int64{-540, -530, -370, -190, -180, -10, 170, 180, 350, 520} {
		b := []byte{1, groupLand}
		for range 2 {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(1))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(0))
		}
		b = append(b, 1, 1, closesItself, 4) // a square of 20 degrees
		for _, v := range []int64{west, -10, 20, 0, 0, 20, -20, 0} {
			b = binary.AppendVarint(b, v)
		}
		land, _, err := decodeWater(b)
		require.NoError(t, err)
		all := newIndex(land)
		for _, near := range []geo.Box{
			everywhere,
			{South: -20, North: 20, West: 165, East: -165},
			{South: -5, North: 5, West: 171, East: 179},
			{South: -5, North: 5, West: -179, East: -171},
			{South: -5, North: 5, West: 179, East: 178.9},
			{South: -5, North: 5, West: -5, East: 30},
			{South: -5, North: 5, West: 20, East: 15},
		} {
			water, err := decodeWaterIn(b, windowOf(near))
			require.NoError(t, err)
			ix, wrong := newIndex(water), 0
			for range 1000 {
				p := mustPlace(t, within(r, near))
				if ix.contains(p) == all.contains(p) {
					wrong++
				}
			}
			assert.Zero(t, wrong, "land from longitude %d, box %v: points of 1000 that are both, land and water, or neither", west, near)
		}
	}
}

// A circle's western half is taken from its eastern one: each corner of each town
// and airport is where the geodesic from the middle ends, to the step.
func TestCirclesHaveTheCornersOfGeodesics(t *testing.T) {
	world := windowOf(everywhere)
	airports, err := decodePoints(airportsFile, world)
	require.NoError(t, err)
	towns, err := decodePoints(townsFile, world)
	require.NoError(t, err)
	for _, tt := range []struct {
		points []point
		radius func(uint32) float64
	}{{airports, airportRadius}, {towns, townRadius}} {
		s := circles(tt.points, tt.radius)
		differ := 0
		for i, p := range tt.points {
			for k := range circleCorners {
				if s.vertices[i*(circleCorners+1)+k] != corner24(p, k, tt.radius(p.size)) {
					differ++
				}
			}
		}
		assert.Zero(t, differ, "corners of %d circles that are elsewhere", len(tt.points))
	}
}

// corner24 is corner k of the polygon with the area of a circle round a point.
func corner24(p point, k int, radius float64) vertex {
	const step = 2 * math.Pi / 24
	middle := geo.Point{Lat: float64(p.at.y) / steps, Lon: float64(p.at.x) / steps}
	c := geo.Direct(middle, 15*float64(k), radius*math.Sqrt(step/math.Sin(step)))
	return vertex{p.at.x + round(geo.WrapLon(c.Lon-middle.Lon)), round(c.Lat)}
}
