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
	grid    geo.Grid // the kernel's
	lowest  float64  // m
	highest float64  // m: above it nothing is met
	// Terrain columns and rows are these times the kernel's, plus a shift.
	scaleX, shiftX, scaleY, shiftY float64
	around                         float64 // columns of a whole turn
	tileX, tileY                   float64 // width and height of a tile in terrain columns and rows
	known                          bool
	tiles                          [reliefPlaces]tile
	edge                           float64 // the kernel's columns west of its grid's first
}

// tile is a small piece of ground: how high it and what is around it rises.
type tile struct {
	i, j int32 // counted from 1
	top  float32
}

const (
	// tileSize is the width of a tile, degrees: the ground is looked at closely
	// only below the highest within a tile's width.
	tileSize = 0.15
	// reliefPlaces is how many tiles are kept, 16 by 16 side by side.
	reliefPlaces = 256
)

func newRelief(t ground.Terrain, g geo.Grid, edge int) *relief {
	tg := t.Grid
	r := &relief{terrain: t, grid: g, edge: float64(edge), lowest: math.Inf(1), highest: math.Inf(-1)}
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
	for i := range t.Finer {
		low, high := t.Finer[i].Bounds(geo.Box{South: -90, North: 90, West: -180, East: 180})
		r.lowest, r.highest = min(r.lowest, low), min(max(r.highest, high), highestGround)
	}
	r.lowest = min(max(r.lowest, lowestLaunch), 0)
	r.known = known
	if !known {
		return r
	}
	r.scaleX, r.scaleY = g.DLon/tg.DLon, g.DLat/tg.DLat
	r.shiftX = (g.Lon0-tg.Lon0)/tg.DLon - float64(edge)*r.scaleX
	r.shiftY = (g.Lat0-tg.Lat0)/tg.DLat - r.scaleY
	r.around = 360 / tg.DLon
	r.tileX, r.tileY = tileSize/tg.DLon, tileSize/tg.DLat
	return r
}

// isOf reports whether the relief is that of a terrain, to the very same values,
// on a grid.
func (r *relief) isOf(t ground.Terrain, g geo.Grid) bool {
	a, b := r.terrain.Height, t.Height
	if len(r.terrain.Finer) != len(t.Finer) || len(t.Finer) > 0 && &r.terrain.Finer[0] != &t.Finer[0] {
		return false
	}
	return r.grid == g && r.terrain.Grid == t.Grid && len(a) == len(b) && len(a) > 0 && &a[0] == &b[0]
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
	if !r.known {
		return 0, false
	}
	if len(r.terrain.Finer) > 0 {
		z, ok := r.terrain.At(r.point(x, y))
		return z, ok && z >= lowestGround && z <= highestGround
	}
	return r.heightAt(r.at(x, y))
}

// point is a place on the kernel's grid.
func (r *relief) point(x, y float64) geo.Point {
	return geo.Point{Lat: r.grid.Lat0 + (y-1)*r.grid.DLat, Lon: geo.WrapLon(r.grid.Lon0 + (x-r.edge)*r.grid.DLon)}
}

// finerTop is the highest finer ground over three tiles by three around one.
func (r *relief) finerTop(i, j int32) float64 {
	g := r.terrain.Grid
	south, west := g.Lat0+float64(j-2)*tileSize, g.Lon0+float64(i-2)*tileSize
	b := geo.Box{South: max(south, -90), North: min(south+3*tileSize, 90), West: geo.WrapLon(west), East: geo.WrapLon(west + 3*tileSize)}
	highest := math.Inf(-1)
	for k := range r.terrain.Finer {
		_, high := r.terrain.Finer[k].Bounds(b)
		highest = max(highest, high)
	}
	return highest
}

// heightAt is the height at a terrain column and row.
func (r *relief) heightAt(tx, ty float64) (float64, bool) {
	i, j := int(tx), int(ty)
	g := r.terrain.Grid
	east := i + 1
	if east == g.NX && g.Wraps() {
		east = 0
	}
	if !(tx >= 0 && ty >= 0) || uint(i) >= uint(g.NX) || uint(east) >= uint(g.NX) || uint(j) >= uint(g.NY-1) {
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
	if !r.known {
		return math.Inf(1)
	}
	tx, ty := r.at(x, y)
	if !(ty >= 0) {
		return math.Inf(1)
	}
	i, j := int32(tx/r.tileX)+1, int32(ty/r.tileY)+1
	t := &r.tiles[i&15|j&15<<4]
	if t.i != i || t.j != j {
		*t = tile{i, j, r.tileTop(float64(i-2)*r.tileX, float64(j-2)*r.tileY)}
		if len(r.terrain.Finer) > 0 {
			t.top = max(t.top, float32(r.finerTop(i, j)+0.01))
		}
	}
	return float64(t.top)
}

// tileTop is the highest ground over three tiles by three, from a terrain column
// and row on. Between the lines through the nodes the ground is bilinear, so
// that it is highest on them or on the edge.
func (r *relief) tileTop(tx, ty float64) float32 {
	highest := math.Inf(-1)
	for y, more := ty, true; more; {
		for x, more := tx, true; more; {
			across := x
			if across < 0 {
				across += r.around
			}
			if across >= r.around {
				across -= r.around
			}
			z, ok := r.heightAt(across, y)
			if !ok {
				return float32(math.Inf(1))
			}
			highest = max(highest, z)
			x, more = nextLine(x, tx+3*r.tileX)
		}
		y, more = nextLine(y, ty+3*r.tileY)
	}
	return float32(highest + 0.01) // over the rounding of both
}

// nextLine is the next whole number, or the end if that comes first; false
// beyond it.
func nextLine(x, end float64) (float64, bool) {
	return min(math.Floor(x)+1, end), x < end
}

// tile is the width and height of a tile in columns and rows of the kernel's
// grid.
func (r *relief) tile() (columns, rows float32) {
	if !r.known {
		return 0, 0
	}
	return float32(r.tileX / r.scaleX), float32(r.tileY / r.scaleY)
}
