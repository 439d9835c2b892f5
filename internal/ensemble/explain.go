package ensemble

import (
	"context"
	"fmt"
	"math"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Cause is what makes landings scatter: one uncertain quantity, or several that
// belong together.
type Cause uint8

// The causes, in the order of the dimensions of a draw.
const (
	AscentCause Cause = iota // the rate of ascent
	BurstCause               // the burst height
	FallCause                // the speed of fall
	DelayCause               // how late the launch is
	MemberCause              // which member of the forecast, and what lies between them
	WindCause                // the wind error, all its modes and its size as one
	BreakCause               // whether something breaks, what and how
	// Of a weighed train, instead of the first three.
	DragCause     // the drag of the envelope
	DiameterCause // its burst diameter
	CanopyCause   // the drag of the canopies
	GasCause      // how much gas there is
	MassCause     // what the scale is off
	RemainsCause  // how much of the envelope hangs on after the burst
	causeCount
)

// causes are the dimensions of a draw that belong to each cause, from one up to
// another, and more of them, and what it is called.
var causes = [causeCount]struct {
	name     string
	from, to int
	more, up int
}{
	AscentCause: {"the rate of ascent", ascentDimension, ascentDimension + 1, 0, 0},
	BurstCause:  {"the burst height", burstDimension, burstDimension + 1, 0, 0},
	FallCause:   {"the speed of fall", landingDimension, landingDimension + 1, 0, 0},
	DelayCause:  {"the launch's delay", delayDimension, delayDimension + 1, 0, 0},
	MemberCause: {"the forecast's members", memberDimension, memberDimension + 1, scatterDimension, dimensions},
	BreakCause:  {"what breaks", courseDimension, mannerDimension + 1, 0, 0},
	WindCause:   {"the wind error", firstModeDimension, courseDimension, eastSizeDimension, northSizeDimension + 1},

	DragCause:     {"the drag of the envelope", dragDimension, dragDimension + 1, 0, 0},
	DiameterCause: {"the burst diameter", burstDimension, burstDimension + 1, 0, 0},
	CanopyCause:   {"the drag of the canopy", canopyDimension, canopyDimension + 1, 0, 0},
	GasCause:      {"the amount of gas", gasDimension, gasDimension + 1, 0, 0},
	MassCause:     {"the scale", massDimension, massDimension + 1, 0, 0},
	RemainsCause:  {"what hangs on of the envelope", remainsDimension, remainsDimension + 1, 0, 0},
}

// String is what a cause is called, with its article.
func (c Cause) String() string {
	if c < causeCount {
		return causes[c].name
	}
	return fmt.Sprintf("cause %d", c)
}

// Effect is how much of the variance of the landing point comes from one cause:
// shares of the trace of its covariance, that is of the mean square distance
// from the mean landing. Estimates may come out a little under 0 or over 1.
type Effect struct {
	Cause Cause
	// First is what the cause makes alone: on average the variance is less by so
	// much once the cause is known. Total is what it makes alone and together
	// with others: so much is left, on average, once all others are known.
	First, Total float64
	// FirstError and TotalError are the standard errors of these.
	FirstError, TotalError float64
}

// Explanation is the landing point's covariance split by cause.
type Explanation struct {
	Effects []Effect // of the causes that are uncertain, in their order
	Spread  float64  // root of the covariance's trace, m: the whole scatter
	// Rows is how many sets of flights it rests on, of ExplainRows; a set in
	// which one flight does not land is left out. Flights is all that were flown.
	Rows, Flights int
}

// Sound says whether the split means something: nothing scatters without a
// spread, and where more than half the sets lost a flight, those left are too
// special a choice.
func (e Explanation) Sound() bool { return e.Rows >= ExplainRows/2 && e.Spread > 0 }

// Interval is the 95 % interval of a share from its standard error, within 0 to
// 1: Student's t of the groups, 2.131 for 15 degrees of freedom.
func Interval(share, standardError float64) (low, high float64) {
	half := 2.131449545559323 * standardError
	return min(max(share-half, 0), 1), min(max(share+half, 0), 1)
}

// WidthWithout is how wide the scatter would be without the cause, as a share of
// what it is: the root of the variance left, on average, once the cause is
// known. 0 to 1.
func (e Effect) WidthWithout() float64 { return math.Sqrt(1 - min(max(e.First, 0), 1)) }

// ExplainRows is how many sets of flights an explanation flies; a set is two
// flights and one more for each cause.
const ExplainRows = 1024

// explainGroups is how many independent groups the sets fall into, whose
// scatter tells the standard errors.
const explainGroups = 16

// Explain splits the scatter of the landings by cause. Of two independent draws
// A and B, and for each cause one that is A but for the cause's quantities,
// which are B's, the landings tell what the cause makes: alone by the estimator
// of [Saltelli2010], with others by that of [Jansen1999]. The draws are plain
// random ones, of the spec's seed; its scrambles do not matter. For the rest it
// is as Run.
func Explain(ctx context.Context, scenes []flight.Scene, s Spec, progress func(done int)) (Explanation, error) {
	s.First, s.Scrambles, s.PerScramble, s.Draws = 0, explainGroups, ExplainRows/explainGroups, Random
	if err := s.checkWith(scenes); err != nil {
		return Explanation{}, err
	}
	uncertain := s.causes(len(scenes))
	kinds := 2 + len(uncertain)
	r := newFlying(scenes, &ground.Map{}, s)
	r.point = func(i int, u []float64) { exchanged(s.Seed, i/kinds, i%kinds, uncertain, u) }
	r.outcomes = make([]Outcome, ExplainRows*kinds)
	r.share(func(i, dimension int) float64 {
		var u [dimensions]float64
		r.point(i, u[:])
		return u[dimension]
	})
	outcomes, err := r.run(ctx, progress)
	if err != nil {
		return Explanation{}, err
	}
	return explain(outcomes, uncertain), nil
}

// causes are those in which a spec has some spread.
func (s Spec) causes(members int) []Cause {
	var found []Cause
	wind := s.WindError
	if math.IsNaN(wind) {
		wind = 1 // by height and age, and never nothing
	}
	spreads := [causeCount]float64{
		AscentCause: s.Ascent.Spread, BurstCause: s.Burst.Spread, FallCause: s.Landing.Spread,
		DelayCause: s.Delay.Spread, MemberCause: float64(members - 1), WindCause: wind, BreakCause: s.OffNominal.Sum(),
	}
	if w := s.Weighed; w != nil {
		e := w.Lifter.Envelope
		spreads[AscentCause], spreads[BurstCause], spreads[FallCause] = 0, 0, 0
		spreads[DragCause], spreads[DiameterCause], spreads[CanopyCause] = w.Drag, e.BurstSpread, w.CanopySpread
		spreads[GasCause], spreads[RemainsCause] = w.Gas, e.RemainsSpread
		spreads[MassCause] = math.Hypot(w.LoadSpread, math.Hypot(e.MassSpread, w.Falling.Spread))
	}
	for c, spread := range spreads {
		if spread > 0 {
			found = append(found, Cause(c))
		}
	}
	return found
}

// exchanged writes the point of a row into u: A for kind 0, B for kind 1, and for
// kind 2+k A with the quantities of cause k from B.
func exchanged(seed uint64, row, kind int, uncertain []Cause, u []float64) {
	// Groups of random draws that no flight of an answer has.
	const groupA, groupB = MaxScrambles, MaxScrambles + 1
	if kind == 1 {
		randomPoint(seed, groupB, uint64(row), u)
		return
	}
	randomPoint(seed, groupA, uint64(row), u)
	if kind > 1 {
		var other [dimensions]float64
		b := other[:len(u)]
		randomPoint(seed, groupB, uint64(row), b)
		c := causes[uncertain[kind-2]]
		copy(u[c.from:c.to], b[c.from:c.to])
		if c.up <= len(u) {
			copy(u[c.more:c.up], b[c.more:c.up])
		}
	}
}

// explain makes the explanation of the flights.
func explain(outcomes []Outcome, uncertain []Cause) Explanation {
	kinds := 2 + len(uncertain)
	e := Explanation{Flights: len(outcomes)}
	var origin *geo.Point
	groups := make([][]row, explainGroups)
	for i := 0; i < len(outcomes); i += kinds {
		set := outcomes[i : i+kinds]
		var points row
		for k := range set {
			if set[k].End != flight.Landed {
				break
			}
			if origin == nil {
				origin = &set[k].At
			}
			points = append(points, plane(*origin, set[k].At))
		}
		if len(points) == kinds {
			g := i * explainGroups / len(outcomes)
			groups[g] = append(groups[g], points)
			e.Rows++
		}
	}
	variance, first, total := split(groups, len(uncertain))
	e.Spread = math.Sqrt(variance)
	for k, c := range uncertain {
		e.Effects = append(e.Effects, Effect{
			Cause: c, First: first[k].value, FirstError: first[k].err, Total: total[k].value, TotalError: total[k].err,
		})
	}
	return e
}

// plane is a place in metres east and north of an origin, at its distance and
// bearing from there.
func plane(origin, at geo.Point) [2]float64 {
	distance, bearing, _ := geo.Inverse(origin, at)
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	return [2]float64{distance * sin, distance * cos}
}

// row is what a model gives for one set of draws: for A, for B, and for A with
// one cause after the other from B.
type row [][2]float64

// estimate is a value and its standard error.
type estimate struct{ value, err float64 }

// split is the trace of the covariance of a model's values, and the shares of it
// that each cause makes alone (first) and with others (total):
//
//	first = mean of f(B)·(f(ABᵢ) − f(A)) / variance    [Saltelli2010], table 2 b
//	total = mean of (f(A) − f(ABᵢ))² / (2·variance)    [Jansen1999]
//
// with f less its mean, and products of vectors summed over both axes. Standard
// errors are from the groups, each left out by turns (the jackknife). All are
// NaN if fewer than two groups have rows or nothing varies.
func split(groups [][]row, kinds int) (variance float64, first, total []estimate) {
	var full [][]row
	for _, g := range groups {
		if len(g) > 0 {
			full = append(full, g)
		}
	}
	all := newMoments(full, -1, kinds)
	first, total = make([]estimate, kinds), make([]estimate, kinds)
	for k := range kinds {
		first[k].value, total[k].value = all.first[k], all.total[k]
		first[k].err, total[k].err = math.NaN(), math.NaN()
	}
	if n := float64(len(full)); n > 1 {
		squares := make([][2]float64, kinds)
		for g := range full {
			m := newMoments(full, g, kinds)
			for k := range kinds {
				squares[k][0] += math.Pow(m.first[k]-all.first[k], 2)
				squares[k][1] += math.Pow(m.total[k]-all.total[k], 2)
			}
		}
		for k := range kinds {
			first[k].err, total[k].err = math.Sqrt(squares[k][0]*(n-1)/n), math.Sqrt(squares[k][1]*(n-1)/n)
		}
	}
	return all.variance, first, total
}

// moments are the estimates of split.
type moments struct {
	variance     float64
	first, total []float64
}

// newMoments makes them of all groups but one.
func newMoments(groups [][]row, without, kinds int) moments {
	var mean [2]float64
	n := 0.0
	each := func(visit func(r row)) {
		for g, rows := range groups {
			for _, r := range rows {
				if g != without {
					visit(r)
				}
			}
		}
	}
	each(func(r row) {
		n++
		for axis := range mean {
			mean[axis] += (r[0][axis] + r[1][axis]) / 2
		}
	})
	mean[0], mean[1] = mean[0]/n, mean[1]/n
	m := moments{first: make([]float64, kinds), total: make([]float64, kinds)}
	each(func(r row) {
		for axis := range mean {
			a, b := r[0][axis]-mean[axis], r[1][axis]-mean[axis]
			m.variance += (a*a + b*b) / (2 * n)
			for k := range kinds {
				d := r[2+k][axis] - r[0][axis]
				m.first[k] += b * d / n
				m.total[k] += d * d / (2 * n)
			}
		}
	})
	for k := range kinds {
		m.first[k] /= m.variance
		m.total[k] /= m.variance
	}
	return m
}
