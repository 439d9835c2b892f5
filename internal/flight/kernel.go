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
// wind at the point where the flight is half-way through, foretold from the
// layer before. All flights of a block go through a layer before the next one is
// looked at.
//
// What a flight meets outside of all that, it meets as in Scene.Fly: one that
// comes to the edge of the forecast, to its last hour, to a level that is
// missing, to a pole, above the highest level where that is not held, or to
// ground that is not known, is flown on from there by Scene's own integrator.
//
// A flight's result depends on the scene, the site and its release alone. A
// Kernel is not for use by several goroutines at once, and holds some 30 kB for
// each layer that flights come to: 4 MB for flights up to 30 km, 6 MB at most.
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
	start  int     // the layer that begins at the site
	top    float64 // m: above it some column's highest level is held
	index  []uint16
	relief *relief
	tileX  float32 // a tile's width and height, in the kernel's columns and rows
	tileY  float32
	parts  *partCells
	free   []*cells // room that layers may take

	block  block
	round  uint32
	now    interval
	twin   []Step
	handed int
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
	// Path is the flight in points at most 500 m of height apart, without
	// pressures, where the kernel's Trace is set; see there. It is overwritten by
	// the kernel's next flights.
	Path []Step
}

// blockSize is how many flights go through a layer together.
const blockSize = 128

// block is flights under way, those with the highest burst first.
type block struct {
	n        int
	dawdles  bool // some flight does
	birds    [blockSize]bird
	climb    []climb // [layer·blockSize + flight], where some release has a profile
	counts   []int   // [layer]: flights whose burst lies above it
	paths    [][]Step
	releases []Release
	results  []Result
}

// bird is one flight under way.
type bird struct {
	x, y, time   float64           // kernel's columns and rows, and s
	slow         float64           // s for each metre of height passed, in the last step
	landing      float64           // 1/Train.Landing, s/m
	burst        float64           // m
	gx, gy       float32           // columns and rows for each metre of height passed, in the last step
	fx, fy, ft   float32           // where the flight will be in its cell, and in the interval
	cell         uint32            // the cell's place
	skip, held   bool              // skip: ended, or not to be looked at now
	last, number int32             // the layer of the burst, and the place in the caller's slices
	err          [knots][2]float32 // wind error at the knots, m/s toward east and north
}

// interval is the time between two steps of the forecast.
type interval struct {
	number      int
	from, scale float64 // s, and 1/s
}

// Prepare makes the kernel ready for flights from a site through a scene. The
// room that it has is used again. A site outside the forecast is flown from all
// the same, by Scene's integrator.
func (k *Kernel) Prepare(s Scene, site Site) {
	for i := range k.layers {
		if l := &k.layers[i]; l.up != nil {
			k.free = append(k.free, l.up, l.down)
		}
	}
	*k = Kernel{
		scene: s, site: site, grid: s.Wind.Grid(), times: s.Wind.Times(), edge: 1,
		block: block{paths: k.block.paths, climb: k.block.climb}, free: k.free, parts: k.parts, twin: k.twin,
		Trace: k.Trace, TraceTop: k.TraceTop, handed: k.handed,
	}
	g := k.grid
	if g.Wraps() {
		k.edge = g.NX + 1
	}
	cell, ok := g.Cell(site.At)
	k.inside = ok && len(k.times) > 1 && site.Height >= lowestLaunch && site.Height < balloon.MaxBurst
	if !k.inside {
		return
	}
	k.x = float64(cell.SW%g.NX) + cell.X + float64(k.edge)
	k.y = float64(cell.SW/g.NX) + cell.Y + 1
	k.rows = make([]row, g.NY)
	for j := 1; j < g.NY; j++ {
		k.rows[j] = newRow(g.Lat0+float64(j-1)*g.DLat, g)
	}
	k.relief = newRelief(s.Terrain, g, k.edge)
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
	k.seek(k.times[0])
}

