package flight

import (
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// cell is the wind and the fall's slowness in one cell of the grid, one span of
// heights and one interval between two steps: the four coefficients 1, x, y, xy
// of the bilinear form, at the interval's first step and what is added until
// its last.
type cell struct {
	key   key
	round uint32  // of flights that was the last to use it
	held  float32 // share of the span above the highest level of a column around
	mean  airflow // over the whole cell, roughly
	form  [forms][8]float32
}

// The coefficients of a cell.
const (
	ofWind  = iota // toward east in the first half, toward north in the second, m/s
	ofTrend        // of the same
	// How wind and the way through the span vary together, m²/s: 1, x, y, and
	// the change in a second, toward east and north as above.
	ofTilt
	// How far a metre carries in the middle of the span: columns eastward, a
	// cubic in y, and from toNorth on rows northward, linear in it.
	ofMetric
	ofAir // ln of √(ρ/ρ₀), over the part's own, and from airTrend on its trend
	forms
)

const (
	toNorth  = 4 // where the coefficients toward north begin
	airTrend = 4 // and those of the air's trend
	// Columns and rows that a flight through a whole layer is in the mean beyond
	// where its last steps foretell, for each s/m.
	leadEast, leadNorth = toNorth + 2, toNorth + 3
)

// key tells what is in a place of a store: cell, interval and span. 0 is none.
type key uint64

func newKey(ix, iy, interval int) key {
	return key(ix) | key(iy)<<20 | key(interval)<<36
}

// Cells of one layer are kept in this many places, by column and row: flights
// of a launch are seldom in more cells at once.
const (
	wide, tall = 16, 8
	places     = wide * tall
)

// cells are those of one layer. What is in a place depends on its key alone, so
// that it is all one who made it and when.
type cells [places]cell

// partPlaces is in how many places the cells of all parts are kept.
const partPlaces = 4096

// partCells are those of parts of layers.
type partCells [partPlaces]cell

// row is how far a metre carries in one row of cells: columns eastward, a cubic
// in the share of the way through the row, and rows northward, linear in it.
type row struct {
	east   [4]float64
	north  [2]float64
	usable bool
}

// maxRowError bounds the relative error of a row's cubic; rows near a pole that
// do not keep it are flown by Scene.Fly.
const maxRowError = 1e-5

// newRow fits the row between two latitudes, for columns and rows so many
// degrees apart.
func newRow(south float64, g geo.Grid) row {
	var r row
	north := south + g.DLat
	if south < -90+wind.PoleMargin || north > 90-wind.PoleMargin {
		return r
	}
	east := func(share float64) float64 {
		lat := south + share*g.DLat
		_, normal := geo.Radii(lat)
		return degrees(1/(normal*math.Cos(radians(lat)))) / g.DLon
	}
	toward := func(share float64) float64 {
		meridian, _ := geo.Radii(south + share*g.DLat)
		return degrees(1/meridian) / g.DLat
	}
	var x, y [4]float64 // at the zeros of Chebyshev's polynomial
	for i := range x {
		x[i] = 0.5 - 0.5*math.Cos((2*float64(i)+1)*math.Pi/8)
		y[i] = east(x[i])
	}
	// Newton's divided differences, multiplied out.
	for j := 1; j < 4; j++ {
		for i := 3; i >= j; i-- {
			y[i] = (y[i] - y[i-1]) / (x[i] - x[i-j])
		}
	}
	c := [4]float64{y[3]}
	for i := 2; i >= 0; i-- {
		for j := 3; j > 0; j-- {
			c[j] = c[j-1] - x[i]*c[j]
		}
		c[0] = y[i] - x[i]*c[0]
	}
	r.east = c
	r.north = [2]float64{toward(0), toward(1) - toward(0)}
	r.usable = true
	for share := 0.0; share <= 1; share += 0.125 {
		fit := c[0] + share*(c[1]+share*(c[2]+share*c[3]))
		r.usable = r.usable && math.Abs(fit/east(share)-1) < maxRowError
	}
	return r
}

// fill makes a cell; false where the forecast does not cover all of it, and in the
// outermost cells of the grid, out of which a step may end. Columns and rows
// count from the kernel's edge.
func (k *Kernel) fill(c *cell, p *part, l *layer, at place, falling bool) bool {
	g := k.grid
	column, line := at.ix-k.edge, at.iy-1
	if g.Wraps() {
		column = ((column % g.NX) + g.NX) % g.NX
	}
	if line < 1 || line >= g.NY-2 || !k.rows[at.iy].usable || at.ix < 1 || !g.Wraps() && (column < 1 || column >= g.NX-2) {
		return false
	}
	east := column + 1
	if east == g.NX {
		east = 0
	}
	corners := [4]int{line*g.NX + column, line*g.NX + east, (line+1)*g.NX + column, (line+1)*g.NX + east}
	var u, v, d, uTilt, vTilt [2][4]float64
	most, way := 0.0, 1.0
	if falling {
		way = -1
	}
	for s := range 2 {
		for n, column := range corners {
			a, out := k.scene.Wind.Span(at.interval+s, column, p.low, p.high)
			if out != wind.Inside {
				return false
			}
			uTilt[s][n], vTilt[s][n] = way*a.EastTilt, way*a.NorthTilt
			if falling {
				root, slope := logRoot(a, p.high-p.low)
				slowed(&a, slope)
				d[s][n] = root - p.logRoot
			}
			u[s][n], v[s][n] = a.East, a.North
			most = max(most, a.Held)
		}
	}
	bilinear(u, c.form[ofWind][:toNorth], c.form[ofTrend][:toNorth])
	bilinear(v, c.form[ofWind][toNorth:], c.form[ofTrend][toNorth:])
	bilinear(d, c.form[ofAir][:airTrend], c.form[ofAir][airTrend:])
	seconds := k.times[at.interval+1] - k.times[at.interval]
	planar(uTilt, seconds, c.form[ofTilt][:toNorth])
	planar(vTilt, seconds, c.form[ofTilt][toNorth:])
	c.held = float32(most)
	r := &k.rows[at.iy]
	for i, v := range r.east {
		c.form[ofMetric][i] = float32(v * p.east)
	}
	for i, v := range r.north {
		c.form[ofMetric][toNorth+i] = float32(v * p.north)
	}
	c.mean = airflow{float32(roughly(&u)), float32(roughly(&v))}
	c.form[ofMetric][leadEast], c.form[ofMetric][leadNorth] = 0, 0
	if l != nil {
		half := (p.high - p.low) / 2
		way := [2]float64{half*float64(c.mean[0]) - roughly(&uTilt), half*float64(c.mean[1]) - roughly(&vTilt)}
		k.lead(c, l, at, &corners, falling, way)
	}
	return true
}

// lead writes where in a layer's cell a flight is in the mean, way m²/s beyond
// where it came in, beyond where its steps through the two layers before foretell.
func (k *Kernel) lead(c *cell, l *layer, at place, corners *[4]int, falling bool, way [2]float64) {
	before, ahead := l.before[up], float64(l.ahead[up])
	if falling {
		before, ahead = l.before[down], float64(l.ahead[down])
	} else if l.low < k.layers[k.start].high+1 {
		return // foretell sees to the first two
	}
	if before[0] == nil {
		return
	}
	one, ok1 := k.mean(before[0], at, corners, falling)
	two, ok2 := k.mean(before[1], at, corners, falling)
	if !ok1 || !ok2 {
		return
	}
	half := (l.high - l.low) / 2
	for i, w := range way {
		a, b := float64(one[i]), float64(two[i])
		if falling {
			a *= before[0].whole.root / l.whole.root
			b *= before[1].whole.root / l.whole.root
		}
		way[i] = w - half*a - ahead*(a-b)
	}
	m := &c.form[ofMetric]
	m[leadEast] = float32(way[0]) * (m[0] + 0.5*(m[1]+0.5*(m[2]+0.5*m[3])))
	m[leadNorth] = float32(way[1]) * (m[toNorth] + 0.5*m[toNorth+1])
}

// mean is the wind of a layer over a cell.
func (k *Kernel) mean(l *layer, at place, corners *[4]int, falling bool) (airflow, bool) {
	store := l.cells[up]
	if falling {
		store = l.cells[down]
	}
	if store != nil {
		if c := &store[slot(at.ix, at.iy, at.interval)&(places-1)]; c.key == newKey(at.ix, at.iy, at.interval) {
			return c.mean, true
		}
	}
	var u, v [2][4]float64
	for s := range 2 {
		for _, n := range [2]int{s, 3 - s} {
			a, out := k.scene.Wind.Span(at.interval+s, corners[n], l.low, l.high)
			if out != wind.Inside {
				return airflow{}, false
			}
			if falling {
				_, slope := logRoot(a, l.high-l.low)
				slowed(&a, slope)
			}
			u[s][n], v[s][n] = a.East, a.North
		}
	}
	return airflow{float32(roughly(&u)), float32(roughly(&v))}, true
}

// airflow is a wind toward east and north, m/s.
type airflow [2]float32

// slowed adds to the wind of a span what a fall takes more of it where the air is
// denser and the fall slower; slope is that of the root of density, 1/m.
func slowed(a *wind.Span, slope float64) {
	a.East += slope * a.EastTilt
	a.North += slope * a.NorthTilt
}

// roughly is the mean of values at four corners and two steps, from half of them.
func roughly(v *[2][4]float64) float64 { return (v[0][0] + v[0][3] + v[1][1] + v[1][2]) / 4 }

// bilinear writes the coefficients for the four corners of a cell at two steps.
func bilinear(v [2][4]float64, first, trend []float32) {
	var c [2][4]float64
	for s, a := range v {
		c[s] = [4]float64{a[0], a[1] - a[0], a[2] - a[0], a[3] - a[2] - a[1] + a[0]}
	}
	for i := range first {
		first[i], trend[i] = float32(c[0][i]), float32(c[1][i]-c[0][i])
	}
}

// planar writes the coefficients 1, x, y and time in seconds of the plane
// nearest to the values at four corners and two steps, in the middle between the
// two.
func planar(v [2][4]float64, seconds float64, plane []float32) {
	var c [4]float64
	for n := range 4 {
		c[n] = (v[0][n] + v[1][n]) / 2
	}
	x, y := (c[1]+c[3]-c[0]-c[2])/2, (c[2]+c[3]-c[0]-c[1])/2
	trend := 0.0
	for n := range 4 {
		trend += (v[1][n] - v[0][n]) / (4 * seconds)
	}
	plane[0], plane[1], plane[2], plane[3] = float32((c[0]+c[1]+c[2]+c[3])/4-(x+y)/2), float32(x), float32(y), float32(trend)
}

// place is a cell of the kernel's grid in an interval between two steps.
type place struct{ ix, iy, interval int }

// slot is where a layer keeps a cell.
func slot(ix, iy, interval int) int {
	return (ix&(wide-1) | iy&(tall-1)*wide) ^ interval&1*(places/2+wide/2)
}

// ofPart is the cell of a part of a layer at a place, made if need be; nil
// where the forecast does not cover it.
func (k *Kernel) ofPart(p *part, at place) *cell {
	key := newKey(at.ix, at.iy, at.interval) | key(p.number+1)<<48
	c := &k.parts[uint64(key)*0x9e3779b97f4a7c15>>52]
	if c.key != key && !k.refill(c, key, p, nil, at, true) {
		return nil
	}
	return c
}

// refill makes a place's cell anew; l is the layer that the part is the whole of,
// if it is one.
func (k *Kernel) refill(c *cell, key key, p *part, l *layer, at place, falling bool) bool {
	c.key = 0
	if !k.fill(c, p, l, at, falling) {
		return false
	}
	c.key = key
	return true
}
