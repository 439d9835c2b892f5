package ensemble

import (
	"math"

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
	// deviation of the members' own shares over the root of their number; and,
	// where members in one group are dressed, over how far that draws them together,
	// which leaves it within a tenth. More flights do not shrink it. NaN with fewer than two members with landings.
	Error []float64
	// Spread is the root mean square distance of the members' mean landings from
	// the mean of these, m; 0 where none landed. Of six members and more it is that
	// of dressed flights, which lie a tenth nearer to each other than bare ones.
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
	on := make([][ground.Abroad + 1]int, scenes)
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
	m.group(means, numbers)
	m.Error = m.errors(numbers)
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
		errors = append(errors, math.Sqrt(square/(n-1)/n)/m.drawnTogether())
	}
	return errors
}

// drawnTogether is how far dressing takes the mean landings of members toward
// their mean, as a share of how far they lie from it. Two groups stay where they
// are.
func (m Members) drawnTogether() float64 {
	n := len(m.All)
	if n < fewestToDress || m.Groups != nil {
		return 1
	}
	return shrinkage(float64(n), kernelWidth(n))
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
