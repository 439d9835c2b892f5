package ensemble

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// chased is a launch on real winds whose truth is drawn from what the spec says itself.
func chased(t testing.TB) (flight.Scene, Spec) {
	t.Helper()
	f := realwind.Field(t)
	s := spec()
	s.Launch.At, s.Launch.Time = geo.Point{Lat: 52, Lon: 10}, 3*3600
	s.Burst, s.WindError, s.WindScale, s.WindDoubt = Normal{27e3, 1500}, 2.5, math.NaN(), DefaultWindDoubt
	s.Lead = 24 * 3600
	s.OffNominal = Chances{}
	return flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}}, s
}

// truth is one flight of a spec, as a path, drawn by a number. Its rate of ascent varies
// with height as rates do.
func truth(scene flight.Scene, s Spec, number uint64) (flight.Flight, Course) {
	d := newDrawer(s, s.planned(scene))
	h := newHand(lanes)
	var u [dimensions]float64
	randomPoint(77, 1, number, u[:])
	h.points[0] = u
	d.draw(h, 0)
	r := h.releases[0]
	random := rand.New(rand.NewPCG(78, number))
	var laws []float64
	for _, p := range measuredRoughness {
		laws = append(laws, p.sigma, p.scale)
	}
	rough := ou(random, 250, laws...)
	const n = 200
	p := flight.Profile{Spacing: 250}
	for i := range n {
		p.Rate = append(p.Rate, min(max(r.Train.Ascent*math.Exp(rough[i]), 0.5), 15))
	}
	r.Profile = p
	// The wind error is drawn from its law itself, finer than the modes have it: on the way
	// down it is what is left of that on the way up, and new.
	w, law := s.planned(scene), s.errorLaw()
	half := len(w) / 2
	east, north := d.sizes(&u)
	e := flight.WindError{Spacing: 250}
	for _, axis := range []struct {
		size     float64
		up, down *[]float64
	}{{east, &e.East, &e.DownEast}, {north, &e.North, &e.DownNorth}} {
		a, b := make([]float64, 201), make([]float64, 201)
		x, y := random.NormFloat64(), random.NormFloat64()
		for i := range a {
			if z := float64(i) * 250; i > 0 {
				keep := math.Exp(law.stretched(z-250) - law.stretched(z))
				x = keep*x + math.Sqrt(1-keep*keep)*random.NormFloat64()
				y = keep*y + math.Sqrt(1-keep*keep)*random.NormFloat64()
			}
			k := min(int(float64(i)*250/errorSpacing), half-1)
			left := math.Exp(-math.Abs(w[half+k].time-w[k].time)/law.life() - w[k].distance(&w[half+k])/law.reach())
			sigma := axis.size * law.axis(float64(i)*250)
			a[i], b[i] = sigma*x, sigma*(left*x+math.Sqrt(1-left*left)*y)
		}
		*axis.up, *axis.down = a, b
	}
	r.Error = e
	return scene.Fly(r, nil), h.courses[0]
}

// ou is the sum of two processes with an exponential correlation at so many even heights.
func ou(r *rand.Rand, step float64, laws ...float64) []float64 {
	out := make([]float64, 201)
	for k := 0; k < len(laws); k += 2 {
		sigma, keep := laws[k], math.Exp(-step/laws[k+1])
		x := sigma * r.NormFloat64()
		for i := range out {
			out[i] += x
			x = keep*x + sigma*math.Sqrt(1-keep*keep)*r.NormFloat64()
		}
	}
	return out
}

// seenAt are fixes of a path every so many seconds until a share of its duration is gone.
func seenAt(f flight.Flight, every, share float64, r *rand.Rand) []Fix {
	var fixes []Fix
	first, last := f.Path[0].Time, f.Path[len(f.Path)-1].Time
	k := 0
	for at := first + every; at <= first+share*(last-first); at += every {
		for f.Path[k+1].Time < at {
			k++
		}
		a, b := f.Path[k], f.Path[k+1]
		w := (at - a.Time) / (b.Time - a.Time)
		d := plane(a.At, b.At)
		fixes = append(fixes, Fix{
			Time: at, At: place(a.At, [2]float64{w*d[0] + DefaultFixError*r.NormFloat64(), w*d[1] + DefaultFixError*r.NormFloat64()}),
			Height: a.Height + atmos.Geometric(w)*(b.Height-a.Height) + atmos.Geometric(DefaultFixError*r.NormFloat64()),
		})
	}
	return fixes
}

