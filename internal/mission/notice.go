package mission

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
	"example.org/thistledown/internal/wind"
)

// Stages are those that a notice can be written for.
func Stages() []rules.Stage {
	return []rules.Stage{
		rules.Before, rules.Launched, rules.Delayed, rules.Cancelled, rules.Descending, rules.Lost, rules.Found, rules.Ended,
	}
}

// NoticeOf is what a notice is asked for.
type NoticeOf struct {
	Stage rules.Stage
	// Now is when what the stage is about took place, Position where, Height how
	// high, m above mean sea level; the zero time, nil and NaN: not said.
	Now      time.Time
	Position *geo.Point
	Height   float64
}

// Check is the fault of what is asked for, if it has one.
func (n NoticeOf) Check() error {
	if !slices.Contains(Stages(), n.Stage) {
		return fmt.Errorf("stage %.40q: want before, launched, delayed, cancelled, descending, lost, found or ended", string(n.Stage))
	}
	return nil
}

// Notice is what is told at a stage of a plan's flight, as far as plan and train
// say: without a forecast there are no paths, times and places of it. The error is
// plan.Faults: also of what a notice cannot do without.
func Notice(p plan.Plan, n NoticeOf) (report.Told, error) {
	if err := tellable(p, n); err != nil {
		return report.Told{}, err
	}
	var train *report.Train
	if p.Train.Weighed != nil {
		sized, err := Size(p, nil)
		if err != nil {
			return report.Told{}, err
		}
		train = &sized
	}
	a, err := held(p, ruled(p, train))
	if err != nil {
		return report.Told{}, err
	}
	t := told(p, n, train)
	t.Rules = *a
	return t, nil
}

// NoticeFlown is Notice with the figures of flights in a world, and these flights.
func NoticeFlown(ctx context.Context, w World, p plan.Plan, n NoticeOf, o Options) (report.Told, report.Launch, error) {
	if err := tellable(p, n); err != nil {
		return report.Told{}, report.Launch{}, err
	}
	l, err := Fly(ctx, w, p, o)
	if err != nil {
		return report.Told{}, report.Launch{}, err
	}
	t := told(p, n, l.Train)
	t.Rules, t.Elevation = *l.Rules, l.Elevation
	t.Ascent, t.Fall, t.Delay = l.Ascent, l.Fall, l.Delay
	if l.Path == nil {
		return t, l, nil
	}
	f := way(w.Winds[0], l.Path)
	f.TopSpread = l.Burst.Spread
	if d := l.Landing; d != nil {
		f.Landed, f.MostLikely, f.Radius = true, d.MostLikely, d.Radius95
		f.Distance, f.Bearing, f.Aloft = d.Distance, d.Bearing, d.Aloft
		f.Early, f.Middle, f.Late = d.Early, d.Middle, d.Late
	}
	f.Circle = circle(l)
	if f.Nearby, err = nearby(p, l); err != nil {
		return report.Told{}, report.Launch{}, err
	}
	t.Flown = &f
	return t, l, nil
}

// tellable holds that a plan has what a notice gives.
func tellable(p plan.Plan, n NoticeOf) error {
	if err := n.Check(); err != nil {
		return err
	}
	return p.Named(1)
}

// told is what the plan and its train say.
func told(p plan.Plan, n NoticeOf, train *report.Train) report.Told {
	r := p.Rules
	t := report.Told{
		Stage: n.Stage, Plan: p.Name, Site: p.Site.Name,
		Identification: r.Identification, Beacon: r.Beacon, Region: r.Region,
		At: p.Site.At, Elevation: p.Site.Elevation, Launch: p.Launch, Delay: report.Spread(p.Delay),
		Balloons: r.Flight.Balloons, Packages: len(r.Flight.Packages), Payload: r.Flight.Payload(),
		Diameter: math.NaN(), Greatest: math.NaN(), Suspension: r.Flight.Equipment.Suspension, Antenna: r.Antenna,
		Ascent: report.Spread(p.Ascent), Fall: report.Spread(p.Landing),
		Now: n.Now, Position: n.Position, Height: n.Height,
	}
	for _, person := range r.People {
		t.People = append(t.People, report.Person(person))
	}
	for _, o := range r.Offices {
		t.Offices = append(t.Offices, report.NoticeOffice{Name: o.Name, Telephone: o.Telephone, Notified: o.Notified})
	}
	if train != nil {
		t.Diameter, t.Greatest = train.Release.Diameter, train.BurstAt
		t.Ascent, t.Fall = train.Ascent, train.Fall
	}
	return t
}

