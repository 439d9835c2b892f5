package ensemble

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// leg is the way between two believed fixes, in points that stand for equal times.
type leg struct {
	from, to int // among the track's fixes
	seconds  float64
	east     float64 // m/s, what carried the flight
	north    float64
	points   []along
}

// along is one of them.
type along struct {
	moment
	height float64
	down   bool
	at     geo.Point
	grows  float64 // by how much the wind error is greater there: see flight.HeldErrorFactor
}

// The points of a leg lie so far apart, at most, in height and time, and there are so
// many on one at most.
const (
	legHeight = 300.0 // m
	legTime   = 300.0 // s
	mostOnLeg = 24
)

// legs are those of a track whose air the forecast knows.
func (n *narrowing) legs(t *track) []leg {
	var legs []leg
	for part, fixes := range [2][]Fix{t.fixes[:t.fall], t.fixes[t.fall:]} {
		for _, pair := range thinned(fixes) {
			a, b := &fixes[pair[0]], &fixes[pair[1]]
			l := leg{from: pair[0] + part*t.fall, to: pair[1] + part*t.fall}
			metres := math.Abs(float64(b.Height - a.Height))
			if n.follow(&l, t, metres, func(share float64) (float64, bool) {
				return within(float64(a.Height), float64(b.Height), share), part == 1
			}) {
				legs = append(legs, l)
			}
		}
		if l, ok := n.overTheTop(t); ok && part == 0 {
			legs = append(legs, l)
		}
	}
	return legs
}

// overTheTop is the leg in which the flight burst, at the height that it most likely did.
func (n *narrowing) overTheTop(t *track) (leg, bool) {
	if t.fall == 0 || t.fall == len(t.fixes) {
		return leg{}, false
	}
	_, burst := n.fates.fall[Nominal].quantile(0.5)
	a, b := &t.fixes[t.fall-1], &t.fixes[t.fall]
	if math.IsNaN(burst) || b.Time-a.Time < shortestLeg {
		return leg{}, false
	}
	up := n.fates.climbTime(float64(a.Height), burst) / math.Exp(n.fates.rate[Nominal].mean)
	turn := min(up/(b.Time-a.Time), 1)
	l := leg{from: t.fall - 1, to: t.fall}
	ok := n.follow(&l, t, 2*burst-float64(a.Height+b.Height), func(share float64) (float64, bool) {
		if share < turn {
			return within(float64(a.Height), burst, share/turn), false
		}
		left := (1 - share) / (1 - turn) * n.fallTime(burst, float64(b.Height))
		low, high := float64(b.Height), burst
		for range 20 {
			if middle := (low + high) / 2; n.fallTime(middle, float64(b.Height)) < left {
				low = middle
			} else {
				high = middle
			}
		}
		return low, true
	})
	return l, ok
}

// follow fills in a leg that covers so many metres of height, of which the height and
// whether it falls are known at each share of its time; false where the forecast does not
// know its air.
func (n *narrowing) follow(l *leg, t *track, metres float64, height func(share float64) (float64, bool)) bool {
	a, b := &t.fixes[l.from], &t.fixes[l.to]
	l.seconds = b.Time - a.Time
	count := min(max(int(max(metres/legHeight, l.seconds/legTime))+1, 2), mostOnLeg)
	d := plane(a.At, b.At)
	mean := 0.0
	for i := range count {
		share := (float64(i) + 0.5) / float64(count)
		p := along{at: place(a.At, [2]float64{share * d[0], share * d[1]}), grows: 1}
		p.height, p.down = height(share)
		p.time, p.place = within(a.Time, b.Time, share), fromCentre(p.at)
		air, in := n.scenes[0].Wind.At(p.at, atmos.Geometric(p.height), p.time)
		if in != wind.Inside {
			return false
		}
		if air.Held {
			p.grows = flight.HeldErrorFactor
		}
		mean += p.height / float64(count)
		l.points = append(l.points, p)
	}
	// A metre on the ground is more of one at height.
	meridian, normal := geo.Radii(a.At.Lat)
	l.east, l.north = d[0]/l.seconds*(1+mean/normal), d[1]/l.seconds*(1+mean/meridian)
	return true
}