// cameDown is where flights of an answer land, and where a truth did.
func cameDown(t testing.TB, outcomes []Outcome) []landing.Weighted {
	t.Helper()
	var points []landing.Weighted
	for _, o := range outcomes {
		if o.End == flight.Landed {
			points = append(points, landing.Weighted{At: o.At, Weight: 1})
		}
	}
	return points
}

// cloudOf is the root mean square distance of landings from their mean, m, and where that
// lies seen from a place, m east and north.
func cloudOf(points []landing.Weighted, from geo.Point) (size float64, mean [2]float64) {
	var at [][2]float64
	for _, p := range points {
		at = append(at, plane(from, p.At))
	}
	mean = centre(at)
	for _, p := range at {
		size += (math.Pow(p[0]-mean[0], 2) + math.Pow(p[1]-mean[1], 2)) / float64(len(at))
	}
	return math.Sqrt(size), mean
}

func seen(t testing.TB, scenes []flight.Scene, s Spec, fixes []Fix) Narrowed {
	t.Helper()
	got, err := Narrow(t.Context(), scenes, &ground.Map{}, s, fixes, nil)
	require.NoError(t, err)
	require.Len(t, got.Outcomes, s.Scrambles*s.PerScramble)
	return got
}

// Truths that are drawn from what the spec says, on real winds, are where the narrowed
// landings say, from the first fixes to the last ones: each region holds its share of them
// within what a binomial law allows in 999 of 1,000 cases, though not of truths to which
// the narrowed landings were drawn together by a half; and what is left of the scatter is a
// third of that of the plan when the flight is over its burst, a tenth near the ground.
// The wind error of truths is drawn from the law itself, finer than modes have it, and
// their rate of ascent varies with height. Fixes are off by 15 m on each axis.
func TestNarrowHoldsTruths(t *testing.T) {
	scene, s := chased(t)
	const truths = 64
	bare, err := Run(t.Context(), []flight.Scene{scene}, &ground.Map{}, s, nil)
	require.NoError(t, err)
	before, _ := cloudOf(cameDown(t, bare), s.Launch.At)
	for _, stage := range []struct{ gone, left float64 }{{0.1, 1}, {0.4, 0.75}, {0.75, 0.34}, {0.93, 0.1}} {
		var inside, close [3]int
		sum, misses := 0.0, 0.0
		for k := range truths {
			f, _ := truth(scene, s, uint64(k))
			require.Equal(t, flight.Landed, f.End)
			at := f.Path[len(f.Path)-1].At
			got := seen(t, []flight.Scene{scene}, s, seenAt(f, 120, stage.gone, rand.New(rand.NewPCG(3, uint64(k)))))
			assert.Empty(t, got.Rejected, "a fix that is right")
			points := cameDown(t, got.Outcomes)
			size, mean := cloudOf(points, at)
			sum += size / truths
			misses += (mean[0]*mean[0] + mean[1]*mean[1]) / truths
			v, err := landing.Denser(points, []geo.Point{at})
			require.NoError(t, err)
			for i := range points {
				p := plane(at, points[i].At)
				points[i].At = place(at, [2]float64{(p[0] + mean[0]) / 2, (p[1] + mean[1]) / 2})
			}
			w, err := landing.Denser(points, []geo.Point{at})
			require.NoError(t, err)
			for i, share := range []float64{0.5, 0.8, 0.95} {
				if v[0] <= share {
					inside[i]++
				}
				if w[0] <= share {
					close[i]++
				}
			}
		}
		t.Logf("%2.0f %% gone: %v of %d inside (%v drawn together), scatter %.0f m of %.0f m, root mean square miss %.0f m",
			100*stage.gone, inside, truths, close, sum, before, math.Sqrt(misses))
		// Binomial of 64: SciPy 1.10.1, scipy.stats.binom.ppf at 0.0005 and 0.9995.
		for i, bounds := range [3][2]int{{19, 45}, {40, 60}, {54, 64}} {
			assert.GreaterOrEqual(t, inside[i], bounds[0], "%g gone, region %d", stage.gone, i)
			assert.LessOrEqual(t, inside[i], bounds[1], "%g gone, region %d", stage.gone, i)
		}
		assert.Less(t, close[1], 40, "a scatter of half the size holds too few")
		assert.Less(t, sum, stage.left*before, "%g gone", stage.gone)
		assert.Less(t, math.Sqrt(misses), 1.25*sum, "%g gone", stage.gone)
	}
}

