package mission

import (
	"cmp"
	"context"
	"math"
	"slices"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/report"
)

// What counts as better: see README.md.
const (
	heightGrain = 200.0 // m
	gasGrain    = 0.01  // of the gas of the plan as it stands
	scoreGrain  = 0.5   // points
)

// rung is a height and an amount of gas in steps that matter. In steps, so that
// "better" never runs in a circle.
type rung struct{ height, gas int }

func (v *varying) rung(one *variant) rung {
	return rung{int(math.Floor(one.height / heightGrain)), int(math.Floor(one.moles / (gasGrain * v.all[0].moles)))}
}

// drop marks the plans that another will be found to beat, by the flights of a look:
// it may be expected to be no worse, for sure, by the score with all flights too,
// whose half-widths will be narrower as the root of their number.
func (v *varying) drop(number int) {
	some := slices.DeleteFunc(v.alive(), func(i int) bool { return v.all[i].coarse[number].Landed() == 0 })
	score := func(one *variant) float64 { return one.coarse[number].Score() }
	scrambles, perScramble := v.look(number)
	first := v.all[0].plan
	narrower := math.Sqrt(float64(scrambles*perScramble) / float64(first.Scrambles*first.PerScramble))
	v.beaten(some, score, func(a, b *variant, level bool) bool {
		difference, half := a.coarse[number].Difference(b.coarse[number])
		then := max(scoreGrain, half*narrower)
		if level {
			return difference+half <= -then
		}
		return difference+half <= then
	}, func(i int) { v.all[i].dropped = true })
}

func (one *variant) finely() float64 { return one.sums.Score() }

// unbeaten are the plans that no other beats.
func (v *varying) unbeaten() []int {
	some := v.alive()
	lost := map[int]bool{}
	v.beaten(some, (*variant).finely, func(a, b *variant, level bool) bool {
		difference, half := a.sums.Difference(b.sums)
		if level {
			return difference <= -scoreGrain && difference < -half
		}
		return difference < scoreGrain || difference <= half
	}, func(i int) { lost[i] = true })
	return slices.DeleteFunc(some, func(i int) bool { return lost[i] })
}

// beaten calls lose for each of some plans that another of them beats: one that
// bursts as high and takes as little gas. Those with the lowest score are tried first.
// level says that it does neither better;
// wins then decides by the score.
func (v *varying) beaten(some []int, score func(*variant) float64, wins func(a, b *variant, level bool) bool, lose func(i int)) {
	byScore := slices.Clone(some)
	slices.SortStableFunc(byScore, func(i, k int) int {
		return cmp.Compare(score(&v.all[i]), score(&v.all[k]))
	})
	for _, i := range some {
		own := v.rung(&v.all[i])
		for _, k := range byScore {
			other := v.rung(&v.all[k])
			if k == i || other.height < own.height || other.gas > own.gas {
				continue
			}
			if wins(&v.all[k], &v.all[i], other == own) {
				lose(i)
				break
			}
		}
	}
}

// most is how many plans are told.
const most = 7

// answer flies the plan as it stands and the plans to be told with flights that the
// search has not seen, and puts the answer together.
func (v *varying) answer(ctx context.Context) (report.Varied, error) {
	first := &v.all[0]
	a := report.Varied{
		Plan: first.plan.Name, Zone: first.plan.Site.Zone, Looked: len(v.all), Version: v.options.Version,
		Flights: first.plan.Scrambles * first.plan.PerScramble,
	}
	a.LeftOut = v.leftOut()
	a.Fully = len(v.numbers(func(one *variant) bool { return one.settled }))
	unbeaten := v.unbeaten()
	told := v.choose(unbeaten)
	sums := make([]hazard.Sums, len(v.all))
	launches := make([]report.Launch, len(v.all))
	flown := append([]int{0}, slices.DeleteFunc(slices.Clone(told), func(i int) bool { return i == 0 })...)
	err := v.each(ctx, flown, func(i int) error {
		one := &v.all[i]
		n := one.plan.Scrambles
		met, err := v.flown(ctx, one, n, n, one.plan.PerScramble)
		if err != nil {
			return err
		}
		sums[i] = v.score(one, met, n)
		l, err := Fly(ctx, v.worlds[one.plan.Site.At], one.plan, Options{Version: v.options.Version, Workers: 1})
		l.Flown = nil
		launches[i] = l
		return err
	})
	if err != nil {
		return report.Varied{}, err
	}
	a.Cautions = launches[0].Cautions
	a.AsItStands = v.choice(0)
	a.AsItStands.Launch, a.AsItStands.LeftOut, a.AsItStands.Unbeaten = &launches[0], first.out, slices.Contains(unbeaten, 0)
	for _, i := range unbeaten {
		a.Unbeaten = append(a.Unbeaten, v.choice(i))
	}
	for _, i := range told {
		c := v.choice(i)
		c.Launch = &launches[i]
		c.Gain, c.GainHalfWidth = sums[0].Difference(sums[i])
		a.Told = append(a.Told, c)
	}
	return a, nil
}

