package rules

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Limits of a flight. They are wider than any sounding balloon, and keep every
// loop bounded.
const (
	MaxPackages = 200
	MaxMass     = 1000.0 // kg, of a package or of Rest
	MaxFaces    = 100    // of one package
	MinFace     = 1e-6   // m², of one face
	MaxFace     = 100.0  // m²
	MaxForce    = 1e5    // N
	MaxDiameter = 200.0  // m
	MaxBalloons = 1000000
	MaxLength   = 1e4  // m, of what hangs
	MaxInterval = 1e8  // s
	MaxSight    = 1e6  // m of visibility
	maxName     = 1000 // octets
)

// Package is a payload package: a thing in one piece that hangs in the train.
type Package struct {
	Name string
	Mass float64 // kg, above 0 to MaxMass
	// Least is how much of Mass is in one package for sure, kg, above 0 to Mass.
	// It is less than Mass where parts were weighed and it was not said which of
	// them share a package: it is the heaviest of them then.
	Least float64
	// Faces are the areas of its surfaces, m², MinFace to MaxFace; none: not known.
	// Of a package that is no box, the smallest that it can strike with.
	Faces []float64
}

// smallest is the area in m² of the smallest face, NaN where none is known.
func (p Package) smallest() float64 {
	if len(p.Faces) == 0 {
		return math.NaN()
	}
	s := p.Faces[0]
	for _, a := range p.Faces[1:] {
		s = min(s, a)
	}
	return s
}

// Box is the three different faces of a box, m², of sides in m.
func Box(length, width, height float64) []float64 {
	return []float64{length * width, width * height, height * length}
}

// Chance is a share of flights and its 95 % interval, each 0 to 1; Value NaN:
// not known, whatever the interval.
type Chance struct{ Value, Low, High float64 }

// Sure is the chance of what happens to every flight.
func Sure() Chance { return Chance{1, 1, 1} }

// Never is the chance of what happens to none.
func Never() Chance { return Chance{} }

// NotKnown is the chance of what nobody has looked at.
func NotKnown() Chance { return Chance{math.NaN(), 0, 1} }

// Weather is that of the launch, as forecast.
type Weather struct {
	// Cloud is the greatest share of the sky that clouds or anything else obscures
	// at one level over the launch, 0 to 1; NaN: not known.
	Cloud float64
	// Visibility is horizontal, m, 0 to MaxSight; NaN: not known. A forecast has it
	// at the ground alone.
	Visibility float64
}

// Equipment is what the train carries, as far as a plan says.
type Equipment struct {
	CutDowns     int     // independent ways to cut the payload off; −1: not known
	Terminations int     // independent ways to end the envelope's flight; −1: not known
	ZeroPressure Answer  // whether the envelope is polyethylene, vented, not made to burst
	Reflector    Answer  // whether it has something that radar sees
	Transponder  Answer  // whether a transponder reports its pressure altitude
	Lights       Answer  // whether balloon, attachments and payload carry flashing lights
	Suspension   float64 // m, of the suspension but for an open conspicuous canopy, 0 to MaxLength; NaN: not known
	Banded       Answer  // whether the suspension has bands of two colours or pennants
	Antenna      float64 // N of impact that breaks a trailing antenna, 0 to MaxForce, 0: none trails; NaN: not known
	Pennants     Answer  // whether pennants hang on that antenna, every 15 m
	Fixes        float64 // s between recorded positions, above 0 to MaxInterval; NaN: not known
	Blind        float64 // s of the longest stretch without a position, 0 to MaxInterval; NaN: not known
}

// Leave is what the operator holds, as far as a plan says.
type Leave struct {
	State    Answer // authorization of the State that it is launched in
	Abroad   Answer // of every State that it may drift into
	Closed   Answer // of whoever controls the closed volumes that it may enter
	Services Answer // of air traffic services, for what a rule lets them allow
}

// Flight is what the rules ask of a flight.
type Flight struct {
	Packages []Package // at most MaxPackages
	// Rest is what hangs below the neck and is in no package, kg, 0 to MaxMass:
	// canopy, lines, reflector.
	Rest float64
	// Break is the impact force in N that separates the suspended payload from
	// the balloon, 0 to MaxForce; NaN: not known. The static strength of the
	// line is no impact force, but all that a rope's label gives.
	Break    float64
	Balloons int // let go together or in one series, 1 to MaxBalloons

	// Diameters of the envelope at launch and of the greatest that it reaches, m,
	// 0 to MaxDiameter; NaN: not known.
	AtLaunch, AtBurst float64
	Launch            time.Time // UTC; zero: not known

	Weather Weather
	// Shares of flights that are between sunset and sunrise, as corrected to their
	// height, anywhere below 60,000 ft; that are over a congested area or a crowd
	// below 1,000 ft on the way up; that are below 2,000 ft above the surface in the
	// surface area of an airport's airspace (class B to E); that cross a border;
	// that enter a prohibited or restricted volume while it is active.
	Night, Congested, SurfaceArea, Border, Closed Chance

	Meteorological Answer // whether it serves nothing but meteorology
	Equipment      Equipment
	Leave          Leave
}

// Unstated is a flight of which nothing is known but that it is one balloon
// without payload: to be filled in.
func Unstated() Flight {
	nan, c := math.NaN(), NotKnown()
	return Flight{
		Break: nan, Balloons: 1, AtLaunch: nan, AtBurst: nan,
		Weather: Weather{nan, nan}, Night: c, Congested: c, SurfaceArea: c, Border: c, Closed: c,
		Equipment: Equipment{CutDowns: -1, Terminations: -1, Suspension: nan, Antenna: nan, Fixes: nan, Blind: nan},
	}
}

