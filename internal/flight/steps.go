package flight

// aim finds for flights of the block, from one up to the n-th, the cell of a
// layer that each will be in half-way through, as foretold from the steps before,
// and hands on those that leave what the forecast covers. It returns the first
// that it has not looked at: one whose cell is to be kept where another's still
// is.
func (k *Kernel) aim(l *layer, first, n int, falling bool) int {
	k.round++
	store, edge, ahead := l.cells[up], l.low, l.ahead[up]
	if falling {
		store, edge, ahead = l.cells[down], l.high, l.ahead[down]
	}
	half := (l.high - l.low) / 2
	near := float32(half)
	ends := 2.2 * half // a fall grows slower on the way
	for i := first; i < n; i++ {
		b := &k.block.birds[i]
		if b.skip {
			continue
		}
		tm := b.time + half*b.slow
		now := &k.intervals[b.interval]
		share := (tm - now.from) * now.scale
		if !(share >= 0 && share < 1) || b.time+ends*b.slow > k.end {
			if !k.seek(tm) || b.time+ends*b.slow > k.end {
				k.hand(i, edge, falling)
				continue
			}
			b.interval = int32(k.now)
			now = &k.intervals[k.now]
			share = (tm - now.from) * now.scale
		}
		xm, ym := b.x+float64(near*b.gx+ahead*b.hx), b.y+float64(near*b.gy+ahead*b.hy)
		ix, iy := int(xm), int(ym)
		key, at := newKey(ix, iy, int(b.interval)), slot(ix, iy, int(b.interval))
		c := &store[at&(places-1)]
		if c.key != key {
			if c.round == k.round {
				return i
			}
			if !k.refill(c, key, &l.whole, l, place{ix, iy, int(b.interval)}, falling) {
				k.hand(i, edge, falling)
				continue
			}
		}
		c.round = k.round
		b.fx, b.fy, b.ft = float32(xm-float64(ix)), float32(ym-float64(iy)), float32(share)
		b.cell = uint32(at)
	}
	return n
}

// rise takes the first n flights of the block up through a layer.
//
// The wind is the layer's mean where the flight is in the mean while it goes
// through, foretold from the two layers before. How the wind turns along the way
// while the height changes is added to first order.
func (k *Kernel) rise(number, n int) {
	if k.vectors.usable() {
		k.riseTogether(number, n)
		return
	}
	k.riseAlone(number, n)
	k.traceAll(0, n, k.layers[number].high)
}

// riseAlone is rise for each flight on its own.
func (k *Kernel) riseAlone(number, n int) {
	birds := k.block.birds[:n]
	var climbs []climb // none where all rise evenly
	if len(k.block.climb) > 0 {
		climbs = k.block.climb[number*blockSize:][:n]
		for i := range birds {
			birds[i].slow = climbs[i].slow
		}
	}
	l := &k.layers[number]
	for from := 0; from < n; {
		to := k.aim(l, from, n, false)
		k.drift(l, climbs, from, to)
		from = to
	}
}

// drift is rise for those flights whose cell is known.
func (k *Kernel) drift(l *layer, climbs []climb, from, to int) {
	h := l.high - l.low
	birds := k.block.birds[:to]
	err, knot, w1 := k.block.err, min(uint(2*l.knot), uint(2*knots-4)), l.weight
	w0 := 1 - w1
	store := l.cells[up]
	for i := from; i < to; i++ {
		b := &birds[i]
		if b.skip {
			continue
		}
		c := &store[b.cell&(places-1)]
		w, d, tilt, m := &c.form[ofWind], &c.form[ofTrend], &c.form[ofTilt], &c.form[ofMetric]
		fy, ft, s := b.fy, b.ft, float32(b.slow)
		kx := (m[0] + fy*m[1] + fy*fy*(m[2]+fy*m[3])) * s
		ky := (m[toNorth] + fy*m[toNorth+1]) * s
		fx := b.fx + s*m[leadEast]
		fy += s * m[leadNorth]
		e := (*[4]float32)(err[i][knot:])
		// In this order few sums wait for each other.
		u := w0*e[0] + w1*e[2] + (w[0] + ft*d[0]) + s*tilt[3]
		v := w0*e[1] + w1*e[3] + (w[toNorth] + ft*d[toNorth]) + s*tilt[toNorth+3]
		if i < len(climbs) {
			u += climbs[i].bend * tilt[0]
			v += climbs[i].bend * tilt[toNorth]
		}
		u = u + fx*(w[1]+ft*d[1]) + fy*(w[2]+ft*d[2]+fx*(w[3]+ft*d[3]))
		v = v + fx*(w[toNorth+1]+ft*d[toNorth+1]) + fy*(w[toNorth+2]+ft*d[toNorth+2]+fx*(w[toNorth+3]+ft*d[toNorth+3]))
		dx, dy := u*kx, v*ky
		b.step(dx*(1+kx*tilt[1])+dy*(kx*tilt[2]), dx*(ky*tilt[toNorth+1])+dy*(1+ky*tilt[toNorth+2]), h)
	}
}

