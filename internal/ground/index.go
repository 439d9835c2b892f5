package ground

import "math"

// index answers whether a point lies in any of a list of polygons: within each
// polygon by the even-odd rule, and in the list if it is in one of them. A ring
// owns the points on its west and south edges, not those on its east and north
// ones, so polygons that share an edge neither overlap nor leave a gap.
//
// The polygons' extent, the smallest arc of longitudes that holds them and so
// maybe one over the date line, is cut into square cells. A cell that no edge enters is
// all in or all out. For the others the index keeps, polygon by polygon, whether
// the cell's south-west corner is inside, and the edges that enter the cell. A
// point is inside a polygon if the way to it from the corner (first north, then
// east, so never out of the cell) crosses an even number of that polygon's edges
// and the corner is inside, or an odd number and it is not. Corner and point are
// understood to be moved by an infinitely small amount east, and by an even
// smaller one north, so that no vertex or edge is ever met exactly; the
// comparisons below say so without moving anything.
type index struct {
	extent   box      // -180 <= west < 180 degrees, east less than a whole turn on
	shift    uint     // a cell is 2^shift steps wide and high
	nx, ny   int      // cells eastward and northward
	cells    []uint32 // row by row: allOut, allIn, or firstMixed + m for the m-th mixed cell
	starts   []uint32 // the items of mixed cell m are items[starts[m]:starts[m+1]]
	items    []uint32 // for each polygon whose edges enter the cell a head, followed by the edges
	vertices []vertex // edge i runs from vertices[i] to vertices[i+1]
}

// What a cell is.
const (
	allOut uint32 = iota
	allIn
	firstMixed
)

// An item is the number of an edge, or a head: bit 31, then in bits 1 and 2 the
// whole turns of longitude that lead from the polygon to the cell, plus one, and
// in bit 0 whether the cell's corner is inside.
const (
	head     uint32 = 1 << 31
	headTurn uint32 = 1 // bit where the turns begin
)

// contains reports whether p, with -180 <= longitude < 180, is in a polygon.
func (ix *index) contains(p vertex) bool {
	if p.x < ix.extent.west {
		p.x += turn
	}
	if p.x > ix.extent.east || p.y < ix.extent.south || p.y > ix.extent.north {
		return false
	}
	col, row := (p.x-ix.extent.west)>>ix.shift, (p.y-ix.extent.south)>>ix.shift
	m := ix.cells[int(row)*ix.nx+int(col)]
	if m < firstMixed {
		return m == allIn
	}
	m -= firstMixed
	corner := vertex{ix.extent.west + col<<ix.shift, ix.extent.south + row<<ix.shift}
	from, to := corner, p
	in := false
	for _, item := range ix.items[ix.starts[m]:ix.starts[m+1]] {
		if item&head != 0 {
			if in {
				return true
			}
			in = item&1 != 0
			turns := int32(item>>headTurn&3) - 1
			from.x, to.x = corner.x-turns*turn, p.x-turns*turn
			continue
		}
		if crosses(from, to, ix.vertices[item], ix.vertices[item+1]) {
			in = !in
		}
	}
	return in
}

// crosses reports whether the way from one point north (or south) and then east
// (or west) to another crosses the edge from a to b an odd number of times.
func crosses(from, to, a, b vertex) bool {
	odd := false
	if (a.x > from.x) != (b.x > from.x) {
		odd = eastOf(from, a, b) != eastOf(vertex{from.x, to.y}, a, b)
	}
	if (a.y > to.y) != (b.y > to.y) {
		odd = odd != (eastOf(vertex{from.x, to.y}, a, b) != eastOf(to, a, b))
	}
	return odd
}

// eastOf reports whether p lies on the line through a and b or east of it; if
// the line runs east to west, on it or north of it.
func eastOf(p, a, b vertex) bool {
	dx, dy := int64(b.x)-int64(a.x), int64(b.y)-int64(a.y)
	px, py := int64(p.x)-int64(a.x), int64(p.y)-int64(a.y)
	// At most (1080·2^21)·(180·2^21) < 2^60: no overflow.
	side := dx*py - px*dy
	switch {
	case dy > 0:
		return side <= 0
	case dy < 0:
		return side >= 0
	}
	return py >= 0
}

// floorDiv is the whole number at or below a/b, for b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// Limits of an index: its size and the time to make it are bounded by these and
// by a small multiple of the number of vertices, whatever the polygons look
// like. A visit is one cell of one polygon's window or one cell along an edge.
const (
	maxCells        = 1 << 20
	maxVisits       = 1 << 22
	visitsPerVertex = 8
	minShift        = 6  // 64 steps, 3.4 m
	maxShift        = 30 // 512 degrees: one or two cells
)

