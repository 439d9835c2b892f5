package ensemble

import (
	"math"
	"math/bits"
	"math/rand/v2"
)

// directionBits is how many binary digits a coordinate has.
const directionBits = 32

// scramble is one randomisation of the Sobol' sequence: each coordinate's
// digits go through a random lower triangular matrix and a random digital
// shift, after which every point is uniform in the unit cube while together
// they stay as evenly spread as before ([Matousek1998]). Different scrambles
// are independent.
type scramble struct {
	directions [][]uint32 // [dimension][bit of the index]
	shift      []uint32   // [dimension]
}

// newScramble makes scramble number n of a seed, for indices below 2^indexBits.
func newScramble(seed, n uint64, dimensions, indexBits int) scramble {
	s := scramble{directions: make([][]uint32, dimensions), shift: make([]uint32, dimensions)}
	random := rand.New(rand.NewPCG(seed, n))
	for d := range dimensions {
		rows := lowerTriangle(random)
		plain := directions(d)
		s.directions[d] = make([]uint32, indexBits)
		for b := range indexBits {
			s.directions[d][b] = multiply(rows, plain[b])
		}
		s.shift[d] = random.Uint32()
	}
	return s
}

// point writes the coordinates of point i, each in (0, 1), into u.
func (s scramble) point(i int, u []float64) {
	for d := range u {
		u[d] = s.coordinate(i, d)
	}
}

// coordinate is one coordinate of point i.
func (s scramble) coordinate(i, dimension int) float64 {
	x, digits := s.shift[dimension], s.directions[dimension]
	for left := uint(i); left != 0; left &= left - 1 {
		x ^= digits[bits.TrailingZeros(left)]
	}
	// The middle of its interval, so that neither 0 nor 1 comes up.
	return (float64(x) + 0.5) / (1 << directionBits)
}

// directions are the direction numbers of a dimension, from 0, with the binary
// point left of the highest bit.
func directions(dimension int) [directionBits]uint32 {
	if dimension > 0 {
		return primitives[dimension-1].directions()
	}
	var v [directionBits]uint32
	for b := range v {
		v[b] = 1 << (directionBits - 1 - b)
	}
	return v
}

// directions are the direction numbers that grow from the initial ones by the
// recurrence of the polynomial ([BratleyFox1988], eq. 2 and 3).
func (p primitive) directions() [directionBits]uint32 {
	var v [directionBits]uint32
	degree := bits.Len32(p.polynomial) - 1
	for b := range v {
		if b < degree {
			v[b] = p.initial[b] << (directionBits - 1 - b)
			continue
		}
		v[b] = v[b-degree] ^ v[b-degree]>>degree
		for k := 1; k < degree; k++ {
			if p.polynomial>>(degree-k)&1 == 1 {
				v[b] ^= v[b-k]
			}
		}
	}
	return v
}

// lowerTriangle is a random matrix over GF(2): row i, from the highest digit
// down, has a one at digit i, random digits above it and none below.
func lowerTriangle(random *rand.Rand) [directionBits]uint32 {
	var rows [directionBits]uint32
	for i := range rows {
		diagonal := uint32(1) << (directionBits - 1 - i)
		above := -diagonal << 1
		rows[i] = diagonal | random.Uint32()&above
	}
	return rows
}

// multiply is matrix times vector over GF(2).
func multiply(rows [directionBits]uint32, v uint32) uint32 {
	var out uint32
	for i, row := range rows {
		out |= uint32(bits.OnesCount32(row&v)&1) << (directionBits - 1 - i)
	}
	return out
}

// normal is the standard normal quantile of p in (0, 1).
func normal(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }

// normalShare is the standard normal distribution function.
func normalShare(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// quickNormal is normal to a relative 1e-6, some times as fast: the rational
// functions of PPND7 ([Wichura1988]; coefficients from memory, checked against
// normal).
func quickNormal(p float64) float64 {
	q := p - 0.5
	if math.Abs(q) <= 0.425 {
		r := 0.180625 - q*q
		return q * (((5.9109374720e+01*r+1.5929113202e+02)*r+5.0434271938e+01)*r + 3.3871327179e+00) /
			(((6.7187563600e+01*r+7.8757757664e+01)*r+1.7895169469e+01)*r + 1)
	}
	r := math.Sqrt(-math.Log(min(p, 1-p)))
	var x float64
	if r <= 5 {
		r -= 1.6
		x = (((1.7023821103e-01*r+1.3067284816e+00)*r+2.7568153900e+00)*r + 1.4234372777e+00) /
			((1.2021132975e-01*r+7.3700164250e-01)*r + 1)
	} else {
		r -= 5
		x = (((1.7337203997e-02*r+4.2868294337e-01)*r+3.0812263860e+00)*r + 6.6579051150e+00) /
			((1.2258202635e-02*r+2.4197894225e-01)*r + 1)
	}
	return math.Copysign(x, q)
}
