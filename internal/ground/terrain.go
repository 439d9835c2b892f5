package ground

import "example.org/thistledown/internal/geo"

// Terrain is the height of the ground at the nodes of a grid, in metres above
// mean sea level, in the grid's own order. NaN is a height that is not known.
type Terrain struct {
	Grid   geo.Grid
	Height []float32
}

// At is the height at p, bilinear between the four nodes around it, so its
// error is that of the grid: terrain finer than the grid is not in it. It is
// false outside the grid, where one of the four nodes has no height, and where
// Height has fewer values than the grid has nodes.
func (t Terrain) At(p geo.Point) (metres float64, ok bool) {
	if len(t.Height) == 0 {
		return 0, false
	}
	c, ok := t.Grid.Cell(p)
	if !ok || c.NE >= len(t.Height) || c.NW >= len(t.Height) {
		return 0, false
	}
	sw, se := float64(t.Height[c.SW]), float64(t.Height[c.SE])
	nw, ne := float64(t.Height[c.NW]), float64(t.Height[c.NE])
	south := sw + c.X*(se-sw)
	north := nw + c.X*(ne-nw)
	metres = south + c.Y*(north-south)
	return metres, metres == metres
}