// leftOut counts the plans that are left out, by reason.
func (v *varying) leftOut() []report.LeftOut {
	var all []report.LeftOut
	for _, reason := range reasons {
		n := len(v.numbers(func(one *variant) bool { return one.out == reason }))
		if n > 0 {
			all = append(all, report.LeftOut{Why: reason, Plans: n})
		}
	}
	return all
}

// choice is a plan as it is told.
func (v *varying) choice(i int) report.Choice {
	one := &v.all[i]
	c := report.Choice{
		Site: one.plan.Site.Name, Time: one.plan.Launch, Parts: one.plan.Train.Parts,
		Envelope: one.ready.weighed.lifter.Envelope, Height: one.height, Score: one.sums.Score(),
	}
	for _, canopy := range one.plan.Train.Weighed.Canopies {
		c.Canopies = append(c.Canopies, canopy.Canopy)
	}
	t := one.ready.weighed
	c.Gas = t.lifter.Filling.Volume(t.conditions(one.plan.Train.Weighed))
	c.Pull = t.lifter.At(t.air.Air[0].State).Pull
	lands := balloon.Descent{Mass: t.budget.Landing().Mass, DragArea: t.area}
	c.Falls = lands.Speed(t.air.Air[0].Density)
	return c
}

// choose are the plans that are told, by score: of those that no other beats, and
// that are not the plan as it stands, the one with the lowest score, the one that
// bursts the highest, the one with the least gas, the best of those that change the
// least, and then whichever is the least like those chosen. Of plans that are as good
// as each other in all three the one that changes least stands for all.
func (v *varying) choose(unbeaten []int) []int {
	some := slices.Clone(unbeaten)
	slices.SortStableFunc(some, func(a, b int) int {
		return cmp.Or(cmp.Compare(v.changes(a), v.changes(b)), cmp.Compare(v.all[a].sums.Score(), v.all[b].sums.Score()))
	})
	var apart []int
	for _, i := range some {
		if i != 0 && !slices.ContainsFunc(apart, func(k int) bool { return v.alike(i, k) }) && (v.all[0].out != "" || !v.alike(i, 0)) {
			apart = append(apart, i)
		}
	}
	if len(apart) == 0 {
		return nil
	}
	best := func(less func(a, b *variant) bool) int {
		k := apart[0]
		for _, i := range apart[1:] {
			if less(&v.all[i], &v.all[k]) {
				k = i
			}
		}
		return k
	}
	told := []int{best(func(a, b *variant) bool { return a.sums.Score() < b.sums.Score() })}
	for _, i := range [...]int{
		best(func(a, b *variant) bool { return a.height > b.height }), best(func(a, b *variant) bool { return a.moles < b.moles }), apart[0],
	} {
		if !slices.Contains(told, i) {
			told = append(told, i)
		}
	}
	for len(told) < min(most, len(apart)) {
		next, farthest := -1, -1.0
		for _, i := range apart {
			if d := v.apart(i, told); d > farthest {
				next, farthest = i, d
			}
		}
		told = append(told, next)
	}
	slices.SortStableFunc(told, func(a, b int) int { return cmp.Compare(v.all[a].sums.Score(), v.all[b].sums.Score()) })
	return told
}

// alike reports whether nobody would choose between two plans for what they give.
func (v *varying) alike(i, k int) bool {
	a, b := &v.all[i], &v.all[k]
	if v.rung(a) != v.rung(b) {
		return false
	}
	difference, half := a.sums.Difference(b.sums)
	return math.Abs(difference) < scoreGrain || math.Abs(difference) <= half
}

// apart is how unlike a plan is to the nearest of some others: 0 for one of them.
func (v *varying) apart(i int, others []int) float64 {
	nearest := math.Inf(1)
	for _, k := range others {
		a, b := &v.all[i], &v.all[k]
		// What one would notice: 2 points, 1 km, a tenth of the gas.
		d := math.Hypot(math.Hypot((a.sums.Score()-b.sums.Score())/2, (a.height-b.height)/1000), (a.moles/b.moles-1)/0.1)
		nearest = min(nearest, d)
	}
	return nearest
}

// changes is how many things a plan does otherwise than the plan as it stands.
func (v *varying) changes(i int) int {
	a, b := v.all[i].plan, v.all[0].plan
	n := 0
	for _, changed := range [...]bool{
		a.Site.Name != b.Site.Name, !a.Launch.Equal(b.Launch),
		v.all[i].ready.weighed.lifter.Envelope != v.all[0].ready.weighed.lifter.Envelope,
		!slices.Equal(a.Train.Weighed.Canopies, b.Train.Weighed.Canopies), len(a.Train.Parts) != len(b.Train.Parts),
		v.rung(&v.all[i]).gas != v.rung(&v.all[0]).gas,
	} {
		if changed {
			n++
		}
	}
	return n
}
