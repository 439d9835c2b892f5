package wind

import (
	"fmt"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// Fetch finds a field again where an Index was told that it is.
type Fetch func(Ref) (*grib.Field, error)

// slab is one member at one step, unpacked onto the grid that is kept.
type slab struct {
	levels  map[int32]*[uppers][]float32
	surface [quantities][]float32
	terrain []float32
}

// slot is where a map is kept.
func (s *slab) slot(p plane) *[]float32 {
	switch {
	case p.kind == terrainKind:
		return &s.terrain
	case p.kind >= surfaceKinds:
		return &s.surface[p.kind-surfaceKinds]
	}
	level := s.levels[p.pressure]
	if level == nil {
		level = new([uppers][]float32)
		s.levels[p.pressure] = level
	}
	return &level[p.kind]
}

// unpacking reads the slabs of a forecast, one after the other.
type unpacking struct {
	from   *Forecast
	what   Contents
	frame  *frame
	fetch  Fetch
	unpack grib.Unpacker
}

// slab unpacks one member at one step.
func (u *unpacking) slab(m Member, step time.Duration) (*slab, error) {
	s := &slab{levels: map[int32]*[uppers][]float32{}}
	grids := map[plane]uint8{}
	for _, tag := range u.what.of[m] {
		for _, e := range u.from.at(tag, step) {
			if e.plane.kind < kind(uppers) {
				if _, ok := slices.BinarySearchFunc(u.what.pressures, e.plane.pressure, func(a, b int32) int { return int(b - a) }); !ok {
					continue
				}
			}
			slot := s.slot(e.plane)
			if *slot != nil {
				continue
			}
			values, err := u.values(e)
			if err != nil {
				return nil, err
			}
			*slot = values
			grids[e.plane] = e.grid
		}
	}
	for _, p := range u.what.pressures {
		for _, q := range []upper{east, north, height} {
			if level := s.levels[p]; level == nil || level[q] == nil {
				return nil, fmt.Errorf("%s at %s is not there: want it, as for other steps and members", upperNames[q], hectopascals([]int32{p}))
			}
		}
	}
	return s, u.turn(s, grids)
}

// values unpacks one entry onto the frame.
func (u *unpacking) values(e entry) ([]float32, error) {
	f, err := u.fetch(e.ref)
	if err != nil {
		return nil, err
	}
	if p, _, ok := planeOf(f); !ok || p != e.plane || f.Step != e.step || !f.Reference.Equal(u.from.Cycle) {
		return nil, fmt.Errorf("%v where another field was: the file has changed", f)
	}
	columns := u.frame.grid.NX * u.frame.grid.NY
	values, err := u.frame.read(f, &u.unpack, make([]float32, 0, columns))
	if err != nil {
		return nil, err
	}
	if f.Parameter() == grib.Geopotential {
		for k := range values {
			values[k] /= atmos.StandardGravity
		}
	}
	return values, plausible(f, values)
}

// turn makes components that follow a grid point east and north.
func (u *unpacking) turn(s *slab, grids map[plane]uint8) error {
	pairs := [][2]plane{{{0, surfaceKinds + kind(SurfaceEast)}, {0, surfaceKinds + kind(SurfaceNorth)}}}
	for p := range s.levels {
		pairs = append(pairs, [2]plane{{p, kind(east)}, {p, kind(north)}})
	}
	for _, pair := range pairs {
		along, across := s.slot(pair[0]), s.slot(pair[1])
		for i, mine := range []*[]float32{along, across} {
			other := []*[]float32{across, along}[i]
			if *mine == nil {
				continue
			}
			g := u.from.grids[grids[pair[i]]]
			if !g.AlongGrid {
				continue
			}
			if *other == nil || grids[pair[1-i]] != grids[pair[i]] {
				return fmt.Errorf("wind along the grid %v without its other component: want both", g)
			}
		}
		if *along == nil || !u.from.grids[grids[pair[0]]].AlongGrid {
			continue
		}
		turn := u.frame.source(u.from.grids[grids[pair[0]]]).turn
		for k, a := range turn {
			x, y := (*along)[k], (*across)[k]
			(*along)[k], (*across)[k] = a.cos*x-a.sin*y, a.sin*x+a.cos*y
		}
	}
	return nil
}

// at are the entries of a member at a step.
func (c *Forecast) at(m Member, step time.Duration) []entry {
	find := func(step time.Duration) int {
		i, _ := slices.BinarySearchFunc(c.entries, entry{member: m, step: step}, func(a, b entry) int {
			if d := a.member.compare(b.member); d != 0 {
				return d
			}
			if a.step < b.step {
				return -1
			}
			return 1 // the first of its step
		})
		return i
	}
	from := find(step)
	to := from
	for to < len(c.entries) && c.entries[to].member == m && c.entries[to].step == step {
		to++
	}
	return c.entries[from:to]
}

// ground unpacks the model's own ground from the first step that carries it,
// winds or not; nil where none does. Terrain does not change from member to
// member.
func (u *unpacking) ground() ([]float32, error) {
	var best *entry
	for i, e := range u.from.entries {
		if e.plane.kind == terrainKind && (best == nil || e.step < best.step) {
			best = &u.from.entries[i]
		}
	}
	if best == nil {
		return nil, nil
	}
	return u.values(*best)
}

// geometric turns geopotential heights on a grid into geometric ones.
func geometric(g geo.Grid, heights []float32) []float32 {
	if heights == nil {
		return nil
	}
	z := make([]float32, len(heights))
	for row := range g.NY {
		gravity := atmos.GravityAt(g.Lat0 + float64(row)*g.DLat)
		for k := row * g.NX; k < (row+1)*g.NX; k++ {
			z[k] = float32(gravity.Geometric(atmos.Geopotential(heights[k])))
		}
	}
	return z
}
