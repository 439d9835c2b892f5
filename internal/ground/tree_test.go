package ground

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever the boxes, a tree visits every one that touches the query, none twice,
// and of those that do not only such as share a lowest box with another.
func TestTreeVisitsAllThatTouch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Int32Range(-halfTurn, halfTurn)
		boxes := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) box {
			x, y := coordinate.Draw(t, "x"), coordinate.Draw(t, "y")
			side := rapid.Int32Range(0, 1<<24)
			return box{x, y, x + side.Draw(t, "wide"), y + side.Draw(t, "high")}
		}), 0, 600).Draw(t, "boxes")
		extent := func(k uint32) box { return boxes[k] }
		x, y := coordinate.Draw(t, "x"), coordinate.Draw(t, "y")
		q := box{x, y, x + rapid.Int32Range(0, 1<<28).Draw(t, "wide"), y + rapid.Int32Range(0, 1<<28).Draw(t, "high")}
		var want []uint32
		for k, b := range boxes {
			if b.touches(q) {
				want = append(want, uint32(k))
			}
		}
		for _, tr := range []*tree{newTree(len(boxes), extent), newSortedTree(len(boxes), extent)} {
			var got []uint32
			visits := map[uint32]int{}
			tr.touch(q, func(k uint32) bool {
				visits[k]++
				if boxes[k].touches(q) {
					got = append(got, k)
				}
				return true
			})
			slices.Sort(got)
			require.Equal(t, want, got)
			for k, n := range visits {
				require.Equal(t, 1, n, "visits of %d", k)
			}
			seen := 0
			tr.touch(q, func(uint32) bool { seen++; return false })
			require.LessOrEqual(t, seen, 1, "visits after the first was enough")
		}
	})
}

// The tree is worth having: of a hundred thousand small boxes in any order a
// small query visits some tens.
func TestSortedTreeVisitsFew(t *testing.T) {
	const n = 100_000
	extent := func(k uint32) box {
		x, y := int32(k*2654435761%n)*1000, int32(k*40503%n)*1000
		return box{x, y, x + 500, y + 500}
	}
	tr := newSortedTree(n, extent)
	visits := 0
	for k := range uint32(100) {
		tr.touch(extent(k*997), func(uint32) bool { visits++; return true })
	}
	require.Less(t, visits, 100*8*fan)
}
