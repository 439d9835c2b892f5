// Package mission is the order of steps from a plan to an answer. The command
// line and the service both go through it, so that they cannot drift apart.
//
// It hides what is done when. It computes nothing itself and formats nothing.
package mission

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// World is what a launch is flown in. It is read-only, and several launches may
// be flown in it at once.
type World struct {
	Winds    []*wind.Field // of each member of the forecast, with the same grid and start; at least one
	Warnings []string      // what the forecast lacks, in whole sentences
	Ground   *Ground
}

// Options are how a launch is flown, not what is flown.
type Options struct {
	Version  string         // of the program, for the answer
	Workers  int            // flights at once; 0 is one for each processor
	Progress func(done int) // called now and then from several goroutines; may be nil
	// Until, if over 0, is a half-width of 95 % intervals as a share, MinUntil to
	// MaxUntil: flights go on, in further scrambles of the plan's size, until that
	// of no probability in the answer is wider, or MaxFlights are flown.
	Until float64
	// Explain: fly more, to split the scatter of the landings by cause.
	Explain bool
}

// NotCovered is the error of a launch that the forecast does not reach.
type NotCovered struct {
	Outcome wind.Outcome // on which side
	Field   string       // of the plan
	Value   string       // what the plan says there
	Have    string       // what the forecast covers

	// Box and First to Last are the area and the times that the forecast covers, as far
	// as it was read, and Cycle is when it starts.
	Box                geo.Box
	First, Last, Cycle time.Time
}

// Error is one line: field, value and what the forecast covers.
func (e *NotCovered) Error() string {
	return fmt.Sprintf("%s: %s is %v: want %s", e.Field, e.Value, e.Outcome, e.Have)
}

// shares are those of the landing regions.
var shares = []float64{0.5, 0.8, 0.95}

// Reach is the box around a plan's site that its flights are looked for in:
// as far as the strongest jets carry something for as long as the plan's train
// is up, what the winds aloft do to one that hangs there, and never less than
// 1,000 km each way.
func Reach(p plan.Plan) geo.Box { return reach(roughly(p)) }

// Needs is the part of a forecast that a plan's flights may come to: Reach and
// Times.
func Needs(p plan.Plan) wind.Part {
	p = roughly(p)
	part := wind.Part{Box: reach(p)}
	part.From, part.To = times(p)
	return part
}

// reach is Reach of a plan whose rates and burst are known.
func reach(p plan.Plan) geo.Box {
	const jet = 80.0 // m/s, the mean over a flight through the strongest of jets
	// Above the jets, where flights hang: stronger in a polar winter's vortex.
	const calm = 30.0 // m/s
	aloft := p.Burst.Centre * (1/p.Ascent.Centre + 1/p.Landing.Centre)
	metres := jet * aloft
	if p.OffNominal.Float > 0 {
		metres += calm * ensemble.MostFloatTime
	}
	metres = max(metres, 1000e3)
	site := p.Site.At
	meridian, normal := geo.Radii(site.Lat)
	lat := metres / meridian * 180 / math.Pi
	box := geo.Box{South: max(site.Lat-lat, -90), North: min(site.Lat+lat, 90), West: -180, East: 180}
	widest := max(math.Abs(box.South), math.Abs(box.North))
	if lon := metres / (normal * math.Cos(widest*math.Pi/180)) * 180 / math.Pi; lon > 0 && lon < 180 {
		box.West, box.East = site.Lon-lon, site.Lon+lon
	}
	return box
}

// Times is when a plan's flights need winds: from the earliest release that can
// be drawn until the latest landing, which takes the slowest train, or one that
// leaks or hangs.
func Times(p plan.Plan) (from, to time.Time) {
	return times(roughly(p))
}

