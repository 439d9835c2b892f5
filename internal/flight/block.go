package flight

import (
	"math"
	"slices"

	"example.org/thistledown/internal/balloon"
)

// blockSize is how many flights go through a layer together: the more there are,
// the less often a layer's cells come back from far memory.
const blockSize = 512

// block is flights under way, those with the highest burst first.
type block struct {
	n        int
	dawdles  bool // some flight does
	birds    [blockSize]bird
	err      *[blockSize]errors
	climb    []climb // [layer·blockSize + flight], where some release has a profile
	counts   []int   // [layer]: flights whose burst lies above it
	paths    [][]Step
	releases []Release
	results  []Result
}

// errors is the wind error at the knots on the present way, m/s: toward east and
// north at the first, toward east and north at the second, and so on.
type errors [2 * knots]float32

// at is the errors at a knot below the last and at the next. What lies outside is
// cut off, which costs less than to check for it.
func (e *errors) at(knot int) *[4]float32 {
	first := min(2*uint(knot), uint(2*knots-4))
	return (*[4]float32)(e[first : first+4])
}

// bird is one flight under way.
type bird struct {
	x, y, time   float64 // kernel's columns and rows, and s
	slow         float64 // s for each metre of height passed, in the last step
	landing      float64 // 1/Train.Landing, s/m
	burst        float64 // m
	gx, gy       float32 // columns and rows for each metre of height passed, in the last step
	hx, hy       float32 // what they were more than in the step before
	fx, fy, ft   float32 // where the flight will be in its cell, and in the interval
	cell         uint32  // the cell's place
	interval     int32   // of its time in the last step
	skip, held   bool    // skip: ended, or not to be looked at now
	last, number int32   // the layer of the burst, and the place in the caller's slices
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
		(len(e.East) < 2 || math.Mod(e.Spacing, errorKnot) == 0 && e.Spacing > 0) && e.sound()
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
	b.gx, b.gy, b.hx, b.hy = 0, 0, 0, 0
	k.seek(r.Time)
	b.interval = int32(k.now)
	b.slow = 1 / r.Train.Ascent
	b.landing = 1 / r.Train.Landing
	b.burst = max(float64(r.Train.Burst), float64(k.site.Height))
	k.block.carry(i, r.Error)
	if k.Trace {
		paths := &k.block.paths
		for len(*paths) <= i {
			*paths = append(*paths, nil)
		}
		(*paths)[i] = (*paths)[i][:0]
		k.trace(i, float64(k.site.Height))
	}
}

// carry writes a flight's wind error at the knots that it comes to.
func (b *block) carry(i int, e WindError) {
	err := &b.err[i]
	top := min(int(b.birds[i].burst/errorKnot)+1, knots-1)
	if e.Spacing != errorKnot || len(e.East) == 0 {
		for j := range top + 1 {
			east, north := e.At(float64(j) * errorKnot)
			err[2*j], err[2*j+1] = float32(east), float32(north)
		}
		return
	}
	n := min(len(e.East)-1, top)
	err.take(e.East[:n+1], e.North[:n+1])
	for j := n + 1; j <= top; j++ {
		err[2*j], err[2*j+1] = err[2*n], err[2*n+1]
	}
}

// climbs writes how slowly each flight rises through each layer that it passes
// whole; the rest of the table is not looked at.
func (k *Kernel) climbs() {
	b := &k.block
	b.climb = slices.Grow(b.climb, len(k.layers)*blockSize)[:len(k.layers)*blockSize]
	for l := k.start; l < len(k.layers) && b.counts[l] > 0; l++ {
		through := b.climb[l*blockSize:][:b.counts[l]]
		for i := range through {
			through[i] = k.climb(i, k.layers[l].low, k.layers[l].high)
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
	first := r.Profile.At(low)
	seconds, z, a := 0.0, low, first
	for z < high {
		to := min(high, (math.Floor(z/r.Profile.Spacing+1e-9)+1)*r.Profile.Spacing)
		// A rate that is linear in height: the mean of 1/w is the logarithm of
		// the ratio over the difference; as a series, good to 1e-6 for a rate
		// that changes by a fifth.
		b := r.Profile.At(to)
		e := (b - a) / (b + a)
		seconds += (to - z) * 2 / (a + b) * (1 + e*e*(1.0/3+e*e*(1.0/5+e*e/7)))
		z, a = to, b
	}
	h := high - low
	bend := 2 * (first - a) / (h * (first + a))
	return climb{seconds / h, float32(bend)}
}