// forecast is what a scene's wind carries along a leg, m/s.
func (l *leg) forecast(s flight.Scene) (mean [2]float64) {
	for i := range l.points {
		p := &l.points[i]
		air, in := s.Wind.At(p.at, atmos.Geometric(p.height), p.time)
		if in != wind.Inside {
			continue // members have the first one's grid, times and levels, or nearly
		}
		mean[0] += air.East / float64(len(l.points))
		mean[1] += air.North / float64(len(l.points))
	}
	return mean
}

// mean is that of a table of a way's heights along a leg: up and down are its halves.
func (l *leg) mean(up, down func(height int) float64, heights int) (sum float64) {
	for i := range l.points {
		p, of := &l.points[i], up
		if l.points[i].down {
			of = down
		}
		k, share := int(p.height/errorSpacing), 0.0
		switch {
		case p.height <= 0:
			k = 0
		case k >= heights-1:
			k = heights - 1
		default:
			share = p.height/errorSpacing - float64(k)
		}
		v := of(k)
		if share > 0 {
			v += share * (of(k+1) - v)
		}
		sum += p.grows * v / float64(len(l.points))
	}
	return sum
}

// between is the covariance of the wind error's means along two legs on one axis, m²/s².
func (l errorLaw) between(a, b *leg) (sum float64) {
	life, reach := l.life(), l.reach()
	for i := range a.points {
		p := &a.points[i]
		for j := range b.points {
			q := &b.points[j]
			apart := math.Abs(l.stretched(p.height)-l.stretched(q.height)) + math.Abs(p.time-q.time)/life + p.distance(&q.moment)/reach
			sum += p.grows * q.grows * l.axis(p.height) * l.axis(q.height) * math.Exp(-apart)
		}
	}
	return sum / float64(len(a.points)*len(b.points))
}

// air is what the fixes say of the wind: that a scene is as likely as its weight, and what
// the wind error's normal values are then.
//
// All that is drawn of the wind is Gaussian once three sizes are given: those of the
// error's two axes and that of the members' scatter. So for each of a few even draws of
// the sizes and each member the law of the normal values is known, exactly, and so is how
// likely the fixes are under it; flights are shared out by that. What a leg shows of
// variations too fine for the modes counts as noise.
type air struct {
	sizes [][3]float64  // toward east, toward north, of the members' scatter
	roots [][][]float64 // of each of the sizes; see inverseRoot
	cells []cell
	best  int // the likeliest cell
}

// cell is one of the sizes and one member.
type cell struct {
	size, scene int
	mean        []float64 // of the normal values
	until       float64   // the share of flights in it and in those before it
}

// sizeDraws is how many draws of sizes there are, a power of two.
const sizeDraws = 32

// sight is legs as observations of the wind error: of each leg toward east, then of each
// toward north, m/s.
type sight struct {
	*narrowing
	legs  []leg
	track *track
	modes *mat.Dense    // means of the modes along the legs, of either axis
	rest  *mat.SymDense // covariance of what the modes leave out, for a size of 1
	noise *mat.SymDense // that of the fixes' errors
	dress [][]float64   // means of the dressing's modes
	seen  [][]float64   // of each scene: what carried the flight less its wind
	own   [][]float64   // of each scene: the mean of the member's own deviation
}

