//go:build goexperiment.simd && amd64

package flight

import (
	"math"
	"math/bits"
	"simd/archsimd"
)

// lanes is how many flights are in a flock; it divides blockSize.
const lanes = 8

// vectors is the flights of a block that go through whole layers, eight in a
// flock, in float32. What a flight does in part of a layer, and where it ends,
// it does as a bird: it comes home for that and goes away again.
//
// A float on its own beside vectors is a change of mode to the processor, and
// dear. So what is the same for all eight lies in memory eight times, and each
// function with vectors in it clears their upper halves at its end.
type vectors struct {
	ready        bool
	plain        bool              // flies as without vectors; for tests
	baseX, baseY int               // places are counted from this column and row
	up, down     int               // flights not yet turned, and those that have begun to fall
	seat, who    [blockSize]uint16 // the lane of a flight, and the flight of a lane
	used         int               // flocks
	knot         int               // whose wind errors the flocks have; -1 for none
	passes, rest int               // through the last layer, and layers since lanes were sorted
	order        order
	flocks       [blockSize / lanes]flock
	layers       []layerLanes
	places       []uint16    // among them, by the number of a layer's whole
	layer        *layerLanes // the present one
	way          int         // through it, up or down
	stages       [16]stage   // cells of the present layer, so many:
	staged       int
	aim          aim
	zero, unit   [lanes]float32
	half, sixth  [lanes]float32
	bit          [lanes]int32
}

// flock is eight flights. A sum is a float and what has been rounded up in it.
type flock struct {
	x, xOver, y, yOver [lanes]float32    // columns and rows from the base
	t, tOver           [lanes]float32    // s since the interval's first step
	gx, gy, slow       [lanes]float32    // as a bird's
	hx, hy             [lanes]float32    // as a bird's
	landing            [lanes]float32    // as a bird's
	bend               [lanes]float32    // as a climb's
	from, to           [2][lanes]float32 // wind errors at the knots around
	scale, left        [lanes]float32    // 1/s of the interval, and s from its first step to the forecast's end
	interval           [lanes]int32
	away               uint8 // bits of those that fly here
}

// aim is where the flights of a flock are half-way through a layer.
type aim struct {
	fx, fy, ft [lanes]float32
	ix, iy     [lanes]int32 // from the base
}

// layerLanes is what a layer has in each lane.
type layerLanes struct {
	thick, half, ends, lower, upper, root [lanes]float32
	ahead                                 [2][lanes]float32 // on the way up and down
}

func fillLanes(v float64) (a [lanes]float32) {
	for i := range a {
		a[i] = float32(v)
	}
	return a
}

func (k *Kernel) prepareVectors() {
	if k.vectors == nil {
		k.vectors = new(vectors)
	}
	v := k.vectors
	v.ready = !v.plain && archsimd.X86.AVX2() && archsimd.X86.FMA()
	if !v.ready {
		return
	}
	v.baseX, v.baseY = int(k.x), int(k.y)
	v.unit, v.half, v.sixth = fillLanes(1), fillLanes(0.5), fillLanes(1.0/6)
	for i := range v.bit {
		v.bit[i] = 1 << i
	}
	v.layers = v.layers[:0]
	for i := range k.layers {
		v.addLayer(&k.layers[i])
	}
	for i := range k.falls {
		if d := &k.falls[i]; d.first < d.last {
			v.addLayer(d.layer)
		}
	}
}

// addLayer writes what a layer has in each lane.
func (v *vectors) addLayer(l *layer) {
	h := l.high - l.low
	for len(v.places) <= int(l.whole.number) {
		v.places = append(v.places, 0)
	}
	v.places[l.whole.number] = uint16(len(v.layers))
	v.layers = append(v.layers, layerLanes{
		fillLanes(h), fillLanes(h / 2), fillLanes(1.1 * h),
		fillLanes(float64(1 - l.weight)), fillLanes(float64(l.weight)), fillLanes(l.whole.root),
		[2][lanes]float32{fillLanes(float64(l.ahead[up])), fillLanes(float64(l.ahead[down]))},
	})
}

func (v *vectors) usable() bool { return v.ready }

