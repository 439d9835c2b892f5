package mission

import (
	"context"
	"math"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

const (
	// pathWithin is how far a path may be from the flight as it was flown, m,
	// unless that takes more than maxPath points.
	pathWithin = 10.0
	maxPath    = 200 // points
)

// flown is the flights as an answer carries them.
func flown(ctx context.Context, outcomes []ensemble.Outcome, scenes []flight.Scene) ([]report.Flown, error) {
	all := make([]report.Flown, len(outcomes))
	for i := range outcomes {
		if i%often == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		o := &outcomes[i]
		scene := scenes[o.Scene]
		f := report.Flown{
			Member: o.Scene, Course: o.Course, End: o.End, At: o.At, Time: moment(scene.Wind, o.Time),
			Aloft: o.Aloft, Burst: o.Burst,
		}
		if o.End == flight.Landed {
			f.Speed = o.Speed
			f.Height, _ = scene.Terrain.At(o.At) // it came down on that
		}
		all[i] = f
	}
	return all, nil
}

// moment is a time that is counted in seconds from a field's first.
func moment(f *wind.Field, s float64) time.Time {
	return f.Start().Add(time.Duration(s * float64(time.Second)))
}

// profile is the weighed train's rate of ascent by height, as the flights have it;
// none where the plan gives the rate itself.
func (t *trained) profile() flight.Profile {
	const spacing = 250.0 // m
	if t == nil || len(t.climb.Steps) < 2 {
		return flight.Profile{}
	}
	return flight.Climbing(t.climb, float64(t.climb.Last().Height), spacing, nil)
}

// central flies a spec with nothing drawn, up at the profile where it has values;
// nil where the release is outside the forecast.
func central(scene flight.Scene, s ensemble.Spec, up flight.Profile) *report.Path {
	r := s.Launch
	r.Time += s.Delay.Centre
	r.Train = balloon.Train{Ascent: s.Ascent.Centre, Burst: atmos.Geometric(s.Burst.Centre), Landing: s.Landing.Centre}
	r.Profile = up
	f := scene.Fly(r, nil)
	if len(f.Path) == 0 {
		return nil
	}
	keep, within := thin(f.Path, f.Burst)
	p := &report.Path{Burst: -1, End: f.End, Within: within}
	for _, i := range keep {
		if i == f.Burst {
			p.Burst = len(p.Points)
		}
		step := f.Path[i]
		p.Points = append(p.Points, report.PathPoint{Time: moment(scene.Wind, step.Time), At: step.At, Height: float64(step.Height)})
	}
	return p
}

// leg is a piece of a path between two steps that are kept, and which step
// between them is farthest from the straight line.
type leg struct {
	from, to, worst int
	off             float64 // m
}

// thin chooses the steps of a path that say it to pathWithin, at most maxPath, its
// ends and the burst among them, and bounds how far off the others then are. It
// puts the step that is farthest off among the chosen, again and again (as U. Ramer
// 1972 and D. Douglas and T. Peucker 1973 do, the distance here being to where the
// flight would be at that time).
func thin(path []flight.Step, burst int) (keep []int, within float64) {
	ends := []int{0}
	if burst > 0 && burst < len(path)-1 {
		ends = append(ends, burst)
	}
	if len(path) > 1 {
		ends = append(ends, len(path)-1)
	}
	var legs []leg
	for i := 1; i < len(ends); i++ {
		legs = append(legs, newLeg(path, ends[i-1], ends[i]))
	}
	for {
		w := 0
		for i, l := range legs {
			if l.off > legs[w].off {
				w = i
			}
		}
		if len(legs) == 0 || legs[w].off <= pathWithin || len(legs)+1 >= maxPath {
			break
		}
		l := legs[w]
		legs[w] = newLeg(path, l.from, l.worst)
		legs = append(legs, newLeg(path, l.worst, l.to))
	}
	chosen := make([]bool, len(path))
	chosen[0] = true
	for _, l := range legs {
		chosen[l.to] = true
		within = max(within, l.off)
	}
	for i, c := range chosen {
		if c {
			keep = append(keep, i)
		}
	}
	return keep, within
}

func newLeg(path []flight.Step, from, to int) leg {
	l := leg{from: from, to: to, worst: from}
	for i := from + 1; i < to; i++ {
		if off := offLine(path[from], path[to], path[i]); off > l.off {
			l.worst, l.off = i, off
		}
	}
	return l
}

// offLine is how far in metres a step is from where the straight line between two
// others is at its time. Near it, the Earth is flat.
func offLine(a, b, at flight.Step) float64 {
	f := 0.0
	if b.Time > a.Time {
		f = (at.Time - a.Time) / (b.Time - a.Time)
	}
	meridian, normal := geo.Radii(at.At.Lat)
	lat := at.At.Lat - a.At.Lat - f*(b.At.Lat-a.At.Lat)
	lon := geo.WrapLon(at.At.Lon-a.At.Lon) - f*geo.WrapLon(b.At.Lon-a.At.Lon)
	const degree = math.Pi / 180
	north, east := lat*degree*meridian, lon*degree*normal*math.Cos(at.At.Lat*degree)
	up := float64(at.Height-a.Height) - f*float64(b.Height-a.Height)
	return math.Sqrt(north*north + east*east + up*up)
}
