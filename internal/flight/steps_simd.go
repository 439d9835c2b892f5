//go:build goexperiment.simd && amd64

package flight

import "simd/archsimd"

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

// mix writes a cell for each of eight flights.
func (s *stage) mix(c *[lanes]*cell) {
	for i := range s.form {
		turn(&s.form[i], c, i)
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

// turn writes the first coefficients of a form of eight cells into the first row,
// and so on.
func turn(to *[8][lanes]float32, c *[lanes]*cell, form int) {
	a0, a4 := archsimd.LoadFloat32x8(&c[0].form[form]), archsimd.LoadFloat32x8(&c[4].form[form])
	a1, a5 := archsimd.LoadFloat32x8(&c[1].form[form]), archsimd.LoadFloat32x8(&c[5].form[form])
	a2, a6 := archsimd.LoadFloat32x8(&c[2].form[form]), archsimd.LoadFloat32x8(&c[6].form[form])
	a3, a7 := archsimd.LoadFloat32x8(&c[3].form[form]), archsimd.LoadFloat32x8(&c[7].form[form])
	b0, b1 := a0.Select128FromPair(0, 2, a4), a1.Select128FromPair(0, 2, a5)
	b2, b3 := a2.Select128FromPair(0, 2, a6), a3.Select128FromPair(0, 2, a7)
	p, q := b0.SelectFromPairGrouped(0, 1, 4, 5, b1), b2.SelectFromPairGrouped(0, 1, 4, 5, b3)
	p.SelectFromPairGrouped(0, 2, 4, 6, q).Store(&to[0])
	p.SelectFromPairGrouped(1, 3, 5, 7, q).Store(&to[1])
	p, q = b0.SelectFromPairGrouped(2, 3, 6, 7, b1), b2.SelectFromPairGrouped(2, 3, 6, 7, b3)
	p.SelectFromPairGrouped(0, 2, 4, 6, q).Store(&to[2])
	p.SelectFromPairGrouped(1, 3, 5, 7, q).Store(&to[3])
	b0, b1 = a0.Select128FromPair(1, 3, a4), a1.Select128FromPair(1, 3, a5)
	b2, b3 = a2.Select128FromPair(1, 3, a6), a3.Select128FromPair(1, 3, a7)
	p, q = b0.SelectFromPairGrouped(0, 1, 4, 5, b1), b2.SelectFromPairGrouped(0, 1, 4, 5, b3)
	p.SelectFromPairGrouped(0, 2, 4, 6, q).Store(&to[4])
	p.SelectFromPairGrouped(1, 3, 5, 7, q).Store(&to[5])
	p, q = b0.SelectFromPairGrouped(2, 3, 6, 7, b1), b2.SelectFromPairGrouped(2, 3, 6, 7, b3)
	p.SelectFromPairGrouped(0, 2, 4, 6, q).Store(&to[6])
	p.SelectFromPairGrouped(1, 3, 5, 7, q).Store(&to[7])
	archsimd.ClearAVXUpperBits()
}

// look writes where a flock will be half-way through a layer. It says which of
// them leave their interval or may leave the forecast, and which are in the
// stage's one cell.
func (v *vectors) look(w *layerLanes, f *flock) (late, same uint8) {
	half := archsimd.LoadFloat32x8(&w.half)
	slow, t := archsimd.LoadFloat32x8(&f.slow), archsimd.LoadFloat32x8(&f.t)
	x := half.MulAdd(archsimd.LoadFloat32x8(&f.gx), archsimd.LoadFloat32x8(&f.x))
	y := half.MulAdd(archsimd.LoadFloat32x8(&f.gy), archsimd.LoadFloat32x8(&f.y))
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
	one := ix.Equal(archsimd.LoadInt32x8(&v.one.ix)).
		And(iy.Equal(archsimd.LoadInt32x8(&v.one.iy))).
		And(archsimd.LoadInt32x8(&f.interval).Equal(archsimd.LoadInt32x8(&v.one.interval)))
	late, same = ^inside.ToBits(), one.ToBits()
	archsimd.ClearAVXUpperBits()
	return late, same
}

// sink is how slowly a flock falls through a layer.
func (v *vectors) sink(w *layerLanes, f *flock, s *stage) {
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
	growth.Mul(still).Store(&f.slow)
	archsimd.ClearAVXUpperBits()
}

// step takes a flock through a layer with the wind errors at the knots below and
// above, as drift and sink take one flight.
func (v *vectors) step(w *layerLanes, f *flock, s *stage, err [][2][lanes]float32) {
	from, to := &err[0], &err[1]
	tilt, m := &s.form[ofTilt], &s.form[ofMetric]
	x, y, slow := archsimd.LoadFloat32x8(&v.aim.fx), archsimd.LoadFloat32x8(&v.aim.fy), archsimd.LoadFloat32x8(&f.slow)
	lower, upper := archsimd.LoadFloat32x8(&w.lower), archsimd.LoadFloat32x8(&w.upper)

	kx := y.MulAdd(archsimd.LoadFloat32x8(&m[3]), archsimd.LoadFloat32x8(&m[2]))
	kx = y.MulAdd(y.MulAdd(kx, archsimd.LoadFloat32x8(&m[1])), archsimd.LoadFloat32x8(&m[0])).Mul(slow)
	ky := y.MulAdd(archsimd.LoadFloat32x8(&m[toNorth+1]), archsimd.LoadFloat32x8(&m[toNorth])).Mul(slow)
	u, ux, uy := v.wind(s, 0)
	u = lower.MulAdd(archsimd.LoadFloat32x8(&from[0]), upper.MulAdd(archsimd.LoadFloat32x8(&to[0]), u))
	north, vx, vy := v.wind(s, toNorth)
	north = lower.MulAdd(archsimd.LoadFloat32x8(&from[1]), upper.MulAdd(archsimd.LoadFloat32x8(&to[1]), north))

	half, bend := archsimd.LoadFloat32x8(&w.half), archsimd.LoadFloat32x8(&f.bend)
	tx, ty := archsimd.LoadFloat32x8(&tilt[1]), archsimd.LoadFloat32x8(&tilt[2])
	t0 := archsimd.LoadFloat32x8(&tilt[0])
	u = bend.MulAdd(t0, u)
	dx := u.Mul(kx)
	ax := dx.Sub(archsimd.LoadFloat32x8(&f.gx)).Mul(half).Sub(kx.Mul(y.MulAdd(ty, x.MulAdd(tx, t0))))
	nx, ny := archsimd.LoadFloat32x8(&tilt[toNorth+1]), archsimd.LoadFloat32x8(&tilt[toNorth+2])
	n0 := archsimd.LoadFloat32x8(&tilt[toNorth])
	north = bend.MulAdd(n0, north)
	dy := north.Mul(ky)
	ay := dy.Sub(archsimd.LoadFloat32x8(&f.gy)).Mul(half).Sub(ky.Mul(y.MulAdd(ny, x.MulAdd(nx, n0))))

	u = uy.MulAdd(ay, ux.MulAdd(ax, u))
	u = slow.MulAdd(archsimd.LoadFloat32x8(&tilt[3]), dy.MulAdd(ty, dx.MulAdd(tx, u))).Mul(kx)
	north = vy.MulAdd(ay, vx.MulAdd(ax, north))
	north = slow.MulAdd(archsimd.LoadFloat32x8(&tilt[toNorth+3]), dy.MulAdd(ny, dx.MulAdd(nx, north))).Mul(ky)
	u.Store(&f.gx)
	north.Store(&f.gy)
	h := archsimd.LoadFloat32x8(&w.thick)
	add(&f.x, &f.xOver, u.Mul(h))
	add(&f.y, &f.yOver, north.Mul(h))
	add(&f.t, &f.tOver, slow.Mul(h))
	archsimd.ClearAVXUpperBits()
}

// wind is the wind where a flock will be, toward east or north, and its change
// with each column and row.
func (v *vectors) wind(s *stage, way int) (u, ux, uy archsimd.Float32x8) {
	w, trend := (*[4][lanes]float32)(s.form[ofWind][way:]), (*[4][lanes]float32)(s.form[ofTrend][way:])
	x, y, t := archsimd.LoadFloat32x8(&v.aim.fx), archsimd.LoadFloat32x8(&v.aim.fy), archsimd.LoadFloat32x8(&v.aim.ft)
	uxy := t.MulAdd(archsimd.LoadFloat32x8(&trend[3]), archsimd.LoadFloat32x8(&w[3]))
	ux = y.MulAdd(uxy, t.MulAdd(archsimd.LoadFloat32x8(&trend[1]), archsimd.LoadFloat32x8(&w[1])))
	uy = t.MulAdd(archsimd.LoadFloat32x8(&trend[2]), archsimd.LoadFloat32x8(&w[2]))
	u = t.MulAdd(archsimd.LoadFloat32x8(&trend[0]), archsimd.LoadFloat32x8(&w[0]))
	u = y.MulAdd(uy, x.MulAdd(ux, u))
	return u, ux, x.MulAdd(uxy, uy)
}

// add is a step of Kahan's sum.
func add(sum, over *[lanes]float32, more archsimd.Float32x8) {
	old := archsimd.LoadFloat32x8(sum)
	more = more.Sub(archsimd.LoadFloat32x8(over))
	now := old.Add(more)
	now.Sub(old).Sub(more).Store(over)
	now.Store(sum)
}
