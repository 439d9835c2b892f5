package flight

// rise takes the first n flights of the block up through a layer.
func (k *Kernel) rise(number, n int) {
	l := &k.layers[number]
	store, h := l.up, l.high-l.low
	var climbs []climb // none where all rise evenly
	if len(k.block.climb) > 0 {
		climbs = k.block.climb[number*blockSize:][:n]
	}
	half, knot := float32(h/2), l.knot
	w1 := l.weight
	w0, tilt := 1-w1, float32(h*h/(12*errorKnot))
	now := k.now
	birds := k.block.birds[:n]
	for i := range birds {
		b := &birds[i]
		if b.skip {
			continue
		}
		slow, bend := b.slow, float32(0)
		if i < len(climbs) {
			slow, bend = climbs[i].slow, climbs[i].bend
		}
		px, py := half*b.gx, half*b.gy
		xm, ym := b.x+float64(px), b.y+float64(py)
		share := (b.time + h/2*slow - now.from) * now.scale
		if !(share >= 0 && share < 1) {
			if !k.seek(b.time + h/2*slow) {
				k.hand(i, l.low, false)
				continue
			}
			now = k.now
			share = (b.time + h/2*slow - now.from) * now.scale
		}
		ix, iy := int(xm), int(ym)
		key := newKey(ix, iy, now.number)
		c := &store[slot(ix, iy, now.number)]
		if c.key != key && !k.refill(c, key, &l.whole, place{ix, iy, now.number}, false) {
			k.hand(i, l.low, false)
			continue
		}
		fx, fy, ft := float32(xm-float64(ix)), float32(ym-float64(iy)), float32(share)
		s := float32(slow)
		kx := (c.columns[0] + fy*(c.columns[1]+fy*(c.columns[2]+fy*c.columns[3]))) * s
		ky := (c.rows[0] + fy*(c.rows[1]+fy*c.rows[2])) * s
		e := &b.err[knot]
		f := &b.err[knot+1]
		uTilt := c.eastTilt[0] + fx*c.eastTilt[1] + fy*c.eastTilt[2] + tilt*(f[0]-e[0])
		vTilt := c.northTilt[0] + fx*c.northTilt[1] + fy*c.northTilt[2] + tilt*(f[1]-e[1])
		// The wind at (xm, ym), and how it changes along x and y.
		uxy := c.east[3] + ft*c.eastTrend[3]
		ux, uy := c.east[1]+ft*c.eastTrend[1]+fy*uxy, c.east[2]+ft*c.eastTrend[2]
		u := c.east[0] + ft*c.eastTrend[0] + fx*ux + fy*uy + w0*e[0] + w1*f[0] + bend*uTilt
		uy += fx * uxy
		vxy := c.north[3] + ft*c.northTrend[3]
		vx, vy := c.north[1]+ft*c.northTrend[1]+fy*vxy, c.north[2]+ft*c.northTrend[2]
		v := c.north[0] + ft*c.northTrend[0] + fx*vx + fy*vy + w0*e[1] + w1*f[1] + bend*vTilt
		vy += fx * vxy
		// How far from (xm, ym) the flight is in the mean, and what that and the
		// wind's turning along the way add.
		dx, dy := u*kx, v*ky
		ax := dx*half - kx*uTilt - px
		ay := dy*half - ky*vTilt - py
		u += ux*ax + uy*ay + dx*c.eastTilt[1] + dy*c.eastTilt[2] + s*c.eastTilt[3]
		v += vx*ax + vy*ay + dx*c.northTilt[1] + dy*c.northTilt[2] + s*c.northTilt[3]
		b.gx, b.gy = u*kx, v*ky
		b.x += float64(b.gx) * h
		b.y += float64(b.gy) * h
		b.time += slow * h
	}
	k.traceAll(n, l.high)
}