// Where fixes are so bad that weighting flights by them does not run out of flights, that
// gives what Narrow gives: the mean landing and the scatter, against 32,000 flights of the
// plan flown by Scene.Fly, each weighted by the density of its distances from the fixes.
// The train is known, so that heights are the same for all.
func TestNarrowAgainstWeights(t *testing.T) {
	scene, s := chased(t)
	scene.Layer = coarse
	s.Delay, s.WindDoubt, s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread = Normal{}, 0, 0, 0, 0
	s.Scrambles, s.PerScramble = 4, 1024
	const sigma = 3000.0
	random := rand.New(rand.NewPCG(1, 5))
	var fixes []Fix
	{
		d, h := newDrawer(s, s.planned(scene)), newHand(lanes)
		randomPoint(77, 1, 11, h.points[0][:])
		d.draw(h, 0)
		fixes = seenAt(scene.Fly(h.releases[0], nil), 1500, 0.8, random)
	}
	for i := range fixes {
		fixes[i].Error = sigma
		fixes[i].At = place(fixes[i].At, [2]float64{sigma * random.NormFloat64(), sigma * random.NormFloat64()})
	}
	n := &narrowing{scenes: []flight.Scene{scene}, spec: s, law: s.errorLaw()} // nothing rough about the rates
	got, err := n.run(t.Context(), &ground.Map{}, fixes, nil)
	require.NoError(t, err)
	size, mean := cloudOf(cameDown(t, got.Outcomes), s.Launch.At)

	d := newDrawer(s, s.planned(scene))
	h := newHand(lanes)
	var weights, total, square, xx float64
	var sum [2]float64
	var path []flight.Step
	const flights = 32000
	for i := range flights / lanes {
		for lane := range lanes {
			randomPoint(9, 9, uint64(lanes*i+lane), h.points[lane][:])
		}
		d.draw(h, 0)
		for _, r := range h.releases {
			f := scene.Fly(r, path)
			path = f.Path
			if f.End != flight.Landed {
				continue
			}
			w, k := 0.0, 0
			for _, fix := range fixes {
				for k < len(path)-2 && path[k+1].Time < fix.Time {
					k++
				}
				a, b := path[k], path[k+1]
				share := math.Min((fix.Time-a.Time)/(b.Time-a.Time), 1)
				e := plane(fix.At, a.At)
				u := plane(fix.At, b.At)
				w += (math.Pow(e[0]+share*(u[0]-e[0]), 2) + math.Pow(e[1]+share*(u[1]-e[1]), 2)) / (2 * sigma * sigma)
			}
			w = math.Exp(-w)
			p := plane(s.Launch.At, path[len(path)-1].At)
			weights, square = weights+w, square+w*w
			sum[0], sum[1] = sum[0]+w*p[0], sum[1]+w*p[1]
			xx += w * (p[0]*p[0] + p[1]*p[1])
			total++
		}
	}
	effective := weights * weights / square
	want := [2]float64{sum[0] / weights, sum[1] / weights}
	spread := math.Sqrt(xx/weights - want[0]*want[0] - want[1]*want[1])
	t.Logf("%.0f of %.0f flights count; mean %.0f and %.0f m, scatter %.0f m; narrowed %.0f and %.0f m, %.0f m", effective, total, want[0], want[1], spread, mean[0], mean[1], size)
	require.Greater(t, effective, 200.0)
	assert.Less(t, math.Hypot(mean[0]-want[0], mean[1]-want[1]), 0.1*spread, "the mean landing")
	assert.InEpsilon(t, spread, size, 0.1, "the scatter")
}

