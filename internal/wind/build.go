package wind

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// Limits of a field. They are over what any global forecast needs at the area
// that flights can reach, and bound the memory that a build takes.
const (
	MaxSteps  = 1000
	MaxLevels = 200
	MaxNodes  = 32 << 20 // steps × levels × columns; the values of surface fields too
)

// maxGap is how far steps may lie apart, s, before it is worth a warning: the
// widest that global forecasts are published at.
const maxGap = 6 * 3600.0

// ErrNoWind is wrapped by the errors of a build for which no winds, or not
// enough of them, were added.
var ErrNoWind = errors.New("no usable wind")

// upper is one of the quantities that every isobaric level needs or may have.
type upper uint8

const (
	east upper = iota
	north
	height
	temperature
	uppers
)

var upperNames = [uppers]string{"eastward wind", "northward wind", "geopotential height", "temperature"}

// Builder gathers the fields of one forecast and makes a Field of them. Only
// the columns of its box are kept.
type Builder struct {
	box    geo.Box
	cycle  time.Time
	centre uint16
	member grib.Member
	whole  grib.LatLonGrid
	crop   crop
	steps  map[time.Duration]*stepFields
	values []float32
	have   bool
	upper  int // columns kept so far, over all levels and steps
	ground int // values kept so far of surface fields and terrain
}

// stepFields is what was added for one step.
type stepFields struct {
	levels  map[int64]*[uppers][]float32 // by pressure in hundredths of a pascal
	surface [quantities][]float32
	instant [quantities]bool
	terrain []float32
}

// NewBuilder makes a builder that keeps the columns in and around a box.
func NewBuilder(box geo.Box) *Builder {
	return &Builder{box: box, steps: map[time.Duration]*stepFields{}}
}

// Wanted reports whether Add has a use for a field.
func Wanted(f *grib.Field) bool {
	_, _, isUpper := upperField(f)
	_, isSurface := surfaceQuantity(f)
	return isUpper || isSurface || isTerrain(f)
}

// upperField says which quantity of which isobaric level a field is, if any.
func upperField(f *grib.Field) (upper, int64, bool) {
	// Over 2,000 hPa no level lies, and a hundredth of a pascal is 80 km up.
	if !f.Level.At(grib.Isobaric, f.Level.Value) || !(f.Level.Value >= 0.01 && f.Level.Value <= 200e3) ||
		f.Statistic != grib.Instant {
		return 0, 0, false
	}
	pressure := int64(math.Round(f.Level.Value * 100))
	switch f.Parameter() {
	case grib.EastwardWind:
		return east, pressure, true
	case grib.NorthwardWind:
		return north, pressure, true
	case grib.GeopotentialHeight:
		return height, pressure, true
	case grib.Temperature:
		return temperature, pressure, true
	}
	return 0, 0, false
}

func isTerrain(f *grib.Field) bool {
	return f.Parameter() == grib.GeopotentialHeight && f.Level.Surface == grib.Ground
}

// Add unpacks a field and keeps what of it lies in the box. A field that is not
// Wanted is passed over. Of two fields that say the same thing the first is
// kept, but a mean over an interval gives way to a value at an instant. It is
// an error if the field cannot be unpacked, or is of another centre, cycle or
// grid than those before: forecasts are never mixed.
func (b *Builder) Add(f *grib.Field) error {
	if !Wanted(f) {
		return nil
	}
	if err := f.Supported(); err != nil {
		return err
	}
	if err := b.agree(f); err != nil {
		return err
	}
	s, slot, err := b.slot(f)
	if err != nil || slot == nil {
		return err
	}
	if b.values, err = f.Values(b.values); err != nil {
		return err
	}
	kept := b.crop.take(b.values)
	if err := plausible(f, kept); err != nil {
		return err
	}
	*slot = kept
	if q, ok := surfaceQuantity(f); ok {
		s.instant[q] = f.Statistic == grib.Instant
	}
	return nil
}

