package flight

import (
	"math"
	"sort"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
)

// Kernel flies many releases from one place and height through one scene, some
// hundred times as fast as Scene.Fly and with landings within MaxError of a
// converged solution for 99 % of flights.
//
// The winds of the columns that flights come to are turned into exact means over
// fixed layers of height, once for each layer, cell and interval between two
// steps, when the first flight asks for them. A layer is then one step: the mean
// wind at the point where the flight is in the mean on its way through, foretold
// from the two layers before. Well above the ground flights fall through thicker
// layers than they rise through, for they are fast there. All flights of a block go
// through a layer before the next one is looked at.
//
// A flight that hangs is carried in Scene's own steps while it does. What a
// flight meets outside of all that, it meets as in Scene.Fly: one that comes to
// the edge of the forecast, to its last hour, to a level that is missing, to a
// pole, above the highest level where that is not held, or to
// ground that is not known, is flown on from there by Scene's own integrator.
//
// A flight's result depends on the scene, the site and its release alone. A
// Kernel is not for use by several goroutines at once, and holds 24 kB for each
// layer and way that flights come to: 5 MB for flights up to 30 km, 8 MB at most.
// Its zero value is ready for Prepare.
type Kernel struct {
	scene  Scene
	site   Site
	grid   geo.Grid
	times  []float64 // s, of the forecast's steps
	end    float64   // the last of them
	edge   int       // the kernel's column 0 lies so many columns west of the grid's
	x, y   float64   // the site in the kernel's columns and rows
	inside bool      // whether anything can be flown here
	rows   []row
	layers []layer
	falls  []descent
	start  int     // the layer that begins at the site
	top    float64 // m: above it some column's highest level is held
	index  []uint16
	relief *relief
	tileX  float32 // a tile's width and height, in the kernel's columns and rows
	tileY  float32
	parts  *partCells
	free   []*cells // room that layers may take

	block     block
	vectors   *vectors // none where the toolchain has none
	round     uint32
	now       int // the present one of:
	intervals []interval
	twin      []Step
	handed    int
	// Trace says that results are to carry the path, up to TraceTop, m above
	// mean sea level, and the first points above it.
	Trace    bool
	TraceTop float64
}

// Site is where all flights of a Kernel start.
type Site struct {
	At     geo.Point
	Height atmos.Geometric // m above mean sea level
}

// Result is what is known of one flight at its end.
type Result struct {
	End    End
	At     geo.Point       // of the last point inside the forecast: the landing, if it landed
	Height atmos.Geometric // of that point, m above mean sea level
	Time   float64         // of that point, s since the forecast's first time
	Speed  float64         // of fall at the ground, m/s, where it landed
	Held   bool            // part of it flew on the highest level's wind, held
	// Path is the flight in points at most 1 km of height apart, without
	// pressures, where the kernel's Trace is set; see there. It is overwritten by
	// the kernel's next flights.
	Path []Step
}

// interval is the time between two steps of the forecast.
type interval struct{ from, scale float64 } // s, and 1/s

// Prepare makes the kernel ready for flights from a site through a scene. The
// room that it has is used again. A site outside the forecast is flown from all
// the same, by Scene's integrator.
func (k *Kernel) Prepare(s Scene, site Site) {
	for i := range k.layers {
		k.vacate(&k.layers[i])
	}
	for i := range k.falls {
		k.vacate(k.falls[i].layer)
	}
	*k = Kernel{
		scene: s, site: site, grid: s.Wind.Grid(), times: s.Wind.Times(), edge: 1,
		block: block{paths: k.block.paths, climb: k.block.climb, err: k.block.err}, free: k.free, parts: k.parts, twin: k.twin,
		vectors: k.vectors,
		Trace:   k.Trace, TraceTop: k.TraceTop, handed: k.handed, relief: k.relief,
	}
	g := k.grid
	if g.Wraps() {
		k.edge = g.NX + 1
	}
	cell, ok := g.Cell(site.At)
	k.inside = ok && g.NX < maxSide && g.NY < maxSide && len(k.times) > 1 && site.Height >= lowestLaunch && site.Height < balloon.MaxBurst
	if !k.inside {
		return
	}
	k.x = float64(cell.SW%g.NX) + cell.X + float64(k.edge)
	k.y = float64(cell.SW/g.NX) + cell.Y + 1
	k.rows = make([]row, g.NY)
	for j := 1; j < g.NY; j++ {
		k.rows[j] = newRow(g.Lat0+float64(j-1)*g.DLat, g)
	}
	if k.relief == nil || !k.relief.isOf(s.Terrain, g) {
		k.relief = newRelief(s.Terrain, g, k.edge)
	}
	k.tileX, k.tileY = k.relief.tile()
	k.setLayers(cell.SW)
	k.top = math.Inf(1)
	if s.Wind.Holds() {
		k.top = s.Wind.LowestTop()
	}
	if k.parts == nil {
		k.parts = new(partCells)
	}
	for i := range k.parts {
		k.parts[i].key = 0
	}
	k.end = k.times[len(k.times)-1]
	k.intervals = make([]interval, len(k.times)-1)
	for i := range k.intervals {
		k.intervals[i] = interval{k.times[i], 1 / (k.times[i+1] - k.times[i])}
	}
	k.seek(k.times[0])
	if k.block.err == nil {
		k.block.err = new([blockSize]errors)
	}
	k.prepareVectors()
}