// fall takes the first n flights of the block down through a layer, but those
// that are to be skipped. No ground is looked for.
func (k *Kernel) fall(number, n int) {
	l := &k.layers[number]
	store, h := l.down, l.high-l.low
	half, knot, root := float32(h/2), l.knot, l.whole.root
	w1 := l.weight
	w0, tilt := 1-w1, float32(-h*h/(12*errorKnot))
	now := k.now
	birds := k.block.birds[:n]
	for i := range birds {
		b := &birds[i]
		if b.skip {
			continue
		}
		px, py := half*b.gx, half*b.gy
		xm, ym := b.x+float64(px), b.y+float64(py)
		share := (b.time + h/2*b.slow - now.from) * now.scale
		if !(share >= 0 && share < 1) {
			if !k.seek(b.time + h/2*b.slow) {
				k.hand(i, l.high, true)
				continue
			}
			now = k.now
			share = (b.time + h/2*b.slow - now.from) * now.scale
		}
		ix, iy := int(xm), int(ym)
		key := newKey(ix, iy, now.number)
		c := &store[slot(ix, iy, now.number)]
		if c.key != key && !k.refill(c, key, &l.whole, place{ix, iy, now.number}, true) {
			k.hand(i, l.high, true)
			continue
		}
		fx, fy, ft := float32(xm-float64(ix)), float32(ym-float64(iy)), float32(share)
		d := c.dense[0] + ft*c.denseTrend[0] + fx*(c.dense[1]+ft*c.denseTrend[1]) +
			fy*(c.dense[2]+ft*c.denseTrend[2]+fx*(c.dense[3]+ft*c.denseTrend[3]))
		slow := float64(1+d*(1+d*(0.5+d*(1.0/6)))) * b.landing * root
		s := float32(slow)
		kx := (c.columns[0] + fy*(c.columns[1]+fy*(c.columns[2]+fy*c.columns[3]))) * s
		ky := (c.rows[0] + fy*(c.rows[1]+fy*c.rows[2])) * s
		e := &b.err[knot]
		f := &b.err[knot+1]
		uTilt := c.eastTilt[0] + fx*c.eastTilt[1] + fy*c.eastTilt[2] + tilt*(f[0]-e[0])
		vTilt := c.northTilt[0] + fx*c.northTilt[1] + fy*c.northTilt[2] + tilt*(f[1]-e[1])
		// The wind at (xm, ym), and how it changes along x and y.
		uxy := c.east[3] + ft*c.eastTrend[3]
		ux, uy := c.east[1]+ft*c.eastTrend[1]+fy*uxy, c.east[2]+ft*c.eastTrend[2]
		u := c.east[0] + ft*c.eastTrend[0] + fx*ux + fy*uy + w0*e[0] + w1*f[0]
		uy += fx * uxy
		vxy := c.north[3] + ft*c.northTrend[3]
		vx, vy := c.north[1]+ft*c.northTrend[1]+fy*vxy, c.north[2]+ft*c.northTrend[2]
		v := c.north[0] + ft*c.northTrend[0] + fx*vx + fy*vy + w0*e[1] + w1*f[1]
		vy += fx * vxy
		// How far from (xm, ym) the flight is in the mean, and what that and the
		// wind's turning along the way add.
		dx, dy := u*kx, v*ky
		ax := dx*half - kx*uTilt - px
		ay := dy*half - ky*vTilt - py
		u += ux*ax + uy*ay + dx*c.eastTilt[1] + dy*c.eastTilt[2] + s*c.eastTilt[3]
		v += vx*ax + vy*ay + dx*c.northTilt[1] + dy*c.northTilt[2] + s*c.northTilt[3]
		b.gx, b.gy = u*kx, v*ky
		b.x += float64(b.gx) * h
		b.y += float64(b.gy) * h
		b.time += slow * h
		b.slow = slow
	}
	k.traceAll(n, l.low)
}

// traceAll notes where the first n flights are, if paths are asked for.
func (k *Kernel) traceAll(n int, z float64) {
	if !k.Trace {
		return
	}
	for i := range n {
		if !k.block.birds[i].skip {
			k.trace(i, z)
		}
	}
}
