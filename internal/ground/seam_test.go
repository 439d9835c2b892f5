package ground

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The extent of an index, in degrees: by hand.
func TestIndexLiesInTheSmallestArc(t *testing.T) {
	for _, tt := range []struct {
		name       string
		polygons   []orb.Polygon
		west, east float64
	}{
		{"one", []orb.Polygon{{square(0, 20, 2)}}, 18, 22},
		{"one over the date line", []orb.Polygon{{square(0, 180, 2)}}, 178, 182},
		{"one over the date line, from the other side", []orb.Polygon{{square(0, -180, 2)}}, 178, 182},
		{"cut at the date line", []orb.Polygon{{square(0, 179, 1)}, {square(0, -179, 1)}}, 178, 182},
		{"on either side of the date line", []orb.Polygon{{square(0, -100, 2)}, {square(0, 100, 2)}}, 98, 262},
		{"on either side of Greenwich", []orb.Polygon{{square(0, -80, 2)}, {square(0, 80, 2)}}, -82, 82},
		{"a turn too far west", []orb.Polygon{{square(0, -350, 2)}, {square(0, 20, 2)}}, 8, 22},
		{"two turns too far west", []orb.Polygon{{square(0, -530, 2)}, {square(0, 182, 1)}}, -179, -168},
		{"two turns too far west, the date line between", []orb.Polygon{{square(0, -530, 2)}, {square(0, 178, 1)}}, 177, 192},
		{"the whole way round", []orb.Polygon{{{{-180, -90}, {180, -90}, {180, 90}, {-180, 90}, {-180, -90}}}}, -180, 180},
		{"the whole way round, from 0 to 360", []orb.Polygon{{{{0, -90}, {360, -90}, {360, 90}, {0, 90}, {0, -90}}}}, -180, 180},
		{"all but a little", []orb.Polygon{{{{-100, 0}, {258, 0}, {258, 9}, {-100, 0}}}}, -100, 258},
	} {
		e := newIndex(shapesOf(tt.polygons...)).extent
		got := [2]float64{float64(e.west) / steps, float64(e.east) / steps}
		assert.InDeltaSlice(t, []float64{tt.west, tt.east}, got[:], 2.0/steps, "%s: extent from %g to %g, want %g to %g", tt.name, got[0], got[1], tt.west, tt.east)
	}
}

// Small polygons here and there on the Earth, at poles and over the date line, of
// longitudes that are up to a turn off: the extent is the smallest arc that holds
// them, up to a sector at either end, and the index answers as the count of all edges does.
func TestIndexAgreesWhereverPolygonsLie(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s shapes
		var spans [][2]int64 // of longitudes, the west end within a turn
		for range rapid.IntRange(1, 6).Draw(t, "polygons") {
			width := rapid.SampledFrom([]int32{1 << 9, 1 << 20, 40 * steps}).Draw(t, "width")
			west := rapid.OneOf(rapid.Int32Range(-turn-halfTurn, turn+halfTurn-width),
				rapid.SampledFrom([]int32{-turn - halfTurn, -halfTurn - width/2, -halfTurn, halfTurn - width/2, halfTurn, turn + halfTurn - width})).Draw(t, "west")
			south := rapid.SampledFrom([]int32{-quarterTurn, 0, quarterTurn - 1<<10}).Draw(t, "south")
			s.begin()
			from := len(s.vertices)
			for range rapid.IntRange(3, 9).Draw(t, "corners") {
				s.vertices = append(s.vertices, vertex{
					west + rapid.Int32Range(0, width).Draw(t, "x"), south + rapid.Int32Range(0, 1<<10).Draw(t, "y"),
				})
			}
			s.close(from)
			e, _ := s.measure(len(s.polygons) - 1)
			at := (int64(e.west) + 3*halfTurn) % turn
			spans = append(spans, [2]int64{at, at + int64(e.east) - int64(e.west)})
		}
		ix, slow := newIndex(&s), newTwin(&s)
		if got, want := int64(ix.extent.east)-int64(ix.extent.west), turn-widestGap(spans)+2<<sectorShift; got > want {
			t.Fatalf("extent of %d steps, want at most %d", got, want)
		}
		for range 100 {
			v := s.vertices[rapid.IntRange(0, len(s.vertices)-1).Draw(t, "vertex")]
			x := int64(v.x) + rapid.Int64Range(-1<<9, 1<<9).Draw(t, "x")
			y := v.y + rapid.Int32Range(-20, 20).Draw(t, "y")
			p := vertex{int32(((x+3*halfTurn)%turn+turn)%turn - halfTurn), min(max(y, -quarterTurn), quarterTurn-1)}
			if got, want := ix.contains(p), slow.contains(p); got != want {
				t.Fatalf("contains(%v) = %v, want %v", p, got, want)
			}
		}
	})
}

// widestGap is the widest gap between spans of longitudes, by trying each end.
func widestGap(spans [][2]int64) int64 {
	widest := int64(0)
	for _, s := range spans {
		gap := int64(turn)
		for _, o := range spans {
			past := ((s[1]-o[0])%turn + turn) % turn
			if past < o[1]-o[0] {
				gap = 0
				break
			}
			gap = min(gap, turn-past)
		}
		widest = max(widest, gap)
	}
	return widest
}