func (n *narrowing) newSight(legs []leg, t *track) *sight {
	m, heights := len(legs), len(n.draw.up)
	g := &sight{narrowing: n, legs: legs, track: t}
	if m == 0 {
		return g
	}
	g.modes, g.rest, g.noise = mat.NewDense(m, windModes, nil), mat.NewSymDense(m, nil), mat.NewSymDense(m, nil)
	for i := range legs {
		for k := range windModes {
			g.modes.Set(i, k, legs[i].mean(
				func(z int) float64 { return float64(n.draw.up[z][k]) }, func(z int) float64 { return float64(n.draw.down[z][k]) }, heights))
		}
		for j := range i + 1 {
			g.rest.SetSym(i, j, n.law.between(&legs[i], &legs[j])-mat.Dot(g.modes.RowView(i), g.modes.RowView(j)))
			g.noise.SetSym(i, j, t.shared(&legs[i], &legs[j]))
		}
	}
	along := func(rows []float32) []float64 {
		means := make([]float64, 2*m)
		for axis := range 2 {
			up, down := rows[axis*heights:], rows[(2+axis)*heights:]
			for i := range legs {
				means[axis*m+i] = legs[i].mean(
					func(z int) float64 { return float64(up[z]) }, func(z int) float64 { return float64(down[z]) }, heights)
			}
		}
		return means
	}
	for s, scene := range n.scenes {
		seen := make([]float64, 2*m)
		for i := range legs {
			f := legs[i].forecast(scene)
			seen[i], seen[m+i] = legs[i].east-f[0], legs[i].north-f[1]
		}
		g.seen = append(g.seen, seen)
		if n.dress != nil {
			g.own = append(g.own, along(n.dress.own[s]))
		}
	}
	if n.dress != nil {
		for _, mode := range n.dress.modes {
			g.dress = append(g.dress, along(mode))
		}
	}
	return g
}

// shared is the covariance of two legs by the errors of the fixes at their ends, m²/s²,
// but for the last fix, whose error has values of its own: flights go on from there.
func (t *track) shared(a, b *leg) (sum float64) {
	for _, p := range [...]struct {
		fix  int
		sign float64
	}{{a.from, -1}, {a.to, 1}} {
		sigma := t.fixes[p.fix].sigma()
		for _, q := range [...]struct {
			fix  int
			sign float64
		}{{b.from, -1}, {b.to, 1}} {
			if p.fix == q.fix && p.fix != len(t.fixes)-1 {
				sum += p.sign * q.sign * sigma * sigma / (a.seconds * b.seconds)
			}
		}
	}
	return sum
}

// The normal values that are conditioned, in order: those of the modes toward east, of the
// modes toward north, of the last fix's error toward east and toward north, and those of
// what lies between members.
const (
	lastValue  = 2 * windModes
	dressValue = lastValue + 2
	mostValues = dressValue + dressModes
)

// design is what each normal value, of given sizes, adds to each observation.
func (g *sight) design(size [3]float64, values int) *mat.Dense {
	m := len(g.legs)
	d := mat.NewDense(2*m, values, nil)
	for i := range m {
		for k := range windModes {
			d.Set(i, k, size[0]*g.modes.At(i, k))
			d.Set(m+i, windModes+k, size[1]*g.modes.At(i, k))
		}
	}
	for i := range g.legs {
		if l := &g.legs[i]; l.to == len(g.track.fixes)-1 {
			for axis := range 2 {
				d.Set(axis*m+i, lastValue+axis, g.track.last().sigma()/l.seconds)
			}
		}
	}
	for k, mode := range g.dress {
		for i, v := range mode {
			d.Set(i, dressValue+k, size[2]*v)
		}
	}
	return d
}

// unsaid is the covariance of the observations on an axis that no value stands for. It is
// the same for all sizes: how large an error is would else be judged by its finest
// variations, of which least is known.
func (g *sight) unsaid(nugget float64) *mat.SymDense {
	m := len(g.legs)
	c := mat.NewSymDense(m, nil)
	for i := range m {
		for j := range i + 1 {
			v := g.rest.At(i, j) + g.noise.At(i, j)
			if i == j {
				v += nugget
			}
			c.SetSym(i, j, v)
		}
	}
	return c
}

// noiseFloor is what a leg's mean wind is off by in any case, m²/s²: the forecast is
// interpolated, and the flight's path between fixes, too.
const noiseFloor = 0.2 * 0.2

