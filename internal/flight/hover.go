package flight

import (
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// MaxHover is how long a flight hangs at most, s.
const MaxHover = 24 * 3600.0

// hoverStep is the longest step of a flight that hangs, s: in the strongest
// winds some 10 km, a small part of what a forecast tells apart.
const hoverStep = 120.0

// hover lets a flight hang at its height for as long as its release says; false
// where it leaves the forecast before. It ends where the ground is met, if that
// is before: the fall lands it there.
//
// Time is the independent variable: the midpoint rule in steps of hoverStep or
// less. The wind error goes from that of the way up to that of the way down,
// linearly in time.
func (m *motion) hover(f *Flight, p point) (point, bool) {
	r := &m.release
	if !(r.Hover > 0) {
		return p, true
	}
	seconds := math.Min(r.Hover, MaxHover)
	steps := int(math.Ceil(seconds / hoverStep))
	dt := seconds / float64(steps)
	up, upNorth := r.Error.At(p.height)
	down, downNorth := r.Error.Down().At(p.height)
	turn := func(p point, air wind.Sample, step float64) slope {
		share := step / float64(steps)
		return turning(p, air, up+share*(down-up), upNorth+share*(downNorth-upNorth))
	}
	for i := range steps {
		switch above, ok := m.clearance(f, p); {
		case !ok:
			return p, false
		case above <= 0:
			return p, true
		}
		air, ok := m.air(f, p)
		if !ok {
			return p, false
		}
		f.note(p, air)
		middle := turn(p, air, float64(i)).move(p, dt/2)
		middle.height = p.height
		if air, ok = m.air(f, middle); !ok {
			return p, false
		}
		next := turn(middle, air, float64(i)+0.5).move(p, dt)
		next.height = p.height
		p = next
	}
	_, ok := m.air(f, p)
	return p, ok
}

// hover is motion's for a flight of the block at its burst; false where it has
// ended.
func (k *Kernel) hover(i int, z float64) bool {
	b := &k.block.birds[i]
	r := &k.block.releases[b.number]
	if !(r.Hover > 0) {
		return true
	}
	f := Flight{Path: k.twin[:0], Burst: -1}
	m := motion{scene: k.scene, release: *r}
	here, ok := m.hover(&f, k.point(i, z))
	k.twin = f.Path
	if k.Trace && z <= k.TraceTop+thickest {
		k.block.paths[i] = append(k.block.paths[i], f.Path...)
	}
	b.held = b.held || f.Held
	if !ok {
		b.skip = true
		result := Result{End: f.End, At: here.at, Height: atmos.Geometric(z), Time: here.time, Held: b.held}
		result.last(f.Path)
		if k.Trace {
			result.Path = k.block.paths[i]
		}
		k.block.results[b.number] = result
		return false
	}
	b.x += geo.WrapLon(here.at.Lon-k.point(i, z).at.Lon) / k.grid.DLon
	b.y = (here.at.Lat-k.grid.Lat0)/k.grid.DLat + 1
	b.time = here.time
	return true
}
