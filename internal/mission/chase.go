package mission

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// TrackFault is what is wrong with a track beside what plan.CheckTrack finds.
type TrackFault struct {
	Field, What string          // the field of a request for Narrow or Search
	Rejected    []report.Unseen // where no fix is believed
}

// Error is one line: field, and what is wrong and wanted.
func (e *TrackFault) Error() string { return e.Field + ": " + e.What }

// Narrow says where a plan's flight comes down by where it was seen. The error is as of
// Fly, or a *TrackFault where no fix can be believed.
func Narrow(ctx context.Context, w World, p plan.Plan, t plan.Track, o Options) (report.Chase, error) {
	c, _, err := narrow(ctx, w, p, t, o)
	return c, err
}

// narrow is Narrow, and gives how likely the payload would have been found by now besides.
func narrow(ctx context.Context, w World, p plan.Plan, t plan.Track, o Options) (report.Chase, float64, error) {
	r, err := ready(w, p)
	if err != nil {
		return report.Chase{}, 0, err
	}
	r.spec.Workers = o.Workers
	field := r.scenes[0].Wind
	fixes := make([]ensemble.Fix, len(t.Fixes))
	for i, f := range t.Fixes {
		fixes[i] = ensemble.Fix{Time: f.Time.Sub(field.Start()).Seconds(), At: f.At, Height: atmos.Geometric(f.Height), Error: f.Error}
	}
	n, err := ensemble.Narrow(ctx, r.scenes, w.Ground.Map, r.spec, fixes, o.Progress)
	seen := func(i int) report.Seen {
		f := t.Fixes[i]
		return report.Seen{Number: i, Time: f.Time.UTC(), At: f.At, Height: f.Height}
	}
	unseen := func(rejected []ensemble.Rejected) (all []report.Unseen) {
		for _, x := range rejected {
			all = append(all, report.Unseen{Seen: seen(x.Fix), Why: x.Why.String()})
		}
		return all
	}
	var none *ensemble.NoFix
	if errors.As(err, &none) {
		first, last := field.Covers()
		return report.Chase{}, 0, &TrackFault{
			Field: "track.fixes", Rejected: unseen(none.Rejected),
			What: fmt.Sprintf("%v: want one of the flight, inside the forecast, which is from %s to %s", err, first.Format(time.RFC3339), last.Format(time.RFC3339)),
		}
	}
	if err != nil {
		return report.Chase{}, 0, err
	}
	searched, err := unfound(n.Outcomes, r.spec.Scrambles, t.Searched)
	if err != nil {
		return report.Chase{}, 0, err
	}
	onward, err := r.launch(ctx, n.Outcomes)
	if err != nil {
		return report.Chase{}, 0, err
	}
	c := report.Chase{
		Launch: onward, Phase: n.Phase, Given: len(t.Fixes),
		Rise: report.Spread(n.Rise), Fall: report.Spread(n.Fall), Burst: report.Spread(n.Burst),
	}
	for _, i := range n.Used {
		c.Seen = append(c.Seen, seen(i))
	}
	c.Rejected = unseen(n.Rejected)
	if len(r.scenes) > 1 {
		c.Members = n.Members
	}
	l := &c.Launch
	l.Version, l.Path = o.Version, seenPath(c.Seen)
	l.Ascent, l.Burst, l.Fall = report.Spread(r.spec.Ascent), report.Spread(r.spec.Burst), report.Spread(r.spec.Landing)
	l.Warnings = slices.Concat(w.Warnings, w.Ground.Warnings, chaseWarnings(&c), l.Warnings)
	if err := assess(ctx, l, n.Outcomes, r.scenes[0], p, w.Ground); err != nil {
		return report.Chase{}, 0, err
	}
	// It is in the air: whether to launch is not the question any more.
	l.Verdict, l.Reasons, l.Contacts = launch.Unlimited, nil, nil
	if l.Landing != nil {
		c.Distance, c.Bearing, _ = geo.Inverse(c.Last().At, l.Landing.MostLikely)
	}
	return c, searched, nil
}

// seenPath is the believed fixes as a path.
func seenPath(seen []report.Seen) *report.Path {
	p := &report.Path{Burst: -1}
	for i, s := range seen {
		p.Points = append(p.Points, report.PathPoint{Time: s.Time, At: s.At, Height: s.Height})
		if s.Height > seen[max(p.Burst, 0)].Height {
			p.Burst = i
		}
	}
	if p.Burst == len(seen)-1 {
		p.Burst = -1 // it may rise on
	}
	return p
}

