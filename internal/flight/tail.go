package flight

import (
	"math"

	"example.org/thistledown/internal/atmos"
)

// move is a flight's way through a layer or a part of one.
type move struct {
	layer    *layer
	part     *part // nil for the whole layer
	from, to float64
	falling  bool
}

// pass takes one flight along a move; false where the forecast does not cover
// it, and nothing has changed.
func (k *Kernel) pass(i int, m move) bool {
	b := &k.block
	h, s := math.Abs(m.to-m.from), b.slow[i]
	if !m.falling {
		s = k.climb(i, m.from, m.to)
	}
	xm, ym, tm := b.x[i]+h/2*b.gx[i], b.y[i]+h/2*b.gy[i], b.time[i]+h/2*s
	share := (tm - k.now.from) * k.now.scale
	if !(share >= 0 && share < 1) {
		if !k.seek(tm) {
			return false
		}
		share = (tm - k.now.from) * k.now.scale
	}
	at := place{int(xm), int(ym), k.now.number}
	var c *cell
	var held float32
	ok, p := false, m.part
	if p == nil {
		p = &m.layer.whole
		c, held, ok = k.ofLayer(m.layer, at, m.falling)
	} else {
		c, held, ok = k.ofPart(p, at)
	}
	if !ok {
		return false
	}
	fx, fy, ft := float32(xm-float64(at.ix)), float32(ym-float64(at.iy)), float32(share)
	u, v := c.at(&c.east, &c.eastTrend, fx, fy, ft), c.at(&c.north, &c.northTrend, fx, fy, ft)
	if m.falling {
		d := float64(c.at(&c.dense, &c.denseTrend, fx, fy, ft))
		s = (1 + d*(1+d*(0.5+d/6))) * b.landing[i] * p.root
	}
	east, north := k.windError(i, (m.from+m.to)/2)
	if held > 0 {
		top := p.high - float64(held)*(p.high-p.low)
		if low, high := min(m.from, m.to), max(m.from, m.to); high > top {
			b.held[i] = true
			more := float32(1 + (HeldErrorFactor-1)*min((high-top)/(high-low), 1))
			east, north = east*more, north*more
		}
	}
	r := &k.rows[at.iy]
	b.gx[i] = float64((u+east)*(r.east[0]+fy*(r.east[1]+fy*(r.east[2]+fy*r.east[3])))) * s * p.east
	b.gy[i] = float64((v+north)*(r.north[0]+fy*(r.north[1]+fy*r.north[2]))) * s * p.north
	b.x[i] += b.gx[i] * h
	b.y[i] += b.gy[i] * h
	b.time[i] += s * h
	b.slow[i] = s
	return true
}

func (c *cell) at(v, trend *[4]float32, fx, fy, ft float32) float32 {
	return v[0] + ft*trend[0] + fx*(v[1]+ft*trend[1]) + fy*(v[2]+ft*trend[2]+fx*(v[3]+ft*trend[3]))
}

// windError is a flight's wind error at a height.
func (k *Kernel) windError(i int, z float64) (east, north float32) {
	b := &k.block
	j, share := tablePlace(z, knot, knots-2)
	w := float32(share)
	return (1-w)*b.east[j][i] + w*b.east[j+1][i], (1-w)*b.north[j][i] + w*b.north[j+1][i]
}

// riseSlowly is rise where the highest level is held.
func (k *Kernel) riseSlowly(number, n int) {
	l := &k.layers[number]
	for i := range n {
		if !k.block.done[i] && !k.pass(i, move{layer: l, from: l.low, to: l.high}) {
			k.hand(i, l.low, false)
		}
	}
	k.traceAll(n, l.high)
}

// fallSlowly is fall where the highest level is held or ground may be met.
func (k *Kernel) fallSlowly(number, n int) {
	l := &k.layers[number]
	for i := range n {
		if !k.block.done[i] {
			k.fallThrough(i, l, l.high)
		}
	}
}

