//go:build goexperiment.simd && amd64

package flight

import (
	"math"
	"math/bits"
	"simd/archsimd"
)

// vectors is the flights of a block that go through whole layers, eight in a
// flock, in float32. What a flight does in part of a layer, and where it ends,
// it does as a bird: it comes home for that and goes away again.
//
// No float but those in vectors is touched between the first vector of a layer
// and the last: to the processor that would be a change of mode. So all that is
// the same for all eight lies in memory eight times.
type vectors struct {
	ready        bool
	plain        bool // flies as without vectors; for tests
	baseX, baseY int  // places are counted from this column and row
	up, down     int  // flights not yet turned, and those that have begun to fall
	flocks       [blockSize / lanes]flock
	one          stage // of flocks that are all in one cell
	mixed        stage
	spare        [lanes]cell
	aim          aim
	root         [lanes]float32
	zero, unit   [lanes]float32
	half, sixth  [lanes]float32
}

// flock is eight flights. A sum is a float and what has been rounded up in it.
type flock struct {
	x, xOver, y, yOver [lanes]float32 // columns and rows from the base
	t, tOver           [lanes]float32 // s since the interval's first step
	gx, gy, slow       [lanes]float32 // as a bird's
	landing            [lanes]float32 // as a bird's
	bend               [lanes]float32 // as a climb's
	scale, left        [lanes]float32 // 1/s of the interval, and s from its first step to the forecast's end
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
}

func fillLanes(v float64) (a [lanes]float32) {
	for i := range a {
		a[i] = float32(v)
	}
	return a
}

func (v *vectors) prepare(k *Kernel) {
	v.ready = !v.plain && archsimd.X86.AVX2() && archsimd.X86.FMA()
	if !v.ready {
		return
	}
	v.baseX, v.baseY = int(k.x), int(k.y)
	v.unit, v.half, v.sixth = fillLanes(1), fillLanes(0.5), fillLanes(1.0/6)
	for i := range k.layers {
		l := &k.layers[i]
		h := l.high - l.low
		l.lanes = layerLanes{
			fillLanes(h), fillLanes(h / 2), fillLanes(1.1 * h),
			fillLanes(float64(1 - l.weight)), fillLanes(float64(l.weight)), fillLanes(l.whole.root),
		}
	}
}

func (v *vectors) usable() bool { return v.ready }

// depart sends all flights of a block away.
func (k *Kernel) depart() {
	v := &k.vectors
	for i := range v.flocks {
		v.flocks[i].away = 0
	}
	if !v.ready {
		return
	}
	v.up, v.down = k.block.n, 0
	for i := range k.block.n {
		k.away(i)
	}
}

// away sends a flight away, into the interval of its time.
func (k *Kernel) away(i int) {
	if !k.vectors.ready {
		return
	}
	k.seek(k.block.birds[i].time) // outside the forecast the last interval will do: it is handed on
	k.awayIn(i, k.now.number)
}

func (k *Kernel) awayIn(i, interval int) {
	b, f, n := &k.block.birds[i], &k.vectors.flocks[i/lanes], i%lanes
	from, to := k.times[interval], k.times[interval+1]
	split(b.x-float64(k.vectors.baseX), &f.x[n], &f.xOver[n])
	split(b.y-float64(k.vectors.baseY), &f.y[n], &f.yOver[n])
	split(b.time-from, &f.t[n], &f.tOver[n])
	f.gx[n], f.gy[n], f.slow[n], f.landing[n] = b.gx, b.gy, float32(b.slow), float32(b.landing)
	f.bend[n] = 0
	f.scale[n], f.left[n], f.interval[n] = float32(1/(to-from)), float32(k.end-from), int32(interval)
	f.away |= 1 << n
}

func split(v float64, rounded, over *float32) {
	*rounded = float32(v)
	*over = float32(float64(*rounded) - v)
}

// peek writes into a bird where it is, if it is away.
func (k *Kernel) peek(i int) {
	b, f, n := &k.block.birds[i], &k.vectors.flocks[i/lanes], i%lanes
	if f.away>>n&1 == 0 {
		return
	}
	b.x = float64(k.vectors.baseX) + (float64(f.x[n]) - float64(f.xOver[n]))
	b.y = float64(k.vectors.baseY) + (float64(f.y[n]) - float64(f.yOver[n]))
	b.time = k.times[f.interval[n]] + (float64(f.t[n]) - float64(f.tOver[n]))
	b.gx, b.gy, b.slow = f.gx[n], f.gy[n], float64(f.slow[n])
}

// home brings a flight back, if it is away.
func (k *Kernel) home(i int) {
	k.peek(i)
	k.vectors.flocks[i/lanes].away &^= 1 << (i % lanes)
}

