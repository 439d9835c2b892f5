package ensemble

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// fewestToDress is how many members a forecast must have for what lies between
// them to be filled. Of fewer, the scale that makes up for not knowing their
// scatter, which has the variance (m-1)/(m-4), would be all there is.
const fewestToDress = 6

// dressModes is how many ways members differ in, at most, fill what lies between
// them: those that carry paths farthest apart. TestDressingKeepsTheDrift holds
// what the rest would add.
const dressModes = 8

// greatestScale bounds the factor by which the scatter of members may be
// mistaken: of six members, 1.9 of 100 draws are cut off there, of 20 none.
const greatestScale = 4.0

// dressing fills what lies between a few members of a forecast. Truth is taken
// as one more draw from where the members come from. It lies between them, or
// beyond, and not within a thin wind error of one of them; so flights in bare
// members come down in as many clumps, and regions around these hold too few
// truths.
//
// With the members' winds along the way of the flight as planned, mean w and
// deviations d from it, and their covariance S = Σ d·d'/(m-1), a flight in member
// k goes through w + s·g·(a·d + h·e), where
//
//	e is Gaussian with the covariance S,
//	h = m^(-1/6), the width of a Gaussian kernel that estimates a Gaussian density
//	    of two dimensions best ([Silverman1986], eq. 4.14),
//	a makes the variance of all, a²·(m-1)/m + h², that of one more draw about a
//	    mean of m, 1 + 1/m: a kernel that is shrunk towards the mean so as to add
//	    none ([West1993]; and [WangBishop2005] for what the variance must be),
//	s² = (m-1)/χ² with m-2 degrees of freedom: S is known from m members only,
//	g makes up for what winds between the nodes of a grid scatter less than at them
//	    (see smoothing).
//
// Without a (h² = 1 + 1/m) the drift of a flight would follow the law of one more
// draw from a Gaussian of which m are known, exactly: Student's t of two
// dimensions with m-2 degrees of freedom, whose regions hold what they say
// ([Hotelling1931], T²). With a the members keep the shape of their own scatter
// as far as so few can tell it. Where their drifts fall into two groups (see
// twoGroups), w, a and S are of the deviations within each, so that the gap
// between the groups is not filled.
//
// No spread is counted twice: what is drawn of the members' scatter has that
// scatter's variance at nodes, and the launch's wind error comes on top of it as before.
type dressing struct {
	own   [][]float32  // of each member: its deviation along the way, m/s; see rows
	modes [][]float32  // g·h·e is the sum of these, each times a standard normal draw
	keep  []float64    // g·a of each member
	scale scatterScale // s
}

// rows are how a profile along a way is stored: of the wind toward east going
// up, toward north going up, toward east coming down, toward north coming down,
// each at all heights.
const rows = 4

// newDressing is that of members along a way; none for a forecast of few of them
// or where their winds are not known.
func newDressing(scenes []flight.Scene, w way, launch flight.Release) *dressing {
	m := len(scenes)
	if m < fewestToDress {
		return nil
	}
	own := make([][]float64, m)
	for k := range own {
		own[k] = w.winds(scenes[k], launch)
		if own[k] == nil {
			return nil
		}
	}
	drifts := make([][2]float64, m)
	for k := range drifts {
		path := w.path(own[k])
		drifts[k] = path[len(path)-1]
	}
	second, split := twoGroups(drifts)
	if !split {
		second = make([]bool, m)
	}
	h := kernelWidth(m)
	d := &dressing{keep: make([]float64, m)}
	groups := 0
	for _, which := range []bool{false, true} {
		n := centred(own, second, which)
		if n == 0 {
			continue
		}
		groups++
		a := shrinkage(n, h)
		for k := range m {
			if second[k] == which {
				d.keep[k] = a
			}
		}
	}
	g := w.smoothing(scenes, launch, own, second)
	for k := range d.keep {
		d.keep[k] *= g
	}
	d.scale = newScatterScale(m - groups)
	d.modes = w.dressModes(own, g*h/math.Sqrt(float64(m-groups)))
	for k := range own {
		d.own = append(d.own, narrow(own[k]))
	}
	return d
}

// kernelWidth is h of a dressing of m members.
func kernelWidth(m int) float64 { return math.Pow(float64(m), -1.0/6) }

// shrinkage is a of a dressing for the members of a group of n.
func shrinkage(n, h float64) float64 { return math.Sqrt((1 + 1/n - h*h) * n / (n - 1)) }

// centred takes their mean from the profiles of one group, and says how many
// there are.
func centred(own [][]float64, second []bool, which bool) (n float64) {
	mean := make([]float64, len(own[0]))
	for k := range own {
		if second[k] == which {
			n++
			for i, v := range own[k] {
				mean[i] += v
			}
		}
	}
	for k := range own {
		if second[k] == which {
			for i := range mean {
				own[k][i] -= mean[i] / n
			}
		}
	}
	return n
}

func narrow(v []float64) []float32 {
	out := make([]float32, len(v))
	for i := range v {
		out[i] = float32(v[i])
	}
	return out
}