// level60000 is 60,000 ft of pressure altitude, and every10000 how far apart the
// points of a way are, m.
const (
	level60000 = 60000 * 0.3048
	every10000 = 10000 * 0.3048
)

// way is a planned path as a notice tells it.
func way(field *wind.Field, path *report.Path) report.ToldFlight {
	points, top := levelled(field, path)
	f := report.ToldFlight{Top: points[top]}
	for i := 1; i < len(points); i++ {
		for _, p := range passed(points[i-1], points[i], every10000) {
			f.Way = append(f.Way, p)
			switch {
			case p.Level != level60000:
			case i > top:
				f.Down = &p
			case f.Up == nil:
				f.Up = &p
			}
		}
		if i == top {
			f.Way = append(f.Way, points[i])
		}
	}
	if path.End == flight.Landed && len(points) > 1 {
		f.Way = append(f.Way, points[len(points)-1])
	}
	return f
}

// levelled is a path with its pressure altitudes, its pieces parted so finely that
// these are straight between them, and the number of its top.
func levelled(field *wind.Field, path *report.Path) (points []report.WayPoint, top int) {
	const finest = 250.0 // m of height
	add := func(at geo.Point, height float64, when time.Time) {
		p := report.WayPoint{Time: when, At: at, Height: height, Level: math.NaN()}
		air, out := field.At(at, atmos.Geometric(height), when.Sub(field.Start()).Seconds())
		if out == wind.Inside {
			if z, ok := atmos.PressureAltitude(air.Pressure); ok {
				p.Level = float64(z)
			}
		}
		points = append(points, p)
		if height > points[top].Height {
			top = len(points) - 1
		}
	}
	for i, b := range path.Points {
		if i == 0 {
			add(b.At, b.Height, b.Time)
			continue
		}
		a := path.Points[i-1]
		parts := int(math.Ceil(max(math.Abs(b.Height-a.Height)/finest, 1)))
		for k := range parts {
			share := float64(k+1) / float64(parts)
			when := a.Time.Add(time.Duration(share * float64(b.Time.Sub(a.Time))))
			add(between(a, b, when), a.Height+share*(b.Height-a.Height), when)
		}
	}
	return points, top
}

// passed are the points between two, the first left out, at each whole multiple over 0
// of a step of pressure altitude.
func passed(a, b report.WayPoint, step float64) []report.WayPoint {
	var all []report.WayPoint
	if math.IsNaN(a.Level) || math.IsNaN(b.Level) || a.Level == b.Level {
		return nil
	}
	low, high := min(a.Level, b.Level), max(a.Level, b.Level)
	for z := max(math.Floor(low/step)*step, step); z <= high; z += step {
		if z == a.Level || z < low {
			continue // a is the end of the piece before
		}
		share := (z - a.Level) / (b.Level - a.Level)
		all = append(all, report.WayPoint{
			Time:   a.Time.Add(time.Duration(share * float64(b.Time.Sub(a.Time)))),
			At:     geo.Point{Lat: a.At.Lat + share*(b.At.Lat-a.At.Lat), Lon: geo.WrapLon(a.At.Lon + share*geo.WrapLon(b.At.Lon-a.At.Lon))},
			Height: a.Height + share*(b.Height-a.Height), Level: math.Round(z/step) * step,
		})
	}
	if b.Level < a.Level {
		slices.Reverse(all)
	}
	return all
}