// Each kind of wrong fix is found and told, and the answer is that of the right ones.
func TestNarrowRejectsWrongFixes(t *testing.T) {
	scene, s := chased(t)
	f, _ := truth(scene, s, 4)
	right := seenAt(f, 180, 0.85, rand.New(rand.NewPCG(2, 2)))
	want := seen(t, []flight.Scene{scene}, s, right)
	last := len(right) - 1
	aside := func(f Fix, metres float64) Fix { f.At = geo.Direct(f.At, 30, metres); return f }
	for name, c := range map[string]struct {
		wrong Fix
		why   Doubt
	}{
		"no position yet":             {Fix{Time: right[5].Time + 60}, Unlikely},
		"outside":                     {Fix{Time: 1e7, At: right[5].At, Height: 5000}, Uncovered},
		"latitude for longitude":      {Fix{Time: right[8].Time + 60, At: geo.Point{Lat: right[8].At.Lon, Lon: right[8].At.Lat}, Height: right[8].Height}, Unlikely},
		"an old one, sent again":      {Fix{Time: right[12].Time + 60, At: right[9].At, Height: right[9].Height}, Unlikely},
		"no height":                   {Fix{Time: right[10].Time + 60, At: right[10].At}, Unlikely},
		"a height too great":          {Fix{Time: right[10].Time + 60, At: right[10].At, Height: right[10].Height + 3000}, Unlikely},
		"10 km aside":                 {aside(Fix{Time: right[14].Time + 90, At: right[14].At, Height: right[14].Height + 400}, 10e3), Unlikely},
		"again, at the time of a fix": {Fix{Time: right[14].Time, At: right[14].At, Height: right[14].Height}, Repeated},
	} {
		fixes := append(append([]Fix{}, right...), c.wrong)
		got := seen(t, []flight.Scene{scene}, s, fixes)
		if assert.Len(t, got.Rejected, 1, name) {
			assert.Equal(t, Rejected{last + 1, c.why}, got.Rejected[0], name)
		}
		assert.Equal(t, want.Outcomes, got.Outcomes, name)
	}
	// One of the fixes themselves, moved by what no single step between fixes shows.
	moved := append([]Fix{}, right...)
	moved[15] = aside(moved[15], 1500)
	got := seen(t, []flight.Scene{scene}, s, moved)
	assert.Equal(t, []Rejected{{15, Displaced}}, got.Rejected)
	// And the last, from which flights go on, by more.
	moved = append([]Fix{}, right...)
	moved[last] = aside(moved[last], 5000)
	got = seen(t, []flight.Scene{scene}, s, moved)
	assert.Len(t, got.Rejected, 1)
	assert.Equal(t, last, got.Rejected[0].Fix)
	// Of two fixes of which one must be wrong that which the plan did not lead to is.
	for _, two := range [][]Fix{{aside(right[0], 60e3), right[1]}, {right[0], aside(right[1], 60e3)}} {
		got = seen(t, []flight.Scene{scene}, s, two)
		require.Len(t, got.Rejected, 1)
		wrong := two[got.Rejected[0].Fix]
		assert.NotContains(t, right, wrong)
	}
	// Many at a time.
	many := append([]Fix{}, right...)
	for i := range 8 {
		many = append(many, Fix{Time: right[10].Time + float64(i) + 1, At: geo.Point{Lat: 10, Lon: 100}, Height: 30000})
	}
	got = seen(t, []flight.Scene{scene}, s, many)
	assert.Len(t, got.Rejected, 8)
	assert.Equal(t, want.Outcomes, got.Outcomes)
}

