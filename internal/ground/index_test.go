package ground

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/geo"
)

// square is a ring around (lat, lon), reaching half degrees to each side.
func square(lat, lon, half float64) orb.Ring {
	return orb.Ring{
		{lon - half, lat - half}, {lon + half, lat - half}, {lon + half, lat + half}, {lon - half, lat + half}, {lon - half, lat - half},
	}
}

func shapesOf(polygons ...orb.Polygon) *shapes {
	var s shapes
	for _, p := range polygons {
		s.add(p)
	}
	return &s
}

func TestIndexContains(t *testing.T) {
	ring := square(0, 0, 2)
	repeated := orb.Ring{ring[0], ring[0], ring[1], ring[1], ring[1], ring[2], ring[3], ring[3], ring[0]}
	for _, tt := range []struct {
		name     string
		polygons []orb.Polygon
		lat, lon float64
		want     bool
	}{
		{"inside", []orb.Polygon{{ring}}, 1, 1, true},
		{"outside, west", []orb.Polygon{{ring}}, 1, -3, false},
		{"outside, east", []orb.Polygon{{ring}}, 1, 3, false},
		{"outside, north", []orb.Polygon{{ring}}, 3, 1, false},
		{"outside, south", []orb.Polygon{{ring}}, -3, 1, false},
		{"latitude and longitude are not alike", []orb.Polygon{{square(40, 10, 2)}}, 10, 40, false},
		{"in a hole", []orb.Polygon{{ring, square(0, 0, 1)}}, 0.5, 0.5, false},
		{"beside the hole", []orb.Polygon{{ring, square(0, 0, 1)}}, 1.5, 0, true},
		{"on an island in the hole", []orb.Polygon{{ring, square(0, 0, 1)}, {square(0, 0, 0.5)}}, 0.2, 0.2, true},
		{"where two overlap", []orb.Polygon{{ring}, {square(1, 1, 2)}}, 1, 1, true},
		{"in one's hole but in the other", []orb.Polygon{{ring, square(0, 0, 1)}, {square(1, 1, 2)}}, 0.5, 0.5, true},
		{"inside, vertices repeated", []orb.Polygon{{repeated}}, 1, 1, true},
		{"outside, vertices repeated", []orb.Polygon{{repeated}}, 50, 90, false},
		{"far from it round the Earth, vertices repeated", []orb.Polygon{{repeated}}, -1, 179, false},
		{"east of the date line, longitudes up to 190", []orb.Polygon{{square(0, 180, 10)}}, 5, -175, true},
		{"west of the date line, longitudes up to 190", []orb.Polygon{{square(0, 180, 10)}}, 5, 175, true},
		{"on the date line, longitudes up to 190", []orb.Polygon{{square(0, 180, 10)}}, 5, 180, true},
		{"beyond 190", []orb.Polygon{{square(0, 180, 10)}}, 5, -169, false},
		{"longitudes down to -190", []orb.Polygon{{square(0, -180, 10)}}, 5, 175, true},
		{"longitudes from 300", []orb.Polygon{{square(0, 310, 10)}}, 5, -50, true},
		{"round the whole Earth", []orb.Polygon{{{{-180, -90}, {180, -90}, {180, 90}, {-180, 90}, {-180, -90}}}}, 90, 17, true},
		{"round the whole Earth, from 0 to 360", []orb.Polygon{{{{0, -90}, {360, -90}, {360, 90}, {0, 90}, {0, -90}}}}, -90, -17, true},
		{"a polar cap", []orb.Polygon{{{{-180, 80}, {180, 80}, {180, 90}, {-180, 90}, {-180, 80}}}}, 90, 0, true},
		{"south of a polar cap", []orb.Polygon{{{{-180, 80}, {180, 80}, {180, 90}, {-180, 90}, {-180, 80}}}}, 79, 180, false},
		{"an edge is straight in longitude and latitude, not a great circle", []orb.Polygon{{{{-20, 60}, {20, 60}, {0, 50}, {-20, 60}}}}, 60.5, 0, false},
		{"a bow tie, west", []orb.Polygon{{{{-2, -1}, {-2, 1}, {2, -1}, {2, 1}, {-2, -1}}}}, 0, -1.5, true},
		{"a bow tie, east", []orb.Polygon{{{{-2, -1}, {-2, 1}, {2, -1}, {2, 1}, {-2, -1}}}}, 0, 1.5, true},
		{"a bow tie, north", []orb.Polygon{{{{-2, -1}, {-2, 1}, {2, -1}, {2, 1}, {-2, -1}}}}, 0.8, 0, false},
	} {
		ix := newIndex(shapesOf(tt.polygons...))
		got := ix.contains(mustPlace(t, geo.Point{Lat: tt.lat, Lon: tt.lon}))
		assert.Equal(t, tt.want, got, "%s: contains(%g, %g) = %v, want %v", tt.name, tt.lat, tt.lon, got, tt.want)
	}
}

