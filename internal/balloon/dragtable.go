package balloon

import "math"

// TableError bounds how far, as a share of it, the speed for a lift by a law that
// is Tabled lies from that of the law itself.
const TableError = 1e-7

// The table of the inverse covers the k = Cd·Re² of Reynolds numbers from lowTable
// to highTable, each doubling of k in doublingParts even parts. Up to lowTable the
// slow end of a law may bear, which Scaled leaves as it is: above, it does not by a
// factor of 0.3 or more.
const (
	lowTable      = 1e4
	highTable     = 1e8
	doublingBits  = 6
	doublingParts = 1 << doublingBits
	partShift     = 52 - doublingBits // of the bits of a float64
)

// dragTable is the Reynolds number as a function of k: a cubic in each part that
// has the law's value and slope at both ends. A part is found by the leading bits
// of k, without a logarithm.
type dragTable struct {
	first int // part of the first entry
	parts []dragPart
}

// dragPart is the coefficients of the cubic in how far k is through the part, 0 to 1.
type dragPart [4]float64

// Tabled is the law with a table of its inverse, for when it is asked for often:
// many ascents with the law or with the law Scaled. A law too steep for
// TableError has none, and is inverted as ever.
func (d Drag) Tabled() Drag {
	d.table, d.scale = nil, 1
	k := func(re float64) float64 { return d.Cd(re) * re * re }
	t := dragTable{first: int(math.Float64bits(k(lowTable))>>partShift) + 1}
	last := int(math.Float64bits(k(highTable)) >> partShift)
	at := func(part int) float64 { return math.Float64frombits(uint64(part) << partShift) }
	node := func(part int, guess float64) (re, slope float64) {
		re = d.reynolds(at(part), guess)
		_, steepness := d.law(re)
		return re, re / (at(part) * (2 - steepness))
	}
	re, slope := node(t.first, lowTable)
	for part := t.first; part < last; part++ {
		next, nextSlope := node(part+1, re)
		width := at(part+1) - at(part)
		a, b, rise := slope*width, nextSlope*width, next-re
		p := dragPart{re, a, 3*rise - 2*a - b, a + b - 2*rise}
		for _, x := range [...]float64{0.25, 0.5, 0.75} {
			exact := d.reynolds(at(part)+x*width, re)
			if !(math.Abs(p.at(x)-exact) <= TableError/2*exact) {
				return d
			}
		}
		t.parts = append(t.parts, p)
		re, slope = next, nextSlope
	}
	d.table = &t
	return d
}

func (p *dragPart) at(x float64) float64 { return p[0] + x*(p[1]+x*(p[2]+x*p[3])) }

// reynolds is the Re for a k; false outside the table.
func (t *dragTable) reynolds(k float64) (float64, bool) {
	bits := math.Float64bits(k)
	part := int(bits>>partShift) - t.first
	if part < 0 || part >= len(t.parts) {
		return 0, false
	}
	// What is left of the bits is how far k is through the part.
	x := float64(bits&(1<<partShift-1)) * (1.0 / (1 << partShift))
	return t.parts[part].at(x), true
}
