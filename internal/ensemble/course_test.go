package ensemble

import (
	"context"
	"fmt"
	"math"
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
)

// usual are chances as a plan has them.
func usual() Chances {
	return Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02, Float: 0.01}
}

// Courses take the unit interval in their order, each its chance of it, and what
// is left of the coordinate runs from 0 to 1 over each.
func TestCoursesShareTheInterval(t *testing.T) {
	c := usual()
	for _, p := range []struct {
		u      float64
		course Course
		rest   float64
	}{
		{1e-10, EarlyBurst, 1e-10 / 0.03},
		{0.015, EarlyBurst, 0.5},
		{0.0299, EarlyBurst, 0.0299 / 0.03},
		{0.0301, CanopyFails, 0.01},
		{0.0399, CanopyFails, 0.99},
		{0.05, CanopyFouled, 0.5},
		{0.07, SlowLeak, 0.5},
		{0.0801, Float, 0.01},
		{0.0899, Float, 0.99},
		{0.0901, Nominal, 0.0001},
		{1 - 1e-10, Nominal, 0.91},
	} {
		course, rest := c.draw(p.u)
		assert.Equal(t, p.course, course, "draw(%g)", p.u)
		assert.InDelta(t, p.rest, rest, 1e-8, "draw(%g)", p.u)
	}
	assert.InDelta(t, 0.09, c.Sum(), 1e-15)
	for u := 0.0005; u < 1; u += 0.001 {
		course, _ := Chances{}.draw(u)
		assert.Equal(t, Nominal, course, "no chances: draw(%g)", u)
		course, rest := Chances{Float: 1}.draw(u)
		assert.Equal(t, Float, course)
		assert.InDelta(t, u, rest, 1e-15)
	}
	for course := Nominal; int(course) < Courses; course++ {
		assert.NotContains(t, course.String(), "Course")
	}
	assert.Equal(t, "Course(9)", Course(9).String())
}

// What each course does to a release, by the constants that document it.
func TestWhatCoursesDo(t *testing.T) {
	planned := flight.Release{Height: 1000, Train: balloon.Train{Ascent: 5, Burst: 31e3, Landing: 6}}
	for _, c := range []struct {
		course Course
		u, v   float64
		want   balloon.Train
		hover  float64
	}{
		{Nominal, 0.5, 0.5, planned.Train, 0},
		{EarlyBurst, 0.25, 0, balloon.Train{Ascent: 5, Burst: 8500, Landing: 6}, 0},
		{EarlyBurst, 1e-9, 0, balloon.Train{Ascent: 5, Burst: 1000 + 3e-5, Landing: 6}, 0},
		{CanopyFails, 0.3, 0, balloon.Train{Ascent: 5, Burst: 31e3, Landing: 24}, 0},
		{CanopyFouled, 0.3, 0, balloon.Train{Ascent: 5, Burst: 31e3, Landing: 6 / 0.591607978}, 0}, // √0.35
		{SlowLeak, 0.25, 0, balloon.Train{Ascent: 5 * 0.6, Burst: 31e3, Landing: 6}, 0},
		{Float, 0, 0, balloon.Train{Ascent: 5, Burst: 19e3, Landing: 6}, 3600},
		{Float, 1, 0.5, balloon.Train{Ascent: 5, Burst: 29500, Landing: 6}, 3.5 * 3600},
	} {
		r := planned
		c.course.take(&r, c.u, c.v)
		assert.InDelta(t, c.want.Ascent, r.Train.Ascent, 1e-9, "%v", c.course)
		assert.InDelta(t, float64(c.want.Burst), float64(r.Train.Burst), 1e-6, "%v", c.course)
		assert.InDelta(t, c.want.Landing, r.Train.Landing, 1e-6, "%v", c.course)
		assert.InDelta(t, c.hover, r.Hover, 1e-9, "%v", c.course)
	}
	// The limits of a train hold for whatever was drawn.
	for course := EarlyBurst; int(course) < Courses; course++ {
		for _, r := range []flight.Release{
			{Height: -500, Train: balloon.Train{Ascent: balloon.MinAscent, Burst: balloon.MinBurst, Landing: balloon.MaxLanding}},
			{Height: 20e3, Train: balloon.Train{Ascent: 5, Burst: 10e3, Landing: 5}}, // let go above the burst
			{Height: 0, Train: balloon.Train{Ascent: 5, Burst: balloon.MaxBurst, Landing: 60}},
		} {
			for _, u := range []float64{0x1p-33, 0.5, 1 - 0x1p-33} {
				got := r
				course.take(&got, u, u)
				assert.NoError(t, got.Train.Check(), "%v of %+v", course, r.Train)
			}
		}
	}
}

// What README.md and the schema say of courses is what they do.
func TestCoursesAreDocumented(t *testing.T) {
	words := map[string][]string{
		"canopy_fails":  {fmt.Sprintf("falls at %g times the speed", CanopyFailsFactor)},
		"canopy_fouled": {fmt.Sprintf("keeps %g %% of its drag area", 100*FouledShare), fmt.Sprintf("%.1f times the speed", 1/math.Sqrt(FouledShare))},
		"slow_leak":     {fmt.Sprintf("rises at %g to %g times the rate", LeastLeakFactor, MostLeakFactor)},
		"float": {
			fmt.Sprintf("hangs for %g to %g h", LeastFloatTime/3600, MostFloatTime/3600),
			fmt.Sprintf("at %g to %g %% of the way", 100*LeastFloatShare, 100*MostFloatShare),
		},
	}
	space := regexp.MustCompile(`[\s/]+`)
	for _, file := range []string{"../../README.md", "../../proto/thistledown/v1/plan.proto"} {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		flat := space.ReplaceAllString(string(text), " ")
		for course, all := range words {
			for _, said := range all {
				assert.Contains(t, flat, said, "%s: %s", file, course)
			}
		}
	}
}