// chaseWarnings are what the fixes give reason for.
func chaseWarnings(c *report.Chase) []string {
	var sentences []string
	if n := len(c.Rejected); n > 0 && 2*n >= c.Given {
		sentences = append(sentences, fmt.Sprintf("%d of %d fixes are not believed: is this the track of this flight?", n, c.Given))
	}
	if len(c.Seen) == 1 {
		sentences = append(sentences, "One fix alone tells neither how fast the flight rises or falls nor what the wind is.")
	}
	return sentences
}

// unfound takes what was looked for in vain into flights: those that would have been found
// are replaced by others of their scramble, so that each stands for as much as any. It
// says how likely the payload would have been found.
func unfound(outcomes []ensemble.Outcome, scrambles int, searched []plan.Searched) (float64, error) {
	if len(searched) == 0 {
		return 0, nil
	}
	found, each := 0.0, len(outcomes)/scrambles
	for from := 0; from < len(outcomes); from += each {
		group := outcomes[from : from+each]
		weights, sum := make([]float64, each), 0.0
		for i := range group {
			weights[i] = 1
			for _, s := range searched {
				if metres, _, _ := geo.Inverse(s.At, group[i].At); metres <= s.Radius {
					weights[i] *= 1 - s.Detection
				}
			}
			sum += weights[i]
		}
		found += (1 - sum/float64(each)) / float64(scrambles)
		if !(sum > 1e-6*float64(each)) {
			return 0, &TrackFault{Field: "track.searched", What: "it would have been found wherever it may be: want a detection of less than 100 %, or is it elsewhere altogether?"}
		}
		// Those of one weight lie together, so that each weight has its share.
		old, order := slices.Clone(group), make([]int, each)
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(weights[a], weights[b]) })
		k, upTo := 0, weights[order[0]]
		for i := range group {
			for at := (float64(i) + 0.5) / float64(each) * sum; upTo < at && k < each-1; {
				k++
				upTo += weights[order[k]]
			}
			group[i] = old[order[k]]
		}
	}
	return found, nil
}

// Search says where to look for a plan's payload, in cells of a side, m, or, of 0, of one
// that fits. The error is as of Narrow, or a *TrackFault of the cells.
func Search(ctx context.Context, w World, p plan.Plan, t plan.Track, side float64, o Options) (report.Search, error) {
	c, searched, err := narrow(ctx, w, p, t, o)
	if err != nil {
		return report.Search{}, err
	}
	s := report.Search{Chase: c, Searched: searched}
	if c.Launch.Landing == nil {
		return s, nil
	}
	if s.Side = side; s.Side == 0 {
		s.Side = fittingSide(c.Launch.Area(0.8))
	}
	var points []landing.Weighted
	for _, f := range c.Launch.Flown {
		if f.End == flight.Landed {
			points = append(points, landing.Weighted{At: f.At, Weight: 1})
		}
	}
	cells, err := landing.Cells(points, s.Side, searchShare)
	if err != nil {
		return report.Search{}, &TrackFault{Field: "cell", What: err.Error()}
	}
	contained := 0.0
	for _, cell := range cells[:min(len(cells), mostCells)] {
		contained += cell.Share
		one := report.Cell{Middle: cell.Middle, Share: cell.Share, Contained: contained}
		one.Distance, one.Bearing, _ = geo.Inverse(c.Last().At, cell.Middle)
		one.On, one.Owners = lies(w.Ground.Map, cell.Middle, c.Launch.Landing.Middle)
		s.Cells = append(s.Cells, one)
	}
	return s, nil
}

const (
	searchShare  = 0.95 // what the cells of a search hold
	mostCells    = 2000
	cellsFor80   = 40.0
	leastSide    = 20.0 // m
	greatestSide = 5000.0
)

// fittingSide is a round side, m, of which some 40 cells cover an area.
func fittingSide(area float64) float64 {
	side := math.Sqrt(area / cellsFor80)
	step := math.Pow(10, math.Floor(math.Log10(side)))
	for _, round := range []float64{1, 2, 5, 10} {
		if round*step >= side*0.8 {
			side = round * step
			break
		}
	}
	return min(max(side, leastSide), greatestSide)
}

// lies is what is known to be at a place, and whose land it is.
func lies(m *ground.Map, at geo.Point, when time.Time) (on []ground.Class, owners []string) {
	what := m.At(at, when)
	for class := range ground.Classes() {
		if what.Under.Has(class) {
			on = append(on, class)
		}
	}
	for _, parcel := range what.Parcels {
		if owner := m.Layers[parcel.Layer].Owner(parcel.Owner); !slices.Contains(owners, owner) {
			owners = append(owners, owner)
		}
	}
	return on, owners
}