// turn takes a flight from the lower edge of the layer of its burst up to the
// burst and down to the edge again.
func (k *Kernel) turn(i, number int) {
	b, l := &k.block, &k.layers[number]
	if b.done[i] {
		return
	}
	burst := b.burst[i]
	for j := range l.parts {
		p := &l.parts[j]
		if p.low >= burst {
			break
		}
		if !k.pass(i, move{layer: l, part: p, from: p.low, to: min(p.high, burst)}) {
			k.hand(i, p.low, false)
			return
		}
	}
	if k.Trace && burst > l.low {
		k.trace(i, burst)
	}
	if burst <= k.relief.highest {
		switch z, ok := k.relief.height(b.x[i], b.y[i]); {
		case !ok:
			k.hand(i, burst, true)
			return
		case burst <= z:
			k.land(i, burst, l)
			return
		}
	}
	// The first metres down are foretold from the last up.
	rise, root := b.slow[i], l.whole.root*b.landing[i]
	b.gx[i], b.gy[i], b.slow[i] = b.gx[i]*root/rise, b.gy[i]*root/rise, root
	if burst > l.low {
		k.fallInParts(i, l, burst)
	}
}

// fallThrough takes a flight down through a layer from its upper edge, in one
// step where no ground can be met on the way.
func (k *Kernel) fallThrough(i int, l *layer, from float64) {
	b := &k.block
	h := l.high - l.low
	clear := l.low >= k.relief.highest || l.low >= k.relief.top(b.x[i], b.y[i]) &&
		2*math.Abs(b.gx[i]*h) < k.tileX && 2*math.Abs(b.gy[i]*h) < k.tileY
	if !clear {
		k.fallInParts(i, l, from)
		return
	}
	switch {
	case !k.pass(i, move{layer: l, from: from, to: l.low, falling: true}):
		k.hand(i, from, true)
	case k.Trace:
		k.trace(i, l.low)
	}
}

// fallInParts takes a flight down to a layer's lower edge and looks at the
// ground below each part.
func (k *Kernel) fallInParts(i int, l *layer, from float64) {
	b := &k.block
	z := from
	for j := len(l.parts) - 1; j >= 0; j-- {
		p := &l.parts[j]
		if p.low >= z {
			continue
		}
		x, y, t := b.x[i], b.y[i], b.time[i]
		if !k.pass(i, move{layer: l, part: p, from: z, to: p.low, falling: true}) {
			k.hand(i, z, true)
			return
		}
		if p.low <= k.relief.highest {
			ground, ok := k.relief.height(b.x[i], b.y[i])
			if !ok {
				b.x[i], b.y[i], b.time[i] = x, y, t
				k.hand(i, z, true)
				return
			}
			if p.low <= ground {
				k.meet(i, l, meeting{x, y, t, z, p.low - ground})
				return
			}
		}
		z = p.low
		if k.Trace {
			k.trace(i, z)
		}
	}
}

// meeting is the last point above the ground and how high the next one is.
type meeting struct{ x, y, time, z, below float64 }

// meet lands a flight between a point above the ground and its present one,
// which is not, by false position with halved ends.
func (k *Kernel) meet(i int, l *layer, m meeting) {
	b := &k.block
	x, y, t, z := b.x[i], b.y[i], b.time[i], m.z
	low := 0.0
	for j := range l.parts {
		if l.parts[j].low < z {
			low = l.parts[j].low
		}
	}
	ground, ok := k.relief.height(m.x, m.y)
	if !ok {
		ground = z // unknown on the way: halving finds where it is known
	}
	from, to := 0.0, 1.0
	above, below := max(z-ground, 1e-3), m.below
	for range 40 {
		share := to
		if above > below {
			share = from + (to-from)*above/(above-below)
		}
		b.x[i], b.y[i], b.time[i] = m.x+share*(x-m.x), m.y+share*(y-m.y), m.time+share*(t-m.time)
		h := z + share*(low-z)
		ground, ok := k.relief.height(b.x[i], b.y[i])
		if !ok {
			b.x[i], b.y[i], b.time[i] = m.x, m.y, m.time
			k.hand(i, z, true)
			return
		}
		switch clearance := h - ground; {
		case math.Abs(clearance) < 1e-3 || to-from < 1e-9:
			k.land(i, h, l)
			return
		case clearance > 0:
			from, above, below = share, clearance, below/2
		default:
			to, below, above = share, clearance, above/2
		}
	}
	k.land(i, z+to*(low-z), l)
}

