package ensemble

import (
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
	rough := ou(random, 250, fineRoughness, fineScale, broadRoughness, broadScale)
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

func TestExploreNarrow(t *testing.T) {
	scene, s := chased(t)
	over := &ground.Map{}
	for _, share := range []float64{0.1, 0.3, 0.6, 0.75, 0.9} {
		var denser []float64
		var sd, miss, inside [3]float64
		n := 60
		rejected := 0
		for k := range n {
			f, _ := truth(scene, s, uint64(k))
			if f.End != flight.Landed {
				continue
			}
			r := rand.New(rand.NewPCG(3, uint64(k)))
			fixes := seenAt(f, 120, share, r)
			got, err := Narrow(t.Context(), []flight.Scene{scene}, over, s, fixes, nil)
			require.NoError(t, err)
			rejected += len(got.Rejected)
			var points []landing.Weighted
			for _, o := range got.Outcomes {
				if o.End == flight.Landed {
					points = append(points, landing.Weighted{At: o.At, Weight: 1})
				}
			}
			at := f.Path[len(f.Path)-1].At
			v, err := landing.Denser(points, []geo.Point{at})
			require.NoError(t, err)
			denser = append(denser, v[0])
			for i, q := range []float64{0.5, 0.8, 0.95} {
				if v[0] <= q {
					inside[i]++
				}
			}
			var xs [][2]float64
			for _, p := range points {
				xs = append(xs, plane(at, p.At))
			}
			m := centre(xs)
			ss := 0.0
			for _, x := range xs {
				ss += (math.Pow(x[0]-m[0], 2) + math.Pow(x[1]-m[1], 2)) / float64(len(xs))
			}
			sd[0] += math.Sqrt(ss) / float64(n)
			miss[0] += (m[0]*m[0] + m[1]*m[1]) / float64(n)
		}
		t.Logf("share %.2f: n %d, inside 50/80/95: %v, mean scatter %.0f m, rms miss %.0f m, rejected %d", share, len(denser), inside, sd[0], math.Sqrt(miss[0]), rejected)
	}
	assert.True(t, true)
}
