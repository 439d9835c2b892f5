// Package flight follows one flight through the forecast's air: up at the
// train's rate to its burst, down under its canopy, until it meets the ground
// or leaves the forecast.
//
// It hides the integrator and the phases of a flight. Height is the
// independent variable, since the vertical speed is known: the midpoint rule
// over layers of fixed thickness, on the ellipsoid at height,
//
//	dφ/dz = v/((M+z)·w)   dλ/dz = u/((N+z)·cos φ·w)   dt/dz = 1/w
//
// with M and N the ellipsoid's radii of curvature and w the vertical speed.
// Scene.Fly is that integrator, plain and slow; Kernel flies many releases from
// one site with means over thicker layers, made once, and is checked against it.
//
// Heights are geometric metres above mean sea level, times seconds since the
// forecast's first. The package knows nothing of ensembles or of what the
// ground is covered with.
package flight

import (
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// Layer is the thickness of one step, m. At this thickness 99 % of landings
// lie within MaxError of a converged solution of the same winds.
const Layer = 50.0

// MaxError bounds the numerical error of a landing, m, for 99 % of flights of
// a train within its limits; see TestLandingsAgainstAnIndependentIntegration.
const MaxError = 10.0

// Heights of solid ground, m above mean sea level: the deepest trench and the
// highest summit lie between (−10.9 km and 8.85 km, from memory). Terrain
// outside them is taken as not known, and above the highest nothing is met.
const (
	lowestGround  = -12e3
	highestGround = 9e3
)

// End is how a flight ends.
type End uint8

// The ends of a flight. All but Landed say on which side the forecast was
// left, and have the numbers of wind's outcomes.
const (
	Landed      End = iota
	OffGrid         = End(wind.OffGrid)
	AboveTop        = End(wind.AboveTop)
	BeforeFirst     = End(wind.BeforeFirst)
	AfterLast       = End(wind.AfterLast)
	NearPole        = End(wind.NearPole)
	Missing         = End(wind.Missing)
)

// Ends is how many ends there are; they are numbered from 0.
const Ends = int(Missing) + 1

// String is the end in words.
func (e End) String() string {
	if e == Landed {
		return "landed"
	}
	return "left the forecast: " + wind.Outcome(e).String()
}

// Step is one point of a path.
type Step struct {
	Time     float64 // s since the forecast's first time
	At       geo.Point
	Height   atmos.Geometric // m above mean sea level
	Pressure float64         // Pa, the forecast's
}

// Scene is what a flight flies through and comes down on.
type Scene struct {
	Wind    *wind.Field
	Terrain ground.Terrain
	// Layer is the thickness of one step, m. What is not over 0 stands for the
	// constant Layer.
	Layer float64
}

// Release is one flight's start and everything that is particular to it.
type Release struct {
	At     geo.Point
	Height atmos.Geometric // m above mean sea level, −12 km to balloon.MaxBurst
	Time   float64         // s since the forecast's first time
	Train  balloon.Train   // must pass its Check
	Error  WindError       // added to the forecast's wind
	// Profile, where it has values, stands for the train's rate of ascent.
	Profile Profile
	// Hover is how long the flight hangs at the height of its burst before it
	// falls, s: 0 to MaxHover, and no longer than that whatever it says.
	Hover float64
}

// rate is the rate of ascent at a height above mean sea level, m/s.
func (r *Release) rate(height float64) float64 {
	if len(r.Profile.Rate) == 0 {
		return r.Train.Ascent
	}
	return r.Profile.At(height)
}

// Flight is one flight flown.
type Flight struct {
	End End
	// Path is the flight from release to its last point inside the forecast.
	// It is empty where the release itself is not inside.
	Path []Step
	// Burst is the index in Path of the burst, or -1 where it was not reached.
	// Of one that hangs it is where it begins to fall.
	Burst int
	// Speed is the speed of fall at the ground, m/s, where the flight landed.
	Speed float64
	// Held says that part of it flew on the highest level's wind, held.
	Held bool
}

// HeldErrorFactor is by how much the wind error grows where the highest
// level's wind is held above that level. It is assumed; no source gives one.
const HeldErrorFactor = 2.0

// Fly flies one release. The path is written into the given slice, whose
// contents are lost, so that a caller can use it again.
//
// Terrain is met on the way down only: a site in a valley lies below the
// forecast model's ground. Where the burst lies below that ground, the flight
// lands there and then; where the release lies above the burst, it falls from
// the release. The ground is looked at once a step, so that a ridge narrower
// than the drift of one step can be missed.
//
// A release above balloon.MaxBurst counts as AboveTop, one below all ground as
// Missing. A flight takes at most (2·Burst − Height + 12 km)/Layer + 2 steps,
// or as many as (Height + 12 km)/Layer + 2 from above the burst: 2,482 for a
// train within its limits and layers of 50 m. A flight that hangs takes up to
// 721 more.
func (s Scene) Fly(r Release, path []Step) Flight {
	f := Flight{Path: path[:0], Burst: -1}
	switch {
	case r.Height > balloon.MaxBurst:
		f.End = AboveTop
		return f
	case r.Height < lowestGround:
		f.End = Missing
		return f
	}
	here := point{at: geo.Point{Lat: r.At.Lat, Lon: geo.WrapLon(r.At.Lon)}, time: r.Time, height: float64(r.Height)}
	s.finish(&f, r, here, false)
	return f
}

// finish flies a release on from a point of its way up or of its fall.
func (s Scene) finish(f *Flight, r Release, here point, falling bool) {
	m := motion{scene: s, release: r, falling: falling}
	if !(s.Layer > 0) {
		m.scene.Layer = Layer
	}
	if falling {
		m.fall(f, here)
		return
	}
	here, ok := m.rise(f, here)
	if !ok {
		return
	}
	if here, ok = m.hover(f, here); !ok {
		return
	}
	f.Burst = len(f.Path)
	m.falling = true
	m.fall(f, here)
	if f.Burst == len(f.Path) {
		f.Burst = -1
	}
}

// rise follows a flight up to its burst, which is not yet noted; false where
// it leaves the forecast before.
func (m *motion) rise(f *Flight, p point) (point, bool) {
	bottom, burst := p.height, float64(m.release.Train.Burst)
	layers := int(math.Ceil((burst - bottom) / m.scene.Layer))
	for i := range layers {
		// The last of them is the burst to the last bit: it may be the top.
		left := float64(layers-1-i) / float64(layers)
		next, ok := m.advance(f, p, burst-(burst-bottom)*left)
		if !ok {
			return p, false
		}
		p = next
	}
	return p, true
}

// fall follows a flight down from its burst until it lands or leaves the
// forecast.
func (m *motion) fall(f *Flight, p point) {
	switch above, ok := m.clearance(f, p); {
	case !ok:
		return
	case above <= 0:
		m.land(f, p)
		return
	}
	// Ground lies above lowestGround, which bounds this.
	for {
		next, ok := m.advance(f, p, p.height-m.scene.Layer)
		if !ok {
			return
		}
		above, ok := m.clearance(f, next)
		switch {
		case !ok:
			return
		case above <= 0:
			m.meet(f, p, next)
			return
		}
		p = next
	}
}

// meet lands a flight on the ground between a point above it and one that is
// not. Halving the way 30 times leaves 1e-9 of it, whatever the ground's shape.
func (m *motion) meet(f *Flight, high, low point) {
	from, to := 0.0, 1.0
	for range 30 {
		middle := (from + to) / 2
		above, ok := m.clearance(f, high.toward(low, middle))
		switch {
		case !ok:
			return
		case above > 0:
			from = middle
		default:
			to = middle
		}
	}
	m.land(f, high.toward(low, to))
}

// point is where a flight is.
type point struct {
	at     geo.Point
	time   float64
	height float64
}

// toward is the point a fraction of the way to the next one.
func (p point) toward(q point, fraction float64) point {
	east := geo.WrapLon(q.at.Lon - p.at.Lon)
	return point{
		at: geo.Point{
			Lat: p.at.Lat + fraction*(q.at.Lat-p.at.Lat),
			Lon: geo.WrapLon(p.at.Lon + fraction*east),
		},
		time:   p.time + fraction*(q.time-p.time),
		height: p.height + fraction*(q.height-p.height),
	}
}

// motion is a flight under way.
type motion struct {
	scene   Scene
	release Release
	falling bool
}

// slope is the change of a point per metre of height.
type slope struct{ lat, lon, time float64 }

// advance notes a point in the path and takes one midpoint step from it to the
// given height; false where the point or the middle of the step is outside the
// forecast.
func (m *motion) advance(f *Flight, p point, height float64) (point, bool) {
	air, ok := m.air(f, p)
	if !ok {
		return p, false
	}
	f.note(p, air)
	dz := height - p.height
	middle := m.slope(p, air).move(p, dz/2)
	if air, ok = m.air(f, middle); !ok {
		return p, false
	}
	next := m.slope(middle, air).move(p, dz)
	next.height = height
	return next, true
}

func (k slope) move(p point, dz float64) point {
	return point{
		at:     geo.Point{Lat: p.at.Lat + k.lat*dz, Lon: geo.WrapLon(p.at.Lon + k.lon*dz)},
		time:   p.time + k.time*dz,
		height: p.height + dz,
	}
}

// slope is the direction of the flight at a point in the given air.
func (m *motion) slope(p point, air wind.Sample) slope {
	rate := m.release.rate(p.height)
	if m.falling {
		rate = -m.release.Train.Fall(air.Density())
	}
	e := m.release.Error
	if m.falling {
		e = e.Down()
	}
	east, north := e.At(p.height)
	turn := turning(p, air, east, north)
	return slope{lat: turn.lat / rate, lon: turn.lon / rate, time: 1 / rate}
}

// turning is how fast latitude and longitude change at a point, degrees/s, in
// the given air and with a wind error in m/s.
func turning(p point, air wind.Sample, east, north float64) slope {
	if air.Held {
		east, north = HeldErrorFactor*east, HeldErrorFactor*north
	}
	meridian, normal := geo.Radii(p.at.Lat)
	return slope{
		lat:  degrees((air.North + north) / (meridian + p.height)),
		lon:  degrees((air.East + east) / ((normal + p.height) * math.Cos(radians(p.at.Lat)))),
		time: 1,
	}
}

// air samples the forecast at a point; false, and the end noted, where the
// forecast does not cover it.
func (m *motion) air(f *Flight, p point) (wind.Sample, bool) {
	air, out := m.scene.Wind.At(p.at, atmos.Geometric(p.height), p.time)
	if out != wind.Inside {
		f.End = End(out)
		return air, false
	}
	f.Held = f.Held || air.Held
	return air, true
}

// clearance is how high a point is above the ground, m, or above all ground
// where it is; false, and the end noted, where the ground's height is needed
// and not known: that the forecast was left, if it was, rather than Missing.
func (m *motion) clearance(f *Flight, p point) (float64, bool) {
	if p.height > highestGround {
		return p.height - highestGround, true
	}
	ground, ok := m.scene.Terrain.At(p.at)
	if !ok || ground < lowestGround || ground > highestGround {
		if _, inside := m.air(f, p); inside {
			f.End = Missing
		}
		return 0, false
	}
	return p.height - ground, true
}

// land ends the flight at a point on the ground.
func (m *motion) land(f *Flight, p point) {
	air, ok := m.air(f, p)
	if !ok {
		return
	}
	f.End = Landed
	f.Speed = m.release.Train.Fall(air.Density())
	f.note(p, air)
}

func (f *Flight) note(p point, air wind.Sample) {
	f.Path = append(f.Path, Step{Time: p.time, At: p.at, Height: atmos.Geometric(p.height), Pressure: air.Pressure})
}

func degrees(rad float64) float64 { return rad * (180 / math.Pi) }
func radians(deg float64) float64 { return deg * (math.Pi / 180) }
