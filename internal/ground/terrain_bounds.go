package ground

import (
	"math"

	"example.org/thistledown/internal/geo"
)

// blockSide is the columns and rows of a block.
const blockSide = 64

// bounds is the lowest and the highest known height of a block of nodes.
type bounds struct{ low, high float32 }

// blocks is the bounds of all blocks, by row.
func blocks(g geo.Grid, heights []float32) []bounds {
	across := (g.NX + blockSide - 1) / blockSide
	all := make([]bounds, across*((g.NY+blockSide-1)/blockSide))
	for i := range all {
		all[i] = bounds{float32(math.Inf(1)), float32(math.Inf(-1))}
	}
	for j := range g.NY {
		row := all[j/blockSide*across:]
		for i, h := range heights[j*g.NX : (j+1)*g.NX] {
			b := &row[i/blockSide]
			if h < b.low {
				b.low = h
			}
			if h > b.high {
				b.high = h
			}
		}
	}
	return all
}

// Bounds is two heights between which all known ground of a box lies, that of
// Finer too, in metres. They are those of whole blocks of 64 by 64 nodes in
// terrain that ReadTerrain has read, so that a box of any size is quick to ask
// for, and of the very nodes in other terrain. Where nothing is known the lower
// is +Inf and the higher -Inf.
func (t *Terrain) Bounds(b geo.Box) (lowest, highest float64) {
	lowest, highest = math.Inf(1), math.Inf(-1)
	for i := range t.Finer {
		low, high := t.Finer[i].Bounds(b)
		lowest, highest = min(lowest, low), max(highest, high)
	}
	g := t.Grid
	if b.Check() != nil || g.Check() != nil || len(t.Height) < g.NX*g.NY {
		return lowest, highest
	}
	f := frame{nx: g.NX, ny: g.NY, x0: g.Lon0, y0: g.Lat0, dx: g.DLon, dy: g.DLat}
	if g.Wraps() {
		f.around = float64(g.NX)
	}
	w := f.roundWindow(b)
	step := 1
	if t.blocks != nil {
		step = blockSide
	}
	across := (g.NX + blockSide - 1) / blockSide
	for col := 0; col < w.nx; {
		i := (w.col + col) % g.NX
		for j := w.row; j < w.row+w.ny; j += step - j%step {
			at := bounds{t.Height[j*g.NX+i], t.Height[j*g.NX+i]}
			if t.blocks != nil {
				at = t.blocks[j/blockSide*across+i/blockSide]
			}
			if z := float64(at.low); z < lowest {
				lowest = z
			}
			if z := float64(at.high); z > highest {
				highest = z
			}
		}
		col += min(step-i%step, g.NX-i)
	}
	return lowest, highest
}
