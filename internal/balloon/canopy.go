package balloon

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Limits of a canopy.
const (
	MinCanopySize = 0.1 // m, across
	MaxCanopySize = 60  // m, across
	MinCanopyDrag = 0.2 // drag coefficient on nominal area
	// MaxCanopyDrag bounds the drag coefficient on nominal area. The greatest of
	// [Knacke1991], Table 5-1, is 0.96; the 1.4 to 1.5 that are quoted
	// for hemispheres are on the projected area, which is about half as large.
	MaxCanopyDrag = 1.2
	MaxCanopies   = 8 // of one kind
)

// wants gathers faults, so that all of them are reported at once.
type wants []error

// between adds a fault for a value outside a range, and for NaN.
func (w *wants) between(name string, value, low, high float64, unit string) {
	if !(value >= low && value <= high) {
		*w = append(*w, fmt.Errorf("%s %g %s: want %g to %g %s", name, value, unit, low, high, unit))
	}
}

// add adds a fault of a part under the part's name, one line for each.
func (w *wants) add(part string, err error) {
	if err == nil {
		return
	}
	for line := range strings.SplitSeq(err.Error(), "\n") {
		*w = append(*w, errors.New(part+": "+line))
	}
}

// err is all the faults in one, nil without any.
func (w wants) err() error { return errors.Join(w...) }

// Shape is a kind of canopy with what was measured of it, on nominal area: all
// the cloth including vent and slots, S₀ = π·D₀²/4 where D₀ is the nominal
// diameter.
type Shape struct {
	Name string
	// CdMin and CdMax bound the drag coefficient in a steady sink.
	CdMin, CdMax float64
	// CxMin and CxMax bound the opening force coefficient at infinite mass: the
	// greatest force while filling over the steady drag at the same speed, for a
	// load so heavy that it does not slow meanwhile.
	CxMin, CxMax float64
	// Fill is the number of nominal diameters that the canopy travels while it
	// fills; 0 where the source gives none.
	Fill float64
	// Growth is the power of time with which the drag area grows while filling;
	// 0 where the source gives none.
	Growth int
	Source string // table and page
}

// solidCloth is the source of the rows of shapes.
const solidCloth = "Knacke, NWC TP 6575 (1991), Table 5-1 p. 5-3, Table 5-6 p. 5-44, Fig. 5-51 p. 5-59; drag coefficients seen as two transcriptions that agree, the rest as one"

// shapes is [Knacke1991]. Neither a flat square nor a flat hexagon has a row
// there; as flat sheets of cloth they are taken as flat circular canopies
// of equal area (common practice). Its slotted canopies (ribbon, ringslot,
// ringsail) are left out: only one transcription of their rows was seen.
var shapes = [...]Shape{
	{"flat circular", 0.75, 0.80, 1.7, 1.7, 8, 2, solidCloth},
	{"conical", 0.75, 0.90, 1.8, 1.8, 0, 2, solidCloth},
	{"biconical", 0.75, 0.92, 1.8, 1.8, 0, 0, solidCloth},
	{"polyconical", 0.80, 0.96, 1.8, 1.8, 0, 2, solidCloth},
	{"extended skirt 10 % flat", 0.78, 0.87, 1.4, 1.4, 10, 2, solidCloth},
	{"extended skirt 14.3 % full", 0.75, 0.90, 1.4, 1.4, 12, 2, solidCloth},
	{"hemispherical", 0.62, 0.77, 1.6, 1.6, 0, 0, solidCloth},
	{"annular", 0.85, 0.95, 1.4, 1.4, 0, 0, solidCloth},
	{"cross", 0.60, 0.85, 1.1, 1.2, 11.7, 0, solidCloth},
}

// Shapes is every kind of canopy that the package knows.
func Shapes() []Shape { return append([]Shape(nil), shapes[:]...) }

// ShapeNamed is the kind of canopy of a name, in any case; the error for an
// unknown name lists the known ones.
func ShapeNamed(name string) (Shape, error) {
	names := make([]string, len(shapes))
	for i, s := range shapes {
		if strings.EqualFold(strings.TrimSpace(name), s.Name) {
			return s, nil
		}
		names[i] = s.Name
	}
	return Shape{}, fmt.Errorf("canopy shape %q: want one of %s", name, strings.Join(names, ", "))
}