// step takes a flight through a layer so thick, so many columns and rows for
// each metre and as slowly as it is.
func (b *bird) step(gx, gy float32, thick float64) {
	b.hx, b.hy = gx-b.gx, gy-b.gy
	b.gx, b.gy = gx, gy
	b.x += float64(gx) * thick
	b.y += float64(gy) * thick
	b.time += b.slow * thick
}

// fall takes the first n flights of the block down through a layer, but those
// that are to be skipped, as rise takes them up. No ground is looked for.
func (k *Kernel) fall(l *layer, n int) {
	if k.vectors.usable() {
		k.fallTogether(l, n)
		return
	}
	k.fallAlone(l, 0, n)
}

// fallAlone is fall for each flight on its own, from one up to the n-th.
func (k *Kernel) fallAlone(l *layer, first, n int) {
	for from := first; from < n; {
		to := k.aim(l, from, n, true)
		k.sink(l, from, to)
		from = to
	}
	k.traceAll(first, n, l.low)
}

// sink is fall for those flights whose cell is known.
func (k *Kernel) sink(l *layer, from, to int) {
	h := l.high - l.low
	birds := k.block.birds[:to]
	err, knot, w1 := k.block.err, min(uint(2*l.knot), uint(2*knots-4)), l.weight
	w0 := 1 - w1
	store, root := l.cells[down], l.whole.root
	for i := from; i < to; i++ {
		b := &birds[i]
		if b.skip {
			continue
		}
		c := &store[b.cell&(places-1)]
		w, d, tilt, m := &c.form[ofWind], &c.form[ofTrend], &c.form[ofTilt], &c.form[ofMetric]
		air, fx, fy, ft := &c.form[ofAir], b.fx, b.fy, b.ft
		g := air[0] + ft*air[airTrend] + fx*(air[1]+ft*air[airTrend+1]) +
			fy*(air[2]+ft*air[airTrend+2]+fx*(air[3]+ft*air[airTrend+3]))
		b.slow = float64(1+g*(1+g*(0.5+g*(1.0/6)))) * b.landing * root
		s := float32(b.slow)
		kx := (m[0] + fy*m[1] + fy*fy*(m[2]+fy*m[3])) * s
		ky := (m[toNorth] + fy*m[toNorth+1]) * s
		fx += s * m[leadEast]
		fy += s * m[leadNorth]
		e := (*[4]float32)(err[i][knot:])
		// In this order few sums wait for each other.
		u := w0*e[0] + w1*e[2] + (w[0] + ft*d[0]) + s*tilt[3]
		v := w0*e[1] + w1*e[3] + (w[toNorth] + ft*d[toNorth]) + s*tilt[toNorth+3]
		u = u + fx*(w[1]+ft*d[1]) + fy*(w[2]+ft*d[2]+fx*(w[3]+ft*d[3]))
		v = v + fx*(w[toNorth+1]+ft*d[toNorth+1]) + fy*(w[toNorth+2]+ft*d[toNorth+2]+fx*(w[toNorth+3]+ft*d[toNorth+3]))
		dx, dy := u*kx, v*ky
		b.step(dx*(1+kx*tilt[1])+dy*(kx*tilt[2]), dx*(ky*tilt[toNorth+1])+dy*(1+ky*tilt[toNorth+2]), h)
	}
}

// traceAll notes where flights are, from one up to the n-th, if paths are asked
// for.
func (k *Kernel) traceAll(first, n int, z float64) {
	if !k.Trace || z > k.TraceTop+thickest {
		return
	}
	for i := first; i < n; i++ {
		if !k.block.birds[i].skip {
			k.peek(i)
			k.trace(i, z)
		}
	}
}
