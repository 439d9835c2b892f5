package mission

import (
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/rules"
	"example.org/thistledown/internal/sun"
)

// sunset is how far the sun's centre is below the horizon then, degrees, as
// sun.Horizon has it.
const sunset = 50.0 / 60

// dipAt60000 is how much lower the horizon is at 60,000 ft: acos(R/(R + 18,288 m))
// with R = 6,371 km, degrees.
const dipAt60000 = 4.34

// look is a look at the sun over a horizon that lies so many degrees lower than
// from the ground.
type look struct {
	at   geo.Point
	when time.Time
	dip  float64
}

// down is whether the sun has set.
func (l look) down() (bool, error) {
	p, err := sun.At(beneath(l.at), l.when)
	return p.Elevation < -sunset-l.dip, err
}

// congested is whether built-up ground is under the first 1,000 ft of the way up:
// of the planned flight at rates of ascent and delays of two spreads to either side
// through every member of the forecast. Where it is under some of these ways, or
// nobody looked at the ground, that cannot be told.
func (r *prepared) congested(over *ground.Map) rules.Chance {
	const first = 1000 * 0.3048 // m
	hits, open, all := 0, 0, 0
	for _, scene := range r.scenes {
		scene.Layer = first / 10
		for _, spreads := range [...][2]float64{{0, 0}, {-2, -2}, {-2, 2}, {2, -2}, {2, 2}} {
			launch := r.spec.Launch
			launch.Time += r.spec.Delay.Centre + spreads[0]*r.spec.Delay.Spread
			launch.Train = balloon.Train{
				Ascent:  min(max(r.spec.Ascent.Centre+spreads[1]*r.spec.Ascent.Spread, balloon.MinAscent), balloon.MaxAscent),
				Burst:   launch.Height + atmos.Geometric(first),
				Landing: r.spec.Landing.Centre,
			}
			f := scene.Fly(launch, nil)
			all++
			up := f.Path
			if f.Burst >= 0 {
				up = up[:f.Burst+1]
			}
			hit, known := under(over, up, scene.Wind.Start())
			if hit {
				hits++
			}
			if !hit && (!known || f.Burst < 0) {
				open++
			}
		}
	}
	switch {
	case hits == all:
		return rules.Sure()
	case hits == 0 && open == 0:
		return rules.Never()
	case hits == 0:
		return rules.NotKnown()
	}
	return rules.Chance{Value: float64(hits) / float64(all), Low: 0, High: 1}
}

// under is whether there is built-up ground under a path, and whether all of it
// was looked at.
func under(over *ground.Map, path []flight.Step, start time.Time) (hit, known bool) {
	known = len(path) > 0
	for _, s := range path {
		found := over.At(s.At, start.Add(seconds(s.Time)))
		hit = hit || found.Under.Has(ground.BuiltUp)
		known = known && found.Assessed.Has(ground.BuiltUp)
	}
	return hit, known
}