// maxSide bounds the columns and rows of a grid whose cells the kernel can tell
// apart.
const maxSide = 1 << 16

// setLayers makes the layers, compared with the air of one column.
func (k *Kernel) setLayers(column int) {
	launch, spacing := float64(k.site.Height), min(k.grid.DLat, k.grid.DLon)
	heights := edges(launch, k.relief.lowest, spacing)
	k.layers, k.falls = newLayers(heights, layersFor(spacing).deep, launch, k.site.At, k.scene.Wind, column)
	k.start = sort.SearchFloat64s(heights, float64(k.site.Height))
	k.index = make([]uint16, int((balloon.MaxBurst-heights[0])/indexStep)+2)
	for i, l := 0, 0; i < len(k.index); i++ {
		for l < len(k.layers)-1 && k.layers[l].high <= heights[0]+float64(i)*indexStep {
			l++
		}
		k.index[i] = uint16(l)
	}
	k.block.counts = make([]int, len(k.layers)+1)
}

// open sees to it that a layer has room for its cells one way.
func (k *Kernel) open(l *layer, way int) {
	if l.cells[way] != nil {
		return
	}
	n := len(k.free)
	if n == 0 {
		l.cells[way] = new(cells)
		return
	}
	l.cells[way], k.free = k.free[n-1], k.free[:n-1]
	for i := range l.cells[way] {
		c := &l.cells[way][i]
		c.key, c.round = 0, 0
	}
}

// vacate takes a layer's room back.
func (k *Kernel) vacate(l *layer) {
	for way, room := range l.cells {
		if room != nil {
			k.free = append(k.free, room)
			l.cells[way] = nil
		}
	}
}

// indexStep is how far the heights lie apart for which the layer is known, m.
const indexStep = 50.0

// layerAt is the number of the layer that holds a height, the upper one at an
// edge.
func (k *Kernel) layerAt(z float64) int {
	l := int(k.index[int((z-k.layers[0].low)/indexStep)])
	for l < len(k.layers)-1 && k.layers[l].high <= z {
		l++
	}
	return l
}

// Handed is how many flights were flown by Scene's integrator, in whole or from
// where they left what the kernel covers.
func (k *Kernel) Handed() int { return k.handed }

// Fly flies releases and writes their results, of which there must be as many.
func (k *Kernel) Fly(releases []Release, results []Result) {
	for from := 0; from < len(releases); from += blockSize {
		to := min(from+blockSize, len(releases))
		k.flyBlock(releases[from:to], results[from:to])
	}
}

func (k *Kernel) flyBlock(releases []Release, results []Result) {
	b := &k.block
	b.releases, b.results = releases, results
	k.sort()
	if b.n == 0 {
		return
	}
	k.foretell()
	k.depart()
	highest := int(b.birds[0].last)
	for l := k.start; l <= highest; l++ {
		k.open(&k.layers[l], up)
		switch n := b.counts[l]; {
		case k.layers[l].high > k.top || b.dawdles:
			k.riseSlowly(l, n)
		default:
			k.rise(l, n)
		}
		for i := b.counts[l]; i < b.n && int(b.birds[i].last) == l; i++ {
			k.turn(i, l)
		}
	}
	for i := len(k.falls) - 1; i >= 0; i-- {
		if k.falls[i].first <= highest {
			k.descend(&k.falls[i], highest)
		}
	}
	for i := range b.n {
		if !b.birds[i].skip {
			k.home(i)
			k.hand(i, k.layers[0].low, true)
		}
	}
}