// Payload is everything below the neck, kg.
func (f Flight) Payload() float64 { return f.packed() + f.Rest }

// packed is all the packages, kg.
func (f Flight) packed() float64 {
	sum := 0.0
	for _, p := range f.Packages {
		sum += p.Mass
	}
	return sum
}

// Check reports every fault of the flight.
func (f Flight) Check() error {
	var w wants
	if len(f.Packages) > MaxPackages {
		return fmt.Errorf("packages %d: want at most %d", len(f.Packages), MaxPackages)
	}
	for i, p := range f.Packages {
		if err := p.Check(); err != nil {
			w = append(w, fmt.Errorf("package %d %q: %w", i+1, p.Name, err))
		}
	}
	if f.Balloons < 1 || f.Balloons > MaxBalloons {
		w = append(w, fmt.Errorf("balloons %d: want 1 to %d", f.Balloons, MaxBalloons))
	}
	w.between("rest of the payload", f.Rest, 0, MaxMass, "kg")
	w.known("impact force that separates", f.Break, 0, MaxForce, "N")
	w.known("diameter at launch", f.AtLaunch, 0, MaxDiameter, "m")
	w.known("greatest diameter", f.AtBurst, 0, MaxDiameter, "m")
	w.known("cloud", f.Weather.Cloud, 0, 1, "(share)")
	w.known("visibility", f.Weather.Visibility, 0, MaxSight, "m")
	w.chance("night", f.Night)
	w.chance("congested area", f.Congested)
	w.chance("surface area", f.SurfaceArea)
	w.chance("border", f.Border)
	w.chance("closed volume", f.Closed)
	w.answer("meteorological", f.Meteorological)
	f.Equipment.check(&w)
	w.answer("leave of the State", f.Leave.State)
	w.answer("leave of States overflown", f.Leave.Abroad)
	w.answer("leave for closed volumes", f.Leave.Closed)
	w.answer("leave of air traffic services", f.Leave.Services)
	return errors.Join(w...)
}

// Check reports every fault of the package.
func (p Package) Check() error {
	var w wants
	if len(p.Name) > maxName {
		w = append(w, fmt.Errorf("name of %d octets: want at most %d", len(p.Name), maxName))
	}
	if !(p.Mass > 0 && p.Mass <= MaxMass) {
		w = append(w, fmt.Errorf("mass %g kg: want above 0 to %g kg", p.Mass, MaxMass))
	}
	if !(p.Least > 0 && p.Least <= p.Mass) {
		w = append(w, fmt.Errorf("mass in one package for sure %g kg: want above 0 to its mass", p.Least))
	}
	if len(p.Faces) > MaxFaces {
		return errors.Join(append(w, fmt.Errorf("faces %d: want at most %d", len(p.Faces), MaxFaces))...)
	}
	for i, a := range p.Faces {
		if !(a >= MinFace && a <= MaxFace) {
			w = append(w, fmt.Errorf("face %d of %g m²: want %g to %g m²", i+1, a, MinFace, MaxFace))
		}
	}
	return errors.Join(w...)
}

// check adds every fault of the equipment.
func (e Equipment) check(w *wants) {
	for _, n := range []struct {
		name  string
		count int
	}{{"ways to cut the payload off", e.CutDowns}, {"ways to end the envelope's flight", e.Terminations}} {
		if n.count < -1 || n.count > MaxPackages {
			*w = append(*w, fmt.Errorf("%s %d: want −1, not known, to %d", n.name, n.count, MaxPackages))
		}
	}
	w.known("suspension", e.Suspension, 0, MaxLength, "m")
	w.known("impact force that breaks the antenna", e.Antenna, 0, MaxForce, "N")
	w.known("time without a position", e.Blind, 0, MaxInterval, "s")
	if !(e.Fixes > 0 && e.Fixes <= MaxInterval || math.IsNaN(e.Fixes)) {
		*w = append(*w, fmt.Errorf("time between positions %g s: want above 0 to %g s, or NaN", e.Fixes, MaxInterval))
	}
	for _, a := range []struct {
		name   string
		answer Answer
	}{
		{"zero pressure", e.ZeroPressure},
		{"reflector", e.Reflector},
		{"transponder", e.Transponder},
		{"lights", e.Lights},
		{"banded", e.Banded},
		{"pennants", e.Pennants},
	} {
		w.answer(a.name, a.answer)
	}
}

// wants collects faults.
type wants []error

// between adds a fault for a value outside a range, and for NaN.
func (w *wants) between(name string, value, low, high float64, unit string) {
	if !(value >= low && value <= high) {
		*w = append(*w, fmt.Errorf("%s %g %s: want %g to %g %s", name, value, unit, low, high, unit))
	}
}

// known is between for what may be NaN, not known.
func (w *wants) known(name string, value, low, high float64, unit string) {
	if !math.IsNaN(value) && !(value >= low && value <= high) {
		*w = append(*w, fmt.Errorf("%s %g %s: want %g to %g %s, or NaN", name, value, unit, low, high, unit))
	}
}

// chance adds a fault for a share that is not within its interval.
func (w *wants) chance(name string, c Chance) {
	if !math.IsNaN(c.Value) && !(c.Low >= 0 && c.Low <= c.Value && c.Value <= c.High && c.High <= 1) {
		*w = append(*w, fmt.Errorf("%s: share %g in %g to %g: want 0 to 1, and the share in its interval", name, c.Value, c.Low, c.High))
	}
}

// answer adds a fault for an answer that is none.
func (w *wants) answer(name string, a Answer) {
	if a > No {
		*w = append(*w, fmt.Errorf("%s: %s: want yes, no or not known", name, a))
	}
}
