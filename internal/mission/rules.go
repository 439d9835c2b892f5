package mission

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
)

// ruled is a plan's flight as its rules ask about it, as far as plan and train
// say. It has rules; t is nil for a train that was measured.
func ruled(p plan.Plan, t *report.Train) rules.Flight {
	f := p.Rules.Flight
	f.Launch = p.Launch // of a week's plans each has its own
	for _, tracker := range p.Train.Trackers {
		if !(f.Equipment.Fixes <= tracker.Interval) {
			f.Equipment.Fixes = tracker.Interval
		}
	}
	if t == nil {
		return f
	}
	f.AtLaunch, f.AtBurst = t.Release.Diameter, t.Envelope.Burst
	for _, s := range t.Trackers {
		// While blind, and until the next report.
		if blind := s.Blind.Time + s.Interval; !(f.Equipment.Blind <= blind) {
			f.Equipment.Blind = blind
		}
	}
	return f
}

// held holds a flight to the rules of a plan.
func held(p plan.Plan, f rules.Flight) (*rules.Assessment, error) {
	a, err := rules.Assess(p.Rules.Jurisdiction, f)
	if err != nil {
		return nil, fmt.Errorf("rules: %w", err)
	}
	return &a, nil
}

// onTheWay is what is minded of the checks that need more than where flights end.
var onTheWay = [...]string{
	"Rules: whether flights cross a border is judged by where they come down, and by the planned path, turned and stretched to end there.",
	"Rules: a congested area is looked for under the planned path's first 1,000 ft, at rates of ascent and delays of two spreads to either side; towns that are built in are circles.",
}

// regulate holds flown flights to the plan's rules, if it has any.
func (r *prepared) regulate(ctx context.Context, l *report.Launch, outcomes []ensemble.Outcome, g *Ground) error {
	if r.plan.Rules == nil {
		return nil
	}
	f := ruled(r.plan, l.Train)
	weather := weatherFacts(l.Weather) // NaN stays NaN
	f.Weather.Cloud, f.Weather.Visibility = min(max(weather.Cloud, 0), 1), min(max(weather.Visibility, 0), rules.MaxSight)
	w := ways{outcomes: outcomes, scrambles: r.spec.Scrambles, site: r.plan.Site.At}
	start := r.scenes[0].Wind.Start()
	var err error
	if f.Night, err = w.night(ctx, start); err != nil {
		return fmt.Errorf("rules: %w", err)
	}
	if f.Border, err = w.border(ctx, l.Path, g.Map, start); err != nil {
		return err
	}
	f.Closed = w.crossed(g.Map.Volumes, restricted, func(*ground.Volume) bool { return true })
	f.SurfaceArea = w.crossed(g.Map.Volumes, controlled, lowAlone)
	f.Congested = r.congested(g.Map)
	if l.Rules, err = held(r.plan, f); err != nil {
		return err
	}
	l.Warnings = slices.Concat(l.Warnings, onTheWay[:], w.nameless(g.Map.Volumes))
	return nil
}

// ways is flown flights and where they began.
type ways struct {
	outcomes  []ensemble.Outcome
	scrambles int
	site      geo.Point
}

// chance is the share of flights that something happens to: to some for sure, to
// others perhaps; of those that left the forecast nobody knows.
func (w ways) chance(sure, perhaps []bool) rules.Chance {
	either := make([]bool, len(sure))
	lost := 0
	for i, s := range sure {
		either[i] = s || perhaps[i]
		if !either[i] && w.outcomes[i].End != flight.Landed {
			lost++
		}
	}
	low, high := hazard.Share(sure, w.scrambles), hazard.Share(either, w.scrambles)
	return rules.Chance{Value: low.Value, Low: low.Low, High: min(high.High+float64(lost)/float64(len(sure)), 1)}
}

// stoppedAt is the context's error, asked for at some of the flights that are looked
// at one after the other: every millisecond or so.
func stoppedAt(ctx context.Context, flight int) error {
	const every = 64
	if flight%every != 0 {
		return nil
	}
	return ctx.Err()
}

// night is the share of flights that are anywhere between sunset and sunrise.
//
// Both ends of a flight are at the ground, where the sun sets first and rises last:
// only one that lasts a night through is looked at in between, with the sun as at
// 60,000 ft, from where it is seen longest. What it does above counts too.
func (w ways) night(ctx context.Context, start time.Time) (rules.Chance, error) {
	sure := make([]bool, len(w.outcomes))
	for i, o := range w.outcomes {
		if err := stoppedAt(ctx, i); err != nil {
			return rules.Chance{}, err
		}
		from, to := start.Add(seconds(o.Time-o.Aloft)), start.Add(seconds(o.Time))
		legs := []look{{w.site, from, 0}, {o.At, to, 0}}
		if o.End != flight.Landed {
			legs = legs[:1] // where it is at its end nobody knows
		}
		const every = 30 * time.Minute
		for t := from.Add(every); t.Before(to); t = t.Add(every) {
			share := t.Sub(from).Seconds() / o.Aloft
			at := geo.Point{
				Lat: w.site.Lat + share*(o.At.Lat-w.site.Lat),
				Lon: geo.WrapLon(w.site.Lon + share*geo.WrapLon(o.At.Lon-w.site.Lon)),
			}
			legs = append(legs, look{at, t, dipAt60000})
		}
		for _, l := range legs {
			down, err := l.down()
			if err != nil {
				return rules.Chance{}, err
			}
			sure[i] = sure[i] || down
		}
	}
	return w.chance(sure, make([]bool, len(sure))), nil
}

