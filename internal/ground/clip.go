package ground

import (
	"example.org/thistledown/internal/geo"
)

// clipMargin is how far beyond a box shapes are kept, in steps: 0.01 degree, so
// that what lies on the box's edge is answered as if nothing had been cut.
const clipMargin = steps / 100

// windowOf is a checked box in steps with a margin, its longitudes running on
// across the date line: -180 <= west, and east at most a whole turn on.
func windowOf(b geo.Box) box {
	w := box{
		south: max(round(b.South)-clipMargin, -quarterTurn),
		north: min(round(b.North)+clipMargin, quarterTurn),
	}
	width := b.East - b.West
	for width < 0 {
		width += 360
	}
	if width*steps+2*clipMargin >= turn {
		w.west, w.east = -halfTurn, halfTurn
		return w
	}
	w.west = round(geo.WrapLon(b.West)) - clipMargin
	w.east = w.west + round(width) + 2*clipMargin
	return w
}

// meets reports whether two extents have a point in common.
func (b box) meets(c box) bool {
	return b.west <= c.east && c.west <= b.east && b.south <= c.north && c.south <= b.north
}

// turnsInto are the least and the greatest number of whole turns eastward that
// bring some of b into the longitudes of a window; the least is the greater one if
// none does.
func (b box) turnsInto(window box) (least, greatest int32) {
	return int32(-floorDiv(int64(b.east)-int64(window.west), turn)), int32(floorDiv(int64(window.east)-int64(b.west), turn))
}

// seen reports whether b or a copy of it whole turns away meets a window.
func (b box) seen(window box) bool {
	least, greatest := b.turnsInto(window)
	return least <= greatest && b.south <= window.north && window.south <= b.north
}

// clipper cuts rings to a window. Where an edge crosses the window's edge, the
// crossing is rounded to a step (5 cm), the same way whichever of the two sides
// of a border it is met on.
type clipper struct {
	window box
	whole  []vertex // the ring to cut
	from   []vertex // what is left of it, before and after a side
	to     []vertex
	beyond uint8 // the sides beyond which some of it lies
}

// The sides of a box.
const (
	beyondWest uint8 = 1 << iota
	beyondEast
	beyondSouth
	beyondNorth
)

// beyond is the sides of b beyond which a vertex lies.
func (b box) beyond(v vertex) (sides uint8) {
	if v.x < b.west {
		sides = beyondWest
	} else if v.x > b.east {
		sides = beyondEast
	}
	if v.y < b.south {
		sides |= beyondSouth
	} else if v.y > b.north {
		sides |= beyondNorth
	}
	return sides
}

// load takes a ring, moved east by some steps, leaving out what can be seen to be
// cut off: of vertices one after the other that all lie beyond the same side only
// the first and the last are kept. All between them would go when the ring is cut
// at that side, and the way from the first to the last lies beyond it too.
func (c *clipper) load(vertices []vertex, east int32) {
	c.from = c.from[:0]
	c.beyond = 0
	var common uint8 // the sides that all of them lie beyond
	several := false // there are two or more
	for _, v := range vertices {
		v.x += east
		at := c.window.beyond(v)
		c.beyond |= at
		switch {
		case common&at == 0:
			common, several = at, false
			c.from = append(c.from, v)
		case !several:
			common, several = common&at, true
			c.from = append(c.from, v)
		default:
			common &= at
			c.from[len(c.from)-1] = v
		}
	}
}

// ring cuts one ring, moved east by some steps, at the window's four sides, one
// after the other. What lies beyond a side is left out, and the ring runs along
// the side instead.
func (c *clipper) ring(into *shapes, vertices []vertex, east int32) {
	c.load(vertices, east)
	c.sides(into)
}

// sides cuts the ring in c.from at all sides and appends what is left.
func (c *clipper) sides(into *shapes) {
	w := c.window
	if c.beyond&beyondWest != 0 {
		c.side(func(v vertex) bool { return v.x >= w.west }, func(a, b vertex) vertex { return vertex{w.west, cut(a.x, a.y, b.x, b.y, w.west)} })
	}
	if c.beyond&beyondEast != 0 {
		c.side(func(v vertex) bool { return v.x <= w.east }, func(a, b vertex) vertex { return vertex{w.east, cut(a.x, a.y, b.x, b.y, w.east)} })
	}
	if c.beyond&beyondSouth != 0 {
		c.side(func(v vertex) bool { return v.y >= w.south }, func(a, b vertex) vertex { return vertex{cut(a.y, a.x, b.y, b.x, w.south), w.south} })
	}
	if c.beyond&beyondNorth != 0 {
		c.side(func(v vertex) bool { return v.y <= w.north }, func(a, b vertex) vertex { return vertex{cut(a.y, a.x, b.y, b.x, w.north), w.north} })
	}
	if len(c.from) < 3 {
		return
	}
	from := len(into.vertices)
	into.vertices = append(into.vertices, c.from...)
	into.close(from)
}

// side cuts the ring in c.from at one side of the window.
func (c *clipper) side(inside func(vertex) bool, crossing func(a, b vertex) vertex) {
	if len(c.from) == 0 {
		return
	}
	c.to = c.to[:0]
	before := c.from[len(c.from)-1]
	was := inside(before)
	for _, v := range c.from {
		in := inside(v)
		if in != was {
			c.to = append(c.to, crossing(before, v))
		}
		if in {
			c.to = append(c.to, v)
		}
		before, was = v, in
	}
	c.from, c.to = c.to, c.from
}

// cut is where, in steps across, the way from (a, p) to (b, q) reaches at, which
// lies between a and b. It is the same for the way back.
func cut(a, p, b, q, at int32) int32 {
	if a > b {
		a, p, b, q = b, q, a, p
	}
	// At most 2^31 · 2^29 < 2^63; less than half a turn of latitude or two turns of
	// longitude each.
	return p + int32(floorDiv((int64(q)-int64(p))*(int64(at)-int64(a)), int64(b)-int64(a)))
}
