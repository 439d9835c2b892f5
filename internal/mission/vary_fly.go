package mission

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
)

// With how many flights plans are looked at before they are flown with all of theirs:
// the first of each scramble of the plan's own. At first with few, of up to so many
// scrambles, and those that may still be unbeaten with a quarter.
const (
	coarseScrambles   = 8
	coarsePerScramble = 16
	looks             = 2
)

// look is how many scrambles and flights in each a look takes.
func (v *varying) look(number int) (scrambles, perScramble int) {
	p := v.all[0].plan
	if number == 0 {
		return min(coarseScrambles, p.Scrambles), min(coarsePerScramble, p.PerScramble)
	}
	return p.Scrambles, max(p.PerScramble/4, min(coarsePerScramble, p.PerScramble))
}

// Why a plan is left out.
const (
	notFilled   = "the train cannot be filled so"
	tooFull     = "too full at release"
	mayFloat    = "would float, or might"
	tooSlow     = "would rise slower than 2 m/s" // balloon.SlowAscent
	gasShort    = "would take more gas than the cylinders give"
	elsewhere   = "not covered by the forecast"
	unfinished  = "over one flight in twenty leaves the forecast"
	breaksRule  = "does not meet one of the rules of the air that the plan names"
	breaksLimit = "beyond a limit for sure that the plan as it stands is not beyond for sure"
)

// reasons are all of them, as they are told.
var reasons = [...]string{notFilled, tooFull, mayFloat, tooSlow, gasShort, elsewhere, unfinished, breaksRule, breaksLimit}

// Vary flies plans, one at least, each in the world of its site, the first of them as the plan as
// it stands and all with the same draws, and says which no other beats. The error is
// what is wrong with the first plan, or the context's. The answer is the same for any
// number of workers. Progress is called with how many plans were looked at.
func Vary(ctx context.Context, worlds map[geo.Point]World, plans []plan.Plan, o Options) (report.Varied, error) {
	v := varying{worlds: worlds, options: o, all: make([]variant, len(plans))}
	for i, p := range plans {
		v.all[i].plan = p
	}
	var looked atomic.Int64
	err := v.each(ctx, v.numbers(func(*variant) bool { return true }), func(i int) error {
		if err := v.prepare(i); err != nil {
			return err
		}
		if err := v.glance(ctx, &v.all[i], 0); err != nil {
			return err
		}
		if done := int(looked.Add(1)); o.Progress != nil {
			o.Progress(done)
		}
		return nil
	})
	if err != nil {
		return report.Varied{}, err
	}
	if err := v.search(ctx); err != nil {
		return report.Varied{}, err
	}
	return v.answer(ctx)
}

// search flies those plans that may still be unbeaten with all their flights. What
// breaks a limit then is out, and cannot have beaten another: until nothing more is.
func (v *varying) search(ctx context.Context) error {
	if err := v.settle(ctx, &v.all[0]); err != nil {
		return err
	}
	for {
		for i := range v.all {
			v.all[i].dropped = false
		}
		for number := range looks {
			if err := v.each(ctx, v.alive(), func(i int) error { return v.glance(ctx, &v.all[i], number) }); err != nil {
				return err
			}
			v.drop(number)
		}
		some := slices.DeleteFunc(v.alive(), func(i int) bool { return v.all[i].settled })
		if len(some) == 0 {
			return nil
		}
		if err := v.each(ctx, some, func(i int) error { return v.settle(ctx, &v.all[i]) }); err != nil {
			return err
		}
	}
}

// alive are the plans that may be unbeaten.
func (v *varying) alive() []int {
	return v.numbers(func(one *variant) bool { return one.out == "" && !one.dropped })
}

// variant is one plan of a search.
type variant struct {
	plan    plan.Plan
	ready   prepared
	out     string  // why it is left out; empty if it is not
	dropped bool    // surely beaten, after the first flights
	height  float64 // of the burst as planned, m above mean sea level
	moles   float64 // of gas
	glanced [looks]bool
	coarse  [looks]hazard.Sums // of the flights of each look
	settled bool               // flown with all its flights, of which is what follows
	sums    hazard.Sums
	launch  report.Launch // its verdict and reasons alone
}

// varying is a search under way.
type varying struct {
	worlds  map[geo.Point]World
	options Options
	all     []variant
}

// numbers are those of the variants that are wanted.
func (v *varying) numbers(wanted func(*variant) bool) []int {
	var some []int
	for i := range v.all {
		if wanted(&v.all[i]) {
			some = append(some, i)
		}
	}
	return some
}

