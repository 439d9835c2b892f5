package flight

// rise takes the first n flights of the block up through a layer.
func (k *Kernel) rise(number, n int) {
	b, l := &k.block, &k.layers[number]
	store, h, half := l.up, l.high-l.low, (l.high-l.low)/2
	scaleX, scaleY := l.whole.east, l.whole.north
	x, y, t := b.x[:n], b.y[:n], b.time[:n]
	gx, gy, done, slow := b.gx[:n], b.gy[:n], b.done[:n], b.slow[:n]
	if len(b.climb) > 0 {
		slow = b.climb[number*blockSize:][:n]
	}
	e0, e1 := b.east[l.knot][:n], b.east[l.knot+1][:n]
	n0, n1 := b.north[l.knot][:n], b.north[l.knot+1][:n]
	w1 := l.weight
	w0 := 1 - w1
	now := k.now
	for i := range x {
		if done[i] {
			continue
		}
		s := slow[i]
		xm, ym := x[i]+half*gx[i], y[i]+half*gy[i]
		share := (t[i] + half*s - now.from) * now.scale
		if !(share >= 0 && share < 1) {
			if !k.seek(t[i] + half*s) {
				k.hand(i, l.low, false)
				continue
			}
			now = k.now
			share = (t[i] + half*s - now.from) * now.scale
		}
		ix, iy := int(xm), int(ym)
		at := place{ix, iy, now.number}
		slot := at.slot() & (places - 1)
		if store.keys[slot] != newKey(ix, iy, now.number) {
			if _, _, ok := k.ofLayer(l, at, false); !ok {
				k.hand(i, l.low, false)
				continue
			}
		}
		c, r := &store.cell[slot], &k.rows[iy]
		fx, fy, ft := float32(xm-float64(ix)), float32(ym-float64(iy)), float32(share)
		u := c.east[0] + ft*c.eastTrend[0] + fx*(c.east[1]+ft*c.eastTrend[1]) +
			fy*(c.east[2]+ft*c.eastTrend[2]+fx*(c.east[3]+ft*c.eastTrend[3])) + w0*e0[i] + w1*e1[i]
		v := c.north[0] + ft*c.northTrend[0] + fx*(c.north[1]+ft*c.northTrend[1]) +
			fy*(c.north[2]+ft*c.northTrend[2]+fx*(c.north[3]+ft*c.northTrend[3])) + w0*n0[i] + w1*n1[i]
		dx := float64(u*(r.east[0]+fy*(r.east[1]+fy*(r.east[2]+fy*r.east[3])))) * s * scaleX
		dy := float64(v*(r.north[0]+fy*(r.north[1]+fy*r.north[2]))) * s * scaleY
		gx[i], gy[i] = dx, dy
		x[i] += dx * h
		y[i] += dy * h
		t[i] += s * h
	}
	k.traceAll(n, l.high)
}

// fall takes the first n flights of the block down through a layer that lies
// above all ground.
func (k *Kernel) fall(number, n int) {
	b, l := &k.block, &k.layers[number]
	store, h, half := l.down, l.high-l.low, (l.high-l.low)/2
	scaleX, scaleY, root := l.whole.east, l.whole.north, l.whole.root
	x, y, t := b.x[:n], b.y[:n], b.time[:n]
	gx, gy, done, slow, landing := b.gx[:n], b.gy[:n], b.done[:n], b.slow[:n], b.landing[:n]
	e0, e1 := b.east[l.knot][:n], b.east[l.knot+1][:n]
	n0, n1 := b.north[l.knot][:n], b.north[l.knot+1][:n]
	w1 := l.weight
	w0 := 1 - w1
	now := k.now
	for i := range x {
		if done[i] {
			continue
		}
		xm, ym, tm := x[i]+half*gx[i], y[i]+half*gy[i], t[i]+half*slow[i]
		share := (tm - now.from) * now.scale
		if !(share >= 0 && share < 1) {
			if !k.seek(tm) {
				k.hand(i, l.high, true)
				continue
			}
			now = k.now
			share = (tm - now.from) * now.scale
		}
		ix, iy := int(xm), int(ym)
		at := place{ix, iy, now.number}
		slot := at.slot() & (places - 1)
		if store.keys[slot] != newKey(ix, iy, now.number) {
			if _, _, ok := k.ofLayer(l, at, true); !ok {
				k.hand(i, l.high, true)
				continue
			}
		}
		c, r := &store.cell[slot], &k.rows[iy]
		fx, fy, ft := float32(xm-float64(ix)), float32(ym-float64(iy)), float32(share)
		u := c.east[0] + ft*c.eastTrend[0] + fx*(c.east[1]+ft*c.eastTrend[1]) +
			fy*(c.east[2]+ft*c.eastTrend[2]+fx*(c.east[3]+ft*c.eastTrend[3])) + w0*e0[i] + w1*e1[i]
		v := c.north[0] + ft*c.northTrend[0] + fx*(c.north[1]+ft*c.northTrend[1]) +
			fy*(c.north[2]+ft*c.northTrend[2]+fx*(c.north[3]+ft*c.northTrend[3])) + w0*n0[i] + w1*n1[i]
		d := c.dense[0] + ft*c.denseTrend[0] + fx*(c.dense[1]+ft*c.denseTrend[1]) +
			fy*(c.dense[2]+ft*c.denseTrend[2]+fx*(c.dense[3]+ft*c.denseTrend[3]))
		s := float64(1+d*(1+d*(0.5+d*(1.0/6)))) * landing[i] * root
		dx := float64(u*(r.east[0]+fy*(r.east[1]+fy*(r.east[2]+fy*r.east[3])))) * s * scaleX
		dy := float64(v*(r.north[0]+fy*(r.north[1]+fy*r.north[2]))) * s * scaleY
		gx[i], gy[i], slow[i] = dx, dy, s
		x[i] += dx * h
		y[i] += dy * h
		t[i] += s * h
	}
	k.traceAll(n, l.low)
}

// traceAll notes where the first n flights are, if paths are asked for.
func (k *Kernel) traceAll(n int, z float64) {
	if !k.Trace {
		return
	}
	for i := range n {
		if !k.block.done[i] {
			k.trace(i, z)
		}
	}
}
