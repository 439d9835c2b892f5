package cube

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/thistledown/internal/geo"
)

// Limits of a cube. They are over what any forecast of a region needs, and
// bound what a header can make a reader allocate.
const (
	MaxMembers = 128
	MaxSteps   = 1000
	MaxLevels  = 200
	MaxColumns = 1 << 20 // nodes of the grid; the whole Earth at 0.25° has 1,038,240
	MaxSurface = 32      // surface quantities
	MaxText    = 1 << 16 // octets of the source, and of the note
	MaxSize    = 1 << 36 // octets of the whole, 64 GiB
)

// Tile is how many rows and columns of the grid lie in a tile, and how many
// rows in the band that a Writer takes at a time.
const Tile = 8

// maxPressure is over that of any isobaric level, Pa.
const maxPressure = 200e3

// Kind says what a member of a forecast is.
type Kind uint8

// The kinds of member.
const (
	Single    Kind = iota // the one run of a forecast that is no ensemble
	Control               // the member of an ensemble that starts undisturbed
	Perturbed             // a member that starts from a disturbed state
	Negative              // a member whose state is disturbed the other way than that of another
	kinds
)

// String is such as "perturbed".
func (k Kind) String() string {
	switch k {
	case Single:
		return "single"
	case Control:
		return "control"
	case Perturbed:
		return "perturbed"
	case Negative:
		return "negative"
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Member is one run of a forecast. Number is as the forecast counts its
// members, any from 0 to 65535.
type Member struct {
	Kind   Kind
	Number uint16
}

// Quantity is what a plane of a block holds.
type Quantity uint8

// The quantities of a block, in the order of its planes.
const (
	East        Quantity = iota // wind toward east, m/s
	North                       // wind toward north, m/s
	Height                      // geopotential height, m above mean sea level
	Temperature                 // K
	Surface                     // the surface quantities of Axes
)

// Axes is what a cube holds, and with it where everything lies.
type Axes struct {
	Centre  uint16          // issuing centre, WMO common code table C-11
	Cycle   time.Time       // start of the forecast, whole seconds, years 1 to 9999
	Grid    geo.Grid        // columns go east from Lon0, over the date line if need be; at most MaxColumns nodes
	Levels  []float64       // pressure, Pa, over 0 to 200,000, decreasing; 1 to MaxLevels
	Steps   []time.Duration // after Cycle, whole seconds from 0 to 2^32-1, increasing; 1 to MaxSteps
	Members []Member        // all different, a Single alone; 1 to MaxMembers
	Surface []uint8         // codes of the surface quantities, increasing; their meaning is the caller's; at most MaxSurface
	Terrain bool            // whether the height of the ground is kept
	Source  string          // whose data these are and on what terms, UTF-8 without control characters but line feeds, at most MaxText octets
	Note    string          // what is to be said of them, such as what the forecast lacks; as Source
}

// Check reports everything that keeps a from being the axes of a cube.
func (a Axes) Check() error {
	errs := []error{a.checkGrid(), a.checkLevels(), a.checkSteps(), a.checkMembers(), a.checkSurface()}
	// Years of four digits, so that every cycle can be printed as RFC 3339 has it.
	if year := a.Cycle.UTC().Year(); year < 1 || year > 9999 || a.Cycle.Nanosecond() != 0 {
		errs = append(errs, fmt.Errorf("cycle %v: want whole seconds in the years 1 to 9999", a.Cycle))
	}
	for _, text := range []struct{ name, text string }{{"source", a.Source}, {"note", a.Note}} {
		if len(text.text) > MaxText {
			errs = append(errs, fmt.Errorf("%s of %d octets: want at most %d", text.name, len(text.text), MaxText))
		}
		if !utf8.ValidString(text.text) || strings.ContainsFunc(text.text, controls) {
			errs = append(errs, fmt.Errorf("%s %.40q: want UTF-8 without control characters but line feeds", text.name, text.text))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	if size := a.Size(); size > MaxSize {
		return fmt.Errorf("cube of %d octets: want at most %d: a smaller area, or fewer steps or members", size, int64(MaxSize))
	}
	return nil
}

// controls reports whether a rune would steer the terminal that a text is
// printed on. A line feed may.
func controls(r rune) bool { return unicode.IsControl(r) && r != '\n' }

func (a Axes) checkGrid() error {
	if err := a.Grid.Check(); err != nil {
		return err
	}
	if a.Grid.NX > MaxColumns/a.Grid.NY {
		return fmt.Errorf("grid of %d columns and %d rows: want at most %d nodes", a.Grid.NX, a.Grid.NY, MaxColumns)
	}
	return nil
}

func (a Axes) checkLevels() error {
	if len(a.Levels) < 1 || len(a.Levels) > MaxLevels {
		return fmt.Errorf("%d levels: want 1 to %d", len(a.Levels), MaxLevels)
	}
	before := math.Inf(1)
	for _, p := range a.Levels {
		if !(p > 0 && p <= maxPressure && p < before) {
			return fmt.Errorf("level %g Pa: want over 0 to %g, each less than the one before", p, float64(maxPressure))
		}
		before = p
	}
	return nil
}

func (a Axes) checkSteps() error {
	if len(a.Steps) < 1 || len(a.Steps) > MaxSteps {
		return fmt.Errorf("%d steps: want 1 to %d", len(a.Steps), MaxSteps)
	}
	before := time.Duration(-1)
	for _, s := range a.Steps {
		if s <= before || s%time.Second != 0 || s > math.MaxUint32*time.Second {
			return fmt.Errorf("step %v: want whole seconds from 0 to %d, each more than the one before", s, uint32(math.MaxUint32))
		}
		before = s
	}
	return nil
}

func (a Axes) checkMembers() error {
	if len(a.Members) < 1 || len(a.Members) > MaxMembers {
		return fmt.Errorf("%d members: want 1 to %d", len(a.Members), MaxMembers)
	}
	for i, m := range a.Members {
		switch {
		case m.Kind >= kinds:
			return fmt.Errorf("member of kind %d: want less than %d", m.Kind, kinds)
		case m.Kind == Single && len(a.Members) > 1:
			return fmt.Errorf("%d members, one of them a single run: want it alone", len(a.Members))
		case slices.Contains(a.Members[:i], m):
			return fmt.Errorf("member %v %d twice: want each once", m.Kind, m.Number)
		}
	}
	return nil
}

func (a Axes) checkSurface() error {
	if len(a.Surface) > MaxSurface {
		return fmt.Errorf("%d surface quantities: want at most %d", len(a.Surface), MaxSurface)
	}
	for i, code := range a.Surface {
		if i > 0 && code <= a.Surface[i-1] {
			return fmt.Errorf("surface quantity %d after %d: want each more than the one before", code, a.Surface[i-1])
		}
	}
	return nil
}

// Planes is how many planes a block has: four for each level and one for each
// surface quantity.
func (a Axes) Planes() int { return int(Surface)*len(a.Levels) + len(a.Surface) }

// Plane is the number of the plane of quantity q at level i of Levels, counted
// from 0; with q = Surface that of quantity i of the list of that name. So the
// levels of a quantity follow each other.
func (a Axes) Plane(q Quantity, i int) int { return int(q)*len(a.Levels) + i }

// tilesX and tilesY are how many tiles lie across the grid.
func (a Axes) tilesX() int { return (a.Grid.NX + Tile - 1) / Tile }
func (a Axes) tilesY() int { return (a.Grid.NY + Tile - 1) / Tile }

// blocks is how many blocks there are for all but the terrain: under 2^18
// tiles of 2^10 steps of 2^7 members.
func (a Axes) blocks() int64 {
	return int64(len(a.Members)) * int64(len(a.Steps)) * int64(a.tilesX()*a.tilesY())
}

// blockSize is the length of a block with so many planes, octets.
func blockSize(planes int) int { return planes*planeSize + crcSize }

// Size is the length in octets of a cube with these axes, which must pass
// their Check but for the size.
func (a Axes) Size() int64 {
	size := int64(a.headerSize()) + a.blocks()*int64(blockSize(a.Planes()))
	if a.Terrain {
		size += int64(a.tilesX()*a.tilesY()) * int64(blockSize(1))
	}
	return size
}