// winds is the wind of a scene along a way, in rows. Below the lowest and above
// the highest height of either way at which it is known it is as there; nil where
// it is known nowhere.
func (w way) winds(scene flight.Scene, launch flight.Release) []float64 {
	n := len(w) / 2
	out := make([]float64, rows*n)
	for half := range 2 {
		known := -1
		for i := range n {
			at, when := w[half*n+i].whereabouts(launch)
			s, in := scene.Wind.At(at, atmos.Geometric(float64(i)*errorSpacing), when)
			east, north := out[2*half*n:], out[(2*half+1)*n:]
			switch {
			case in == wind.Inside:
				east[i], north[i] = s.East, s.North
				for j := range i {
					if known < 0 {
						east[j], north[j] = s.East, s.North
					}
				}
				known = i
			case known >= 0:
				east[i], north[i] = east[known], north[known]
			}
		}
		if known < 0 {
			return nil
		}
	}
	return out
}

// whereabouts is the place and the time of a moment: those of the launch where
// nothing is planned (see frozen).
func (m *moment) whereabouts(launch flight.Release) (geo.Point, float64) {
	if m.place == [3]float64{} {
		return launch.At, launch.Time
	}
	return m.point(), m.time
}

// point is the place of a moment.
func (m *moment) point() geo.Point {
	x, y, z := m.place[0], m.place[1], m.place[2]
	return geo.Point{Lat: math.Atan2(z, math.Hypot(x, y)) * 180 / math.Pi, Lon: geo.WrapLon(math.Atan2(y, x) * 180 / math.Pi)}
}

// path is how far winds carry a flight along a way up to each of its heights, up
// and then down again, m east and north.
func (w way) path(winds []float64) [][2]float64 {
	n := len(w) / 2
	var out [][2]float64
	var at [2]float64
	for i := 1; i < n; i++ {
		seconds := math.Abs(w[i].time - w[i-1].time)
		for axis := range at {
			at[axis] += seconds * (winds[axis*n+i-1] + winds[axis*n+i]) / 2
		}
		out = append(out, at)
	}
	for i := n - 1; i > 0; i-- {
		seconds := math.Abs(w[n+i].time - w[n+i-1].time)
		for axis := range at {
			at[axis] += seconds * (winds[(2+axis)*n+i-1] + winds[(2+axis)*n+i]) / 2
		}
		out = append(out, at)
	}
	return out
}

// dressModes are profiles, in rows, whose sum, each times a standard normal draw,
// has the covariance of size² times the sum of the products of members'
// deviations. Of all that have it (deviations times the columns of any orthogonal
// matrix) they are those that order by how far they carry paths apart; what is
// left out does so least.
func (w way) dressModes(own [][]float64, size float64) [][]float32 {
	m := len(own)
	gram := mat.NewSymDense(m, nil)
	paths := make([][][2]float64, m)
	for k := range paths {
		paths[k] = w.path(own[k])
		for l := range k + 1 {
			sum := 0.0
			for i := range paths[k] {
				sum += paths[k][i][0]*paths[l][i][0] + paths[k][i][1]*paths[l][i][1]
			}
			gram.SetSym(k, l, sum)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(gram, true) {
		panic("ensemble: the products of members' paths did not factorise")
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	modes := make([][]float32, min(dressModes, m-1))
	for j := range modes {
		from := m - 1 - j
		sum := make([]float64, len(own[0]))
		sign := size
		if vectors.At(0, from) < 0 {
			sign = -size // an eigenvector's sign is arbitrary: fix it
		}
		for k := range own {
			for i, v := range own[k] {
				sum[i] += sign * vectors.At(k, from) * v
			}
		}
		modes[j] = narrow(sum)
	}
	return modes
}

// add adds the dressing of a member to the wind error of a release in the hand: s is how
// far the scatter is mistaken, and z are draws of the modes times s.
func (d *dressing) add(h *hand, release, member int, s float64, z []float64) {
	e := &h.errors[release]
	own := d.own[member]
	n := len(own) / rows
	sum := h.dress[:len(own)]
	keep := float32(s*d.keep[member] - 1)
	for i, v := range own {
		sum[i] = keep * v
	}
	for k, mode := range d.modes {
		z := float32(z[k])
		for i, v := range mode[:len(sum)] {
			sum[i] += z * v
		}
	}
	for i, v := range [rows]*[errorHeights]float64{&e.east, &e.north, &e.downEast, &e.downNorth} {
		for z, x := range sum[i*n : (i+1)*n] {
			v[z] += float64(x)
		}
	}
}

// scatterScale is the logarithm of s of a dressing at standard normal values
// scaleStep apart, from -scaleEnd up.
type scatterScale []float64

const (
	scaleStep = 0.125
	scaleEnd  = 6.5 // the least of 2^32 even shares lies at -6.3
)

// newScatterScale is √(f/χ²) with f-1 degrees of freedom, by its quantiles.
func newScatterScale(f int) scatterScale {
	law := distuv.ChiSquared{K: float64(f - 1)}
	var s scatterScale
	for i := range int(2*scaleEnd/scaleStep) + 1 {
		z := scaleStep*float64(i) - scaleEnd
		chi2 := law.Quantile(normalShare(-z))
		s = append(s, math.Log(min(math.Sqrt(float64(f)/chi2), greatestScale)))
	}
	return s
}

// of is the value below which a share u lies: linear between those of the table.
func (s scatterScale) of(u float64) float64 {
	x := min(max((quickNormal(u)+scaleEnd)/scaleStep, 0), float64(len(s)-2))
	i := int(x)
	return math.Exp(s[i] + (x-float64(i))*(s[i+1]-s[i]))
}