// Squares that tile a larger one share their edges: each point belongs to one.
func TestIndexTilesWithoutGapOrOverlap(t *testing.T) {
	var tiles []*index
	for _, lat := range []float64{-1, 1} {
		for _, lon := range []float64{-1, 1} {
			tiles = append(tiles, newIndex(shapesOf(orb.Polygon{square(lat, lon, 1)})))
		}
	}
	for y := int32(-2); y < 2; y++ {
		for x := int32(-2); x < 2; x++ {
			n := 0
			for _, tile := range tiles {
				if tile.contains(vertex{x * steps, y * steps}) {
					n++
				}
			}
			assert.Equal(t, 1, n, "squares that hold longitude %d, latitude %d", x, y)
		}
	}
}

func TestIndexOfNothing(t *testing.T) {
	ix := newIndex(&shapes{})
	assert.False(t, ix.contains(vertex{}), "contains(0, 0) without polygons")
}

// An index stays small, and is made in a time that is bounded, for polygons that
// are as bad as can be: each edge across the whole extent, each polygon's extent
// the whole.
func TestIndexSizeIsBounded(t *testing.T) {
	few := newIndex(shapesOf(orb.Polygon{square(0, 180, 80)}))
	assert.LessOrEqual(t, len(few.cells), 4*5+16, "cells for one square of five vertices")
	land, _, err := decodeWater(waterFile)
	require.NoError(t, err)
	many := newIndex(land)
	assert.LessOrEqual(t, len(many.cells), maxCells, "cells for the built-in land")
	assert.Greater(t, len(many.cells), maxCells/4, "cells for the built-in land")

	var s shapes
	const n = 20_000
	for i := range n {
		d := float64(i) / n
		s.add(orb.Polygon{{{-170 + d, -80}, {170 - d, 80 - d}, {170, 80 + d}, {-170 + d, -80}}})
	}
	ix := newIndex(&s)
	assert.LessOrEqual(t, len(ix.cells), maxCells)
	assert.LessOrEqual(t, len(ix.items), maxVisits+(visitsPerVertex+4)*len(s.vertices), "items")
	slow := newTwin(&s)
	for _, v := range []vertex{{0, 0}, {-100 * steps, -46 * steps}, {100 * steps, 48 * steps}, {steps, 170 * steps / 3}} {
		assert.Equal(t, slow.contains(v), ix.contains(v), "contains(%v)", v)
	}
}

// drawRing draws a closed ring, not necessarily a simple one, some of its
// coordinates on whole cells and some of its vertices repeated.
func drawRing(t *rapid.T, label string, west, south int32) []vertex {
	n := rapid.IntRange(3, 12).Draw(t, label+" length")
	coordinate := rapid.OneOf(rapid.Int32Range(0, 1<<10), rapid.Map(rapid.Int32Range(0, 16), func(v int32) int32 { return v << minShift }))
	var ring []vertex
	for i := range n {
		v := vertex{west + coordinate.Draw(t, fmt.Sprint(label, " x", i)), south + coordinate.Draw(t, fmt.Sprint(label, " y", i))}
		ring = append(ring, v)
		if rapid.IntRange(0, 5).Draw(t, fmt.Sprint(label, " again", i)) == 0 {
			ring = append(ring, v)
		}
	}
	return ring
}

