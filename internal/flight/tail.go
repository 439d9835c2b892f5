package flight

import (
	"math"

	"example.org/thistledown/internal/atmos"
)

// move is a flight's way through a part of a layer, or a piece of it.
type move struct {
	part     *part
	from, to float64 // m above mean sea level
	falling  bool
}

// share is how far a time lies on the way through the present interval.
func (k *Kernel) share(t float64) float64 {
	now := &k.intervals[k.now]
	return (t - now.from) * now.scale
}

// pass takes one flight along a move; false where the forecast does not cover
// it, and nothing has changed.
func (k *Kernel) pass(i int, m move) bool {
	b := &k.block.birds[i]
	h, s := math.Abs(m.to-m.from), b.slow
	if !m.falling {
		s = k.climb(i, m.from, m.to).slow
	}
	xm, ym, tm := b.x+h/2*float64(b.gx), b.y+h/2*float64(b.gy), b.time+h/2*s
	share := k.share(tm)
	if !(share >= 0 && share < 1) || b.time+1.1*h*s > k.end {
		if !k.seek(tm) || b.time+1.1*h*s > k.end {
			return false
		}
		share = k.share(tm)
	}
	at := place{int(xm), int(ym), k.now}
	p := m.part
	c := k.ofPart(p, at)
	if c == nil {
		return false
	}
	fx, fy, ft := float32(xm-float64(at.ix)), float32(ym-float64(at.iy)), float32(share)
	u, v := form(c.form[ofWind][:toNorth], c.form[ofTrend][:toNorth], fx, fy, ft), form(c.form[ofWind][toNorth:], c.form[ofTrend][toNorth:], fx, fy, ft)
	// The piece's middle is off the part's: as the wind changes in the part. Its
	// tilts are for the way down, and so is what of the wind counts more.
	off := 12 * (p.middle() - (m.from+m.to)/2) / ((p.high - p.low) * (p.high - p.low))
	if !m.falling {
		off += p.slope
	}
	u += float32(off) * (c.form[ofTilt][0] + fx*c.form[ofTilt][1] + fy*c.form[ofTilt][2])
	v += float32(off) * (c.form[ofTilt][toNorth] + fx*c.form[ofTilt][toNorth+1] + fy*c.form[ofTilt][toNorth+2])
	if m.falling {
		d := float64(form(c.form[ofAir][:airTrend], c.form[ofAir][airTrend:], fx, fy, ft))
		s = (1 + d*(1+d*(0.5+d/6))) * b.landing * p.root
	}
	east, north := k.windError(i, (m.from+m.to)/2)
	if c.held > 0 {
		top := p.high - float64(c.held)*(p.high-p.low)
		if low, high := min(m.from, m.to), max(m.from, m.to); high > top {
			b.held = true
			more := float32(1 + (HeldErrorFactor-1)*min((high-top)/(high-low), 1))
			east, north = east*more, north*more
		}
	}
	b.gx = (u + east) * (c.form[ofMetric][0] + fy*(c.form[ofMetric][1]+fy*(c.form[ofMetric][2]+fy*c.form[ofMetric][3]))) * float32(s)
	b.gy = (v + north) * (c.form[ofMetric][toNorth] + fy*c.form[ofMetric][toNorth+1]) * float32(s)
	b.x += float64(b.gx) * h
	b.y += float64(b.gy) * h
	b.time += s * h
	b.slow, b.hx, b.hy = s, 0, 0
	return true
}

// form is the value of a bilinear form with a trend.
func form(v, trend []float32, fx, fy, ft float32) float32 {
	v, trend = v[:4], trend[:4]
	return v[0] + ft*trend[0] + fx*(v[1]+ft*trend[1]) + fy*(v[2]+ft*trend[2]+fx*(v[3]+ft*trend[3]))
}

// windError is a flight's wind error at a height.
func (k *Kernel) windError(i int, z float64) (east, north float32) {
	j, share := tablePlace(z, errorKnot, knots-2)
	w := float32(share)
	e := k.block.err[i].at(j)
	return (1-w)*e[0] + w*e[2], (1-w)*e[1] + w*e[3]
}

// dawdle is how many seconds for a metre make a flight so slow that it goes
// through a layer in parts: it drifts too far in a whole one.
const dawdle = 1 / 3.0

