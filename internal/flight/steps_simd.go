//go:build goexperiment.simd && amd64

package flight

import (
	"math"
	"simd/archsimd"
)

// stage is the coefficients of eight flights' cells, one row for each.
type stage struct {
	ix, iy, interval [lanes]int32 // of the one cell, if it is one
	form             [forms][8][lanes]float32
}

// fill writes the cell of one of a flock's flights for all eight.
func (s *stage) fill(c *cell, a *aim, f *flock, n int) {
	for i := range lanes {
		s.ix[i], s.iy[i], s.interval[i] = a.ix[n], a.iy[n], f.interval[n]
	}
	for i := range s.form {
		spread(&s.form[i], &c.form[i])
	}
}

// spread writes each of eight numbers into all lanes of a row.
func spread(to *[8][lanes]float32, from *[8]float32) {
	all := archsimd.LoadFloat32x8(from)
	low, high := all.Select128FromPair(0, 0, all), all.Select128FromPair(1, 1, all)
	low.SelectFromPairGrouped(0, 0, 4, 4, low).Store(&to[0])
	low.SelectFromPairGrouped(1, 1, 5, 5, low).Store(&to[1])
	low.SelectFromPairGrouped(2, 2, 6, 6, low).Store(&to[2])
	low.SelectFromPairGrouped(3, 3, 7, 7, low).Store(&to[3])
	high.SelectFromPairGrouped(0, 0, 4, 4, high).Store(&to[4])
	high.SelectFromPairGrouped(1, 1, 5, 5, high).Store(&to[5])
	high.SelectFromPairGrouped(2, 2, 6, 6, high).Store(&to[6])
	high.SelectFromPairGrouped(3, 3, 7, 7, high).Store(&to[7])
	archsimd.ClearAVXUpperBits()
}

// look writes where a flock will be half-way through a layer. It says which of
// them leave their interval or may leave the forecast, and which are in the
// stage's one cell.
func (v *vectors) look(w *layerLanes, f *flock) (late uint8) {
	half := archsimd.LoadFloat32x8(&w.half)
	slow, t := archsimd.LoadFloat32x8(&f.slow), archsimd.LoadFloat32x8(&f.t)
	ahead := archsimd.LoadFloat32x8(&w.ahead[v.way])
	x := ahead.MulAdd(archsimd.LoadFloat32x8(&f.hx), half.MulAdd(archsimd.LoadFloat32x8(&f.gx), archsimd.LoadFloat32x8(&f.x)))
	y := ahead.MulAdd(archsimd.LoadFloat32x8(&f.hy), half.MulAdd(archsimd.LoadFloat32x8(&f.gy), archsimd.LoadFloat32x8(&f.y)))
	share := half.MulAdd(slow, t).Mul(archsimd.LoadFloat32x8(&f.scale))
	column, row := x.Floor(), y.Floor()
	x.Sub(column).Store(&v.aim.fx)
	y.Sub(row).Store(&v.aim.fy)
	share.Store(&v.aim.ft)
	ix, iy := column.ConvertToInt32(), row.ConvertToInt32()
	ix.Store(&v.aim.ix)
	iy.Store(&v.aim.iy)
	inside := share.GreaterEqual(archsimd.LoadFloat32x8(&v.zero)).
		And(share.Less(archsimd.LoadFloat32x8(&v.unit))).
		And(archsimd.LoadFloat32x8(&w.ends).MulAdd(slow, t).LessEqual(archsimd.LoadFloat32x8(&f.left)))
	late = ^inside.ToBits()
	archsimd.ClearAVXUpperBits()
	return late
}

// in says which of a flock are in a stage's cell half-way through.
func (v *vectors) in(s *stage, f *flock) uint8 {
	here := archsimd.LoadInt32x8(&v.aim.ix).Equal(archsimd.LoadInt32x8(&s.ix)).
		And(archsimd.LoadInt32x8(&v.aim.iy).Equal(archsimd.LoadInt32x8(&s.iy))).
		And(archsimd.LoadInt32x8(&f.interval).Equal(archsimd.LoadInt32x8(&s.interval))).ToBits()
	archsimd.ClearAVXUpperBits()
	return here
}

// these are the lanes whose bits are set.
func (v *vectors) these(lanes uint8) archsimd.Mask32x8 {
	bit := archsimd.LoadInt32x8(&v.bit)
	return archsimd.BroadcastInt32x8(int32(lanes)).And(bit).Equal(bit)
}

