package wind

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/grib"
)

// Limits of a field. They are over what any global forecast needs at the area
// that flights can reach, and bound the memory that a build takes.
const (
	MaxSteps   = 1000
	MaxLevels  = 200
	MaxMembers = 128
	MaxNodes   = 32 << 20 // steps × levels × columns; the values of surface fields too

	// maxEntries bounds the fields of an index: a forecast of 31 members, 65
	// steps and 41 levels has 350,000 that are of use.
	maxEntries = 1 << 19
	// maxGrids bounds the different grids of one forecast.
	maxGrids = 64
)

// ErrNoWind is wrapped by the errors of a build for which no winds, or not
// enough of them, were added.
var ErrNoWind = errors.New("no usable wind")

// ErrTooLarge is wrapped by the error of a build of more than MaxNodes: a smaller
// part of the forecast may do.
var ErrTooLarge = fmt.Errorf("want at most %d; take a smaller area, fewer steps or fewer members", MaxNodes)

// Ref says where a field lies: in which file, by the caller's numbers, and
// there by the octet at which its message begins, that message's number and the
// field's number in it.
type Ref struct {
	Offset               int64
	File, Message, Field int32
}

// Index sorts the fields of any number of files by what they are, whatever the
// files are called. It looks at headers only. The zero value is ready.
type Index struct {
	forecasts map[origin]*Forecast
	entries   int
	elsewhere []string // kinds of levels that winds were met on, other than isobaric
}

// origin tells one forecast from another.
type origin struct {
	centre uint16
	cycle  time.Time
}

// entry is one field of a forecast.
type entry struct {
	member  Member
	step    time.Duration
	plane   plane
	rank    rank
	process process
	grid    uint8 // in Forecast.grids
	ref     Ref
}

// process is what a field was made by: sub-centre and generating process, whose
// numbers are the centre's own.
type process struct {
	subcentre uint16
	number    uint8
}

func (p process) String() string { return fmt.Sprintf("%d of sub-centre %d", p.number, p.subcentre) }

// Forecast is what an Index found of one cycle of one centre.
type Forecast struct {
	Centre uint16    // WMO Common Code Table C-11
	Cycle  time.Time // UTC, from which the forecast starts

	entries []entry
	grids   []grib.Grid
	winds   []uint8 // of grids, those that winds come on
	status  uint8   // production status of some field, code table 1.3, if any is not operational
	doubt   string  // about the member of some field
	sorted  bool
	room    int // values that Pack holds at a time; 0 for maxBand
}

// Add takes in a field that is Wanted and Supported and lies at a place in a
// file; any other is passed over.
func (x *Index) Add(f *grib.Field, at Ref) error {
	p, r, ok := planeOf(f)
	if !ok || f.Supported() != nil {
		x.notice(f)
		return nil
	}
	if x.entries == maxEntries {
		return fmt.Errorf("%v: more than %d fields: want fewer files at once", f, maxEntries)
	}
	o := origin{f.Centre, f.Reference}
	c := x.forecasts[o]
	if c == nil {
		if x.forecasts == nil {
			x.forecasts = map[origin]*Forecast{}
		}
		c = &Forecast{Centre: f.Centre, Cycle: f.Reference}
		x.forecasts[o] = c
	}
	g := f.Grid
	if _, ok := g.LatLon(); ok {
		g.AlongGrid = false // on these it is all one whether wind follows the grid or the compass
	}
	i := slices.Index(c.grids, g)
	if i < 0 {
		if len(c.grids) == maxGrids {
			return fmt.Errorf("%v: more than %d different grids in one forecast", f, maxGrids)
		}
		i = len(c.grids)
		c.grids = append(c.grids, g)
	}
	if p.kind <= kind(north) && !slices.Contains(c.winds, uint8(i)) {
		c.winds = append(c.winds, uint8(i))
	}
	if f.Status != 0 {
		c.status = f.Status
	}
	if doubt := f.MemberDoubt(); doubt != "" && c.doubt == "" {
		c.doubt = fmt.Sprintf("%v: %s", f, doubt)
	}
	c.entries = append(c.entries, entry{MemberOf(f), f.Step, p, r, process{f.Subcentre, f.Process}, uint8(i), at})
	c.sorted = false
	x.entries++
	return nil
}

// notice remembers on what kinds of levels there are winds that are of no use.
func (x *Index) notice(f *grib.Field) {
	if p := f.Parameter(); p != grib.EastwardWind && p != grib.NorthwardWind || f.Level.Surface == grib.Isobaric {
		return
	}
	kind := fmt.Sprintf("surface %d", f.Level.Surface)
	switch f.Level.Surface {
	case 104, 105:
		kind = "model levels (" + kind + ")"
	case grib.HeightAboveGround, grib.HeightAboveSea:
		kind = "fixed heights (" + kind + ")"
	}
	const most = 8
	if len(x.elsewhere) < most && !slices.Contains(x.elsewhere, kind) {
		x.elsewhere = append(x.elsewhere, kind)
	}
}

// NoWinds is the error of an index in which there is no forecast to fly on. It
// wraps ErrNoWind.
func (x *Index) NoWinds() error {
	if len(x.elsewhere) == 0 {
		return errNoWinds()
	}
	return fmt.Errorf("%w; there are winds on %s", errNoWinds(), strings.Join(x.elsewhere, ", "))
}

// Forecasts are what was found, the newest cycle first.
func (x *Index) Forecasts() []*Forecast {
	var all []*Forecast
	for _, c := range x.forecasts {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b *Forecast) int {
		if d := b.Cycle.Compare(a.Cycle); d != 0 {
			return d
		}
		return int(a.Centre) - int(b.Centre)
	})
	return all
}

// sort brings the entries into order of member, step, plane and rank, and
// leaves of those that show the same only the first.
func (c *Forecast) sort() {
	if c.sorted {
		return
	}
	slices.SortStableFunc(c.entries, func(a, b entry) int {
		if d := a.member.compare(b.member); d != 0 {
			return d
		}
		if d := compareSlots(a, b); d != 0 {
			return d
		}
		return int(a.rank) - int(b.rank)
	})
	c.entries = slices.CompactFunc(c.entries, func(a, b entry) bool {
		return a.member == b.member && compareSlots(a, b) == 0
	})
	c.sorted = true
}

// compareSlots orders the maps of one member.
func compareSlots(a, b entry) int {
	switch {
	case a.step != b.step:
		return sign(a.step < b.step)
	case a.plane.kind != b.plane.kind:
		return sign(a.plane.kind < b.plane.kind)
	case a.plane.pressure != b.plane.pressure:
		return sign(a.plane.pressure > b.plane.pressure)
	}
	return 0
}

func sign(less bool) int {
	if less {
		return -1
	}
	return 1
}
