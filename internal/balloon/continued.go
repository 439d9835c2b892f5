package balloon

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
)

// How air is continued above its highest level, m.
const (
	continuedStep = 1000.0
	fading        = 10e3 // over which the air goes over into the standard's
)

// Continued is the air with levels every kilometre from its highest up to a
// height of at most 80 km, for a forecast that ends below the burst. What the
// temperature differs by from the standard's fades in proportion to height over
// 10 km, a choice of our own; pressure goes on from that of the highest level by
// hydrostatic balance; the air is dry. It is no forecast, and a flight whose end
// is above the air's own last level has to be told so. Air that reaches as high
// already comes back as it is.
func (a Air) Continued(top atmos.Geometric) (Air, error) {
	if err := a.Check(); err != nil {
		return nil, err
	}
	last := a[len(a)-1]
	below, low := atmos.Standard(last.Height)
	_, high := atmos.Standard(top)
	if !low || !high {
		return nil, fmt.Errorf("air continued from %g to %g m: want both within −5000 to 80000 m", float64(last.Height), float64(top))
	}
	off := last.Temperature - below.Temperature
	out := append(make(Air, 0, len(a)+1+int(max(float64(top-last.Height), 0)/continuedStep)), a...)
	for z := last.Height; z < top && len(out) < maxLevels; {
		z = min(z+continuedStep, top)
		s, _ := atmos.Standard(z)
		t := s.Temperature + off*max(1-float64(z-a[len(a)-1].Height)/fading, 0)
		// The weight of the standard's column over a step, −ln of its ratio of
		// pressures, counts by its mean temperature over that of this air.
		weight := math.Log(s.Pressure/below.Pressure) * (s.Temperature + below.Temperature) / (t + last.Temperature)
		p := last.Pressure * math.Exp(weight)
		last = Layer{z, atmos.State{Temperature: t, Pressure: p, Density: atmos.Density(p, t)}}
		out = append(out, last)
		below = s
	}
	return out, nil
}