// riseTogether takes the first n flights of the block up through a layer.
func (k *Kernel) riseTogether(number, n int) {
	l, v := &k.layers[number], &k.vectors
	for v.up > n {
		v.up--
		k.home(v.up)
	}
	v.one.empty()
	for i := 0; i < n; i += lanes {
		f := &v.flocks[i/lanes]
		if len(k.block.climb) > 0 {
			for n, c := range k.block.climb[number*blockSize+i:][:lanes] {
				f.slow[n], f.bend[n] = float32(c.slow), c.bend
			}
		}
		if s := k.aimTogether(l, i, false); s != nil {
			v.step(&l.lanes, f, s, k.block.err[i/lanes][l.knot:])
		}
	}
	k.traceAll(n, l.high)
}

// fallTogether takes those of the first n flights down that are not to be
// skipped.
func (k *Kernel) fallTogether(number, n int) {
	l, v := &k.layers[number], &k.vectors
	for ; v.down < n; v.down++ {
		if !k.block.birds[v.down].skip {
			k.away(v.down)
		}
	}
	v.one.empty()
	for i := 0; i < n; i += lanes {
		f := &v.flocks[i/lanes]
		if s := k.aimTogether(l, i, true); s != nil {
			v.sink(&l.lanes, f, s)
			v.step(&l.lanes, f, s, k.block.err[i/lanes][l.knot:])
		}
	}
	k.traceAll(n, l.low)
}

// aimTogether finds for the flock of a flight the cells of a layer that they
// will be in half-way through, as aim does; nil where none is left.
func (k *Kernel) aimTogether(l *layer, first int, falling bool) *stage {
	v := &k.vectors
	f := &v.flocks[first/lanes]
	if f.away == 0 {
		return nil
	}
	late, same := v.look(&l.lanes, f)
	if late&f.away == 0 && ^same&f.away == 0 {
		return &v.one
	}
	if late &= f.away; late != 0 {
		for ; late != 0; late &= late - 1 {
			k.turnClock(l, first+bits.TrailingZeros8(late), falling)
		}
		v.look(&l.lanes, f)
	}
	return k.gather(l, first, falling)
}

// turnClock moves a flight on to the interval that it will be in half-way
// through a layer, or hands it on.
func (k *Kernel) turnClock(l *layer, i int, falling bool) {
	b := &k.block.birds[i]
	k.home(i)
	h, edge := l.high-l.low, l.low
	if falling {
		edge = l.high
	}
	if !k.seek(b.time+h/2*b.slow) || b.time+1.1*h*b.slow > k.end {
		k.hand(i, edge, falling)
		return
	}
	bend := k.vectors.flocks[i/lanes].bend[i%lanes]
	k.awayIn(i, k.now.number)
	k.vectors.flocks[i/lanes].bend[i%lanes] = bend
}

// gather stages the cells of the flock of a flight; nil where all are handed on.
func (k *Kernel) gather(l *layer, first int, falling bool) *stage {
	v := &k.vectors
	f := &v.flocks[first/lanes]
	store, edge := l.up, l.low
	if falling {
		store, edge = l.down, l.high
	}
	k.round++
	var cells [lanes]*cell
	var some *cell
	var last int
	alone := true
	for rest := f.away; rest != 0; rest &= rest - 1 {
		n := bits.TrailingZeros8(rest)
		ix, iy, interval := int(v.aim.ix[n])+v.baseX, int(v.aim.iy[n])+v.baseY, int(f.interval[n])
		key := newKey(ix, iy, interval)
		c := &store[slot(ix, iy, interval)&(places-1)]
		if c.key != key {
			if c.round == k.round {
				v.keep(&cells, c)
			}
			if !k.refill(c, key, &l.whole, place{ix, iy, interval}, falling) {
				k.home(first + n)
				k.hand(first+n, edge, falling)
				continue
			}
		}
		c.round = k.round
		cells[n] = c
		alone = alone && (some == nil || some == c)
		some, last = c, n
	}
	if some == nil {
		return nil
	}
	if alone {
		v.one.fill(some, &v.aim, f, last)
		return &v.one
	}
	for n, c := range cells {
		if c == nil {
			cells[n] = some
		}
	}
	v.mixed.mix(&cells)
	return &v.mixed
}

// keep copies a cell that some of a flock are in, as its place is wanted.
func (v *vectors) keep(cells *[lanes]*cell, c *cell) {
	for n := range cells {
		if cells[n] == c {
			v.spare[n] = *c
			cells[n] = &v.spare[n]
		}
	}
}

// empty makes a stage that no flight is in.
func (s *stage) empty() {
	for n := range lanes {
		s.interval[n] = math.MaxInt32
	}
}
