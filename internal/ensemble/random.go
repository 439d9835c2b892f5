package ensemble

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
)

// Draws is how the points of the unit cube are chosen that flights are made of.
type Draws uint8

// The ways of drawing.
const (
	// Sobol is scrambled Sobol' points: evenly spread within each scramble.
	Sobol Draws = iota
	// Random is plain pseudo-random points, each independent of all others.
	Random
)

var drawNames = [...]string{Sobol: "sobol", Random: "random"}

// String is the name as plans write it.
func (d Draws) String() string {
	if int(d) < len(drawNames) {
		return drawNames[d]
	}
	return fmt.Sprintf("draws %d", d)
}

// ParseDraws reads such a name.
func ParseDraws(name string) (Draws, bool) {
	for d, n := range drawNames {
		if n == name {
			return Draws(d), true
		}
	}
	return 0, false
}

// points are those of a run: point i belongs to scramble i/size, and depends on
// the seed, on that scramble's number and on its place in it alone.
type points struct {
	draws     Draws
	seed      uint64
	first     int // number of the first scramble
	size      int // points in each
	scrambles []scramble
}

// newPoints are a spec's points of so many dimensions.
func newPoints(s Spec, dimensions int) points {
	p := points{draws: s.Draws, seed: s.Seed, first: s.First, size: s.PerScramble}
	if s.Draws == Random {
		return p
	}
	for i := range s.Scrambles {
		p.scrambles = append(p.scrambles, newScramble(s.Seed, uint64(s.First+i), dimensions, bits.Len(uint(s.PerScramble-1))))
	}
	return p
}

// point writes point i into u.
func (p points) point(i int, u []float64) {
	if p.draws == Random {
		randomPoint(p.seed, uint64(p.first+i/p.size), uint64(i%p.size), u)
		return
	}
	p.scrambles[i/p.size].point(i%p.size, u)
}

// coordinate is one coordinate of point i.
func (p points) coordinate(i, dimension int) float64 {
	if p.draws == Random {
		var u [dimensions]float64
		p.point(i, u[:dimension+1])
		return u[dimension]
	}
	return p.scrambles[i/p.size].coordinate(i%p.size, dimension)
}

// randomPoint writes independent coordinates in (0, 1) into u: those of one
// point of one group, from a generator of its own. A shorter u has the first of
// a longer one's.
func randomPoint(seed, group, i uint64, u []float64) {
	// Groups have at most 65,536 points.
	random := rand.NewPCG(seed, stir(group<<32|i))
	for d := range u {
		// The middle of one of 2^52 intervals, so that neither 0 nor 1 comes up.
		u[d] = (float64(random.Uint64()>>12) + 0.5) / (1 << 52)
	}
}

// stir maps numbers one to one on others that look like chance, so that
// generators of neighbouring points start far from each other: the finaliser of
// the SplitMix64 generator (Steele, Lea, Flood 2014; from memory).
func stir(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