// agree checks that a field is of the forecast that the ones before were of.
func (b *Builder) agree(f *grib.Field) error {
	grid, ok := f.Grid.LatLon()
	if !ok {
		return fmt.Errorf("%v: grid %v: want regular latitude-longitude", f, f.Grid)
	}
	if !b.have {
		c, err := newCrop(grid, b.box)
		if err != nil {
			return fmt.Errorf("%v: %w", f, err)
		}
		b.have, b.cycle, b.centre, b.member, b.whole, b.crop = true, f.Reference, f.Centre, f.Member, grid, c
		return nil
	}
	switch {
	case f.Centre != b.centre:
		return fmt.Errorf("%v: issuing centre %d: want %d, as the fields before it", f, f.Centre, b.centre)
	case !f.Reference.Equal(b.cycle):
		return fmt.Errorf("%v: cycle %s: want %s, as the fields before it",
			f, f.Reference.Format(time.RFC3339), b.cycle.Format(time.RFC3339))
	}
	if f.Member != b.member {
		return fmt.Errorf("%v: %v: want %v, as the fields before it", f, f.Member, b.member)
	}
	// On these grids it is all one whether wind follows the grid or the compass.
	got, want := grid, b.whole
	got.AlongGrid, want.AlongGrid = false, false
	if got != want {
		return fmt.Errorf("%v: grid of %s: want %s, as the fields before it", f, gridText(got), gridText(want))
	}
	return nil
}

func gridText(g grib.LatLonGrid) string {
	return fmt.Sprintf("%d × %d from %g, %g by %g, %g", g.NX, g.NY, g.Lat0, g.Lon0, g.DLat, g.DLon)
}

// slot is the place for a field's values, nil where it is taken.
func (b *Builder) slot(f *grib.Field) (*stepFields, *[]float32, error) {
	s := b.steps[f.Step]
	if s == nil {
		if len(b.steps) == MaxSteps {
			return nil, nil, fmt.Errorf("%v: more than %d forecast steps", f, MaxSteps)
		}
		s = &stepFields{levels: map[int64]*[uppers][]float32{}}
		b.steps[f.Step] = s
	}
	columns := b.crop.grid.NX * b.crop.grid.NY
	u, pressure, isUpper := upperField(f)
	if !isUpper {
		slot := s.below(f)
		if slot != nil && *slot == nil {
			b.ground += columns
		}
		if b.ground > MaxNodes {
			return nil, nil, fmt.Errorf("%v: the area's columns and steps come to more than %d values at the ground: want a smaller area or fewer steps", f, MaxNodes)
		}
		return s, slot, nil
	}
	level := s.levels[pressure]
	if level == nil {
		if len(s.levels) == MaxLevels {
			return nil, nil, fmt.Errorf("%v: more than %d isobaric levels", f, MaxLevels)
		}
		b.upper += columns
		if b.upper > MaxNodes {
			return nil, nil, fmt.Errorf("%v: the area's columns, levels and steps come to more than %d values of each quantity: want a smaller area or fewer steps", f, MaxNodes)
		}
		level = new([uppers][]float32)
		s.levels[pressure] = level
	}
	return s, free(&level[u]), nil
}

// below is the place for a surface field or the terrain, nil where it is
// taken. Means over an interval give way to values at an instant.
func (s *stepFields) below(f *grib.Field) *[]float32 {
	q, ok := surfaceQuantity(f)
	switch {
	case !ok:
		return free(&s.terrain)
	case !s.instant[q] && f.Statistic == grib.Instant:
		return &s.surface[q]
	}
	return free(&s.surface[q])
}

// free is the slot, or nil where it is taken.
func free(slot *[]float32) *[]float32 {
	if *slot != nil {
		return nil
	}
	return slot
}