// circle holds the site, the planned path and the circle of 95 % of landings: about
// the middle between the two of these that are farthest apart, or near it.
func circle(l report.Launch) report.Circle {
	type disc struct {
		at     geo.Point
		radius float64
	}
	all := []disc{{l.At, 0}}
	for _, p := range l.Path.Points {
		all = append(all, disc{p.At, 0})
	}
	if l.Landing != nil {
		all = append(all, disc{l.Landing.MostLikely, l.Landing.Radius95})
	}
	farthest := func(from geo.Point) (disc, float64) {
		best, most := all[0], -1.0
		for _, d := range all {
			if away, _, _ := geo.Inverse(from, d.at); away+d.radius > most {
				best, most = d, away+d.radius
			}
		}
		return best, most
	}
	// Ritter 1990: from one end to the other, then grown to hold the rest.
	a, _ := farthest(l.At)
	b, _ := farthest(a.at)
	away, toward, _ := geo.Inverse(a.at, b.at)
	c := report.Circle{At: geo.Direct(a.at, toward, (away+b.radius-a.radius)/2)}
	_, c.Radius = farthest(c.At)
	return c
}

// nearby is the airfields near the site, the path and the landing, and the offices
// of the plan that have a place, the nearest to any of these first.
func nearby(p plan.Plan, l report.Launch) ([]report.Aerodrome, error) {
	const near, most = 50e3, 12 // m from any of the three, and how many
	c := circle(l)
	lat := (c.Radius + near) / 110e3 // degrees; a degree of latitude is 110.6 km or more
	box := geo.Box{South: max(c.At.Lat-lat, -90), North: min(c.At.Lat+lat, 90), West: -180, East: 180}
	if widest := math.Cos(max(math.Abs(box.South), math.Abs(box.North)) * math.Pi / 180); lat/widest < 179 {
		box.West, box.East = geo.WrapLon(c.At.Lon-lat/widest), geo.WrapLon(c.At.Lon+lat/widest)
	}
	built, err := ground.Airports(box)
	if err != nil {
		return nil, fmt.Errorf("airfields: %w", err)
	}
	var own, all []report.Aerodrome
	for _, o := range p.Rules.Offices {
		if o.At != nil {
			own = append(own, placed(report.Aerodrome{Name: o.Name, Telephone: o.Telephone, At: *o.At}, l))
		}
	}
	for _, a := range built {
		size := "medium"
		if a.Large {
			size = "large"
		}
		one := placed(report.Aerodrome{Name: a.Code + " " + a.Name, Size: size, At: a.At}, l)
		if closest(one) <= near {
			all = append(all, one)
		}
	}
	slices.SortStableFunc(all, func(a, b report.Aerodrome) int { return cmp.Compare(closest(a), closest(b)) })
	return slices.Concat(own, all[:min(len(all), most)]), nil
}

// closest is how near an airfield is to site, path or landing, m.
func closest(a report.Aerodrome) float64 {
	return min(a.Site.Distance, a.Path.Distance, a.Landing.Distance)
}

// placed fills in how far an airfield is from a flight.
func placed(a report.Aerodrome, l report.Launch) report.Aerodrome {
	away := func(from geo.Point) report.Away {
		d, b, _ := geo.Inverse(from, a.At)
		return report.Away{Distance: d, Bearing: b}
	}
	// The nearest of the path's points is found on a plane, which at some hundred
	// kilometres is wrong by a hundredth, and its distance on the ellipsoid.
	east := math.Cos(a.At.Lat * math.Pi / 180)
	flat := func(p geo.Point) float64 {
		return math.Hypot(p.Lat-a.At.Lat, east*geo.WrapLon(p.Lon-a.At.Lon))
	}
	nearest, least := l.At, flat(l.At)
	for i := 1; i < len(l.Path.Points); i++ {
		// The points lie as far apart as a path is straight: looked at every
		// so often between them.
		const parts = 8
		from, to := l.Path.Points[i-1], l.Path.Points[i]
		for k := range parts {
			at := between(from, to, from.Time.Add(time.Duration(float64(k+1)/parts*float64(to.Time.Sub(from.Time)))))
			if d := flat(at); d < least {
				nearest, least = at, d
			}
		}
	}
	a.Site, a.Path, a.Landing = away(l.At), away(nearest), report.Away{Distance: math.Inf(1)}
	if l.Landing != nil {
		a.Landing = away(l.Landing.MostLikely)
	}
	return a
}
