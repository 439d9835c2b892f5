package hazard

import (
	"math"

	"example.org/thistledown/internal/ground"
)

// Sums are a score before it is divided: by scramble, so that two scores of flights
// that were drawn alike can be compared scramble by scramble.
type Sums struct {
	s mean // over the flights that landed
}

// Sum adds up what Assess does, for scores that are only to be compared. Like it it
// panics if the flights do not divide into the scrambles.
func Sum(flights []Met, scrambles int, s Severity, m *ground.Map) Sums {
	return Sums{assessed(flights, scrambles, s, m).s}
}

// Landed is how many flights landed.
func (s Sums) Landed() int {
	_, n := s.s.total()
	return int(n)
}

// Score is that of Assess, 0 to 100; NaN where no flight landed.
func (s Sums) Score() float64 {
	value, _ := s.s.total()
	return 100 * value
}

// Difference is by how much this score is higher than another's whose flights were
// drawn from the same points, and half the width of its 95 % interval: Student's
// quantile times the standard error of the difference, from how the differences of
// the scrambles scatter. What all scrambles share, as a stronger wind in both, does
// not widen it. Never is it narrower than what so few flights can exclude: that
// three of all had another outcome, each by the whole of the score (the rule of
// three). It is NaN, and infinitely wide, where either has no flight that landed, or
// the scrambles are not as many.
func (s Sums) Difference(other Sums) (value, halfWidth float64) {
	a, n := s.s.total()
	b, m := other.s.total()
	if n == 0 || m == 0 || len(s.s.sums) != len(other.s.sums) {
		return math.NaN(), math.Inf(1)
	}
	// The linear parts of the two ratio estimators (Cochran 1977, §6.4), scramble by
	// scramble; their mean is 0.
	d := mean{sums: make([]float64, len(s.s.sums)), counts: make([]float64, len(s.s.sums))}
	for r := range d.sums {
		d.sums[r] = (s.s.sums[r]-a*s.s.counts[r])/n - (other.s.sums[r]-b*other.s.counts[r])/m
		d.counts[r] = 1
	}
	half := d.halfWidth() * float64(len(d.sums)) // halfWidth is of the mean, this is a sum
	return 100 * (a - b), 100 * max(half, 3/min(n, m))
}