// Field makes the field, and says in whole sentences what the forecast lacks.
// Steps without winds are left out; a level is used where every step has both
// wind components and the height of it. What was added is used up.
func (b *Builder) Field() (*Field, []string, error) {
	times := b.times()
	if len(times) == 0 {
		return nil, nil, fmt.Errorf("%w: want %s, %s and %s on isobaric levels",
			ErrNoWind, upperNames[east], upperNames[north], upperNames[height])
	}
	levels, warnings := b.levels(times)
	if len(levels) < 2 {
		return nil, nil, fmt.Errorf("%w: %d isobaric levels with wind and height at every step: want at least 2", ErrNoWind, len(levels))
	}
	f := &Field{
		grid:   b.crop.grid,
		centre: b.centre,
		cycle:  b.cycle,
		start:  b.cycle.Add(times[0]),
	}
	for _, p := range levels {
		f.levels = append(f.levels, float64(p)/100)
	}
	stack := b.stack(times, levels)
	warnings = append(warnings, stack.cold()...)
	f.terrain = b.terrain()
	for _, t := range times {
		nodes, first, err := stack.step(b.steps[t])
		if err != nil {
			return nil, nil, fmt.Errorf("forecast step %v: %w", t, err)
		}
		f.times = append(f.times, (t - times[0]).Seconds())
		f.nodes = append(f.nodes, nodes)
		f.first = append(f.first, first)
		for q := range f.surface {
			f.surface[q] = append(f.surface[q], b.steps[t].surface[q])
		}
		clear(b.steps[t].levels) // now in nodes
	}
	for i := 1; i < len(f.times); i++ {
		if gap := f.times[i] - f.times[i-1]; gap > maxGap {
			warnings = append(warnings, fmt.Sprintf("Between %s and %s the forecast has no step: winds are interpolated over %g h.",
				f.start.Add(seconds(f.times[i-1])).Format(time.RFC3339), f.start.Add(seconds(f.times[i])).Format(time.RFC3339), gap/3600))
		}
	}
	if f.terrain == nil {
		warnings = append(warnings, "The forecast carries no terrain: the ground is taken at mean sea level.")
	}
	return f, warnings, nil
}

// times are the steps that have winds, in order.
func (b *Builder) times() []time.Duration {
	var times []time.Duration
	for t, s := range b.steps {
		for _, level := range s.levels {
			if level[east] != nil && level[north] != nil && level[height] != nil {
				times = append(times, t)
				break
			}
		}
	}
	slices.Sort(times)
	return times
}

// levels are the pressures that have wind and height at every one of the given
// steps, decreasing, and what is to be said of the others.
func (b *Builder) levels(times []time.Duration) (levels []int64, warnings []string) {
	count := map[int64]int{}
	for _, t := range times {
		for p, level := range b.steps[t].levels {
			count[p] += 0
			if level[east] != nil && level[north] != nil && level[height] != nil {
				count[p]++
			}
		}
	}
	var partial []int64
	for p, n := range count {
		if n == len(times) {
			levels = append(levels, p)
		} else {
			partial = append(partial, p)
		}
	}
	slices.Sort(levels)
	slices.Reverse(levels)
	if len(partial) > 0 {
		slices.Sort(partial)
		slices.Reverse(partial)
		warnings = append(warnings, fmt.Sprintf(
			"Not used, for want of wind or height at some step: the levels %s.", hectopascals(partial)))
	}
	return levels, warnings
}

func hectopascals(pressures []int64) string {
	text := ""
	for i, p := range pressures {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%g", float64(p)/1e4)
	}
	return text + " hPa"
}

// stack prepares the making of columns: which levels carry temperature.
func (b *Builder) stack(times []time.Duration, levels []int64) stack {
	s := stack{grid: b.crop.grid, pressures: levels, warm: make([]bool, len(levels))}
	for l, p := range levels {
		s.warm[l] = true
		for _, t := range times {
			s.warm[l] = s.warm[l] && b.steps[t].levels[p][temperature] != nil
		}
	}
	return s
}

// terrain is the model's ground, geometric, from the first step that carries
// it, winds or not; nil where none does.
func (b *Builder) terrain() []float32 {
	var from *stepFields
	var first time.Duration
	for t, s := range b.steps {
		if s.terrain != nil && (from == nil || t < first) {
			from, first = s, t
		}
	}
	if from == nil {
		return nil
	}
	return geometric(b.crop.grid, from.terrain)
}

// geometric turns geopotential heights on a grid into geometric ones.
func geometric(g geo.Grid, heights []float32) []float32 {
	z := make([]float32, len(heights))
	for k, h := range heights {
		z[k] = float32(atmos.Geopotential(h).Geometric(g.Lat0 + float64(k/g.NX)*g.DLat))
	}
	return z
}