// depart sends all flights of a block away.
func (k *Kernel) depart() {
	v := k.vectors
	for i := range v.flocks {
		v.flocks[i].away = 0
	}
	if !v.ready {
		return
	}
	v.up, v.down, v.used = k.block.n, 0, (k.block.n+lanes-1)/lanes
	for i := range v.seat {
		v.seat[i], v.who[i] = uint16(i), uint16(i)
	}
	v.knot, v.rest = -1, 0
	for i := range k.block.n {
		if !k.block.birds[i].skip {
			k.away(i)
		}
	}
}

// away sends a flight away, into the interval of its time.
func (k *Kernel) away(i int) {
	if !k.vectors.ready {
		return
	}
	k.seek(k.block.birds[i].time) // outside the forecast the last interval will do: it is handed on
	k.awayIn(i, k.now)
}

func (k *Kernel) awayIn(i, interval int) {
	b := &k.block.birds[i]
	f, n := k.vectors.lane(i)
	from, to := k.times[interval], k.times[interval+1]
	split(b.x-float64(k.vectors.baseX), &f.x[n], &f.xOver[n])
	split(b.y-float64(k.vectors.baseY), &f.y[n], &f.yOver[n])
	split(b.time-from, &f.t[n], &f.tOver[n])
	f.gx[n], f.gy[n], f.slow[n], f.landing[n] = b.gx, b.gy, float32(b.slow), float32(b.landing)
	f.hx[n], f.hy[n], f.bend[n] = b.hx, b.hy, 0
	f.scale[n], f.left[n], f.interval[n] = float32(1/(to-from)), float32(k.end-from), int32(interval)
	f.away |= 1 << n
}

// lane is where a flight is when it is away.
func (v *vectors) lane(i int) (*flock, int) {
	s := int(v.seat[i])
	return &v.flocks[s/lanes], s % lanes
}

func split(v float64, rounded, over *float32) {
	*rounded = float32(v)
	*over = float32(float64(*rounded) - v)
}

// peek writes into a bird where it is, if it is away.
func (k *Kernel) peek(i int) {
	b := &k.block.birds[i]
	f, n := k.vectors.lane(i)
	if f.away>>n&1 == 0 {
		return
	}
	b.x = float64(k.vectors.baseX) + (float64(f.x[n]) - float64(f.xOver[n]))
	b.y = float64(k.vectors.baseY) + (float64(f.y[n]) - float64(f.yOver[n]))
	b.time = k.times[f.interval[n]] + (float64(f.t[n]) - float64(f.tOver[n]))
	b.gx, b.gy, b.slow = f.gx[n], f.gy[n], float64(f.slow[n])
	b.hx, b.hy = f.hx[n], f.hy[n]
}

// home brings a flight back, if it is away.
func (k *Kernel) home(i int) {
	k.peek(i)
	f, n := k.vectors.lane(i)
	f.away &^= 1 << n
}

// riseTogether takes the first n flights of the block up through a layer.
func (k *Kernel) riseTogether(number, n int) {
	l, v := &k.layers[number], k.vectors
	for v.up > n {
		v.up--
		k.home(v.up)
	}
	if len(k.block.climb) > 0 {
		for i, c := range k.block.climb[number*blockSize:][:n] {
			f, n := v.lane(i)
			f.slow[n], f.bend[n] = float32(c.slow), c.bend
		}
	}
	k.passTogether(l, false)
	k.traceAll(0, n, l.high)
}

// fallTogether takes those of the first n flights down that are not to be
// skipped.
func (k *Kernel) fallTogether(l *layer, n int) {
	k.send(n)
	k.passTogether(l, true)
	k.traceAll(0, n, l.low)
}

// send sends those of the first n flights away that have not begun to fall.
func (k *Kernel) send(n int) {
	v := k.vectors
	if v.down == 0 {
		v.knot = -1 // the way down may have errors of its own
	}
	for ; v.down < n; v.down++ {
		if !k.block.birds[v.down].skip {
			k.away(v.down)
		}
	}
}

// span is how wide the first n flights are spread.
func (k *Kernel) span(n int) spanned {
	v := k.vectors
	if !v.ready {
		return k.block.span(n)
	}
	k.send(n)
	s := spanned{west: math.Inf(1), east: math.Inf(-1), south: math.Inf(1), north: math.Inf(-1)}
	var b bounds
	v.span(&b)
	for i := range lanes {
		s.west, s.east = min(s.west, float64(b.low[0][i])), max(s.east, float64(b.high[0][i]))
		s.south, s.north = min(s.south, float64(b.low[1][i])), max(s.north, float64(b.high[1][i]))
		s.gx = max(s.gx, -b.low[2][i], b.high[2][i])
		s.gy = max(s.gy, -b.low[3][i], b.high[3][i])
		s.slow = max(s.slow, float64(b.high[4][i]))
	}
	s.west, s.east = s.west+float64(v.baseX), s.east+float64(v.baseX)
	s.south, s.north = s.south+float64(v.baseY), s.north+float64(v.baseY)
	return s
}