// each does something with some of the plans, several at once. The error is that of
// the first of them that has one.
func (v *varying) each(ctx context.Context, some []int, do func(i int) error) error {
	workers := v.options.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	faults := make([]error, len(some))
	var next atomic.Int64
	var group sync.WaitGroup
	for range min(workers, len(some)) {
		group.Go(func() {
			for ctx.Err() == nil {
				k := int(next.Add(1)) - 1
				if k >= len(some) {
					return
				}
				faults[k] = do(some[k])
			}
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, err := range faults {
		if err != nil {
			return err
		}
	}
	return nil
}

// prepare fills a plan's train, and finds what speaks against it. Faults are those of
// the first plan, or of the program.
func (v *varying) prepare(i int) error {
	one := &v.all[i]
	var err error
	one.ready, err = ready(v.worlds[one.plan.Site.At], one.plan)
	var faults plan.Faults
	var beyond *NotCovered
	switch {
	case err == nil:
	case i > 0 && errors.As(err, &beyond):
		one.out = elsewhere
		return nil
	case i > 0 && errors.As(err, &faults):
		one.out = notFilled
		return nil
	default:
		return err
	}
	t := one.ready.weighed
	one.height, one.moles = float64(t.climb.Last().Height), t.lifter.Filling.Moles
	one.out = troubled(t)
	return nil
}

// troubled is what of a filled train no plan is to have.
func troubled(t *trained) string {
	found := map[string]bool{}
	for _, warning := range t.lifter.Warnings(t.air.Air) {
		switch warning.Trouble {
		case balloon.NoLift:
			found[notFilled] = true
		case balloon.BurstsOnGround, balloon.Overfilled, balloon.PastFullest:
			found[tooFull] = true
		case balloon.WillFloat, balloon.MayFloat:
			found[mayFloat] = true
		case balloon.Slow:
			found[tooSlow] = true
		case balloon.BurstRemembered: // whatever the fill
		}
	}
	if len(t.rack.Cylinders) > 0 && t.lifter.Filling.Moles > usable(t.rack)*(1+1e-9) {
		found[gasShort] = true
	}
	for _, reason := range reasons {
		if found[reason] {
			return reason
		}
	}
	return ""
}

// glance flies a plan with the flights of a look, unless that was done or it is out.
func (v *varying) glance(ctx context.Context, one *variant, number int) error {
	if one.glanced[number] || one.out != "" {
		return nil
	}
	scrambles, perScramble := v.look(number)
	met, err := v.flown(ctx, one, 0, scrambles, perScramble)
	if err != nil {
		return err
	}
	one.glanced[number], one.coarse[number] = true, v.score(one, met, scrambles)
	return nil
}

// settle flies a plan with all its flights, keeps its score and finds out whether it
// is out after all.
func (v *varying) settle(ctx context.Context, one *variant) error {
	l, outcomes, err := flyAll(ctx, v.worlds[one.plan.Site.At], one.plan, Options{Workers: 1})
	if err != nil {
		if ctx.Err() != nil {
			return err
		}
		return fmt.Errorf("launch %s from %s: %w", one.plan.Launch, one.plan.Site.Name, err)
	}
	met, err := metBy(ctx, outcomes)
	if err != nil {
		return err
	}
	one.settled, one.sums = true, v.score(one, met, one.plan.Scrambles)
	one.launch = report.Launch{Verdict: l.Verdict, Reasons: l.Reasons}
	switch {
	case one.out != "":
	case float64(one.sums.Landed()) < (1-mostLost)*float64(len(outcomes)):
		one.out = unfinished
	case l.Rules != nil && slices.ContainsFunc(l.Rules.Limits, func(r rules.Result) bool { return r.Verdict == rules.NotMet && r.Binds == rules.Yes }):
		one.out = breaksRule
	case one != &v.all[0] && slices.ContainsFunc(one.launch.Worse(v.all[0].launch), func(r launch.Reason) bool { return r.Verdict == launch.NoGo }):
		one.out = breaksLimit
	}
	return nil
}

// flown flies a plan from a scramble on.
func (v *varying) flown(ctx context.Context, one *variant, first, scrambles, perScramble int) ([]hazard.Met, error) {
	spec := one.ready.spec
	spec.First, spec.Scrambles, spec.PerScramble, spec.Workers = first, scrambles, perScramble, 1
	outcomes, err := ensemble.Run(ctx, one.ready.scenes, v.worlds[one.plan.Site.At].Ground.Map, spec, nil)
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		return nil, fmt.Errorf("launch %s from %s: %w", one.plan.Launch, one.plan.Site.Name, err)
	}
	return metBy(ctx, outcomes)
}

// score is that of some flights of a plan.
func (v *varying) score(one *variant, met []hazard.Met, scrambles int) hazard.Sums {
	return hazard.Sum(met, scrambles, severity(one.plan.Severity), v.worlds[one.plan.Site.At].Ground.Map)
}