// land ends a flight on the ground at a height within a layer.
func (k *Kernel) land(i int, z float64, l *layer) {
	b := &k.block
	r := &b.releases[b.number[i]]
	p := k.point(i, z)
	air, ok := k.landingAir(i, z, l)
	if !ok {
		k.hand(i, z, true)
		return
	}
	b.done[i] = true
	b.results[b.number[i]] = Result{
		End: Landed, At: p.at, Height: atmos.Geometric(z), Time: p.time, Held: b.held[i],
		Speed: r.Train.Landing / air,
	}
	if k.Trace {
		if n := len(b.paths[i]); n == 0 || float64(b.paths[i][n-1].Height) != z {
			k.trace(i, z)
		}
		b.results[b.number[i]].Path = b.paths[i]
	}
}

// landingAir is √(ρ/ρ₀) at a height within a layer, where a flight is.
func (k *Kernel) landingAir(i int, z float64, l *layer) (float64, bool) {
	b := &k.block
	t := b.time[i]
	share := (t - k.now.from) * k.now.scale
	if !(share >= 0 && share < 1) {
		if !k.seek(t) {
			return 0, false
		}
		share = (t - k.now.from) * k.now.scale
	}
	p := &l.parts[0]
	for j := range l.parts {
		if l.parts[j].low <= z {
			p = &l.parts[j]
		}
	}
	at := place{int(b.x[i]), int(b.y[i]), k.now.number}
	c, _, ok := k.ofPart(p, at)
	if !ok {
		return 0, false
	}
	d := float64(c.at(&c.dense, &c.denseTrend, float32(b.x[i]-float64(at.ix)), float32(b.y[i]-float64(at.iy)), float32(share)))
	// From the part's middle to the height as the air there changes.
	slope := -0.5 * (atmos.StandardGravity / atmos.GasConstant) / lowTemperature
	if n := len(l.parts); n > 1 {
		slope = (l.parts[n-1].logRoot - l.parts[0].logRoot) / (l.parts[n-1].middle() - l.parts[0].middle())
	}
	return math.Exp(p.logRoot + d + slope*(z-p.middle())), true
}

// lowTemperature is a temperature near the ground, K, for the change of density
// over some metres.
const lowTemperature = 280.0

// hand flies a flight on with Scene's integrator, from where it is.
func (k *Kernel) hand(i int, z float64, falling bool) {
	b := &k.block
	r := &b.releases[b.number[i]]
	here := k.point(i, z)
	if z == float64(k.site.Height) && b.x[i] == k.x && b.y[i] == k.y && !falling {
		k.flyWhole(b.number[i])
		b.done[i] = true
		if k.Trace {
			b.results[b.number[i]].Path = append(b.paths[i][:0], k.twin...)
			b.paths[i] = b.results[b.number[i]].Path
		}
		return
	}
	f := Flight{Path: k.twin[:0], Burst: -1}
	k.scene.finish(&f, *r, here, falling)
	k.twin = f.Path
	k.handed++
	b.done[i] = true
	result := Result{End: f.End, At: here.at, Height: atmos.Geometric(z), Time: here.time, Speed: f.Speed, Held: f.Held || b.held[i]}
	result.last(f.Path)
	if k.Trace {
		b.paths[i] = append(b.paths[i], f.Path...)
		result.Path = b.paths[i]
	}
	b.results[b.number[i]] = result
}

// flyWhole flies a release with Scene.Fly.
func (k *Kernel) flyWhole(number int) {
	r := &k.block.releases[number]
	f := k.scene.Fly(*r, k.twin)
	k.twin = f.Path
	k.handed++
	result := Result{End: f.End, At: r.At, Height: r.Height, Time: r.Time, Speed: f.Speed, Held: f.Held}
	result.last(f.Path)
	if k.Trace {
		result.Path = append([]Step(nil), f.Path...)
	}
	k.block.results[number] = result
}

// last takes the end of a path for the result's.
func (r *Result) last(path []Step) {
	if n := len(path); n > 0 {
		r.At, r.Height, r.Time = path[n-1].At, path[n-1].Height, path[n-1].Time
	}
}