// MiddleCd is the middle of the range of the drag coefficient, on nominal area.
func (s Shape) MiddleCd() float64 { return (s.CdMin + s.CdMax) / 2 }

// Outline is how the one length that a canopy is sold by becomes its nominal
// area.
type Outline uint8

// The outlines. Each length is taken on the cloth, not on the canopy in the
// air, which is narrower.
const (
	Circle  Outline = iota + 1 // the nominal diameter D₀: S₀ = π·D₀²/4
	Square                     // the side of the flat cloth: S₀ = a²
	Hexagon                    // between opposite sides of the flat cloth: S₀ = √3/2·f²
)

// String is the outline in words.
func (o Outline) String() string {
	switch o {
	case Circle:
		return "circle"
	case Square:
		return "square"
	case Hexagon:
		return "hexagon"
	}
	return fmt.Sprintf("outline %d", uint8(o))
}

// factor is the area over the square of the length; NaN for no outline.
func (o Outline) factor() float64 {
	switch o {
	case Circle:
		return math.Pi / 4
	case Square:
		return 1
	case Hexagon:
		return math.Sqrt(3) / 2
	}
	return math.NaN()
}

// Area is the nominal area in m² of a canopy of the given length in m.
func (o Outline) Area(size float64) float64 { return o.factor() * size * size }

// Size is the length in m of a canopy of the given nominal area in m².
func (o Outline) Size(area float64) float64 { return math.Sqrt(area / o.factor()) }

// Canopy is one or several canopies of one kind.
type Canopy struct {
	Shape   Shape
	Outline Outline
	// Size is the length in m that Outline speaks of, MinCanopySize to
	// MaxCanopySize.
	Size float64
	// Cd is the drag coefficient on nominal area, MinCanopyDrag to MaxCanopyDrag.
	Cd float64
	// Count is how many such canopies there are, 1 to MaxCanopies.
	Count int
}

// Check reports every quantity of the canopy that is outside its limits.
func (c Canopy) Check() error {
	var w wants
	if _, err := ShapeNamed(c.Shape.Name); err != nil {
		w = append(w, err)
	}
	if math.IsNaN(c.Outline.factor()) {
		w = append(w, fmt.Errorf("canopy %s: want circle, square or hexagon", c.Outline))
	}
	w.between("canopy size", c.Size, MinCanopySize, MaxCanopySize, "m")
	w.between("canopy drag coefficient on nominal area", c.Cd, MinCanopyDrag, MaxCanopyDrag, "(no unit)")
	if c.Count < 1 || c.Count > MaxCanopies {
		w = append(w, fmt.Errorf("canopies %d: want 1 to %d", c.Count, MaxCanopies))
	}
	return w.err()
}

// Area is the nominal area S₀ of one of the canopies, m².
func (c Canopy) Area() float64 { return c.Outline.Area(c.Size) }

// NominalDiameter is D₀ = √(4·S₀/π) of one of the canopies, m.
func (c Canopy) NominalDiameter() float64 { return Circle.Size(c.Area()) }

// DragArea is Cd·S₀ of all the canopies together, m². Canopies side by side
// lean away from each other and lose some of it; that loss is not counted, so
// for several canopies this is an upper bound.
func (c Canopy) DragArea() float64 { return float64(c.Count) * c.Cd * c.Area() }

// Sized is the canopy with the size at which a mass in kg sinks at a speed in
// m/s in air of a density in kg/m³, and nothing but the canopy brakes it.
func (c Canopy) Sized(mass, speed, density float64) (Canopy, error) {
	var w wants
	w.between("mass", mass, MinFallMass, MaxFallMass, "kg")
	w.between("landing speed", speed, MinLanding, MaxLanding, "m/s")
	w.between("air density", density, thinnestAir, densestAir, "kg/m³")
	probe := c
	probe.Size = 1
	if err := probe.Check(); err != nil {
		w = append(w, err)
	}
	if err := w.err(); err != nil {
		return Canopy{}, err
	}
	area := DragAreaFor(mass, speed, density) / (c.Cd * float64(c.Count))
	c.Size = c.Outline.Size(area)
	if err := c.Check(); err != nil {
		return Canopy{}, fmt.Errorf("%g kg at %g m/s: %w", mass, speed, err)
	}
	return c, nil
}