// newIndex makes the index of s, which it keeps; s must not change after that.
func newIndex(s *shapes) *index {
	b := newBuilder(s)
	for k := range s.polygons {
		for turns := fewestTurns; turns <= mostTurns; turns++ {
			b.polygon(k, turns)
		}
	}
	return b.finish()
}

// How many whole turns it takes at least and at most to bring a part of a polygon,
// -540 to 540 degrees, to where an index has it, -180 to 540.
const (
	fewestTurns int32 = -1
	mostTurns   int32 = 2
)

// builder is an index in the making.
type builder struct {
	index
	shapes  *shapes
	seam    int32   // where the whole turn of longitudes begins in which the extent lies
	extents []box   // of the polygons
	pairs   []pair  // in the order of the polygons, each polygon's heads before its edges
	heads   []pair  // of one polygon
	mixed   uint32  // how many mixed cells there are so far
	marks   []uint8 // for the cells of one polygon's window: crossed, entered
}

// pair is an item and the mixed cell to which it belongs.
type pair struct{ cell, item uint32 }

const (
	crossed uint8 = 1 << iota // an odd number of edges between the corner west of this one and this one
	entered                   // an edge enters the cell
)

// newBuilder measures the polygons and chooses the finest cells that the limits
// allow.
func newBuilder(s *shapes) *builder {
	b := &builder{shapes: s, extents: make([]box, len(s.polygons))}
	b.vertices = s.vertices
	b.extent = box{math.MaxInt32, math.MaxInt32, math.MinInt32, math.MinInt32}
	length, ways := 0, make([]int, len(s.polygons))
	for k := range s.polygons {
		e, way := s.measure(k)
		b.extents[k], ways[k] = e, way
	}
	b.seam = seam(b.extents)
	for k, way := range ways {
		for turns := fewestTurns; turns <= mostTurns; turns++ {
			if e, ok := b.seen(k, turns); ok {
				length += way
				b.extent.west, b.extent.east = min(b.extent.west, e.west), max(b.extent.east, e.east)
				b.extent.south, b.extent.north = min(b.extent.south, e.south), max(b.extent.north, e.north)
			}
		}
	}
	if b.extent.west > b.extent.east {
		return b
	}
	most := min(maxCells, 4*len(s.vertices)+16)
	for b.shift = minShift; b.shift < maxShift; b.shift++ {
		b.nx = int((b.extent.east-b.extent.west)>>b.shift) + 1
		b.ny = int((b.extent.north-b.extent.south)>>b.shift) + 1
		if b.nx*b.ny <= most && b.fills()+length>>b.shift <= maxVisits+visitsPerVertex*len(s.vertices) {
			break
		}
	}
	b.cells = make([]uint32, b.nx*b.ny)
	b.marks = make([]uint8, b.nx*b.ny)
	b.pairs = make([]pair, 0, len(s.vertices)+len(s.vertices)/2)
	return b
}

// seen is the part of polygon k, moved east by whole turns, that lies in the turn
// of longitudes from the seam on. False if there is none.
func (b *builder) seen(k int, turns int32) (box, bool) {
	e := b.extents[k]
	west := max(int64(e.west)+int64(turns)*turn, int64(b.seam))
	east := min(int64(e.east)+int64(turns)*turn, int64(b.seam)+turn-1)
	if west > east {
		return box{}, false
	}
	return box{int32(west), e.south, int32(east), e.north}, true
}

// window is the range of cells, last ones included, that a box covers.
type window struct{ col0, row0, col1, row1 int }

func (b *builder) window(e box) window {
	return window{
		col0: int((e.west - b.extent.west) >> b.shift), row0: int((e.south - b.extent.south) >> b.shift),
		col1: int((e.east - b.extent.west) >> b.shift), row1: int((e.north - b.extent.south) >> b.shift),
	}
}

// fills is how many cells the polygons' windows have together.
func (b *builder) fills() int {
	n := 0
	for k := range b.extents {
		for turns := fewestTurns; turns <= mostTurns; turns++ {
			if e, ok := b.seen(k, turns); ok {
				w := b.window(e)
				n += (w.col1 - w.col0 + 1) * (w.row1 - w.row0 + 1)
			}
		}
	}
	return n
}