// passTogether takes all flights that are away through a layer.
func (k *Kernel) passTogether(l *layer, falling bool) {
	v := k.vectors
	v.layer, v.way = &v.layers[v.places[l.whole.number]], up
	if falling {
		v.way = down
	}
	if v.rest++; v.passes > v.used*3/2 && v.rest > 7 {
		v.sort()
	}
	if v.knot != l.knot {
		v.takeErrors(k.block.err, l.knot)
	}
	v.staged, v.passes = 0, 0
	for g := range v.flocks[:v.used] {
		k.passFlock(l, g, falling)
	}
}

// passFlock takes a flock through a layer, those in one cell after those in
// another.
func (k *Kernel) passFlock(l *layer, g int, falling bool) {
	v := k.vectors
	f := &v.flocks[g]
	if f.away == 0 {
		return
	}
	if late := v.look(v.layer, f) & f.away; late != 0 {
		for ; late != 0; late &= late - 1 {
			k.turnClock(l, g*lanes+bits.TrailingZeros8(late), falling)
		}
		v.look(v.layer, f)
	}
	rest := f.away
	for i := 0; rest != 0; i++ {
		if i == v.staged {
			n := bits.TrailingZeros8(rest)
			if i = k.stage(l, f, n, falling); i < 0 {
				k.leave(l, g*lanes+n, falling)
				rest &^= 1 << n
				i = v.staged - 1
				continue
			}
		}
		s := &v.stages[i]
		here := v.in(s, f) & rest
		if here == 0 {
			continue
		}
		if falling {
			v.sink(v.layer, f, s, here)
		}
		v.step(v.layer, f, s, here)
		rest &^= here
		v.passes++
	}
}

// takeErrors gives the flocks the wind errors at a knot and the next, those of
// flights at home too: they may be away again before the next knot.
func (v *vectors) takeErrors(err *[blockSize]errors, knot int) {
	v.knot = knot
	for i := range v.flocks[:v.used] {
		v.flocks[i].takeErrors(err, (*[lanes]uint16)(v.who[i*lanes:]), knot)
	}
}

// leave hands on the flight in a lane.
func (k *Kernel) leave(l *layer, lane int, falling bool) {
	i := int(k.vectors.who[lane])
	k.home(i)
	if falling {
		k.hand(i, l.high, true)
		return
	}
	k.hand(i, l.low, false)
}

// stage makes one of a layer's cells that a flight of a flock is in ready for
// all; -1 where the forecast does not cover it.
func (k *Kernel) stage(l *layer, f *flock, n int, falling bool) int {
	v := k.vectors
	store := l.cells[v.way]
	ix, iy, interval := int(v.aim.ix[n])+v.baseX, int(v.aim.iy[n])+v.baseY, int(f.interval[n])
	key := newKey(ix, iy, interval)
	c := &store[slot(ix, iy, interval)&(places-1)]
	if c.key != key && !k.refill(c, key, &l.whole, l, place{ix, iy, interval}, falling) {
		return -1
	}
	i := v.staged
	if i == len(v.stages) {
		i = 0 // the first will do: they are all made again for the next layer
	} else {
		v.staged++
	}
	v.stages[i].fill(c, &v.aim, f, n)
	return i
}

// turnClock moves the flight in a lane on to the interval that it will be in
// half-way through a layer, or hands it on.
func (k *Kernel) turnClock(l *layer, lane int, falling bool) {
	i, f, n := int(k.vectors.who[lane]), &k.vectors.flocks[lane/lanes], lane%lanes
	b := &k.block.birds[i]
	k.peek(i)
	h := l.high - l.low
	if !k.seek(b.time+h/2*b.slow) || b.time+1.1*h*b.slow > k.end {
		k.leave(l, lane, falling)
		return
	}
	bend := f.bend[n]
	k.awayIn(i, k.now)
	f.bend[n] = bend
}