// sink is how slowly a flock falls through a layer.
func (v *vectors) sink(w *layerLanes, f *flock, s *stage, here uint8) {
	a := &s.form[ofAir]
	x, y, t := archsimd.LoadFloat32x8(&v.aim.fx), archsimd.LoadFloat32x8(&v.aim.fy), archsimd.LoadFloat32x8(&v.aim.ft)
	d0 := t.MulAdd(archsimd.LoadFloat32x8(&a[airTrend]), archsimd.LoadFloat32x8(&a[0]))
	d1 := t.MulAdd(archsimd.LoadFloat32x8(&a[airTrend+1]), archsimd.LoadFloat32x8(&a[1]))
	d2 := t.MulAdd(archsimd.LoadFloat32x8(&a[airTrend+2]), archsimd.LoadFloat32x8(&a[2]))
	d3 := t.MulAdd(archsimd.LoadFloat32x8(&a[airTrend+3]), archsimd.LoadFloat32x8(&a[3]))
	d := y.MulAdd(x.MulAdd(d3, d2), x.MulAdd(d1, d0))
	unit := archsimd.LoadFloat32x8(&v.unit)
	growth := d.MulAdd(archsimd.LoadFloat32x8(&v.sixth), archsimd.LoadFloat32x8(&v.half))
	growth = d.MulAdd(d.MulAdd(growth, unit), unit)
	still := archsimd.LoadFloat32x8(&f.landing).Mul(archsimd.LoadFloat32x8(&w.root))
	growth.Mul(still).Merge(archsimd.LoadFloat32x8(&f.slow), v.these(here)).Store(&f.slow)
	archsimd.ClearAVXUpperBits()
}

// step takes a flock through a layer with the wind errors at the knots below and
// above, as drift and sink take one flight.
func (v *vectors) step(w *layerLanes, f *flock, s *stage, here uint8) {
	from, to := &f.from, &f.to
	tilt, m := &s.form[ofTilt], &s.form[ofMetric]
	x, y, slow := archsimd.LoadFloat32x8(&v.aim.fx), archsimd.LoadFloat32x8(&v.aim.fy), archsimd.LoadFloat32x8(&f.slow)
	lower, upper := archsimd.LoadFloat32x8(&w.lower), archsimd.LoadFloat32x8(&w.upper)

	kx := y.MulAdd(archsimd.LoadFloat32x8(&m[3]), archsimd.LoadFloat32x8(&m[2]))
	kx = y.MulAdd(y.MulAdd(kx, archsimd.LoadFloat32x8(&m[1])), archsimd.LoadFloat32x8(&m[0])).Mul(slow)
	ky := y.MulAdd(archsimd.LoadFloat32x8(&m[toNorth+1]), archsimd.LoadFloat32x8(&m[toNorth])).Mul(slow)
	x = slow.MulAdd(archsimd.LoadFloat32x8(&m[leadEast]), x)
	y = slow.MulAdd(archsimd.LoadFloat32x8(&m[leadNorth]), y)
	bend := archsimd.LoadFloat32x8(&f.bend)
	u := lower.MulAdd(archsimd.LoadFloat32x8(&from[0]), upper.MulAdd(archsimd.LoadFloat32x8(&to[0]), v.wind(s, 0, x, y)))
	u = bend.MulAdd(archsimd.LoadFloat32x8(&tilt[0]), slow.MulAdd(archsimd.LoadFloat32x8(&tilt[3]), u))
	north := lower.MulAdd(archsimd.LoadFloat32x8(&from[1]), upper.MulAdd(archsimd.LoadFloat32x8(&to[1]), v.wind(s, toNorth, x, y)))
	north = bend.MulAdd(archsimd.LoadFloat32x8(&tilt[toNorth]), slow.MulAdd(archsimd.LoadFloat32x8(&tilt[toNorth+3]), north))

	dx, dy := u.Mul(kx), north.Mul(ky)
	gx := kx.Mul(archsimd.LoadFloat32x8(&tilt[1])).MulAdd(dx, kx.Mul(archsimd.LoadFloat32x8(&tilt[2])).MulAdd(dy, dx))
	gy := ky.Mul(archsimd.LoadFloat32x8(&tilt[toNorth+1])).MulAdd(dx, ky.Mul(archsimd.LoadFloat32x8(&tilt[toNorth+2])).MulAdd(dy, dy))
	some := v.these(here)
	oldX, oldY := archsimd.LoadFloat32x8(&f.gx), archsimd.LoadFloat32x8(&f.gy)
	gx.Sub(oldX).Merge(archsimd.LoadFloat32x8(&f.hx), some).Store(&f.hx)
	gy.Sub(oldY).Merge(archsimd.LoadFloat32x8(&f.hy), some).Store(&f.hy)
	gx.Merge(oldX, some).Store(&f.gx)
	gy.Merge(oldY, some).Store(&f.gy)
	h := archsimd.LoadFloat32x8(&w.thick)
	add(&f.x, &f.xOver, some, gx.Mul(h))
	add(&f.y, &f.yOver, some, gy.Mul(h))
	add(&f.t, &f.tOver, some, slow.Mul(h))
	archsimd.ClearAVXUpperBits()
}

