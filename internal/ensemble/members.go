package ensemble

import (
	"math"
	"slices"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Member is what the flights through one member of a forecast came to.
type Member struct {
	Flights, Landed int
	Mean            geo.Point // of the landings; meaningless without any
	On              []float64 // shares of its landings known to be on each class, in the order of ground.Classes
	Group           int       // 1 for those of the smaller of two groups, else 0
}

// Members are the members of a forecast side by side.
type Members struct {
	All []Member // by number
	// Error is the sampling error of the members for each class, in the order of
	// ground.Classes: one standard error of the share, which is the standard
	// deviation of the members' own shares over the root of their number. More
	// flights do not shrink it. NaN with fewer than two members with landings.
	Error []float64
	// Spread is the root mean square distance of the members' mean landings from
	// the mean of these, m; 0 where none landed.
	Spread float64
	// Groups are the members' numbers where their mean landings fall into two
	// groups, the larger first; nil where they do not.
	Groups [][]int
}

// ByMember puts the flights of a run through so many scenes side by side. The
// members' own shares scatter a little by the finite number of their flights,
// so that Error is rather too large.
func ByMember(outcomes []Outcome, scenes int) Members {
	m := Members{All: make([]Member, scenes)}
	at := make([][][2]float64, scenes) // landings, m from an origin that all members share
	on := make([][ground.Closed + 1]int, scenes)
	var origin *geo.Point
	for i := range outcomes {
		o := &outcomes[i]
		member := &m.All[o.Scene]
		member.Flights++
		if o.End != flight.Landed {
			continue
		}
		if origin == nil {
			origin = &o.At
		}
		member.Landed++
		at[o.Scene] = append(at[o.Scene], plane(*origin, o.At))
		for c := range ground.Classes() {
			if o.Met.Under.Has(c) {
				on[o.Scene][c]++
			}
		}
	}
	var means [][2]float64
	var numbers []int
	for i := range m.All {
		member := &m.All[i]
		for c := range ground.Classes() {
			member.On = append(member.On, float64(on[i][c])/float64(max(member.Landed, 1)))
		}
		if member.Landed > 0 {
			mean := centre(at[i])
			member.Mean = place(*origin, mean)
			means, numbers = append(means, mean), append(numbers, i)
		}
	}
	mean := centre(means)
	for _, p := range means {
		m.Spread += (math.Pow(p[0]-mean[0], 2) + math.Pow(p[1]-mean[1], 2)) / float64(len(means))
	}
	m.Spread = math.Sqrt(m.Spread)
	m.Error = m.errors(numbers)
	m.group(means, numbers)
	return m
}

// errors are Members.Error over the members of the given numbers.
func (m Members) errors(numbers []int) []float64 {
	var errors []float64
	n := float64(len(numbers))
	for k := range m.All[0].On {
		mean, square := 0.0, 0.0
		for _, i := range numbers {
			mean += m.All[i].On[k] / n
		}
		for _, i := range numbers {
			square += (m.All[i].On[k] - mean) * (m.All[i].On[k] - mean)
		}
		if n < 2 {
			square = math.NaN()
		}
		errors = append(errors, math.Sqrt(square/(n-1)/n))
	}
	return errors
}

// group fills in the groups.
func (m *Members) group(means [][2]float64, numbers []int) {
	second, ok := twoGroups(means)
	if !ok {
		return
	}
	groups := make([][]int, 2)
	for k, i := range numbers {
		g := 0
		if second[k] {
			g = 1
		}
		groups[g] = append(groups[g], i)
	}
	if len(groups[1]) > len(groups[0]) {
		groups[0], groups[1] = groups[1], groups[0]
	}
	for _, i := range groups[1] {
		m.All[i].Group = 1
	}
	m.Groups = groups
}

func centre(points [][2]float64) (mean [2]float64) {
	for _, p := range points {
		mean[0] += p[0] / float64(len(points))
		mean[1] += p[1] / float64(len(points))
	}
	return mean
}

// place is where a point of plane is.
func place(origin geo.Point, p [2]float64) geo.Point {
	return geo.Direct(origin, math.Atan2(p[0], p[1])*180/math.Pi, math.Hypot(p[0], p[1]))
}

// fewestToGroup is how many points there must be for groups to be looked for.
const fewestToGroup = 10

// twoGroups splits points into two groups if they fall into two; second are
// those of the one, at least an eighth of them in each.
//
// It is the split in two of the least squared distances from the groups' centres,
// of all splits by a straight line in one of 24 directions. It counts if the
// centres are farther apart than 3.05 + 25/n of the standard deviations that the
// points have about their own centre on the line through both. That limit is
// from simulation: one round Gaussian cloud of n = 10 to 51 points passes it in
// about 5 % of cases or less, see TestOneCloudIsOneGroup. Two clouds that are
// four of their standard deviations apart are found in about three of four cases
// of 31 points.
func twoGroups(points [][2]float64) (second []bool, ok bool) {
	n := len(points)
	if n < fewestToGroup {
		return nil, false
	}
	const directions = 24
	least := (n + 7) / 8
	mean := centre(points)
	best, order, cut := 0.0, []int(nil), 0
	for d := range directions {
		sin, cos := math.Sincos(math.Pi * float64(d) / directions)
		along := make([]int, n)
		for i := range along {
			along[i] = i
		}
		at := func(i int) float64 { return points[i][0]*cos + points[i][1]*sin }
		slices.SortStableFunc(along, func(a, b int) int {
			switch {
			case at(a) < at(b):
				return -1
			case at(a) > at(b):
				return 1
			}
			return 0
		})
		var sum [2]float64
		for k, i := range along[:n-least] {
			sum[0] += points[i][0] - mean[0]
			sum[1] += points[i][1] - mean[1]
			// The squares between the groups: of the first k+1 and of the rest.
			between := (sum[0]*sum[0] + sum[1]*sum[1]) * (1/float64(k+1) + 1/float64(n-k-1))
			if k+1 >= least && between > best {
				best, order, cut = between, along, k+1
			}
		}
	}
	if best == 0 {
		return nil, false
	}
	second = make([]bool, n)
	for _, i := range order[cut:] {
		second[i] = true
	}
	return second, separation(points, second) > 3.05+25/float64(n)
}

// separation is how far apart the centres of two groups are, in standard
// deviations of the points about their own centre on the line through both.
func separation(points [][2]float64, second []bool) float64 {
	var groups [2][][2]float64
	for i, p := range points {
		g := 0
		if second[i] {
			g = 1
		}
		groups[g] = append(groups[g], p)
	}
	a, b := centre(groups[0]), centre(groups[1])
	apart := math.Hypot(b[0]-a[0], b[1]-a[1])
	square := 0.0
	for g, c := range [...][2]float64{a, b} {
		for _, p := range groups[g] {
			d := ((p[0]-c[0])*(b[0]-a[0]) + (p[1]-c[1])*(b[1]-a[1])) / apart
			square += d * d
		}
	}
	return apart / math.Sqrt(square/float64(len(points)-2))
}
