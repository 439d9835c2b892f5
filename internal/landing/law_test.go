package landing

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/thistledown/internal/geo"
)

// law is a density of landings in km east and north of a place.
type law struct {
	name    string
	place   func(u []float64) (x, y float64) // from two numbers in (0, 1), evenly spread
	density func(x, y float64) float64       // per km²
	excess  float64                          // bound on the mean excess of a region's area over the smallest possible
}

// component is a normal law of independent x and y, with its share in a mixture.
type component struct{ share, x, y, sdX, sdY float64 }

func (c component) density(x, y float64) float64 {
	x, y = (x-c.x)/c.sdX, (y-c.y)/c.sdY
	return c.share * math.Exp(-(x*x+y*y)/2) / (2 * math.Pi * c.sdX * c.sdY)
}

func normal(u float64) float64 { return math.Sqrt2 * math.Erfinv(2*u-1) }

func mix(name string, excess float64, parts ...component) law {
	return law{
		name: name, excess: excess,
		place: func(u []float64) (x, y float64) {
			k, v := 0, u[0]
			for ; k < len(parts)-1 && v >= parts[k].share; k++ {
				v -= parts[k].share
			}
			c := parts[k]
			v = min(max(v/c.share, 1e-12), 1-1e-12)
			return c.x + c.sdX*normal(v), c.y + c.sdY*normal(u[1])
		},
		density: func(x, y float64) (sum float64) {
			for _, c := range parts {
				sum += c.density(x, y)
			}
			return sum
		},
	}
}

// bent is a normal law 3 km long and 1 km wide along a parabola.
func bent(name string, bend, excess float64) law {
	straight := component{1, 0, 0, 3, 1}
	axis := func(x float64) float64 { return bend * (x*x/9 - 1) }
	return law{
		name: name, excess: excess,
		place: func(u []float64) (x, y float64) {
			x = 3 * normal(u[0])
			return x, normal(u[1]) + axis(x)
		},
		density: func(x, y float64) float64 { return straight.density(x, y-axis(x)) },
	}
}

var (
	circular = mix("circular", 0.03, component{1, 0, 0, 4, 4})
	disc     = law{
		name: "disc of even density",
		place: func(u []float64) (x, y float64) {
			sin, cos := math.Sincos(2 * math.Pi * u[1])
			return 5 * math.Sqrt(u[0]) * cos, 5 * math.Sqrt(u[0]) * sin
		},
		density: func(x, y float64) float64 {
			if math.Hypot(x, y) > 5 {
				return 0
			}
			return 1 / (25 * math.Pi)
		},
	}
	// smooth is the laws for which the package states its accuracy.
	smooth = []law{
		circular,
		mix("ten times longer than wide", 0.03, component{1, 0, 0, 20, 2}),
		mix("two clusters", MaxAreaExcess, component{0.5, -50, 0, 5, 5}, component{0.5, 50, 0, 2, 2}),
		mix("clusters of 4:1", MaxAreaExcess, component{0.8, -50, 0, 5, 5}, component{0.2, 50, 0, 2, 2}),
		mix("clusters across", MaxAreaExcess, component{0.5, -50, 0, 5, 1}, component{0.5, 50, 0, 1, 5}),
		mix("overlapping", MaxAreaExcess, component{0.6, 0, 0, 4, 4}, component{0.4, 8, 4, 2, 3}),
		bent("bent", 0.9, MaxAreaExcess),
		bent("bent far", 1.5, MaxAreaExcess),
		{
			name: "skew", excess: MaxAreaExcess,
			place: func(u []float64) (x, y float64) { return 4 * math.Exp(normal(u[0])/2), normal(u[1]) / 2 },
			density: func(x, y float64) float64 {
				if x <= 0 {
					return 0
				}
				return component{1, 0, 0, 0.5, 0.5}.density(math.Log(x/4), y) / x
			},
		},
	}
	standard = []float64{0.5, 0.8, 0.95}
)

// even is a sequence that fills the unit square evenly: multiples of the powers of the
// plastic number's inverse, from a shift on (M. Roberts 2018, "The unreasonable
// effectiveness of quasirandom sequences"; from memory).
func even(n int, shift float64) [][]float64 {
	const g = 1.32471795724474602596 // real root of x³ = x + 1
	out := make([][]float64, n)
	for i := range out {
		_, a := math.Modf(0.5 + shift + float64(i+1)/g)
		_, b := math.Modf(0.5 + shift*math.Pi + float64(i+1)/(g*g))
		out[i] = []float64{a, b}
	}
	return out
}

// random is independent draws from a seed.
func random(n, dims int, seed uint64) [][]float64 {
	r := rand.New(rand.NewPCG(seed, 1))
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, dims)
		for j := range out[i] {
			out[i][j] = r.Float64()
		}
	}
	return out
}

// scrambled is blocks of scrambled Halton points in up to ten dimensions, one block after
// another: even as a whole and all but independent close up, as an ensemble's draws are.
// Each digit in each dimension has a random permutation of its own.
func scrambled(n, dims, blocks int, seed uint64) [][]float64 {
	bases := []int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29}
	r := rand.New(rand.NewPCG(seed, 2))
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, dims)
	}
	size := n / blocks
	for first := 0; first < n; first += size {
		for j := range dims {
			base := bases[j]
			step := 1.0
			for place := 1; step > 1e-9; place *= base {
				step /= float64(base)
				digit := r.Perm(base)
				for i := range size {
					if place > size {
						out[first+i][j] += step * float64(r.IntN(base))
						continue
					}
					out[first+i][j] += step * float64(digit[i/place%base])
				}
			}
			for i := range size {
				out[first+i][j] += step * r.Float64()
			}
		}
	}
	return out
}

// site is where most tests land: far enough north for a degree of longitude to be
// shorter than one of latitude.
var site = geo.Point{Lat: 47, Lon: 11}

// offset is the position x km east and y km north of a place: by geodesics, not by the
// map that the package uses.
func offset(from geo.Point, x, y float64) geo.Point {
	return geo.Direct(from, math.Mod(math.Atan2(x, y)*180/math.Pi+360, 360), 1000*math.Hypot(x, y))
}

// land is a law's points around a place, of equal weight.
func (l law) land(from geo.Point, u [][]float64) []Weighted {
	out := make([]Weighted, len(u))
	for i, v := range u {
		x, y := l.place(v)
		out[i] = Weighted{offset(from, x, y), 1}
	}
	return out
}

// smallest is the area in m² of the smallest region that holds a share of the law: from
// a quarter of a million even points, as the mean of 1/density over those inside
// (Hyndman 1996: the region is where the density exceeds its own quantile).
func (l law) smallest(share float64) float64 {
	u := even(1<<18, 0.25)
	densities := make([]float64, len(u))
	for i, v := range u {
		densities[i] = l.density(l.place(v))
	}
	slices.Sort(densities)
	sum := 0.0
	for _, d := range densities[int((1-share)*float64(len(u))):] {
		sum += 1 / d
	}
	return 1e6 * sum / float64(len(u))
}

// inside is the share of points that a region contains.
func inside(r Region, points []Weighted) float64 {
	n := 0
	for _, p := range points {
		if r.Contains(p.At) {
			n++
		}
	}
	return float64(n) / float64(len(points))
}