// times is Times of a plan whose rates and burst are known.
func times(p plan.Plan) (from, to time.Time) {
	const most = 7.0 // standard deviations; the draws hold none so far out
	low := func(u quantity.Uncertain, least float64) float64 { return max(u.Centre-most*u.Spread, least) }
	high := p.Burst.Centre + most*p.Burst.Spread
	up, down := high/low(p.Ascent, balloon.MinAscent), high/low(p.Landing, balloon.MinLanding)
	aloft := up + down
	if p.OffNominal.SlowLeak > 0 {
		aloft = max(aloft, min(up/ensemble.LeastLeakFactor, high/balloon.MinAscent)+down)
	}
	if p.OffNominal.Float > 0 {
		aloft = max(aloft, up+ensemble.MostFloatTime+down)
	}
	after := func(s float64) time.Time { return p.Launch.Add(time.Duration(s) * time.Second) }
	return after(p.Delay.Centre - most*p.Delay.Spread), after(p.Delay.Centre + most*p.Delay.Spread + aloft)
}

// Fly flies a plan's launch in a world. The error is a *NotCovered where the
// release itself is outside the forecast, the context's once that is done, or
// a fault of the plan.
func Fly(ctx context.Context, w World, p plan.Plan, o Options) (report.Launch, error) {
	l, _, err := flyAll(ctx, w, p, o)
	return l, err
}

// flyAll is Fly, and gives the flights themselves besides.
func flyAll(ctx context.Context, w World, p plan.Plan, o Options) (report.Launch, []ensemble.Outcome, error) {
	r, err := ready(w, p)
	if err != nil {
		return report.Launch{}, nil, err
	}
	r.spec.Workers = o.Workers
	outcomes, until, err := fly(ctx, r.scenes, w.Ground.Map, &r.spec, o)
	if err != nil {
		return report.Launch{}, nil, err
	}
	// A caller who has gone does not want the arithmetic either.
	l, err := r.launch(ctx, outcomes)
	if err != nil {
		return report.Launch{}, nil, err
	}
	l.Until, l.Version = until, o.Version
	// What is wrong with this plan, its files and its forecast comes before what
	// holds of every launch.
	wrong := slices.Clone(w.Warnings)
	if r.weighed != nil {
		sized, err := r.weighed.report(r.plan)
		if err != nil {
			return report.Launch{}, nil, err
		}
		l.Train = &sized
		wrong = append(wrong, sized.Warnings...)
		l.Cautions = append(sized.Cautions, l.Cautions...)
	}
	if o.Explain {
		if l.Explanation, err = explain(ctx, r.scenes, r.spec, len(outcomes), o); err != nil {
			return report.Launch{}, nil, err
		}
	}
	if l.Members, err = byMember(ctx, outcomes, len(r.scenes), p.Site.At); err != nil {
		return report.Launch{}, nil, err
	}
	l.Warnings = slices.Concat(wrong, w.Ground.Warnings, l.Warnings)
	if err := r.regulate(ctx, &l, outcomes, w.Ground); err != nil {
		return report.Launch{}, nil, err
	}
	if err := assess(ctx, &l, outcomes, r.scenes[0], p, w.Ground); err != nil {
		return report.Launch{}, nil, err
	}
	return l, outcomes, nil
}

// prepared is a plan made ready to be flown.
type prepared struct {
	scenes       []flight.Scene // the first is the control, which speaks for what members share
	plan         plan.Plan      // of a weighed train with its rates and its burst
	weighed      *trained       // nil for a train that was measured
	height       float64        // of the site, m above mean sea level
	fromForecast bool           // the forecast model's
	start        float64        // s since the forecast's first time
	spec         ensemble.Spec
}

// ready makes a plan ready to be flown in a world.
func ready(w World, p plan.Plan) (prepared, error) {
	r := prepared{scenes: make([]flight.Scene, len(w.Winds))}
	for i, member := range w.Winds {
		if p.HoldAboveTop {
			member = member.HoldAboveTop()
		}
		r.scenes[i] = flight.Scene{Wind: member, Terrain: terrain(member)}
		r.scenes[i].Terrain.Finer = w.Ground.Heights
	}
	field := r.scenes[0].Wind
	r.start = p.Launch.Sub(field.Start()).Seconds()
	var err error
	if r.height, r.fromForecast, err = elevation(p, r.scenes[0]); err != nil {
		return prepared{}, err
	}
	if err := covered(field, p, r.height, r.start); err != nil {
		return prepared{}, err
	}
	if p.Train.Weighed != nil {
		air, err := airOver(r.scenes[0], p, r.height, r.start)
		if err != nil {
			return prepared{}, err
		}
		t, err := train(p, air)
		if err != nil {
			return prepared{}, err
		}
		r.weighed, p = &t, t.moves(p)
	}
	r.plan, r.spec = p, specOf(p, field, r.height, r.start)
	if r.weighed != nil {
		r.spec.Weighed = r.weighed.weighed(p.Train.Weighed)
	}
	if len(r.scenes) > 1 {
		// The members' spread is the growth of the error with time. What they
		// begin with, and what is finer than they resolve, is added: the error of
		// the youngest forecast. It adds a seventh to the spread of a forecast a
		// day old and less to that of an older one.
		r.spec.Lead = 0
	}
	return r, nil
}