// wind is the wind in a cell where a flock will be, toward east or north.
func (v *vectors) wind(s *stage, way int, x, y archsimd.Float32x8) archsimd.Float32x8 {
	w, trend := (*[4][lanes]float32)(s.form[ofWind][way:]), (*[4][lanes]float32)(s.form[ofTrend][way:])
	t := archsimd.LoadFloat32x8(&v.aim.ft)
	u := t.MulAdd(archsimd.LoadFloat32x8(&trend[0]), archsimd.LoadFloat32x8(&w[0]))
	u = x.MulAdd(t.MulAdd(archsimd.LoadFloat32x8(&trend[1]), archsimd.LoadFloat32x8(&w[1])), u)
	xy := t.MulAdd(archsimd.LoadFloat32x8(&trend[3]), archsimd.LoadFloat32x8(&w[3]))
	return y.MulAdd(x.MulAdd(xy, t.MulAdd(archsimd.LoadFloat32x8(&trend[2]), archsimd.LoadFloat32x8(&w[2]))), u)
}

// add is a step of Kahan's sum.
func add(sum, over *[lanes]float32, some archsimd.Mask32x8, more archsimd.Float32x8) {
	old, rest := archsimd.LoadFloat32x8(sum), archsimd.LoadFloat32x8(over)
	more = more.Sub(rest)
	now := old.Add(more)
	now.Sub(old).Sub(more).Merge(rest, some).Store(over)
	now.Merge(old, some).Store(sum)
}

// takeErrors gives a flock the wind errors at a knot and the next.
func (f *flock) takeErrors(err *[blockSize]errors, who *[lanes]uint16, knot int) {
	// East and north at the one knot and at the other, of two flights at a time.
	a, b := around(err, who[0], who[4], knot), around(err, who[1], who[5], knot)
	c, d := around(err, who[2], who[6], knot), around(err, who[3], who[7], knot)
	east, more := a.SelectFromPairGrouped(0, 2, 4, 6, b), c.SelectFromPairGrouped(0, 2, 4, 6, d)
	east.SelectFromPairGrouped(0, 2, 4, 6, more).Store(&f.from[0])
	east.SelectFromPairGrouped(1, 3, 5, 7, more).Store(&f.to[0])
	north, more := a.SelectFromPairGrouped(1, 3, 5, 7, b), c.SelectFromPairGrouped(1, 3, 5, 7, d)
	north.SelectFromPairGrouped(0, 2, 4, 6, more).Store(&f.from[1])
	north.SelectFromPairGrouped(1, 3, 5, 7, more).Store(&f.to[1])
	archsimd.ClearAVXUpperBits()
}

// around are two flights' errors at a knot and the next.
func around(err *[blockSize]errors, i, j uint16, knot int) archsimd.Float32x8 {
	var zero archsimd.Float32x8
	return zero.SetLo(archsimd.LoadFloat32x4(err[i].at(knot))).SetHi(archsimd.LoadFloat32x4(err[j].at(knot)))
}

// take writes what is given from mean sea level up, and as much of each.
func (e *errors) take(east, north []float64) {
	n := len(east)
	north = north[:n]
	j := 0
	if archsimd.X86.AVX2() {
		for ; j+4 <= n; j += 4 {
			a := archsimd.LoadFloat64x4((*[4]float64)(east[j:])).ConvertToFloat32()
			b := archsimd.LoadFloat64x4((*[4]float64)(north[j:])).ConvertToFloat32()
			low := a.AsInt32x4().InterleaveLo(b.AsInt32x4()).AsFloat32x4()
			high := a.AsInt32x4().InterleaveHi(b.AsInt32x4()).AsFloat32x4()
			low.Store((*[4]float32)(e[2*j:]))
			high.Store((*[4]float32)(e[2*j+4:]))
		}
		archsimd.ClearAVXUpperBits()
	}
	for ; j < n; j++ {
		e[2*j], e[2*j+1] = float32(east[j]), float32(north[j])
	}
}

// bounds are the lowest and the highest x, y, gx, gy and slowness in each lane.
type bounds struct{ low, high [5][lanes]float32 }

// span finds the bounds of all flights that are away.
func (v *vectors) span(b *bounds) {
	for i := range b.low {
		b.low[i], b.high[i] = fillLanes(math.Inf(1)), fillLanes(math.Inf(-1))
	}
	for i := range v.flocks[:v.used] {
		f := &v.flocks[i]
		if f.away == 0 {
			continue
		}
		some := v.these(f.away)
		for j, of := range [...]*[lanes]float32{&f.x, &f.y, &f.gx, &f.gy, &f.slow} {
			value := archsimd.LoadFloat32x8(of)
			low, high := archsimd.LoadFloat32x8(&b.low[j]), archsimd.LoadFloat32x8(&b.high[j])
			low.Min(value).Merge(low, some).Store(&b.low[j])
			high.Max(value).Merge(high, some).Store(&b.high[j])
		}
	}
	archsimd.ClearAVXUpperBits()
}
