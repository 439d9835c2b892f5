package hazard

import (
	"iter"
	"math"

	"example.org/thistledown/internal/ground"
)

// Way is on which of its ways a flight crossed a volume: Up, Down or both.
type Way uint8

// The ways of a flight.
const (
	Up   Way = 1 << iota // up, or hanging
	Down                 // down
)

// Crossed is which volumes a flight crossed, and on which way. It never changes,
// and two are the same if == says so. The zero value is none.
type Crossed struct {
	marks string // two octets for each volume, the volumes in increasing order; see mark
}

// wayBits is how many bits of a mark say the way; the others are the volume.
const wayBits = 2

// mark appends a volume's mark.
func mark(marks []byte, volume int, way Way) []byte {
	m := volume<<wayBits | int(way)
	return append(marks, byte(m>>8), byte(m))
}

// All runs over the volumes by their numbers in the map, from the first on.
func (c Crossed) All() iter.Seq2[int, Way] {
	return func(yield func(int, Way) bool) {
		for i := 0; i+1 < len(c.marks); i += 2 {
			m := int(c.marks[i])<<8 | int(c.marks[i+1])
			if !yield(m>>wayBits, Way(m&(1<<wayBits-1))) {
				return
			}
		}
	}
}

// Crossing is one volume of airspace. Its probabilities are of the flights that
// landed.
type Crossing struct {
	Name, Kind     string
	Floor, Ceiling ground.Limit
	// Hours are those that crossings were held against; none: at all times.
	Hours       []ground.Hours
	Severity    float64     // that it counted with, 0 to 1
	Probability Probability // on any way
	Up, Down    Probability
	// Points are its part of the score: what crossings add to the landing is
	// shared out among those of a flight in proportion to their severities.
	Points float64
}

// crossings are those of all flights.
type crossings struct {
	volumes  []*ground.Volume
	severity []float64  // by volume
	hits     [][3][]int // by volume, on any way, up and down, by scramble; nil where there are none
	points   []float64  // by volume
	landed   []int      // flights by scramble
	none     []int      // no hits, by scramble
}

func newCrossings(volumes []*ground.Volume, usual float64, scrambles int) crossings {
	c := crossings{
		volumes:  volumes,
		severity: make([]float64, len(volumes)),
		hits:     make([][3][]int, len(volumes)),
		points:   make([]float64, len(volumes)),
		landed:   make([]int, scrambles),
		none:     make([]int, scrambles),
	}
	for i, v := range volumes {
		c.severity[i] = v.Severity
		if math.IsNaN(v.Severity) {
			c.severity[i] = usual
		}
	}
	return c
}

// add takes in a flight that landed; landing is the severity of that. It gives
// the flight's s.
func (c *crossings) add(f Met, scramble int, landing float64) float64 {
	c.landed[scramble]++
	escapes, sum := 1-landing, 0.0
	for v, way := range f.Crossed.All() {
		if v >= len(c.volumes) {
			panic("hazard: a flight crossed a volume that is not given")
		}
		escapes *= 1 - c.severity[v]
		sum += c.severity[v]
		for k, is := range [...]bool{true, way&Up != 0, way&Down != 0} {
			if !is {
				continue
			}
			if c.hits[v][k] == nil {
				c.hits[v][k] = make([]int, len(c.landed))
			}
			c.hits[v][k][scramble]++
		}
	}
	s := 1 - escapes
	if sum > 0 {
		for v := range f.Crossed.All() {
			c.points[v] += (s - landing) * c.severity[v] / sum
		}
	}
	return s
}

// probability is the share of landed flights that crossed a volume: 0 on any way,
// 1 up, 2 down.
func (c *crossings) probability(volume, way int) Probability {
	t := tally{hits: c.hits[volume][way], of: c.landed}
	if t.hits == nil {
		t.hits = c.none
	}
	return t.probability()
}

// halfWidth is half the widest interval of crossing a volume on any way.
func (c *crossings) halfWidth() float64 {
	widest, none := 0.0, false
	for v := range c.volumes {
		if c.hits[v][0] == nil {
			if none {
				continue // as wide as the one before
			}
			none = true
		}
		widest = max(widest, c.probability(v, 0).HalfWidth())
	}
	return widest
}

// list is the volumes, in their order; n flights landed.
func (c *crossings) list(n float64) []Crossing {
	var out []Crossing
	for i, v := range c.volumes {
		out = append(out, Crossing{
			Name: v.Name, Kind: v.Kind, Floor: v.Floor, Ceiling: v.Ceiling, Hours: v.Hours, Severity: c.severity[i],
			Probability: c.probability(i, 0), Up: c.probability(i, 1), Down: c.probability(i, 2),
			Points: 100 * c.points[i] / n,
		})
	}
	return out
}

// limit is the most that s of the package comment can be, whose landings are at
// most so severe.
func (c *crossings) limit(landing float64) float64 {
	escapes := 1 - landing
	for _, s := range c.severity {
		escapes *= 1 - s
	}
	return 1 - escapes
}