// Fixes may come in any order; with any number of workers the answer is the same.
func TestNarrowInAnyOrder(t *testing.T) {
	scene, s := chased(t)
	s.OffNominal = Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02, Float: 0.01}
	f, _ := truth(scene, s, 5)
	fixes := seenAt(f, 300, 0.5, rand.New(rand.NewPCG(2, 2)))
	s.Workers = 1
	want := seen(t, []flight.Scene{scene}, s, fixes)
	order := rand.New(rand.NewPCG(1, 1)).Perm(len(fixes))
	var mixed []Fix
	for _, i := range order {
		mixed = append(mixed, fixes[i])
	}
	s.Workers = 7
	got := seen(t, []flight.Scene{scene}, s, mixed)
	assert.Equal(t, want.Outcomes, got.Outcomes)
	assert.Equal(t, want.Fall, got.Fall)
	for k, i := range got.Used {
		assert.Equal(t, want.Used[k], order[i])
	}
}

// What goes wrong is known by how the flight then moves: a canopy that is fouled by how
// fast it falls, a leak by how slowly it rises, an early burst by where it turned round, a
// float by its staying up, and none of these where nothing is wrong. Of leaks, which slow
// the climb by a factor even from 0.5 to 0.9, three in ten are within three standard
// deviations, 0.78, of what rates differ by anyway, and are not told from that.
func TestNarrowKnowsTheCourse(t *testing.T) {
	scene, s := chased(t)
	chances := Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02, Float: 0.01}
	for course, c := range map[Course]struct {
		all, gone, least float64
	}{
		Nominal: {0, 0.85, 0.97}, CanopyFails: {1, 0.95, 0.9}, CanopyFouled: {1, 0.9, 0.8}, SlowLeak: {1, 0.3, 0.4}, EarlyBurst: {1, 0.85, 0.7},
	} {
		s.OffNominal = Chances{}
		switch course {
		case CanopyFails:
			s.OffNominal.CanopyFails = c.all
		case CanopyFouled:
			s.OffNominal.CanopyFouled = c.all
		case SlowLeak:
			s.OffNominal.SlowLeak = c.all
		case EarlyBurst:
			s.OffNominal.EarlyBurst = c.all
		case Nominal, Float:
		}
		var sum float64
		const n = 8
		for k := range n {
			f, really := truth(scene, s, uint64(k))
			require.Equal(t, course, really)
			now := s
			now.OffNominal = chances
			got := seen(t, []flight.Scene{scene}, now, seenAt(f, 60, c.gone, rand.New(rand.NewPCG(2, uint64(k)))))
			for _, o := range got.Outcomes {
				if o.Course == course {
					sum += 1 / float64(n*len(got.Outcomes))
				}
			}
		}
		t.Logf("%v: %.3f", course, sum)
		assert.Greater(t, sum, c.least, "%v", course)
	}
	// One that hangs for an hour at 20 km.
	s.OffNominal = chances
	f, _ := truth(scene, s, 1)
	fixes := seenAt(f, 120, 0.5, rand.New(rand.NewPCG(1, 1)))
	last := fixes[len(fixes)-1]
	for i := range 30 {
		hung := last
		hung.Time, hung.At = last.Time+120*float64(i+1), geo.Direct(last.At, 90, 1200*float64(i+1))
		fixes = append(fixes, hung)
	}
	got := seen(t, []flight.Scene{scene}, s, fixes)
	assert.Equal(t, Hanging, got.Phase)
	for _, o := range got.Outcomes {
		require.Equal(t, Float, o.Course)
	}
}

// On the ground flights end where the last fix is.
func TestNarrowIsDown(t *testing.T) {
	scene, s := chased(t)
	f, _ := truth(scene, s, 6)
	fixes := seenAt(f, 60, 1, rand.New(rand.NewPCG(1, 1)))
	end := f.Path[len(f.Path)-1]
	for i := range 4 {
		fixes = append(fixes, Fix{Time: end.Time + 60*float64(i+1), At: end.At, Height: end.Height})
	}
	got := seen(t, []flight.Scene{scene}, s, fixes)
	require.Equal(t, Down, got.Phase)
	size, mean := cloudOf(cameDown(t, got.Outcomes), end.At)
	assert.InDelta(t, DefaultFixError*math.Sqrt2, size, 1, "what a fix is off by on two axes")
	assert.Less(t, math.Hypot(mean[0], mean[1]), 2.0)
}