// rooted is the root of unsaid. The modes' own means, linear between heights, may say a
// little more than the law has, which more of the floor makes up for.
func (g *sight) rooted() *mat.Cholesky {
	var c mat.Cholesky
	for nugget := noiseFloor; ; nugget *= 2 {
		if c.Factorize(g.unsaid(nugget)) {
			return &c
		}
		if nugget > 1e6 {
			panic("ensemble: a covariance of finite values did not factorise")
		}
	}
}

// beside is what the observations are beside a scene's own share of a size: one column.
func (g *sight) beside(size [3]float64, scene int) *mat.Dense {
	y := mat.NewDense(2*len(g.legs), 1, append([]float64(nil), g.seen[scene]...))
	if g.dress != nil {
		for i, v := range g.own[scene] {
			y.Set(i, 0, y.At(i, 0)-(size[2]*g.narrowing.dress.keep[scene]-1)*v)
		}
	}
	return y
}

// newAir conditions the wind on what was seen of it.
func (g *sight) newAir() *air {
	a := &air{sizes: g.drawSizes()}
	values := dressValue
	if g.narrowing.dress != nil {
		values += len(g.narrowing.dress.modes)
	}
	m := len(g.legs)
	var logs []float64
	most := math.Inf(-1)
	var unsaid *mat.Cholesky
	var over mat.Dense
	if m > 0 {
		unsaid = g.rooted()
	}
	// noise is what the covariance's inverse makes of both axes' observations.
	noise := func(of *mat.Dense) *mat.Dense {
		_, columns := of.Dims()
		out := mat.NewDense(2*m, columns, nil)
		for axis := range 2 {
			if err := unsaid.SolveTo(&over, of.Slice(axis*m, (axis+1)*m, 0, columns)); err != nil {
				panic("ensemble: a covariance that factorised has no inverse")
			}
			for i := range m {
				out.SetRow(axis*m+i, over.RawRowView(i))
			}
			over.Reset()
		}
		return out
	}
	for s, size := range a.sizes {
		precision := mat.NewSymDense(values, nil)
		var weighed *mat.Dense // the design over the noise
		if m > 0 {
			design := g.design(size, values)
			weighed = noise(design)
			var p mat.Dense
			p.Mul(weighed.T(), design)
			for i := range values {
				for j := range i + 1 {
					precision.SetSym(i, j, (p.At(i, j)+p.At(j, i))/2)
				}
			}
		}
		for k := range values {
			precision.SetSym(k, k, precision.At(k, k)+1)
		}
		var chol mat.Cholesky
		if !chol.Factorize(precision) {
			panic("ensemble: a precision over 1 did not factorise")
		}
		log := -chol.LogDet() / 2
		a.roots = append(a.roots, inverseRoot(&chol, values))
		for scene := range g.scenes {
			c := cell{size: s, scene: scene, mean: make([]float64, values)}
			fit := 0.0
			if m > 0 {
				y := g.beside(size, scene)
				var b, mean mat.VecDense
				b.MulVec(weighed.T(), y.ColView(0))
				if err := chol.SolveVecTo(&mean, &b); err != nil {
					panic("ensemble: a precision over 1 has no inverse")
				}
				copy(c.mean, mean.RawVector().Data)
				fit = mat.Dot(y.ColView(0), noise(y).ColView(0)) - mat.Dot(&b, &mean)
			}
			a.cells = append(a.cells, c)
			logs = append(logs, log-fit/2)
			most = max(most, log-fit/2)
		}
	}
	a.share(logs, most)
	return a
}

// share shares flights out among the cells.
func (a *air) share(logs []float64, most float64) {
	whole, sum := 0.0, 0.0
	for _, l := range logs {
		whole += math.Exp(l - most)
	}
	for i, l := range logs {
		sum += math.Exp(l-most) / whole
		a.cells[i].until = sum
		if l == most {
			a.best = i
		}
	}
	a.cells[len(a.cells)-1].until = 1
}