// polygon enters polygon k, moved east by whole turns.
func (b *builder) polygon(k int, turns int32) {
	e, ok := b.seen(k, turns)
	if !ok {
		return
	}
	w := b.window(e)
	for row := w.row0; row <= w.row1; row++ {
		clear(b.marks[row*b.nx+w.col0 : row*b.nx+w.col1+1])
	}
	p := b.shapes.polygons[k]
	first := len(b.pairs)
	for _, r := range b.shapes.rings[p.from:p.to] {
		for i := r.from; i < r.to-1; i++ {
			b.edge(i, turns*turn, w)
		}
	}
	edges := len(b.pairs) - first
	b.fill(w, turns)
	// The heads go before the edges: finish keeps the order within a cell.
	b.heads = append(b.heads[:0], b.pairs[first+edges:]...)
	copy(b.pairs[first+len(b.heads):], b.pairs[first:first+edges])
	copy(b.pairs[first:], b.heads)
}

// edge enters edge i, moved east by some steps, in the cells that it touches and
// marks the corners between which it passes.
func (b *builder) edge(i int, east int32, w window) {
	u, v := b.vertices[i], b.vertices[i+1]
	if u.y > v.y {
		u, v = v, u
	}
	ux, uy := u.x+east-b.extent.west, u.y-b.extent.south
	vx, vy := v.x+east-b.extent.west, v.y-b.extent.south
	onRow := uy&(1<<b.shift-1) == 0
	if uy>>b.shift == vy>>b.shift && ux>>b.shift == vx>>b.shift && !onRow {
		b.enter(i, int(uy>>b.shift), int(ux>>b.shift), int(ux>>b.shift), w)
		return
	}
	dx, dy := int64(vx)-int64(ux), int64(vy)-int64(uy)
	for row := int(uy >> b.shift); row <= int(vy>>b.shift); row++ {
		south, north := int64(row)<<b.shift-int64(uy), int64(row+1)<<b.shift-int64(uy)
		lo, hi := int64(min(ux, vx)), int64(max(ux, vx))
		if south > 0 || north < dy {
			p := int64(ux) + floorDiv(dx*max(south, 0), dy)
			q := int64(ux) + floorDiv(dx*min(north, dy), dy)
			lo, hi = min(p, q), max(p, q)
		}
		b.enter(i, row, int(lo>>b.shift), int(hi>>b.shift), w)
		if south >= 0 && south < dy {
			// The first corner on the edge or east of it.
			x := int64(ux) - floorDiv(-dx*south, dy)
			col := max(int((x+1<<b.shift-1)>>b.shift), w.col0)
			if col <= w.col1 {
				b.marks[row*b.nx+col] ^= crossed
			}
		}
	}
}

// enter notes that edge i enters some cells of a row. A cell that is all in
// another polygon needs no items.
func (b *builder) enter(i, row, col0, col1 int, w window) {
	for k := row*b.nx + max(col0, w.col0); k <= row*b.nx+min(col1, w.col1); k++ {
		b.marks[k] |= entered
		c := b.cells[k]
		switch c {
		case allIn:
			continue
		case allOut:
			c = firstMixed + b.mixed
			b.cells[k] = c
			b.mixed++
		}
		b.pairs = append(b.pairs, pair{c - firstMixed, uint32(i)})
	}
}

// fill goes over the cells of a polygon's window: those that no edge enters are
// all in or as they were, the others get a head.
func (b *builder) fill(w window, turns int32) {
	for row := w.row0; row <= w.row1; row++ {
		in := uint32(0)
		for k := row*b.nx + w.col0; k <= row*b.nx+w.col1; k++ {
			m := b.marks[k]
			in ^= uint32(m & crossed)
			switch c := &b.cells[k]; {
			case *c == allIn:
			case m&entered != 0:
				b.pairs = append(b.pairs, pair{*c - firstMixed, head | uint32(turns+1)<<headTurn | in})
			case in != 0:
				*c = allIn
			}
		}
	}
}

// finish sorts the items by cell, keeping their order within each.
func (b *builder) finish() *index {
	ix := b.index
	if len(ix.cells) == 0 {
		ix.extent = box{0, 0, -1, -1}
		return &ix
	}
	// starts[m+2] counts cell m's items, then starts[m+1] is where its next item
	// goes; when all are placed, that is where cell m+1 begins.
	ix.starts = make([]uint32, b.mixed+2)
	for _, p := range b.pairs {
		ix.starts[p.cell+2]++
	}
	for m := 2; m < len(ix.starts); m++ {
		ix.starts[m] += ix.starts[m-1]
	}
	ix.items = make([]uint32, len(b.pairs))
	for _, p := range b.pairs {
		ix.items[ix.starts[p.cell+1]] = p.item
		ix.starts[p.cell+1]++
	}
	return &ix
}
