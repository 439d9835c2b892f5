package ground

import (
	"cmp"
	"math"
	"slices"
)

// fan is how many boxes one box of a tree holds.
const fan = 8

// tree finds those of a list of boxes that touch another one without trying
// them all: each fan boxes one after another have a box around them, each fan
// of those again, up to one.
type tree struct {
	order  []uint32 // the items, in the order in which the lowest boxes hold them
	levels [][]box  // the boxes around fan items, around fan of those, ...
}

// newTree makes the tree of n items, in their own order where that keeps
// neighbours together, as along a line.
func newTree(n int, extent func(item uint32) box) *tree {
	order := make([]uint32, n)
	for i := range order {
		order[i] = uint32(i)
	}
	return treeOf(order, extent)
}

// newSortedTree makes the tree of n items that lie in any order: they are sorted
// along a curve that keeps neighbours together (Morton's, by the bits of their
// middles).
func newSortedTree(n int, extent func(item uint32) box) *tree {
	type keyed struct {
		key  uint64
		item uint32
	}
	all := make([]keyed, n)
	for i := range all {
		b := extent(uint32(i))
		x, y := (int64(b.west)+int64(b.east))/2, (int64(b.south)+int64(b.north))/2
		all[i] = keyed{spread(uint32(x-math.MinInt32)) | spread(uint32(y-math.MinInt32))<<1, uint32(i)}
	}
	slices.SortFunc(all, func(a, b keyed) int {
		return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.item, b.item))
	})
	order := make([]uint32, n)
	for i, k := range all {
		order[i] = k.item
	}
	return treeOf(order, extent)
}

// spread puts a zero before each bit.
func spread(v uint32) uint64 {
	x := uint64(v)
	x = (x | x<<16) & 0x0000ffff0000ffff
	x = (x | x<<8) & 0x00ff00ff00ff00ff
	x = (x | x<<4) & 0x0f0f0f0f0f0f0f0f
	x = (x | x<<2) & 0x3333333333333333
	return (x | x<<1) & 0x5555555555555555
}

func treeOf(order []uint32, extent func(item uint32) box) *tree {
	t := &tree{order: order}
	if len(order) == 0 {
		return t
	}
	level := make([]box, (len(order)+fan-1)/fan)
	for k := range level {
		level[k] = nowhere
		for _, item := range order[k*fan : min((k+1)*fan, len(order))] {
			level[k] = level[k].with(extent(item))
		}
	}
	t.levels = append(t.levels, level)
	for len(level) > 1 {
		above := make([]box, (len(level)+fan-1)/fan)
		for k := range above {
			above[k] = nowhere
			for _, b := range level[k*fan : min((k+1)*fan, len(level))] {
				above[k] = above[k].with(b)
			}
		}
		t.levels = append(t.levels, above)
		level = above
	}
	return t
}

// extent is the box around everything; nowhere if there is nothing.
func (t *tree) extent() box {
	if len(t.levels) == 0 {
		return nowhere
	}
	return t.levels[len(t.levels)-1][0]
}

// depth is more than the levels that a tree can have: 8^11 > 2^32.
const depth = 12

// touch visits every item whose lowest box touches q, the item's own box not
// looked at, until visit returns false.
func (t *tree) touch(q box, visit func(item uint32) bool) {
	if t.extent().touches(q) {
		t.walk(q, visit)
	}
}

// walk is touch for a tree of something.
func (t *tree) walk(q box, visit func(item uint32) bool) {
	type node struct{ level, k int }
	var stack [depth * fan]node
	stack[0] = node{len(t.levels) - 1, 0}
	for n := 1; n > 0; {
		n--
		at := stack[n]
		if !t.levels[at.level][at.k].touches(q) {
			continue
		}
		if at.level == 0 {
			for _, item := range t.order[at.k*fan : min((at.k+1)*fan, len(t.order))] {
				if !visit(item) {
					return
				}
			}
			continue
		}
		below := t.levels[at.level-1]
		for k := min((at.k+1)*fan, len(below)) - 1; k >= at.k*fan; k-- {
			stack[n] = node{at.level - 1, k}
			n++
		}
	}
}

// nowhere is a box that touches none, and around which any other is grown.
var nowhere = box{math.MaxInt32, math.MaxInt32, math.MinInt32, math.MinInt32}

// with is the box around both.
func (b box) with(c box) box {
	return box{min(b.west, c.west), min(b.south, c.south), max(b.east, c.east), max(b.north, c.north)}
}

// touches reports whether two boxes have a point in common.
func (b box) touches(c box) bool {
	return b.west <= c.east && c.west <= b.east && b.south <= c.north && c.south <= b.north
}