// A tracker that lies at the launch site, switched on, says nothing of the wind; and before
// the train is let go the answer is that of the plan, from then on.
func TestNarrowFromTheGround(t *testing.T) {
	scene, s := chased(t)
	f, _ := truth(scene, s, 6)
	right := seenAt(f, 120, 0.3, rand.New(rand.NewPCG(1, 1)))
	var waiting []Fix
	for i := range 10 {
		waiting = append(waiting, Fix{Time: f.Path[0].Time - 120*float64(10-i), At: s.Launch.At, Height: s.Launch.Height + 5})
	}
	want, got := seen(t, []flight.Scene{scene}, s, right), seen(t, []flight.Scene{scene}, s, append(waiting, right...))
	assert.Equal(t, want.Outcomes, got.Outcomes)
	assert.Empty(t, got.Rejected)

	got = seen(t, []flight.Scene{scene}, s, waiting)
	assert.Equal(t, Climbing, got.Phase)
	s.Launch.Time, s.Delay = waiting[len(waiting)-1].Time, Normal{}
	plan, err := Run(t.Context(), []flight.Scene{scene}, &ground.Map{}, s, nil)
	require.NoError(t, err)
	size, mean := cloudOf(cameDown(t, plan), s.Launch.At)
	narrowed, at := cloudOf(cameDown(t, got.Outcomes), s.Launch.At)
	assert.InEpsilon(t, size, narrowed, 0.05, "the scatter")
	assert.Less(t, math.Hypot(mean[0]-at[0], mean[1]-at[1]), 0.05*size, "the mean")
}

// Of members whose winds differ the flight is soon known to fly in its own.
func TestNarrowKnowsTheMember(t *testing.T) {
	scene, s := chased(t)
	s.WindError = 1
	scenes := []flight.Scene{scene, veered(t, scene, 6), veered(t, scene, -6)}
	for own := range scenes {
		f, _ := truth(scenes[own], s, 3)
		got := seen(t, scenes, s, seenAt(f, 120, 0.4, rand.New(rand.NewPCG(1, 1))))
		assert.Empty(t, got.Rejected)
		assert.Greater(t, got.Members[own], 0.98, "member %d: %v", own, got.Members)
	}
	// With as many as are dressed, whose winds lie between, the truth is held, too.
	scenes = nil
	for i := range 9 {
		scenes = append(scenes, veered(t, scene, float64(i-4)))
	}
	inside := 0
	const truths = 40
	for k := range truths {
		f, _ := truth(veered(t, scene, 0.5), s, uint64(k))
		got := seen(t, scenes, s, seenAt(f, 120, 0.4, rand.New(rand.NewPCG(1, uint64(k)))))
		v, err := landing.Denser(cameDown(t, got.Outcomes), []geo.Point{f.Path[len(f.Path)-1].At})
		require.NoError(t, err)
		if v[0] <= 0.8 {
			inside++
		}
	}
	// Binomial of 40 at 0.8: SciPy 1.10.1, scipy.stats.binom.ppf at 0.0005 and 0.9995.
	assert.GreaterOrEqual(t, inside, 23)
	assert.LessOrEqual(t, inside, 39)
}

// veered is a scene whose wind toward north is greater by so many m/s.
func veered(t testing.TB, scene flight.Scene, by float64) flight.Scene {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= 32e3; z += 500 {
		heights = append(heights, z)
	}
	g := geo.Grid{NX: 9, NY: 9, Lat0: 44, Lon0: 2, DLat: 2.5, DLon: 2.5}
	f, err := wind.New(wind.Axes{Grid: g, Start: scene.Wind.Start(), Times: scene.Wind.Times(), Heights: heights}, func(p geo.Point, z, t float64) wind.Sample {
		a, _ := scene.Wind.At(p, atmos.Geometric(z), t)
		a.North += by
		return a
	})
	require.NoError(t, err)
	return flight.Scene{Wind: f, Terrain: scene.Terrain}
}