// riseSlowly is rise where the highest level may be held or some flight dawdles.
func (k *Kernel) riseSlowly(number, n int) {
	l := &k.layers[number]
	var inParts [blockSize]bool
	for i := range n {
		b := &k.block.birds[i]
		if !b.skip && (l.high > k.top || k.climb(i, l.low, l.high).slow > dawdle) {
			k.home(i)
			inParts[i], b.skip = true, true
		}
	}
	k.rise(number, n)
	for i := range n {
		if !inParts[i] {
			continue
		}
		k.block.birds[i].skip = false
		if !k.riseInParts(i, l, l.high) {
			continue
		}
		if k.Trace {
			k.trace(i, l.high)
		}
		k.away(i)
	}
}

// riseInParts takes a flight from a layer's lower edge up to a height in it;
// false where it has ended.
func (k *Kernel) riseInParts(i int, l *layer, to float64) bool {
	for j := range l.parts {
		p := &l.parts[j]
		if p.low >= to {
			break
		}
		// A slow flight drifts far in a part: it takes two pieces.
		middle, top := p.low, min(p.high, to)
		if k.block.dawdles && k.climb(i, p.low, top).slow > dawdle {
			middle = (p.low + top) / 2
			if !k.pass(i, move{part: p, from: p.low, to: middle}) {
				k.hand(i, p.low, false)
				return false
			}
		}
		if !k.pass(i, move{part: p, from: middle, to: top}) {
			k.hand(i, middle, false)
			return false
		}
	}
	return true
}

// fallSlowly is fall where the highest level may be held, ground may be met or
// some flight dawdles.
func (k *Kernel) fallSlowly(number, n int) {
	l := &k.layers[number]
	if k.areClear(l, k.span(n)) {
		k.fall(l, n)
		return
	}
	var inParts [blockSize]bool
	for i := range n {
		b := &k.block.birds[i]
		if b.skip {
			continue
		}
		k.peek(i)
		if !k.isClear(l, b) {
			k.home(i)
			inParts[i], b.skip = true, true
		}
	}
	k.fall(l, n)
	for i := range n {
		if !inParts[i] {
			continue
		}
		b := &k.block.birds[i]
		b.skip = false
		k.fallInParts(i, l, l.high)
		if !b.skip {
			k.away(i)
		}
	}
}

// fallDeep is fall for flights from one up to the n-th, well above the ground: those
// that dawdle go in parts of the layers that the descent is made of. Flights whose
// burst lies within a descent of several layers go through each of them alone, and
// fall with the others from the next one on.
func (k *Kernel) fallDeep(d *descent, first, n int) {
	var inParts [blockSize]bool
	if k.block.dawdles {
		for i := first; i < n; i++ {
			b := &k.block.birds[i]
			if b.skip {
				continue
			}
			k.peek(i)
			if !(b.slow < dawdle) {
				k.home(i)
				inParts[i], b.skip = true, true
			}
		}
	}
	together := d.first < d.last
	if together {
		k.fall(d.layer, n)
	} else {
		k.fallAlone(d.layer, first, n)
	}
	for i := first; k.block.dawdles && i < n; i++ {
		if !inParts[i] {
			continue
		}
		b := &k.block.birds[i]
		b.skip = false
		for l := d.last; l >= d.first && !b.skip; l-- {
			k.fallInParts(i, &k.layers[l], k.layers[l].high)
		}
		if !b.skip && together {
			k.away(i)
		}
	}
}

// turn takes a flight from the lower edge of the layer of its burst up to the
// burst and down to the edge again.
func (k *Kernel) turn(i, number int) {
	b, l := &k.block.birds[i], &k.layers[number]
	if b.skip {
		return
	}
	k.home(i)
	burst := b.burst
	if !k.riseInParts(i, l, burst) {
		return
	}
	if k.Trace && burst > l.low {
		k.trace(i, burst)
	}
	if burst <= k.relief.highest {
		switch z, ok := k.relief.height(b.x, b.y); {
		case !ok:
			k.hand(i, burst, true)
			return
		case burst <= z:
			k.land(i, burst, l)
			return
		}
	}
	if !k.hover(i, burst) {
		return
	}
	if e := &k.block.releases[b.number].Error; len(e.DownEast) > 0 {
		k.block.carry(i, e.Down())
	}
	// The first metres down are foretold from the last up.
	slow := l.whole.root * b.landing
	faster := float32(slow / b.slow)
	b.gx, b.gy, b.slow = b.gx*faster, b.gy*faster, slow
	if burst > l.low {
		k.fallInParts(i, l, burst)
	}
}