// Of every scramble of 1,024 the courses take their share to within one or two
// flights, and what is particular to them is even over these.
func TestSharesAreEven(t *testing.T) {
	s := spec()
	s.OffNominal, s.Scrambles, s.PerScramble = usual(), 4, 1024
	outcomes := run(t, calm(t, 40e3), s)
	var all [Courses]int
	for r := range 4 {
		var counts [Courses]int
		for _, o := range outcomes[r*1024 : (r+1)*1024] {
			counts[o.Course]++
			all[o.Course]++
		}
		for course := EarlyBurst; int(course) < Courses; course++ {
			assert.InDelta(t, 1024*s.OffNominal.of(course), counts[course], 2, "scramble %d: %v", r, course)
		}
	}
	// 123 early bursts: of a uniform law each tenth has about 12.
	var tenths [10]int
	for _, o := range outcomes {
		if o.Course == EarlyBurst {
			tenths[min(int(o.Burst/3000), 9)]++
		}
	}
	for i, n := range tenths {
		assert.InDelta(t, float64(all[EarlyBurst])/10, n, 6, "early bursts from %d km on", 3*i)
	}
}

// What each course does is seen in the flights: in still air, of times aloft.
func TestCoursesAreFlown(t *testing.T) {
	s := spec()
	s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread, s.Delay.Spread, s.WindError = 0, 0, 0, 0, 0
	s.OffNominal, s.PerScramble = usual(), 128
	outcomes := run(t, calm(t, 40e3), s)
	var planned Outcome
	var seen [Courses]int
	for _, o := range outcomes {
		if o.Course == Nominal {
			planned = o
		}
		seen[o.Course]++
	}
	down := planned.Aloft - 6000
	for course, n := range seen {
		assert.Greater(t, n, 8, "%v", Course(course))
	}
	for i, o := range outcomes {
		require.Equal(t, flight.Landed, o.End, "flight %d", i)
		switch o.Course {
		case Nominal:
			assert.InDelta(t, planned.Aloft, o.Aloft, 1e-6)
		case EarlyBurst:
			assert.Less(t, o.Burst, 30e3)
			assert.Less(t, o.Aloft, planned.Aloft)
		case CanopyFails:
			assert.InDelta(t, 6000+down/4, o.Aloft, 0.5)
			assert.InDelta(t, 4*planned.Speed, o.Speed, 0.05)
		case CanopyFouled:
			assert.InDelta(t, 6000+down*math.Sqrt(0.35), o.Aloft, 0.5)
			assert.InDelta(t, planned.Speed/math.Sqrt(0.35), o.Speed, 0.05)
		case SlowLeak:
			assert.True(t, o.Aloft-down > 6000/0.9-1 && o.Aloft-down < 6000/0.5+1, "up for %g s", o.Aloft-down)
		case Float:
			assert.True(t, o.Burst > 18e3-1 && o.Burst < 28.5e3+1, "hung at %g m", o.Burst)
			assert.True(t, o.Aloft > 3600+o.Burst/5 && o.Aloft < 6*3600+planned.Aloft, "up for %g s", o.Aloft)
		}
	}
}

// Without its canopy a train comes down nearer to below its burst: at a quarter
// of the drift.
func TestCanopyFailureLandsNearerToTheBurst(t *testing.T) {
	scene, over, s := coast(t)
	s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread, s.Delay.Spread, s.WindError = 0, 0, 0, 0, 0
	s.OffNominal = Chances{CanopyFails: 0.5}
	outcomes, err := Run(context.Background(), []flight.Scene{scene}, over, s, nil)
	require.NoError(t, err)
	f := scene.Fly(flight.Release{
		At: s.Launch.At, Height: s.Launch.Height, Time: s.Launch.Time + 600,
		Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(s.Burst.Centre), Landing: 5},
	}, nil)
	require.Equal(t, flight.Landed, f.End)
	burst := f.Path[f.Burst].At
	whole, _, _ := geo.Inverse(burst, f.Path[len(f.Path)-1].At)
	require.Greater(t, whole, 10e3)
	for _, o := range outcomes {
		metres, _, _ := geo.Inverse(burst, o.At)
		if o.Course == CanopyFails {
			assert.InDelta(t, whole/4, metres, 0.02*whole)
		} else {
			assert.InDelta(t, whole, metres, 0.02*whole)
		}
	}
}

// With courses of all kinds the answer is the same for any number of workers,
// each flight stays what it is when there are more of them, and a flight as
// planned is the same whether others are or not.
func TestCoursesDoNotDependOnWorkers(t *testing.T) {
	scene, over, s := coast(t)
	s.OffNominal, s.Scrambles = usual(), 8
	fly := func(s Spec) []Outcome {
		outcomes, err := Run(context.Background(), []flight.Scene{scene, scene}, over, s, nil)
		require.NoError(t, err)
		return outcomes
	}
	s.Workers = 1
	want := fly(s)
	for _, workers := range []int{2, 7} {
		s.Workers = workers
		assert.True(t, assert.ObjectsAreEqual(want, fly(s)), "%d workers and one differ", workers)
	}
	s.OffNominal = Chances{}
	off := 0
	for i, o := range fly(s) {
		if want[i].Course == Nominal {
			assert.Equal(t, want[i], o, "flight %d", i)
		} else {
			off++
		}
	}
	assert.InDelta(t, 0.09*512, off, 5)
}
