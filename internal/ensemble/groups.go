package ensemble

import (
	"cmp"
	"math"
	"slices"
)

// Of fewer points than fewestToGroup nothing is told; a group has at least three
// of them, and an eighth.
const (
	fewestToGroup = 8
	leastInGroup  = 3
)

// groupLimit and groupFew make the limit of twoGroups for n points, groupLimit +
// groupFew/n: what 5 in 100 Gaussian clouds pass, round or drawn out, from 8
// points to 101, by simulation; see TestOneCloudIsOneGroup.
const (
	groupLimit = 5.8
	groupFew   = 8.0
)

// twoGroups tells whether points fall into two groups; second are those of the
// one on one side.
//
// It looks along the line on which the points scatter most. Two normal laws of
// one variance are fitted there, and one law: the points fall into groups where
// the gain, twice the logarithm of the likelihoods' ratio and of 4p(1 − p) for
// shares of p and 1 − p ([Chen2001]), is above a limit that one Gaussian cloud
// passes no more than 5 times in 100. Of two round clouds of 31 points in all, 4
// standard deviations apart, 9 in 10 are found, and all at 5. Groups side by side
// across the line are not seen, and more than two are told as two.
func twoGroups(points [][2]float64) (second []bool, ok bool) {
	n := len(points)
	if n < fewestToGroup {
		return nil, false
	}
	at, ok := alongAxis(points)
	if !ok {
		return nil, false
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(at[a], at[b]), cmp.Compare(a, b)) })
	sorted := make([]float64, n)
	for k, i := range order {
		sorted[k] = at[i]
	}
	from, gain := bestCut(sorted)
	if !(gain > groupLimit+groupFew/float64(n)) {
		return nil, false
	}
	second = make([]bool, n)
	for _, i := range order[from:] {
		second[i] = true
	}
	return second, true
}

// alongAxis is where points lie along the line on which they scatter most, with
// mean 0 and variance 1; false where they are all within some millimetres.
func alongAxis(points [][2]float64) ([]float64, bool) {
	mean, n := centre(points), float64(len(points))
	var xx, xy, yy float64
	for _, p := range points {
		x, y := p[0]-mean[0], p[1]-mean[1]
		xx, xy, yy = xx+x*x/n, xy+x*y/n, yy+y*y/n
	}
	half := (xx - yy) / 2
	large := (xx+yy)/2 + math.Hypot(half, xy)
	if !(large > 1e-6) { // m²
		return nil, false
	}
	sin, cos := math.Sincos(math.Atan2(xy, half) / 2)
	along := make([]float64, len(points))
	for i, p := range points {
		along[i] = ((p[0]-mean[0])*cos + (p[1]-mean[1])*sin) / math.Sqrt(large)
	}
	return along, true
}

// bestCut is the greatest gain of two laws over one, for ascending values of mean
// 0 and variance 1, and which value is the first of the upper law. Fits start
// from as many as 32 cuts.
func bestCut(x []float64) (from int, gain float64) {
	least := max(leastInGroup, len(x)/8)
	step := max((len(x)-2*least)/32, 1)
	for cut := least; cut <= len(x)-least; cut += step {
		k, g := fitTwo(x, cut)
		if g > gain && min(k, len(x)-k) >= least {
			from, gain = k, g
		}
	}
	return from, gain
}

// fitTwo fits two normal laws of one variance by expectation and maximisation
// ([McLachlanPeel2000]), starting from a cut before a value. It returns the first
// value that then belongs to the upper law rather than to the lower, and the
// gain over one law; none where one of the two shrinks to a single value.
func fitTwo(x []float64, cut int) (from int, gain float64) {
	const steps, enough, tight = 200, 1e-6, 1e-6
	n := float64(len(x))
	upper := make([]float64, len(x)) // how far a value belongs to the upper law
	for i := cut; i < len(x); i++ {
		upper[i] = 1
	}
	before := math.Inf(-1)
	for range steps {
		share, low, high := 0.0, 0.0, 0.0
		for i, v := range x {
			share += upper[i] / n
			low += (1 - upper[i]) * v / n
			high += upper[i] * v / n
		}
		low, high = low/(1-share), high/share
		if !(share*n > 1 && (1-share)*n > 1) {
			return 0, 0
		}
		// The whole has 1, less that of the means; where nothing is left the groups
		// are as good as two places.
		variance := max(1-(1-share)*low*low-share*high*high, tight)
		gain = 2 * math.Log(4*share*(1-share))
		for i, v := range x {
			a := 2*math.Log(1-share) - (v-low)*(v-low)/variance
			b := 2*math.Log(share) - (v-high)*(v-high)/variance
			top := max(a, b)
			sum := math.Exp((a-top)/2) + math.Exp((b-top)/2)
			upper[i] = math.Exp((b-top)/2) / sum
			gain += top + 2*math.Log(sum) - math.Log(variance) + v*v
		}
		if gain-before < enough {
			break
		}
		before = gain
	}
	for from < len(x) && upper[from] <= 0.5 {
		from++
	}
	return from, gain
}
