package ensemble

import (
	"context"
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// Narrowed is what is known of a flight that is under way, or was.
type Narrowed struct {
	// Outcomes are flights on from the last believed fix, all as likely as each other.
	// Aloft is from the launch as planned on, and Burst is the burst's height where it
	// is past, too.
	Outcomes []Outcome
	// Used are the numbers of the fixes that are believed, in the order of time, and
	// Rejected the others. What is in neither was passed over, of very many.
	Used     []int
	Rejected []Rejected
	Phase    Phase
	// Rise is the mean rate of ascent to come, m/s, over the flights that rise, and Fall
	// the speed of fall in air of atmos.SeaLevelDensity: the mean and the standard
	// deviation over the flights on the likeliest course. Burst is the burst's height, m,
	// likewise.
	Rise, Fall, Burst Normal
	// Members is the share of the flights that fly in each scene.
	Members []float64
}

// NoFix is the error where no fix is believed.
type NoFix struct{ Rejected []Rejected }

// Error says so.
func (e *NoFix) Error() string {
	if len(e.Rejected) == 0 {
		return "no fixes: want at least one"
	}
	return fmt.Sprintf("none of %d fixes is believed: fix %d %v", len(e.Rejected), e.Rejected[0].Fix+1, e.Rejected[0].Why)
}

// Narrow flies the rest of a flight that was seen at some fixes, in any order, many times
// over. Spec is that of the flight as planned, and its Launch is where and when it was to
// begin; a launch that was late does not matter once there are fixes.
//
// Flights go on from the last fix that is believed. What the fixes say is taken in
// exactly, as far as it can be: the wind error, and what lies between members, are
// Gaussian, and are drawn as conditioned on how the flight drifted from fix to fix, up
// and down through the same air; how fast the train rises and falls, and where it burst,
// likewise, for each course that it can be on; and courses, members and the sizes of
// errors are as likely as they make what was seen. No flight has more weight than
// another, and there is nothing to run short of, however many fixes there are.
//
// A weighed train is known here by the scatter of its rates and its burst; while it rises
// it rises by the planned profile times a factor.
//
// The error is a fault of the spec, the scenes or a fix, a *NoFix, or the context's.
func Narrow(ctx context.Context, scenes []flight.Scene, over *ground.Map, s Spec, fixes []Fix, progress func(done int)) (Narrowed, error) {
	if err := s.checkWith(scenes); err != nil {
		return Narrowed{}, err
	}
	if len(fixes) > MaxFixes {
		return Narrowed{}, fmt.Errorf("%d fixes: want at most %d", len(fixes), MaxFixes)
	}
	for i, f := range fixes {
		if err := f.Check(); err != nil {
			return Narrowed{}, fmt.Errorf("fix %d: %w", i+1, err)
		}
	}
	n := &narrowing{scenes: scenes, spec: s, law: s.errorLaw(), rough: measuredRoughness}
	return n.run(ctx, over, fixes, progress)
}

// run is Narrow for what is sound.
func (n *narrowing) run(ctx context.Context, over *ground.Map, fixes []Fix, progress func(done int)) (Narrowed, error) {
	t, rejected, err := n.learn(ctx, fixes)
	if err != nil {
		return Narrowed{}, err
	}
	out := Narrowed{Used: t.numbers, Rejected: rejected, Phase: t.phase}
	flights := n.spec.Scrambles * n.spec.PerScramble
	n.rises, n.falls = make([]float64, flights), make([]float64, flights)
	out.Outcomes, err = n.fly(ctx, over, &t, progress)
	if err != nil {
		return Narrowed{}, err
	}
	n.describe(&out)
	return out, nil
}

// narrowing is one Narrow under way.
type narrowing struct {
	scenes  []flight.Scene
	spec    Spec
	law     errorLaw
	draw    *drawer
	dress   *dressing
	air     *air
	fates   *fates
	rough   roughness
	planned way // of the flight before it was seen
	// fallTime is how long a train that falls at 1 m/s in air of atmos.SeaLevelDensity
	// takes from one height down to another, s.
	fallTime func(high, low float64) float64
	cells    []int // of each flight
	// Of each flight, m/s: 0 of one that does not rise any more.
	rises, falls []float64
}

// mostRounds bounds how many displaced fixes are taken out, one after the other.
const mostRounds = 20

// learn conditions all laws on the fixes.
func (n *narrowing) learn(ctx context.Context, fixes []Fix) (track, []Rejected, error) {
	n.planned = n.spec.planned(n.scenes[0])
	dropped := map[int]bool{}
	var before *priors // the same however many fixes are believed
	for {
		t, rejected, ok := n.believe(fixes, dropped)
		if !ok {
			return t, nil, &NoFix{rejected}
		}
		t.released(n.spec.Launch)
		w := n.seen(&t)
		n.draw, n.dress = newDrawer(n.spec, w), newDressing(n.scenes, w, n.spec.Launch)
		n.draw.used = dimensions
		n.fallTime = n.newFallTime(t.last())
		if before == nil {
			drawn := newPriors(n.spec, n.draw)
			before = &drawn
		}
		n.fates = n.newFates(*before, &t)
		g := n.newSight(n.legs(&t), &t)
		n.air = g.newAir()
		if err := ctx.Err(); err != nil {
			return t, nil, err
		}
		worst, ok := g.displaced(n.air)
		if !ok || len(dropped) == mostRounds || len(t.fixes) < 4 {
			return t, rejected, nil
		}
		dropped[t.numbers[worst]] = true
	}
}

// seen is the way of a flight: where it was seen, and as planned from there on.
func (n *narrowing) seen(t *track) way {
	s := n.spec
	last := t.last()
	r := flight.Release{At: last.At, Height: last.Height, Time: last.Time, Train: balloon.Train{
		Ascent: s.Ascent.Centre, Landing: s.Landing.Centre, Burst: atmos.Geometric(s.Burst.Centre),
	}}
	if t.phase == Falling || t.phase == Down || r.Train.Burst <= r.Height {
		r.Train.Burst = r.Height
	}
	scene := n.scenes[0]
	scene.Layer = errorSpacing / 2
	f := scene.Fly(r, nil)
	var path []flight.Step
	highest := 0
	for i := range t.fixes {
		path = append(path, flight.Step{Time: t.fixes[i].Time, At: t.fixes[i].At, Height: t.fixes[i].Height})
	}
	if len(f.Path) > 1 {
		path = append(path, f.Path[1:]...)
	}
	for i := range path {
		if path[i].Height > path[highest].Height {
			highest = i
		}
	}
	heights := min(max(s.heights(), int(float64(path[highest].Height)/errorSpacing)+2), errorHeights)
	if n.law.skips(heights - 1) {
		heights = min(heights+1, errorHeights)
	}
	return newWay(heights, path, highest)
}

// fly flies what was learnt.
func (n *narrowing) fly(ctx context.Context, over *ground.Map, t *track, progress func(done int)) ([]Outcome, error) {
	s := n.spec
	last := t.last()
	s.Launch = flight.Release{At: last.At, Height: last.Height, Time: last.Time}
	r := &flying{spec: s, scenes: n.scenes, over: over, draw: n.draw, outcomes: make([]Outcome, len(n.rises))}
	p := newPoints(s, dimensions)
	r.point = p.point
	r.deal = func(h *hand, from int, scene int, flights [lanes]int) { n.deal(h, from, scene, flights, last) }
	n.cells = make([]int, len(n.rises))
	members := make([][2][]int, len(n.scenes))
	for i := range n.cells {
		n.cells[i] = n.air.cellOf(p.coordinate(i, memberDimension))
		slow := 0
		if p.coordinate(i, courseDimension) < n.fates.until[Courses-1] {
			slow = 1
		}
		m := &members[n.air.cells[n.cells[i]].scene]
		m[slow] = append(m[slow], i)
	}
	r.blocks = blocksOf(members)
	outcomes := r.outcomes
	if t.phase == Down {
		r.lie(n, last)
	} else if _, err := r.run(ctx, progress); err != nil {
		return nil, err
	}
	for i := range outcomes {
		outcomes[i].Aloft = outcomes[i].Time - n.spec.Launch.Time
	}
	return outcomes, ctx.Err()
}

// deal draws flights into a hand.
func (n *narrowing) deal(h *hand, from, scene int, flights [lanes]int, last *Fix) {
	highest := 0
	if h.rates == nil {
		n := len(h.releases)
		h.rates, h.bursts, h.moves = make([][errorHeights + 1]float64, n), make([]float64, n), make([][2]float64, n)
	}
	var values [lanes][]float64
	for lane, i := range flights {
		u, z, r := &h.points[lane], &h.normals[lane], &h.releases[from+lane]
		*r = flight.Release{At: last.At, Height: last.Height, Time: last.Time}
		course, burst := n.fates.draw(u, r, h.rates[from+lane][:0])
		h.courses[from+lane], h.bursts[from+lane] = course, burst
		n.rises[i], n.falls[i] = 0, r.Train.Landing
		if r.Train.Burst > r.Height {
			n.rises[i] = float64(r.Train.Burst-r.Height) / timeUp(r)
		}
		k := 0
		for d := firstModeDimension; d < courseDimension; d += 2 {
			z[k], z[windModes+k] = quickNormal(u[d]), quickNormal(u[d+1])
			k++
		}
		c := &n.air.cells[n.cells[i]]
		z[lastValue], z[lastValue+1] = quickNormal(u[gasDimension]), quickNormal(u[massDimension])
		for d := range len(c.mean) - dressValue {
			z[dressValue+d] = quickNormal(u[dressDimension+d])
		}
		values[lane] = h.values[lane][:len(c.mean)]
		n.air.draw(c, z[:], values[lane])
		// The flight is where the fix is less its error; its end is moved instead.
		h.moves[from+lane] = [2]float64{-last.sigma() * values[lane][lastValue], -last.sigma() * values[lane][lastValue+1]}
		size := n.air.sizes[c.size]
		for k := range windModes {
			h.amplitude[k][2*lane] = float32(size[0] * values[lane][k])
			h.amplitude[k][2*lane+1] = float32(size[1] * values[lane][windModes+k])
		}
		highest = max(highest, n.draw.reach(h, from+lane))
	}
	n.draw.errors(h, from, highest)
	if n.dress == nil {
		return
	}
	for lane, i := range flights {
		size := n.air.sizes[n.air.cells[n.cells[i]].size][2]
		z := values[lane][dressValue:]
		for k := range z {
			z[k] *= size
		}
		n.dress.add(h, from+lane, scene, size, z)
	}
}

// timeUp is how long a release rises, s.
func timeUp(r *flight.Release) (seconds float64) {
	from, to := float64(r.Height), float64(r.Train.Burst)
	if len(r.Profile.Rate) == 0 {
		return (to - from) / r.Train.Ascent
	}
	n := int((to-from)/errorSpacing) + 1
	for i := range n {
		seconds += (to - from) / float64(n) / r.Profile.At(from+(to-from)*(float64(i)+0.5)/float64(n))
	}
	return seconds
}

// lie leaves all flights where the last fix was: on the ground.
func (r *flying) lie(n *narrowing, last *Fix) {
	end := flight.Step{At: r.spec.Launch.At, Time: r.spec.Launch.Time, Height: r.spec.Launch.Height}
	for _, b := range r.blocks {
		sky := skyOf(r.scenes[b.scene])
		for _, i := range b.flights {
			var u [dimensions]float64
			r.point(i, u[:])
			var dealt flight.Release
			course, burst := n.fates.draw(&u, &dealt, nil)
			end.At = place(last.At, [2]float64{last.sigma() * normal(u[gasDimension]), last.sigma() * normal(u[massDimension])})
			r.outcomes[i] = Outcome{
				End: flight.Landed, Course: course, Scene: b.scene, At: end.At, Time: end.Time, Burst: burst, Speed: dealt.Train.Landing,
				Met: hazard.Meet(r.over, flight.Flight{End: flight.Landed, Path: []flight.Step{end}}, sky),
			}
			n.falls[i] = dealt.Train.Landing
		}
	}
}

// describe says what is known of the train.
func (n *narrowing) describe(out *Narrowed) {
	out.Members = make([]float64, len(n.scenes))
	var courses [Courses]int
	likeliest := Nominal
	for i := range out.Outcomes {
		o := &out.Outcomes[i]
		out.Members[o.Scene] += 1 / float64(len(out.Outcomes))
		if courses[o.Course]++; courses[o.Course] > courses[likeliest] {
			likeliest = o.Course
		}
	}
	var rise, fall, burst tally
	for i := range out.Outcomes {
		o := &out.Outcomes[i]
		if o.Course != likeliest {
			continue
		}
		fall.add(n.falls[i])
		burst.add(o.Burst)
		if n.rises[i] > 0 {
			rise.add(n.rises[i])
		}
	}
	out.Rise, out.Fall, out.Burst = rise.normal(), fall.normal(), burst.normal()
}

// tally is numbers added up.
type tally struct{ n, sum, square float64 }

func (t *tally) add(x float64) { t.n++; t.sum += x; t.square += x * x }

func (t *tally) normal() Normal {
	if t.n == 0 {
		return Normal{}
	}
	mean := t.sum / t.n
	return Normal{mean, math.Sqrt(max(t.square/t.n-mean*mean, 0))}
}