// launch is what is said of flown flights but for where they came down.
func (r *prepared) launch(ctx context.Context, outcomes []ensemble.Outcome) (report.Launch, error) {
	all, err := flown(ctx, outcomes, r.scenes)
	if err != nil {
		return report.Launch{}, err
	}
	p, field, spec := r.plan, r.scenes[0].Wind, r.spec
	first, last := field.Covers()
	l := report.Launch{
		Plan: p.Name, Site: p.Site.Name, Zone: p.Site.Zone,
		Time: p.Launch, At: p.Site.At, Elevation: r.height, ElevationFromForecast: r.fromForecast,
		Forecast: report.Forecast{
			Centre: field.Centre(), Cycle: field.Cycle(), First: first, Last: last,
			Levels: field.Levels(), Grid: field.Grid(), Members: len(r.scenes),
		},
		Weather: weather(field, p.Site.At, r.start),
		Winds:   windsOver(field, p.Site.At, r.start, r.height, p.Burst.Centre),
		Flights: len(outcomes), Scrambles: spec.Scrambles, Draws: p.Draws, Seed: spec.Seed,
		Endings: endings(outcomes, spec.Scrambles), Courses: courses(outcomes, spec.Scrambles),
		Ascent: report.Spread(p.Ascent), Burst: report.Spread(p.Burst), Fall: report.Spread(p.Landing), Delay: report.Spread(p.Delay),
		Warnings: slices.Concat(warnings(outcomes, p), siteWarning(p, r.scenes[0])),
		Cautions: report.Cautions(),
	}
	l.Flown, l.Path = all, central(r.scenes[0], spec, r.weighed.profile())
	l.WindError, l.WindErrorGreatest = spec.WindErrorBetween(r.height, p.Burst.Centre)
	l.WindErrorDoubt = spec.WindDoubt
	return l, ctx.Err()
}

// terrain is the forecast model's own ground, at mean sea level where the
// forecast carries none (which wind warns of).
func terrain(f *wind.Field) ground.Terrain {
	t := ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}
	if t.Height == nil {
		t.Height = make([]float32, t.Grid.NX*t.Grid.NY)
	}
	return t
}

// elevation is the site's height above mean sea level: the plan's own, or of the
// finest ground that is known there.
func elevation(p plan.Plan, s flight.Scene) (metres float64, fromForecast bool, err error) {
	if !math.IsNaN(p.Site.Elevation) {
		return p.Site.Elevation, false, nil
	}
	for _, finer := range s.Terrain.Finer {
		if metres, ok := finer.At(p.Site.At); ok {
			return metres, false, nil
		}
	}
	metres, ok := s.Terrain.At(p.Site.At)
	if !ok {
		return 0, false, placeNotCovered(s.Wind, p, wind.OffGrid)
	}
	return metres, true, nil
}

// siteWarning compares the site's height with the ground that is known there. A
// model's hills are smooth, so that some hundred metres mean nothing; a finer
// grid's are not.
func siteWarning(p plan.Plan, s flight.Scene) []string {
	usual, whose := 300.0, "the forecast model's ground" // m
	for _, finer := range s.Terrain.Finer {
		if _, ok := finer.At(p.Site.At); ok {
			usual, whose = 100, "the ground of the plan's heights"
		}
	}
	ground, ok := s.Terrain.At(p.Site.At)
	if !ok || !(math.Abs(p.Site.Elevation-ground) > usual) {
		return nil
	}
	return []string{fmt.Sprintf(
		"The plan puts the site at %.0f m; %s is at %.0f m there, and flights come down on that. Is the elevation right?",
		p.Site.Elevation, whose, ground)}
}

