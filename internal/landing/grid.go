package landing

import (
	"cmp"
	"math"
	"slices"
)

const (
	cutOff      = 4.0 // standard deviations at which a kernel ends; 0.03 % of it lies beyond
	cellsPerDev = 2.0 // cells per standard deviation of the narrow kernels, measured across them
	narrowShare = 0.05
	narrowest   = 0.75 // cells, to which the standard deviation of any kernel is widened

	// Nodes of a grid each way at most, and of all grids together.
	maxSide  = 512
	maxNodes = 1 << 22
)

// grid is the density of some kernels at the nodes of a square lattice, zero along
// its border. Node (i, j) lies at (x + i step, y + j step).
type grid struct {
	kernels []kernel
	x, y    float64
	step    float64
	nx, ny  int
	value   []float64 // 1/m², row by row
}

// box is where a kernel is not zero, along x and along y.
func (k *kernel) box() [2]span {
	dx, dy := cutOff*math.Sqrt(k.spread.xx), cutOff*math.Sqrt(k.spread.yy)
	return [2]span{{k.x - dx, k.x + dx}, {k.y - dy, k.y + dy}}
}

type span struct{ low, high float64 }

// apart divides kernels into sets whose boxes do not meet, by cutting along gaps in
// x and in y until there are none.
func apart(kernels []kernel) [][]kernel {
	boxes := make([][2]span, len(kernels))
	all := make([]int, len(kernels))
	for i := range kernels {
		boxes[i], all[i] = kernels[i].box(), i
	}
	type task struct {
		set  []int
		axis int
		last bool // the other axis had no gap
	}
	var out [][]kernel
	for todo := []task{{set: all}}; len(todo) > 0; {
		t := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		pieces := cut(t.set, boxes, t.axis)
		if len(pieces) == 1 && t.last {
			set := make([]kernel, len(t.set))
			for i, k := range t.set {
				set[i] = kernels[k]
			}
			out = append(out, set)
			continue
		}
		for _, p := range pieces {
			todo = append(todo, task{p, 1 - t.axis, len(pieces) == 1})
		}
	}
	return out
}

// cut sorts a set along an axis and divides it where no box reaches across.
func cut(set []int, boxes [][2]span, axis int) [][]int {
	slices.SortFunc(set, func(a, b int) int {
		return cmp.Or(cmp.Compare(boxes[a][axis].low, boxes[b][axis].low), cmp.Compare(a, b))
	})
	var out [][]int
	start, end := 0, math.Inf(-1)
	for i, k := range set {
		if i > start && boxes[k][axis].low > end {
			out = append(out, set[start:i])
			start = i
		}
		end = max(end, boxes[k][axis].high)
	}
	return append(out, set[start:])
}

// rasterise adds up kernels on a grid of at most side nodes each way, fine enough for
// all but the narrowest of them; those, and all if there are too few nodes, are
// widened.
func rasterise(kernels []kernel, side int) grid {
	g := grid{kernels: kernels, step: narrow(kernels) / cellsPerDev}
	x, y := extent(kernels)
	g.step = max(g.step, max(x.high-x.low, y.high-y.low)/float64(side-16))
	limit := narrowest * narrowest * g.step * g.step
	for i := range kernels {
		k := &kernels[i]
		if small, _, _, _ := k.spread.eigen(); small < limit {
			k.spread = k.spread.plus(limit-small, round(1))
		}
	}
	x, y = extent(kernels)
	g.nx, g.ny = int((x.high-x.low)/g.step)+4, int((y.high-y.low)/g.step)+4
	g.x = (x.low+x.high)/2 - float64(g.nx-1)/2*g.step
	g.y = (y.low+y.high)/2 - float64(g.ny-1)/2*g.step
	g.value = make([]float64, g.nx*g.ny)
	for i := range kernels {
		g.add(&kernels[i])
	}
	return g
}

// narrow is the standard deviation of the narrow kernels: that below which
// narrowShare of the weight lies, across each kernel.
func narrow(kernels []kernel) float64 {
	all, total := make([]near, len(kernels)), 0.0
	for i, k := range kernels {
		small, _, _, _ := k.spread.eigen()
		all[i] = near{small, k.weight}
		total += k.weight
	}
	return math.Sqrt(lowest(all, narrowShare*total))
}

// extent is the box around the boxes of all kernels.
func extent(kernels []kernel) (x, y span) {
	all := kernels[0].box()
	for i := range kernels {
		for axis, s := range kernels[i].box() {
			all[axis] = span{min(all[axis].low, s.low), max(all[axis].high, s.high)}
		}
	}
	return all[0], all[1]
}

// add adds one kernel. Along a row the exponent is a quadratic, so each value
// follows from the one before by two products.
func (g *grid) add(k *kernel) {
	q := k.spread.inverse()
	peak := k.peak()
	change := math.Exp(-q.xx * g.step * g.step)
	dy := cutOff * math.Sqrt(k.spread.yy)
	first, last := g.between(k.y-dy-g.y, k.y+dy-g.y)
	for j := first; j <= last; j++ {
		v := g.y + float64(j)*g.step - k.y
		middle := k.x - g.x - q.xy*v/q.xx
		half := math.Sqrt(max(0, cutOff*cutOff-v*v/k.spread.yy) / q.xx)
		from, to := g.between(middle-half, middle+half)
		u := g.x + float64(from)*g.step - k.x
		value := peak * math.Exp(-q.form(u, v)/2)
		ratio := math.Exp(-g.step * (q.xx*(u+g.step/2) + q.xy*v))
		row := g.value[j*g.nx : (j+1)*g.nx]
		for i := from; i <= to; i++ {
			row[i] += value
			value *= ratio
			ratio *= change
		}
	}
}

// between is the first and last node from low to high, in m from the first node.
func (g *grid) between(low, high float64) (first, last int) {
	return int(math.Ceil(low / g.step)), int(math.Floor(high / g.step))
}

// at is the density at a place of the grid, linear between nodes.
func (g *grid) at(x, y float64) float64 {
	u, v := (x-g.x)/g.step, (y-g.y)/g.step
	i, j := int(u), int(v)
	if !(u >= 0 && v >= 0 && i < g.nx-1 && j < g.ny-1) {
		return 0
	}
	u -= float64(i)
	v -= float64(j)
	low, high := g.value[j*g.nx+i:], g.value[(j+1)*g.nx+i:]
	return (1-v)*((1-u)*low[0]+u*low[1]) + v*((1-u)*high[0]+u*high[1])
}
