package ensemble

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
)

// way is when and where the flight as planned is at the heights of the wind
// error: on the way up from sea level, then on the way down, from sea level
// too. Both halves have as many.
type way []moment

// moment is a time, s, and a place on the Earth, as a vector from its centre, m.
type moment struct {
	time  float64
	place [3]float64
}

// frozen is the way of a flight that takes no time and goes nowhere: errors on
// the way down are those of the way up.
func frozen(heights int) way { return make(way, 2*heights) }

// heights is how many heights the wind error of a spec has: to above the highest
// burst that can be drawn.
func (s Spec) heights() int {
	highest := s.Burst.between(balloon.MinBurst, balloon.MaxBurst).quantile(1 - 0x1p-33)
	n := min(max(int(max(highest, float64(s.Launch.Height))/errorSpacing)+2, 2), errorHeights)
	if s.errorLaw().skips(n - 1) {
		n++ // the last of them is not one that is skipped
	}
	return n
}

// planned is the way of a spec's flight as planned through a scene. Below the
// launch it is at the launch, above the burst at the burst, below its end, and
// wherever it has left the forecast, at the last place inside.
func (s Spec) planned(scene flight.Scene) way {
	r := s.Launch
	r.Time += s.Delay.Centre
	r.Train = balloon.Train{Ascent: s.Ascent.Centre, Burst: atmos.Geometric(s.Burst.Centre), Landing: s.Landing.Centre}
	r.Error, r.Hover = flight.WindError{}, 0
	scene.Layer = errorSpacing / 2
	f := scene.Fly(r, nil)
	if len(f.Path) == 0 {
		return frozen(s.heights())
	}
	burst := f.Burst
	if burst < 0 {
		burst = len(f.Path) - 1
	}
	return newWay(s.heights(), f.Path, burst)
}

// newWay is the way of a path of at least one step that rises up to one of them, and falls
// from there on.
func newWay(heights int, path []flight.Step, highest int) way {
	w := frozen(heights)
	follow(w[:heights], path[:highest+1])
	down := slices.Clone(path[highest:])
	slices.Reverse(down)
	follow(w[heights:], down)
	return w
}

// follow writes the moments at each height of a path that rises.
func follow(w []moment, path []flight.Step) {
	k := 0
	for i := range w {
		height := atmos.Geometric(float64(i) * errorSpacing)
		for k < len(path)-1 && path[k+1].Height <= height {
			k++
		}
		a, b := path[k], path[min(k+1, len(path)-1)]
		share := 0.0
		if b.Height > a.Height {
			share = min(max(float64((height-a.Height)/(b.Height-a.Height)), 0), 1)
		}
		from, to := fromCentre(a.At), fromCentre(b.At)
		w[i].time = a.Time + share*(b.Time-a.Time)
		for d := range from {
			w[i].place[d] = from[d] + share*(to[d]-from[d])
		}
	}
}

// fromCentre is a place as a vector from the Earth's centre, m, on a sphere,
// which is within 0.3 % of distances. Straight distances keep what is made of
// them positive definite.
func fromCentre(p geo.Point) [3]float64 {
	const radius = 6371e3 // m, the mean
	lat, lon := p.Lat*math.Pi/180, p.Lon*math.Pi/180
	return [3]float64{radius * math.Cos(lat) * math.Cos(lon), radius * math.Cos(lat) * math.Sin(lon), radius * math.Sin(lat)}
}

// covariance is that of the wind error on one axis between moments of a way:
// σ(z)·σ(z') times a factor for each of height, time and place, e to minus how
// far the two lie apart in units of what errors reach. Each factor is positive
// definite, and so is their product (Schur).
func (l errorLaw) covariance(w way, rows []int) *mat.SymDense {
	n := len(w) / 2
	axis, stretched := make([]float64, n), make([]float64, n)
	for i := range n {
		height := float64(i) * errorSpacing
		axis[i], stretched[i] = l.axis(height), l.stretched(height)
	}
	life, reach := l.life(), l.reach()
	c := mat.NewSymDense(len(rows), nil)
	for i, row := range rows {
		for j, column := range rows[:i+1] {
			a, b := &w[row], &w[column]
			p, q := row%n, column%n
			apart := math.Abs(stretched[p]-stretched[q]) + math.Abs(a.time-b.time)/life + a.distance(b)/reach
			c.SetSym(i, j, axis[p]*axis[q]*math.Exp(-apart))
		}
	}
	return c
}

// distance is how far two places lie apart, in a straight line, m.
func (m *moment) distance(o *moment) float64 {
	x, y, z := m.place[0]-o.place[0], m.place[1]-o.place[1], m.place[2]-o.place[2]
	return math.Sqrt(x*x + y*y + z*z)
}

// windErrorModes are the leading eigenvectors of the wind error's covariance
// along a way, each times the root of its eigenvalue (the Karhunen–Loève
// expansion): rows as the way's moments.
//
// The standard deviation of the drift of a passage at constant speed, up from
// sea level through 10 km or more, is within 1 % of the covariance's own for
// scales of 2 km and more; toward a scale of 1 km, as little as the heights are
// apart, it grows to 4 % too much. The modes left out have under 0.5 % of it.
// See TestWindErrorDrift and TestDriftUpAndDown.
func windErrorModes(l errorLaw, w way) *mat.Dense {
	var rows []int // of what is worked out
	for i := range w {
		if !l.skips(i % (len(w) / 2)) {
			rows = append(rows, i)
		}
	}
	n := len(rows)
	var eigen mat.EigenSym
	if !eigen.Factorize(l.covariance(w, rows), true) {
		panic("ensemble: a covariance of finite values did not factorise")
	}
	values := eigen.Values(nil) // increasing
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	modes := mat.NewDense(len(w), windModes, nil)
	for k := range min(windModes, n) {
		from := n - 1 - k
		size := math.Sqrt(max(values[from], 0))
		if vectors.At(0, from) < 0 {
			size = -size // an eigenvector's sign is arbitrary: fix it
		}
		for j, row := range rows {
			modes.Set(row, k, size*vectors.At(j, from))
			if j > 0 && row == rows[j-1]+2 {
				modes.Set(row-1, k, (modes.At(row-2, k)+modes.At(row, k))/2)
			}
		}
	}
	return modes
}