// inverseRoot is U⁻¹ of a precision U'U, rows of an upper triangle: the values are their
// mean and that times standard normal values.
func inverseRoot(c *mat.Cholesky, values int) [][]float64 {
	var upper mat.TriDense
	c.UTo(&upper)
	var inverse mat.TriDense
	if err := inverse.InverseTri(&upper); err != nil {
		panic("ensemble: a root over 1 has no inverse")
	}
	rows := make([][]float64, values)
	for i := range rows {
		for j := i; j < values; j++ {
			rows[i] = append(rows[i], inverse.At(i, j))
		}
	}
	return rows
}

// drawSizes are even draws of the three sizes.
func (n *narrowing) drawSizes() [][3]float64 {
	if n.spec.WindDoubt == 0 && n.dress == nil {
		return [][3]float64{{1, 1, 1}}
	}
	s := newScramble(n.spec.Seed, MaxScrambles, 3, 5)
	sizes := make([][3]float64, sizeDraws)
	for i := range sizes {
		var u [3]float64
		s.point(i, u[:])
		var at [dimensions]float64
		at[eastSizeDimension], at[northSizeDimension] = u[0], u[1]
		sizes[i][0], sizes[i][1] = n.draw.sizes(&at)
		sizes[i][2] = 1
		if n.dress != nil {
			sizes[i][2] = n.dress.scale.of(u[2])
		}
	}
	return sizes
}

// cellOf is the cell that a share of the flights stands for.
func (a *air) cellOf(share float64) int {
	i := sort.Search(len(a.cells), func(i int) bool { return a.cells[i].until > share })
	return min(i, len(a.cells)-1)
}

// draw writes the normal values of a cell that standard normal ones stand for.
func (a *air) draw(c *cell, z, out []float64) {
	for i, row := range a.roots[c.size] {
		sum := c.mean[i]
		for j, v := range row {
			sum += v * z[i+j]
		}
		out[i] = sum
	}
}

// How many standard deviations a fix is off that is not believed any more, in the middle
// of a track and at its ends, where nothing but the forecast speaks against it.
const (
	displacedInside = 5.0
	displacedAtEnd  = 6.0
)

// displaced is the number of the track's fix that most likely lies elsewhere, if any does:
// w of [Baarda1968], how far a single fix would have to be moved for all that was seen to
// fit best, in its standard deviations.
func (g *sight) displaced(a *air) (fix int, ok bool) {
	m := len(g.legs)
	if m < 2 {
		return 0, false
	}
	best := &a.cells[a.best]
	size := a.sizes[best.size]
	design := g.design(size, len(best.mean))
	c := mat.NewSymDense(2*m, nil)
	c.SymOuterK(1, design)
	u := g.unsaid(noiseFloor)
	for axis := range 2 {
		for i := range m {
			for j := range i + 1 {
				c.SetSym(axis*m+i, axis*m+j, c.At(axis*m+i, axis*m+j)+u.At(i, j))
			}
		}
	}
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(c) || chol.InverseTo(&inverse) != nil {
		return 0, false
	}
	var over mat.VecDense
	over.MulVec(&inverse, g.beside(size, best.scene).ColView(0))
	worst := 1.0
	for i := range g.track.fixes {
		for axis := range 2 {
			var touched []int
			var by []float64
			for k := range g.legs {
				switch i {
				case g.legs[k].from:
					touched, by = append(touched, axis*m+k), append(by, -1/g.legs[k].seconds)
				case g.legs[k].to:
					touched, by = append(touched, axis*m+k), append(by, 1/g.legs[k].seconds)
				}
			}
			if len(touched) == 0 {
				continue
			}
			limit := displacedInside
			if len(touched) == 1 {
				limit = displacedAtEnd
			}
			top, bottom := 0.0, 0.0
			for p, k := range touched {
				top += by[p] * over.AtVec(k)
				for q, l := range touched {
					bottom += by[p] * by[q] * inverse.At(k, l)
				}
			}
			if w := math.Abs(top) / math.Sqrt(bottom) / limit; w > worst {
				worst, fix, ok = w, i, true
			}
		}
	}
	return fix, ok
}