// Any rings, any polygons, anywhere, also across the date line and at a pole:
// the index answers as the count of all edges does, at every point around.
func TestIndexAgreesWithTryingAllEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		west := rapid.SampledFrom([]int32{-halfTurn, 0, halfTurn - 1<<9, -halfTurn - 1<<9, 3 * halfTurn / 2, -turn}).Draw(t, "west")
		south := rapid.SampledFrom([]int32{0, -quarterTurn, quarterTurn - 1<<10}).Draw(t, "south")
		var s shapes
		for k := range rapid.IntRange(1, 4).Draw(t, "polygons") {
			s.begin()
			for j := range rapid.IntRange(1, 3).Draw(t, "rings") {
				from := len(s.vertices)
				s.vertices = append(s.vertices, drawRing(t, fmt.Sprintf("polygon %d ring %d", k, j), west, south)...)
				s.close(from)
			}
		}
		ix, slow := newIndex(&s), newTwin(&s)
		for range 200 {
			x := int64(west) + rapid.Int64Range(-20, 1<<10+20).Draw(t, "x")
			y := min(max(south+rapid.Int32Range(-20, 1<<10+20).Draw(t, "y"), -quarterTurn), quarterTurn-1)
			v := vertex{int32(math.Mod(float64(x)+3*halfTurn, turn) - halfTurn), y}
			if v.x < -halfTurn {
				v.x += turn
			}
			if got, want := ix.contains(v), slow.contains(v); got != want {
				t.Fatalf("contains(%v) = %v, want %v", v, got, want)
			}
		}
	})
}

// Large polygons too, whose edges run through many cells.
func TestIndexAgreesOnLargePolygons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s shapes
		for range rapid.IntRange(1, 3).Draw(t, "polygons") {
			s.begin()
			west := rapid.Int32Range(-turn, 0).Draw(t, "west")
			for range rapid.IntRange(1, 3).Draw(t, "rings") {
				from := len(s.vertices)
				for range rapid.IntRange(3, 40).Draw(t, "length") {
					s.vertices = append(s.vertices, vertex{
						west + rapid.Int32Range(0, turn).Draw(t, "x"), rapid.Int32Range(-quarterTurn, quarterTurn).Draw(t, "y"),
					})
				}
				s.close(from)
			}
		}
		ix, slow := newIndex(&s), newTwin(&s)
		for range 100 {
			v := vertex{rapid.Int32Range(-halfTurn, halfTurn-1).Draw(t, "x"), rapid.Int32Range(-quarterTurn, quarterTurn-1).Draw(t, "y")}
			if got, want := ix.contains(v), slow.contains(v); got != want {
				t.Fatalf("contains(%v) = %v, want %v", v, got, want)
			}
		}
	})
}

func TestPlace(t *testing.T) {
	for _, tt := range []struct {
		p    geo.Point
		want vertex
	}{
		{geo.Point{Lat: 1, Lon: 2}, vertex{2 * steps, steps}},
		{geo.Point{Lat: -90, Lon: 180}, vertex{-halfTurn, -quarterTurn}},
		{geo.Point{Lat: 90, Lon: 540}, vertex{-halfTurn, quarterTurn - 1}},
		{geo.Point{Lat: 0, Lon: math.Nextafter(180, 0)}, vertex{-halfTurn, 0}},
		{geo.Point{Lat: 0, Lon: 359}, vertex{-steps, 0}},
	} {
		got, ok := place(tt.p)
		require.True(t, ok, "place(%v)", tt.p)
		assert.Equal(t, tt.want, got, "place(%v)", tt.p)
	}
	for _, p := range []geo.Point{{Lat: 90.01}, {Lat: -91}, {Lat: math.NaN()}, {Lon: math.NaN()}, {Lon: math.Inf(1)}} {
		_, ok := place(p)
		assert.False(t, ok, "place(%v)", p)
	}
}