// descend takes the flights down through a layer of a fall.
func (k *Kernel) descend(d *descent, highest int) {
	b := &k.block
	if d.first < d.last && d.low > k.relief.highest && d.high <= k.top {
		whole := b.counts[d.last]
		k.open(d.layer, down)
		k.fallDeep(d, 0, whole)
		for l := d.last - 1; l >= d.first; l-- { // those whose burst lies within
			k.open(&k.layers[l], down)
			k.fallDeep(&descent{&k.layers[l], l, l}, whole, b.counts[l])
		}
		return
	}
	for l := min(d.last, highest); l >= d.first; l-- {
		n := b.counts[l]
		if l < k.start {
			n = b.n
		}
		k.open(&k.layers[l], down)
		switch {
		case k.layers[l].low <= k.relief.highest || k.layers[l].high > k.top || b.dawdles:
			k.fallSlowly(l, n)
		default:
			k.fall(&k.layers[l], n)
		}
	}
}

// foretell finds how the flights of the block set out, by flying them through the
// first two layers and putting them back: as if they had come from below with the
// wind changing evenly. Those that dawdle or burst in the second are flown through
// the first alone.
func (k *Kernel) foretell() {
	b, l := &k.block, &k.layers[k.start]
	n := b.counts[k.start]
	if n == 0 || l.high > k.top {
		return
	}
	var aside [blockSize]bool
	setAside := func(l *layer) {
		for i := range b.birds[:n] {
			if b.dawdles && !b.birds[i].skip && k.climb(i, l.low, l.high).slow > dawdle {
				aside[i], b.birds[i].skip = true, true
			}
		}
	}
	setAside(l)
	k.open(l, up)
	k.riseAlone(k.start, n)
	for i := range b.birds[:n] {
		b.birds[i].hx, b.birds[i].hy = 0, 0
	}
	second := b.counts[k.start+1]
	if second > 0 && k.layers[k.start+1].high <= k.top {
		next := &k.layers[k.start+1]
		setAside(next)
		k.open(next, up)
		k.riseAlone(k.start+1, second)
		share := float32(2 * (l.high - l.low) / (next.high - l.low))
		for i := range b.birds[:second] {
			b := &b.birds[i]
			if !b.skip {
				gx, gy := b.gx-b.hx, b.gy-b.hy
				b.hx, b.hy = share*b.hx, share*b.hy
				b.gx, b.gy = gx-b.hx, gy-b.hy
			}
		}
	}
	for i := range b.birds[:n] {
		bird := &b.birds[i]
		bird.skip = bird.skip && !aside[i]
		bird.x, bird.y, bird.time = k.x, k.y, b.releases[bird.number].Time
	}
}

// seek finds the interval that holds a time, from the present one on; false
// outside the forecast.
func (k *Kernel) seek(t float64) bool {
	if !(t >= k.times[0] && t < k.end) {
		return false
	}
	n := k.now
	for t < k.times[n] {
		n--
	}
	for t >= k.times[n+1] {
		n++
	}
	k.now = n
	return true
}

// point is where a place of the block is, at a height.
func (k *Kernel) point(i int, z float64) point {
	b := &k.block.birds[i]
	return point{
		at: geo.Point{
			Lat: k.grid.Lat0 + (b.y-1)*k.grid.DLat,
			Lon: geo.WrapLon(k.grid.Lon0 + (b.x-float64(k.edge))*k.grid.DLon),
		},
		time: b.time, height: z,
	}
}

// trace notes where a flight is.
func (k *Kernel) trace(i int, z float64) {
	if z > k.TraceTop+thickest {
		return
	}
	p := k.point(i, z)
	k.block.paths[i] = append(k.block.paths[i], Step{Time: p.time, At: p.at, Height: atmos.Geometric(z)})
}
