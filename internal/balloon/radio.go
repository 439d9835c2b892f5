package balloon

import (
	"fmt"
	"math"
)

// The sphere on which radio waves are drawn straight. The air bends them
// downward; with its usual gradient of refractivity, −39 N-units per km near
// the ground, they run straight over a sphere of 4/3 of the Earth's radius
// ([P310], [P453]: from memory, text not seen). Of a given day the factor may
// be anything from below 1 to far above 4/3.
const (
	meanEarthRadius = 6371e3 // m
	radioRadius     = 4.0 / 3.0 * meanEarthRadius
)

// Limits of a radio path.
const (
	MaxRadioDistance = 800e3 // m
	MinAntenna       = 0     // m above ground
	MaxAntenna       = 5000  // m above ground: an aircraft may listen
	maxTerrain       = 9000  // m above mean sea level
	minTerrain       = -500  // m
	maxProfile       = 100000
)

// RadioReach is how far in m a station at one height sees another over smooth
// ground, both in m above it: √(2·k·R·h₁) + √(2·k·R·h₂) with k = 4/3, that is
// 4.12 km·(√h₁ + √h₂). The parabola stands for the sphere; at 40 km up its
// way is 0.2 % the longer.
func RadioReach(antenna, height float64) float64 {
	return math.Sqrt(2*radioRadius*antenna) + math.Sqrt(2*radioRadius*height)
}

// RadioFloor is the height in m above smooth ground below which a station at a
// distance in m is lost to an antenna at a height in m: the inverse of
// RadioReach, 0 where the antenna sees the ground itself.
func RadioFloor(antenna, distance float64) float64 {
	beyond := max(0, distance-math.Sqrt(2*radioRadius*antenna))
	return beyond * beyond / (2 * radioRadius)
}

// Terrain is the height of the ground along a line from the receiver.
type Terrain struct {
	Distance float64 // m from the receiver
	Height   float64 // m above mean sea level
}

// Listener is a receiver and the ground that it looks over.
type Listener struct {
	// Antenna is its height in m above the ground under it.
	Antenna float64
	// Profile starts at distance 0 and rises in distance; between its points the
	// ground is taken as straight over the curve of the Earth.
	Profile []Terrain
}

// Check reports every fault of the listener.
func (l Listener) Check() error {
	var w wants
	w.between("antenna above ground", l.Antenna, MinAntenna, MaxAntenna, "m")
	if len(l.Profile) < 2 || len(l.Profile) > maxProfile {
		w = append(w, fmt.Errorf("terrain of %d points: want 2 to %d", len(l.Profile), maxProfile))
	}
	for i, p := range l.Profile {
		w.between(fmt.Sprintf("terrain point %d: height", i+1), p.Height, minTerrain, maxTerrain, "m")
		w.between(fmt.Sprintf("terrain point %d: distance", i+1), p.Distance, 0, MaxRadioDistance, "m")
		if i == 0 && p.Distance != 0 {
			w = append(w, fmt.Errorf("terrain point 1: distance %g m: want 0, the receiver's own place", p.Distance))
		}
		if i > 0 && !(p.Distance > l.Profile[i-1].Distance) {
			w = append(w, fmt.Errorf("terrain point %d: distance %g m: want it beyond the point before", i+1, p.Distance))
		}
	}
	return w.err()
}

// LastSignal is where a payload that comes down is lost to a receiver.
type LastSignal struct {
	Height      float64 // m above mean sea level
	AboveGround float64 // m above the ground under the payload; 0 if it is heard to the ground
}

// Lost is the height at which a payload that comes down at a distance in m,
// within the profile, sinks below the receiver's skyline. It is the straight
// line over the 4/3 Earth, grazing the ground: neither the weak signal that
// bends over an edge nor the strength lost on the way to it (with less than
// 0.6 of the first Fresnel zone clear) is counted, so the signal may fade some
// way above it or linger some way below. Trees and houses are ground only if
// the profile has them.
func (l Listener) Lost(distance float64) (LastSignal, error) {
	if err := l.Check(); err != nil {
		return LastSignal{}, err
	}
	end := l.Profile[len(l.Profile)-1].Distance
	if !(distance > 0 && distance <= end) {
		return LastSignal{}, fmt.Errorf("distance %g m: want above 0 and within the terrain's %g m", distance, end)
	}
	eye := l.Profile[0].Height + l.Antenna
	slope := math.Inf(-1)
	var under float64
	for i := 1; i < len(l.Profile); i++ {
		a, b := l.Profile[i-1], l.Profile[i]
		if b.Distance >= distance {
			f := (distance - a.Distance) / (b.Distance - a.Distance)
			b = Terrain{distance, a.Height + f*(b.Height-a.Height)}
		}
		slope = max(slope, steepest(a, b, eye))
		if b.Distance == distance {
			under = b.Height
			break
		}
	}
	height := max(under, eye+slope*distance+distance*distance/(2*radioRadius))
	return LastSignal{Height: height, AboveGround: height - under}, nil
}

// steepest is the greatest slope from an eye at distance 0 and a height in m to
// the ground between two points. Flattened, the ground lies at its height less
// x²/(2·k·R), which bulges between the points, so that the skyline may be
// there and at neither end.
func steepest(a, b Terrain, eye float64) float64 {
	slope := func(x float64) float64 {
		f := (x - a.Distance) / (b.Distance - a.Distance)
		return (a.Height+f*(b.Height-a.Height)-eye)/x - x/(2*radioRadius)
	}
	rise := (b.Height - a.Height) / (b.Distance - a.Distance)
	out := slope(b.Distance)
	if a.Distance > 0 {
		out = max(out, slope(a.Distance))
	} else if a.Height == eye {
		out = max(out, rise) // an eye on the ground sees along it first
	}
	// d/dx of (c + m·x − x²/2kR)/x is −c/x² − 1/2kR, with c the height that the
	// segment's line has over the eye at x = 0.
	c := a.Height - rise*a.Distance - eye
	if x := math.Sqrt(-c * 2 * radioRadius); c < 0 && x > a.Distance && x < b.Distance {
		out = max(out, slope(x))
	}
	return out
}