// setLayers makes the layers, compared with the air of one column.
func (k *Kernel) setLayers(column int) {
	heights := edges(float64(k.site.Height), k.relief.lowest)
	k.layers = newLayers(heights, k.site.At, k.scene.Wind, column)
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

// open sees to it that a layer has room for its cells.
func (k *Kernel) open(l *layer) {
	if l.up != nil {
		return
	}
	var room [2]*cells
	for i := range room {
		n := len(k.free)
		if n == 0 {
			room[i] = new(cells)
			continue
		}
		room[i], k.free = k.free[n-1], k.free[:n-1]
		for j := range room[i] {
			room[i][j].key, room[i][j].round = 0, 0
		}
	}
	l.up, l.down = room[0], room[1]
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
	highest := int(b.birds[0].last)
	for l := k.start; l <= highest; l++ {
		k.open(&k.layers[l])
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
	for l := highest; l >= 0; l-- {
		n := b.counts[l]
		if l < k.start {
			n = b.n
			k.open(&k.layers[l])
		}
		switch {
		case k.layers[l].low <= k.relief.highest || k.layers[l].high > k.top || b.dawdles:
			k.fallSlowly(l, n)
		default:
			k.fall(l, n)
		}
	}
	for i := range b.n {
		if !b.birds[i].skip {
			k.hand(i, k.layers[0].low, true)
		}
	}
}

// sort takes in the releases that the kernel can fly, those with the highest
// burst first, and hands on the others.
func (k *Kernel) sort() {
	b := &k.block
	b.n = 0
	if !k.inside {
		for i := range b.releases {
			k.flyWhole(i)
		}
		return
	}
	clear(b.counts)
	profiles := false
	b.dawdles = false
	var layer [blockSize]int
	for i := range b.releases {
		r := &b.releases[i]
		layer[i] = -1
		if !k.takes(r) {
			k.flyWhole(i)
			continue
		}
		layer[i] = k.layerAt(max(float64(r.Train.Burst), float64(k.site.Height)))
		b.counts[layer[i]]++
		b.n++
		profiles = profiles || len(r.Profile.Rate) > 0
		b.dawdles = b.dawdles || r.dawdles()
	}
	above := 0
	for l := len(k.layers) - 1; l >= 0; l-- {
		above, b.counts[l] = above+b.counts[l], above
	}
	// counts[l] is how many have their burst above layer l; it is also where
	// those of layer l begin.
	var next [maxLayers]int
	copy(next[:], b.counts)
	for i, l := range layer[:len(b.releases)] {
		if l >= 0 {
			k.take(next[l], i, l)
			next[l]++
		}
	}
	b.climb = b.climb[:0]
	if profiles {
		k.climbs()
	}
}

// maxLayers bounds the layers between the lowest ground and the highest burst.
const maxLayers = 256

// takes reports whether the kernel can begin a release.
func (k *Kernel) takes(r *Release) bool {
	e := &r.Error
	return r.At == k.site.At && r.Height == k.site.Height &&
		r.Time >= k.times[0] && r.Time < k.times[len(k.times)-1] &&
		r.Train.Burst < balloon.MaxBurst && r.Train.Ascent > 0 && r.Train.Landing > 0 &&
		(len(e.East) < 2 || math.Mod(e.Spacing, errorKnot) == 0 && e.Spacing > 0) && len(e.East) == len(e.North)
}

// dawdles reports whether a release may be slow somewhere.
func (r *Release) dawdles() bool {
	slowest := min(r.Train.Ascent, r.Train.Landing)
	for _, rate := range r.Profile.Rate {
		slowest = min(slowest, rate)
	}
	return slowest*dawdle < 1.1 // air below sea level is denser
}

// take puts a release into a place of the block.
func (k *Kernel) take(i, number, layer int) {
	r := &k.block.releases[number]
	b := &k.block.birds[i]
	b.number, b.last, b.skip, b.held = int32(number), int32(layer), false, false
	b.x, b.y, b.time = k.x, k.y, r.Time
	b.gx, b.gy = 0, 0
	b.slow = 1 / r.Train.Ascent
	b.landing = 1 / r.Train.Landing
	b.burst = max(float64(r.Train.Burst), float64(k.site.Height))
	top := min(int(b.burst/errorKnot)+1, knots-1)
	e := &r.Error
	if e.Spacing == errorKnot {
		n := min(len(e.East)-1, top)
		for j := range n + 1 {
			b.err[j] = [2]float32{float32(e.East[j]), float32(e.North[j])}
		}
		for j := n + 1; j <= top; j++ {
			b.err[j] = b.err[n]
		}
	} else {
		for j := range top + 1 {
			east, north := e.At(float64(j) * errorKnot)
			b.err[j] = [2]float32{float32(east), float32(north)}
		}
	}
	if k.Trace {
		paths := &k.block.paths
		for len(*paths) <= i {
			*paths = append(*paths, nil)
		}
		(*paths)[i] = (*paths)[i][:0]
		k.trace(i, float64(k.site.Height))
	}
}

// climbs writes how slowly each flight rises through each layer.
func (k *Kernel) climbs() {
	b := &k.block
	for l := range k.layers {
		for i := range blockSize {
			c := climb{}
			if i < b.n && l >= k.start && l < int(b.birds[i].last) {
				c = k.climb(i, k.layers[l].low, k.layers[l].high)
			}
			b.climb = append(b.climb, c)
		}
	}
}

// climb is how a flight rises through a layer: the mean time for a metre, s, and
// by which share that grows in a metre.
type climb struct {
	slow float64
	bend float32
}

// climb is how a flight rises between two heights.
func (k *Kernel) climb(i int, low, high float64) climb {
	r := &k.block.releases[k.block.birds[i].number]
	if len(r.Profile.Rate) == 0 {
		return climb{slow: 1 / r.Train.Ascent}
	}
	seconds, z := 0.0, low
	for z < high {
		to := min(high, (math.Floor(z/r.Profile.Spacing+1e-9)+1)*r.Profile.Spacing)
		// A rate that is linear in height: the mean of 1/w is the logarithm of
		// the ratio over the difference; as a series, good to 1e-6 for a rate
		// that changes by a fifth.
		a, b := r.Profile.At(z), r.Profile.At(to)
		e := (b - a) / (b + a)
		seconds += (to - z) * 2 / (a + b) * (1 + e*e*(1.0/3+e*e*(1.0/5+e*e/7)))
		z = to
	}
	h := high - low
	bend := 2 * (r.Profile.At(low) - r.Profile.At(high)) / (h * (r.Profile.At(low) + r.Profile.At(high)))
	return climb{seconds / h, float32(bend)}
}

// seek finds the interval that holds a time; false outside the forecast.
func (k *Kernel) seek(t float64) bool {
	last := len(k.times) - 1
	if !(t >= k.times[0] && t < k.times[last]) {
		return false
	}
	n := sort.SearchFloat64s(k.times, t)
	if k.times[n] > t {
		n--
	}
	k.now = interval{n, k.times[n], 1 / (k.times[n+1] - k.times[n])}
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