// covered checks that the release itself is inside the forecast.
func covered(f *wind.Field, p plan.Plan, height, start float64) error {
	_, out := f.At(p.Site.At, atmos.Geometric(height), start)
	switch out {
	case wind.Inside:
		return nil
	case wind.BeforeFirst, wind.AfterLast:
		first, last := f.Covers()
		return notCovered(f, out, "launch", p.Launch.UTC().Format(time.RFC3339),
			fmt.Sprintf("%s to %s", first.Format(time.RFC3339), last.Format(time.RFC3339)))
	}
	return placeNotCovered(f, p, out)
}

// notCovered is the error for what a forecast does not cover.
func notCovered(f *wind.Field, out wind.Outcome, field, value, have string) error {
	g := f.Grid()
	e := &NotCovered{Outcome: out, Field: field, Value: value, Have: have, Box: g.Box(), Cycle: f.Cycle()}
	e.First, e.Last = f.Covers()
	return e
}

func placeNotCovered(f *wind.Field, p plan.Plan, out wind.Outcome) error {
	g := f.Grid()
	have := fmt.Sprintf("latitude %.4g to %.4g, longitude %.4g to %.4g, as far as it was read", g.Lat0, g.Lat0+float64(g.NY-1)*g.DLat,
		g.Lon0, geo.WrapLon(g.Lon0+float64(g.NX-1)*g.DLon))
	if g.Wraps() {
		have = fmt.Sprintf("latitude %.4g to %.4g", g.Lat0, g.Lat0+float64(g.NY-1)*g.DLat)
	}
	if out == wind.NearPole {
		have = fmt.Sprintf("latitude %g to %g", -90+wind.PoleMargin, 90-wind.PoleMargin)
	}
	return notCovered(f, out, "site", fmt.Sprintf("latitude %g, longitude %g", p.Site.At.Lat, p.Site.At.Lon), have)
}

// specOf is the plan as the ensemble takes it.
func specOf(p plan.Plan, f *wind.Field, height, start float64) ensemble.Spec {
	s := ensemble.Spec{
		Launch:  flight.Release{At: p.Site.At, Height: atmos.Geometric(height), Time: start},
		Ascent:  law(p.Ascent),
		Burst:   law(p.Burst),
		Landing: law(p.Landing),
		Delay:   law(p.Delay),

		OffNominal: p.OffNominal,
		WindError:  p.WindError, WindDoubt: p.WindDoubt, WindScale: p.WindScale, Lead: p.Launch.Sub(f.Cycle()).Seconds(),
		Scrambles: p.Scrambles, PerScramble: p.PerScramble, Seed: p.Seed, Draws: p.Draws,
	}
	const oldest = 60 * 24 * 3600.0 // s; older forecasts are as wrong
	s.Lead = min(max(s.Lead, -oldest), oldest)
	return s
}

func law(u quantity.Uncertain) ensemble.Normal {
	return ensemble.Normal{Centre: u.Centre, Spread: u.Spread}
}

// weather is what the forecast says of the ground at the site at launch.
func weather(f *wind.Field, at geo.Point, start float64) []report.Reading {
	east, north, known := lowest(f, at, start)
	readings := []report.Reading{
		{Kind: report.WindSpeed, Value: math.Hypot(east, north), Known: known},
	}
	if known {
		readings = append(readings, report.Reading{Kind: report.WindFrom, Value: from(east, north), Known: true})
	}
	for _, q := range []struct {
		kind     report.ReadingKind
		quantity wind.Quantity
	}{
		{report.Gust, wind.Gust},
		{report.Cloud, wind.Cloud},
		{report.Precipitation, wind.Precipitation},
		{report.Visibility, wind.Visibility},
		{report.CAPE, wind.CAPE},
	} {
		v, out := f.Surface(q.quantity, at, start)
		readings = append(readings, report.Reading{Kind: q.kind, Value: v, Known: out == wind.Inside})
	}
	return readings
}
