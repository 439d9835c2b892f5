package flight

// aim finds for flights of the block, from one up to the n-th, the cell of a
// layer that each will be in half-way through, as foretold from the step before,
// and hands on those that leave what the forecast covers. It returns the first
// that it has not looked at: one whose cell is to be kept where another's still
// is.
func (k *Kernel) aim(l *layer, first, n int, falling bool) int {
	k.round++
	store, edge := l.up, l.low
	if falling {
		store, edge = l.down, l.high
	}
	half := (l.high - l.low) / 2
	ends := 2.2 * half // a fall grows slower on the way
	now := k.now
	base, flip := newKey(0, 0, now.number), slot(0, 0, now.number)
	for i := first; i < n; i++ {
		b := &k.block.birds[i]
		if b.skip {
			continue
		}
		tm := b.time + half*b.slow
		share := (tm - now.from) * now.scale
		if !(share >= 0 && share < 1) || b.time+ends*b.slow > k.end {
			if !k.seek(tm) || b.time+ends*b.slow > k.end {
				k.hand(i, edge, falling)
				continue
			}
			now = k.now
			base, flip = newKey(0, 0, now.number), slot(0, 0, now.number)
			share = (tm - now.from) * now.scale
		}
		xm, ym := b.x+half*float64(b.gx), b.y+half*float64(b.gy)
		ix, iy := int(xm), int(ym)
		key := base | newKey(ix, iy, 0)
		at := slot(ix, iy, 0) ^ flip
		c := &store[at&(places-1)]
		if c.key != key {
			if c.round == k.round {
				return i
			}
			if !k.refill(c, key, &l.whole, place{ix, iy, now.number}, falling) {
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
// The wind is the layer's mean where the flight is half-way through. What the
// flight is off that place in the mean, and how the wind turns along the way
// while the height changes, is added to first order.
func (k *Kernel) rise(number, n int) {
	if k.vectors.usable() {
		k.riseTogether(number, n)
		return
	}
	l := &k.layers[number]
	birds := k.block.birds[:n]
	var climbs []climb // none where all rise evenly
	if len(k.block.climb) > 0 {
		climbs = k.block.climb[number*blockSize:][:n]
		for i := range birds {
			birds[i].slow = climbs[i].slow
		}
	}
	for from := 0; from < n; {
		to := k.aim(l, from, n, false)
		k.drift(l, climbs, from, to)
		from = to
	}
	k.traceAll(n, l.high)
}

// drift is rise for those flights whose cell is known.
func (k *Kernel) drift(l *layer, climbs []climb, from, to int) {
	h := l.high - l.low
	birds := k.block.birds[:to]
	half, knot, w1 := float32(h/2), l.knot, l.weight
	w0 := 1 - w1
	store := l.up
	for i := from; i < to; i++ {
		b := &birds[i]
		if b.skip {
			continue
		}
		c := &store[b.cell&(places-1)]
		fx, fy, ft, s := b.fx, b.fy, b.ft, float32(b.slow)
		kx := (c.form[ofMetric][0] + fy*(c.form[ofMetric][1]+fy*(c.form[ofMetric][2]+fy*c.form[ofMetric][3]))) * s
		ky := (c.form[ofMetric][toNorth] + fy*c.form[ofMetric][toNorth+1]) * s
		e := k.block.err[i].at(knot)
		uxy := c.form[ofWind][3] + ft*c.form[ofTrend][3]
		ux, uy := c.form[ofWind][1]+ft*c.form[ofTrend][1]+fy*uxy, c.form[ofWind][2]+ft*c.form[ofTrend][2]
		u := c.form[ofWind][0] + ft*c.form[ofTrend][0] + fx*ux + fy*uy + w0*e[0] + w1*e[2]
		uy += fx * uxy
		vxy := c.form[ofWind][toNorth+3] + ft*c.form[ofTrend][toNorth+3]
		vx, vy := c.form[ofWind][toNorth+1]+ft*c.form[ofTrend][toNorth+1]+fy*vxy, c.form[ofWind][toNorth+2]+ft*c.form[ofTrend][toNorth+2]
		v := c.form[ofWind][toNorth] + ft*c.form[ofTrend][toNorth] + fx*vx + fy*vy + w0*e[1] + w1*e[3]
		vy += fx * vxy
		if i < len(climbs) {
			u += climbs[i].bend * c.form[ofTilt][0]
			v += climbs[i].bend * c.form[ofTilt][toNorth]
		}
		dx, dy := u*kx, v*ky
		ax := (dx-b.gx)*half - kx*(c.form[ofTilt][0]+fx*c.form[ofTilt][1]+fy*c.form[ofTilt][2])
		ay := (dy-b.gy)*half - ky*(c.form[ofTilt][toNorth]+fx*c.form[ofTilt][toNorth+1]+fy*c.form[ofTilt][toNorth+2])
		b.gx = (u + ux*ax + uy*ay + dx*c.form[ofTilt][1] + dy*c.form[ofTilt][2] + s*c.form[ofTilt][3]) * kx
		b.gy = (v + vx*ax + vy*ay + dx*c.form[ofTilt][toNorth+1] + dy*c.form[ofTilt][toNorth+2] + s*c.form[ofTilt][toNorth+3]) * ky
		b.x += float64(b.gx) * h
		b.y += float64(b.gy) * h
		b.time += b.slow * h
	}
}

// fall takes the first n flights of the block down through a layer, but those
// that are to be skipped, as rise takes them up. No ground is looked for.
func (k *Kernel) fall(number, n int) {
	if k.vectors.usable() {
		k.fallTogether(number, n)
		return
	}
	l := &k.layers[number]
	for from := 0; from < n; {
		to := k.aim(l, from, n, true)
		k.sink(l, from, to)
		from = to
	}
	k.traceAll(n, l.low)
}

// sink is fall for those flights whose cell is known.
func (k *Kernel) sink(l *layer, from, to int) {
	h := l.high - l.low
	birds := k.block.birds[:to]
	half, knot, w1 := float32(h/2), l.knot, l.weight
	w0 := 1 - w1
	store, root := l.down, l.whole.root
	for i := from; i < to; i++ {
		b := &birds[i]
		if b.skip {
			continue
		}
		c := &store[b.cell&(places-1)]
		fx, fy, ft := b.fx, b.fy, b.ft
		d := c.form[ofAir][0] + ft*c.form[ofAir][airTrend] + fx*(c.form[ofAir][1]+ft*c.form[ofAir][airTrend+1]) +
			fy*(c.form[ofAir][2]+ft*c.form[ofAir][airTrend+2]+fx*(c.form[ofAir][3]+ft*c.form[ofAir][airTrend+3]))
		b.slow = float64(1+d*(1+d*(0.5+d*(1.0/6)))) * b.landing * root
		s := float32(b.slow)
		kx := (c.form[ofMetric][0] + fy*(c.form[ofMetric][1]+fy*(c.form[ofMetric][2]+fy*c.form[ofMetric][3]))) * s
		ky := (c.form[ofMetric][toNorth] + fy*c.form[ofMetric][toNorth+1]) * s
		e := k.block.err[i].at(knot)
		uxy := c.form[ofWind][3] + ft*c.form[ofTrend][3]
		ux, uy := c.form[ofWind][1]+ft*c.form[ofTrend][1]+fy*uxy, c.form[ofWind][2]+ft*c.form[ofTrend][2]
		u := c.form[ofWind][0] + ft*c.form[ofTrend][0] + fx*ux + fy*uy + w0*e[0] + w1*e[2]
		uy += fx * uxy
		vxy := c.form[ofWind][toNorth+3] + ft*c.form[ofTrend][toNorth+3]
		vx, vy := c.form[ofWind][toNorth+1]+ft*c.form[ofTrend][toNorth+1]+fy*vxy, c.form[ofWind][toNorth+2]+ft*c.form[ofTrend][toNorth+2]
		v := c.form[ofWind][toNorth] + ft*c.form[ofTrend][toNorth] + fx*vx + fy*vy + w0*e[1] + w1*e[3]
		vy += fx * vxy
		dx, dy := u*kx, v*ky
		ax := (dx-b.gx)*half - kx*(c.form[ofTilt][0]+fx*c.form[ofTilt][1]+fy*c.form[ofTilt][2])
		ay := (dy-b.gy)*half - ky*(c.form[ofTilt][toNorth]+fx*c.form[ofTilt][toNorth+1]+fy*c.form[ofTilt][toNorth+2])
		b.gx = (u + ux*ax + uy*ay + dx*c.form[ofTilt][1] + dy*c.form[ofTilt][2] + s*c.form[ofTilt][3]) * kx
		b.gy = (v + vx*ax + vy*ay + dx*c.form[ofTilt][toNorth+1] + dy*c.form[ofTilt][toNorth+2] + s*c.form[ofTilt][toNorth+3]) * ky
		b.x += float64(b.gx) * h
		b.y += float64(b.gy) * h
		b.time += b.slow * h
	}
}

// traceAll notes where the first n flights are, if paths are asked for.
func (k *Kernel) traceAll(n int, z float64) {
	if !k.Trace || z > k.TraceTop+thickest {
		return
	}
	for i := range n {
		if !k.block.birds[i].skip {
			k.peek(i)
			k.trace(i, z)
		}
	}
}
