//go:build goexperiment.simd && amd64

package flight

// order is room for sorting the lanes.
type order struct {
	keys, next [blockSize]uint32 // place, and lane in the lower half
	counts     [2][256]int32
	flocks     [blockSize / lanes]flock
	who        [blockSize]uint16
}

// sort seats flights that are in one cell, or will soon be in the next one, beside
// each other, so that most flocks are in one cell. Flights at home go last. No
// flight's result depends on its seat.
func (v *vectors) sort() {
	o := &v.order
	n := v.used * lanes
	v.rest = 0
	o.counts = [2][256]int32{}
	for i := range n {
		f, m := &v.flocks[i/lanes], i%lanes
		key := uint32(0xffff)
		if f.away>>m&1 != 0 {
			// 64 steps to a column, in each of 16 rows and 2 intervals, over and
			// over: wide apart is as good as side by side.
			key = uint32(int32(f.x[m]*32+8192))&1023 | uint32(int32(f.y[m]+512))&31<<10 | uint32(f.interval[m])&1<<15
			key = min(key, 0xfffe)
		}
		o.counts[0][key&0xff]++
		o.counts[1][key>>8]++
		o.keys[i] = key<<16 | uint32(i)
	}
	pour(o.keys[:n], o.next[:n], &o.counts[0], 16)
	pour(o.next[:n], o.keys[:n], &o.counts[1], 24)
	o.flocks, o.who = v.flocks, v.who
	for i, key := range o.keys[:n] {
		old := int(key & 0xffff)
		v.flocks[i/lanes].take(i%lanes, &o.flocks[old/lanes], old%lanes)
		bird := o.who[old]
		v.who[i], v.seat[bird] = bird, uint16(i)
	}
}

// pour sorts keys by eight of their bits.
func pour(from, to []uint32, counts *[256]int32, shift int) {
	at := int32(0)
	for i, n := range counts {
		counts[i], at = at, at+n
	}
	for _, key := range from {
		c := &counts[key>>shift&0xff]
		to[*c] = key
		*c++
	}
}

// take seats a flight of another flock.
func (f *flock) take(n int, g *flock, m int) {
	f.x[n], f.xOver[n], f.y[n], f.yOver[n] = g.x[m], g.xOver[m], g.y[m], g.yOver[m]
	f.t[n], f.tOver[n] = g.t[m], g.tOver[m]
	f.gx[n], f.gy[n], f.slow[n], f.landing[n], f.bend[n] = g.gx[m], g.gy[m], g.slow[m], g.landing[m], g.bend[m]
	f.hx[n], f.hy[n] = g.hx[m], g.hy[m]
	f.scale[n], f.left[n], f.interval[n] = g.scale[m], g.left[m], g.interval[m]
	f.from[0][n], f.from[1][n], f.to[0][n], f.to[1][n] = g.from[0][m], g.from[1][m], g.to[0][m], g.to[1][m]
	f.away = f.away&^(1<<n) | g.away>>m&1<<n
}
