package flight

import (
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// relief is the ground as the kernel looks at it: the terrain in the wind grid's
// columns and rows, and how high it rises around a place, so that a flight well
// above asks for nothing.
type relief struct {
	terrain ground.Terrain
	lowest  float64 // m
	highest float64 // m: above it nothing is met
	// Terrain columns and rows are these times the kernel's, plus a shift.
	scaleX, shiftX, scaleY, shiftY float64
	around                         float64 // columns of a whole turn
	span                           int     // columns and rows of a tile
	across                         int     // tiles from west to east
	tops                           []float32
}

// tileSize is the least width of a tile, degrees: flights drift less in a layer.
const tileSize = 0.15

func newRelief(t ground.Terrain, g geo.Grid, edge int) *relief {
	tg := t.Grid
	r := &relief{terrain: t, lowest: math.Inf(1), highest: math.Inf(-1)}
	known := tg.Check() == nil && len(t.Height) >= tg.NX*tg.NY
	complete := known && tg == g
	if known {
		for _, h := range t.Height[:tg.NX*tg.NY] {
			z := float64(h)
			if !(z >= lowestGround && z <= highestGround) {
				complete = false
				continue
			}
			r.lowest, r.highest = min(r.lowest, z), max(r.highest, z)
		}
	}
	if !complete {
		r.highest = highestGround
	}
	r.lowest = min(max(r.lowest, lowestLaunch), 0)
	if !known {
		return r
	}
	r.scaleX, r.scaleY = g.DLon/tg.DLon, g.DLat/tg.DLat
	r.shiftX = (g.Lon0-tg.Lon0)/tg.DLon - float64(edge)*r.scaleX
	r.shiftY = (g.Lat0-tg.Lat0)/tg.DLat - r.scaleY
	r.around = 360 / tg.DLon
	r.span = max(1, int(math.Ceil(tileSize/min(tg.DLon, tg.DLat))))
	r.across = (tg.NX + r.span - 1) / r.span
	r.tops = make([]float32, r.across*((tg.NY+r.span-1)/r.span))
	for i := range r.tops {
		r.tops[i] = float32(math.NaN())
	}
	return r
}

// at turns a place on the kernel's grid into one on the terrain's.
func (r *relief) at(x, y float64) (tx, ty float64) {
	tx, ty = x*r.scaleX+r.shiftX, y*r.scaleY+r.shiftY
	for tx < 0 {
		tx += r.around
	}
	for tx >= r.around {
		tx -= r.around
	}
	return tx, ty
}

// height is the ground's, m; false where it is not known, and on the outermost
// edge, which is left to Scene.Fly.
func (r *relief) height(x, y float64) (float64, bool) {
	if r.tops == nil {
		return 0, false
	}
	tx, ty := r.at(x, y)
	i, j := int(tx), int(ty)
	g := r.terrain.Grid
	east := i + 1
	if east == g.NX && g.Wraps() {
		east = 0
	}
	if !(ty >= 0) || uint(i) >= uint(g.NX) || uint(east) >= uint(g.NX) || uint(j) >= uint(g.NY-1) {
		return 0, false
	}
	fx, fy := tx-float64(i), ty-float64(j)
	h := r.terrain.Height
	sw, se := float64(h[j*g.NX+i]), float64(h[j*g.NX+east])
	nw, ne := float64(h[(j+1)*g.NX+i]), float64(h[(j+1)*g.NX+east])
	south, north := sw+fx*(se-sw), nw+fx*(ne-nw)
	z := south + fy*(north-south)
	return z, z >= lowestGround && z <= highestGround
}

// top is the highest ground within a tile's width of a place, m; infinite where
// some of it is not known.
func (r *relief) top(x, y float64) float64 {
	if r.tops == nil {
		return math.Inf(1)
	}
	tx, ty := r.at(x, y)
	i, j := int(tx), int(ty)
	if !(ty >= 0) || uint(i) >= uint(r.terrain.Grid.NX) || uint(j) >= uint(r.terrain.Grid.NY) {
		return math.Inf(1)
	}
	tile := j/r.span*r.across + i/r.span
	if h := r.tops[tile]; h == h {
		return float64(h)
	}
	h := r.tileTop(i/r.span, j/r.span)
	r.tops[tile] = h
	return float64(h)
}

// tileTop looks at a tile and those around it.
func (r *relief) tileTop(a, b int) float32 {
	g, highest := r.terrain.Grid, float32(math.Inf(-1))
	unknown := float32(math.Inf(1))
	for j := (b - 1) * r.span; j <= (b+2)*r.span; j++ {
		if j < 0 || j >= g.NY {
			return unknown
		}
		for i := (a - 1) * r.span; i <= (a+2)*r.span; i++ {
			column := i
			if g.Wraps() {
				column = (i%g.NX + g.NX) % g.NX
			}
			if column < 0 || column >= g.NX {
				return unknown
			}
			h := r.terrain.Height[j*g.NX+column]
			if !(h >= lowestGround && h <= highestGround) {
				return unknown
			}
			highest = max(highest, h)
		}
	}
	return highest
}

// tile is the width of a tile in columns and rows of the kernel's grid.
func (r *relief) tile() (columns, rows float64) {
	if r.tops == nil {
		return 0, 0
	}
	return float64(r.span) / r.scaleX, float64(r.span) / r.scaleY
}