// seconds is a count of seconds.
func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// restricted is whether a kind of volume is a prohibited or a restricted area;
// unknown where its file does not say.
func restricted(kind string) rules.Answer {
	switch strings.ToUpper(kind) {
	case "P", "PROHIBITED", "R", "RESTRICTED":
		return rules.Yes
	case "":
		return rules.Unknown
	}
	return rules.No
}

// controlled is whether a kind of volume is controlled airspace of class B to E, or
// an airport's zone of it.
func controlled(kind string) rules.Answer {
	switch strings.ToUpper(kind) {
	case "B", "C", "D", "E", "CTR":
		return rules.Yes
	case "":
		return rules.Unknown
	}
	return rules.No
}

// nameless minds volumes that some flight crosses and of which the file does not say
// what they are.
func (w ways) nameless(volumes []*ground.Volume) []string {
	for _, o := range w.outcomes {
		for v := range o.Met.Crossed.All() {
			if volumes[v].Kind == "" {
				return []string{fmt.Sprintf("Rules: the file of %q does not say what kind of airspace it is, so that whether it is prohibited, restricted or controlled cannot be told.", volumes[v].Name)}
			}
		}
	}
	return nil
}

// lowest2000 is 2,000 ft in m.
const lowest2000 = 2000 * 0.3048

// lowAlone is whether all of a volume is below 2,000 ft above the surface.
func lowAlone(v *ground.Volume) bool {
	return v.Ceiling.Ref == ground.AboveGround && v.Ceiling.Metres <= lowest2000
}

// crossed is the share of flights that cross volumes of a kind, for sure in those
// of which all counts. Not known where no volume of such a kind was read: whoever
// made the files did not look for it.
func (w ways) crossed(volumes []*ground.Volume, kind func(string) rules.Answer, all func(*ground.Volume) bool) rules.Chance {
	asks := make([]rules.Answer, len(volumes))
	known := false
	for i, v := range volumes {
		asks[i] = kind(v.Kind)
		if asks[i] == rules.Yes && !all(v) || asks[i] == rules.Unknown {
			asks[i] = rules.Unknown
		}
		known = known || asks[i] != rules.No
	}
	if !known {
		return rules.NotKnown()
	}
	sure, perhaps := make([]bool, len(w.outcomes)), make([]bool, len(w.outcomes))
	for i, o := range w.outcomes {
		for v := range o.Met.Crossed.All() {
			sure[i] = sure[i] || asks[v] == rules.Yes
			perhaps[i] = perhaps[i] || asks[v] == rules.Unknown
		}
	}
	return w.chance(sure, perhaps)
}

// border is the share of flights that cross a border. Not known where no layer
// tells what is abroad.
func (w ways) border(ctx context.Context, planned *report.Path, over *ground.Map, start time.Time) (rules.Chance, error) {
	abroad := &ground.Map{}
	for _, l := range over.Layers {
		if l.Source().Class == ground.Abroad {
			abroad.Layers = append(abroad.Layers, l)
		}
	}
	if len(abroad.Layers) == 0 {
		return rules.NotKnown(), nil
	}
	path := newPolar(w.site, planned)
	sure := make([]bool, len(w.outcomes))
	for i, o := range w.outcomes {
		if err := stoppedAt(ctx, i); err != nil {
			return rules.Chance{}, err
		}
		if sure[i] = o.Met.Under.Has(ground.Abroad); sure[i] {
			continue
		}
		far, toward, _ := geo.Inverse(w.site, o.At)
		for k := 0; k < polarPoints && !sure[i]; k++ {
			at := geo.Direct(w.site, math.Mod(toward+path[k].turned+720, 360), far*path[k].away)
			sure[i] = abroad.At(at, start.Add(seconds(o.Time))).Under.Has(ground.Abroad)
		}
	}
	return w.chance(sure, make([]bool, len(sure))), nil
}

// polarPoints is how many points of a path are looked at.
const polarPoints = 24

// polar is the planned path as distances, in shares of that of its end, and
// bearings, from that of its end on, in degrees, at times evenly spaced: so it can be
// turned and stretched to end at another place.
type polar [polarPoints]struct{ away, turned float64 }

// newPolar is a path's. One that does not land, or comes down near where it began,
// is taken to be straight.
func newPolar(site geo.Point, path *report.Path) polar {
	var p polar
	for k := range p {
		p[k].away = float64(k+1) / polarPoints
	}
	const near = 5000.0 // m
	if path == nil || path.End != flight.Landed {
		return p
	}
	first, last := path.Points[0], path.Points[len(path.Points)-1]
	far, toward, _ := geo.Inverse(site, last.At)
	if far < near {
		return p
	}
	i := 0
	for k := range p {
		t := first.Time.Add(time.Duration(float64(k+1) / polarPoints * float64(last.Time.Sub(first.Time))))
		for i < len(path.Points)-2 && path.Points[i+1].Time.Before(t) {
			i++
		}
		d, b, _ := geo.Inverse(site, between(path.Points[i], path.Points[min(i+1, len(path.Points)-1)], t))
		p[k].away, p[k].turned = d/far, b-toward
	}
	return p
}

// between is where a straight line between two points of a path is at a time.
func between(a, b report.PathPoint, t time.Time) geo.Point {
	share := 0.0
	if whole := b.Time.Sub(a.Time); whole > 0 {
		share = min(max(t.Sub(a.Time).Seconds()/whole.Seconds(), 0), 1)
	}
	return geo.Point{Lat: a.At.Lat + share*(b.At.Lat-a.At.Lat), Lon: geo.WrapLon(a.At.Lon + share*geo.WrapLon(b.At.Lon-a.At.Lon))}
}