// What ground a flight comes down on is that of where it is said to come down, however far
// off the last fix may be.
func TestNarrowMeetsWhereItLands(t *testing.T) {
	scene, s := chased(t)
	f, _ := truth(scene, s, 6)
	end := f.Path[len(f.Path)-1]
	edge := math.Round(end.At.Lon*100) / 100
	wood, err := ground.ReadLayer(ground.LayerSource{Name: "wood", Class: ground.Forest}, fmt.Appendf(nil,
		`{"type":"Polygon","coordinates":[[[0,40],[%[1]g,40],[%[1]g,60],[0,60],[0,40]]]}`, edge))
	require.NoError(t, err)
	closed, err := ground.ReadVolumes("closed", []byte(`{"type":"Feature","properties":{"floor_m":500,"ceiling_m":20000},`+
		`"geometry":{"type":"Polygon","coordinates":[[[9,50],[14,50],[14,55],[9,55],[9,50]]]}}`)) // so that paths are kept
	require.NoError(t, err)
	over := &ground.Map{Layers: []*ground.Layer{wood}, Volumes: closed}
	for _, gone := range []float64{0.5, 0.95, 1} {
		fixes := seenAt(f, 120, gone, rand.New(rand.NewPCG(1, 1)))
		for i := range 20 {
			if gone == 1 {
				fixes = append(fixes, Fix{Time: end.Time + 600*float64(i+1), At: end.At, Height: end.Height})
			}
		}
		fixes[len(fixes)-1].Error = 2000
		got, err := Narrow(t.Context(), []flight.Scene{scene}, over, s, fixes, nil)
		require.NoError(t, err)
		on := 0
		for _, o := range got.Outcomes {
			if o.End == flight.Landed {
				require.Equal(t, o.At.Lon < edge, o.Met.Under.Has(ground.Forest), "at %v", o.At)
			}
			if o.Met.Under.Has(ground.Forest) {
				on++
			}
		}
		assert.Greater(t, on, 50, "%g gone, %v", gone, got.Phase)
		assert.Less(t, on, len(got.Outcomes)-50, "%g gone, %v", gone, got.Phase)
	}
}

func TestNarrowRefuses(t *testing.T) {
	scene, s := chased(t)
	good := Fix{Time: s.Launch.Time + 600, At: s.Launch.At, Height: 3000}
	for says, fixes := range map[string][]Fix{
		"no fixes: want at least one":                            {},
		"fix 2: latitude":                                        {good, {Time: 1, At: geo.Point{Lat: 91}}},
		"fix 1: time NaN s: want a finite number":                {{Time: math.NaN()}},
		"fix 1: height -600 m: want -500 to 50000 m":             {{Height: -600}},
		"fix 1: error -1 m: want 0 to 5000 m":                    {{Error: -1}},
		"10801 fixes: want at most 10800":                        make([]Fix, MaxFixes+1),
		"none of 1 fixes is believed: fix 1 lies outside the fo": {{Time: 1e9, At: s.Launch.At}},
	} {
		_, err := Narrow(t.Context(), []flight.Scene{scene}, &ground.Map{}, s, fixes, nil)
		assert.ErrorContains(t, err, says)
	}
	gone, stop := context.WithCancel(t.Context())
	stop()
	_, err := Narrow(gone, []flight.Scene{scene}, &ground.Map{}, s, []Fix{good}, nil)
	assert.ErrorIs(t, err, context.Canceled)
}

// As many fixes as there may be, one a second, are worked on as fewer are.
func TestNarrowManyFixes(t *testing.T) {
	scene, s := chased(t)
	f, _ := truth(scene, s, 6)
	fixes := seenAt(f, 1, 0.9, rand.New(rand.NewPCG(1, 1)))
	require.Greater(t, len(fixes), 5000)
	require.LessOrEqual(t, len(fixes), MaxFixes)
	got := seen(t, []flight.Scene{scene}, s, fixes)
	few := seen(t, []flight.Scene{scene}, s, seenAt(f, 60, 0.9, rand.New(rand.NewPCG(1, 1))))
	at := f.Path[len(f.Path)-1].At
	a, _ := cloudOf(cameDown(t, got.Outcomes), at)
	b, _ := cloudOf(cameDown(t, few.Outcomes), at)
	assert.InEpsilon(t, b, a, 0.15)
	assert.Empty(t, got.Rejected)
}