// fallInParts takes a flight down to a layer's lower edge and looks at the
// ground below each part.
func (k *Kernel) fallInParts(i int, l *layer, from float64) {
	b := &k.block.birds[i]
	z := from
	for j := len(l.parts) - 1; j >= 0; j-- {
		p := &l.parts[j]
		if p.low >= z {
			continue
		}
		x, y, t := b.x, b.y, b.time
		if !k.pass(i, move{part: p, from: z, to: p.low, falling: true}) {
			k.hand(i, z, true)
			return
		}
		if p.low <= k.relief.highest && p.low <= k.relief.top(b.x, b.y) {
			ground, ok := k.relief.height(b.x, b.y)
			if !ok {
				b.x, b.y, b.time = x, y, t
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
	b := &k.block.birds[i]
	x, y, t, z := b.x, b.y, b.time, m.z
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
		b.x, b.y, b.time = m.x+share*(x-m.x), m.y+share*(y-m.y), m.time+share*(t-m.time)
		h := z + share*(low-z)
		ground, ok := k.relief.height(b.x, b.y)
		if !ok {
			b.x, b.y, b.time = m.x, m.y, m.time
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
	b := &k.block.birds[i]
	r := &k.block.releases[b.number]
	p := k.point(i, z)
	air, ok := k.landingAir(i, z, l)
	if !ok {
		k.hand(i, z, true)
		return
	}
	b.skip = true
	k.block.results[b.number] = Result{
		End: Landed, At: p.at, Height: atmos.Geometric(z), Time: p.time, Held: b.held,
		Speed: r.Train.Landing / air,
	}
	if k.Trace {
		if n := len(k.block.paths[i]); n == 0 || float64(k.block.paths[i][n-1].Height) != z {
			k.trace(i, z)
		}
		k.block.results[b.number].Path = k.block.paths[i]
	}
}

// landingAir is √(ρ/ρ₀) at a height within a layer, where a flight is.
func (k *Kernel) landingAir(i int, z float64, l *layer) (float64, bool) {
	b := &k.block.birds[i]
	t := b.time
	share := k.share(t)
	if !(share >= 0 && share < 1) {
		if !k.seek(t) {
			return 0, false
		}
		share = k.share(t)
	}
	p := &l.parts[0]
	for j := range l.parts {
		if l.parts[j].low <= z {
			p = &l.parts[j]
		}
	}
	at := place{int(b.x), int(b.y), k.now}
	c := k.ofPart(p, at)
	if c == nil {
		return 0, false
	}
	d := float64(form(c.form[ofAir][:airTrend], c.form[ofAir][airTrend:], float32(b.x-float64(at.ix)), float32(b.y-float64(at.iy)), float32(share)))
	// From the part's middle to the height as the air there changes.
	return math.Exp(p.logRoot + d + p.slope*(z-p.middle())), true
}

// hand flies a flight on with Scene's integrator, from where it is.
func (k *Kernel) hand(i int, z float64, falling bool) {
	b := &k.block.birds[i]
	r := &k.block.releases[b.number]
	here := k.point(i, z)
	if z == float64(k.site.Height) && b.x == k.x && b.y == k.y && !falling {
		k.flyWhole(int(b.number))
		b.skip = true
		if k.Trace {
			k.block.paths[i] = append(k.block.paths[i][:0], k.twin...)
			k.block.results[b.number].Path = k.block.paths[i]
		}
		return
	}
	f := Flight{Path: k.twin[:0], Burst: -1}
	k.scene.finish(&f, *r, here, falling)
	k.twin = f.Path
	k.handed++
	b.skip = true
	result := Result{End: f.End, At: here.at, Height: atmos.Geometric(z), Time: here.time, Speed: f.Speed, Held: f.Held || b.held}
	result.last(f.Path)
	if k.Trace {
		k.block.paths[i] = append(k.block.paths[i], f.Path...)
		result.Path = k.block.paths[i]
	}
	k.block.results[b.number] = result
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
