package cube

import (
	"encoding/binary"
	"fmt"
	"math"
)

const (
	tileNodes = Tile * Tile
	planeHead = 8                       // offset and scale
	planeSize = planeHead + 2*tileNodes // octets
	missing   = 0xFFFF                  // the code of a missing value
	maxCode   = missing - 1
	maxValue  = 1e30 // bounds |value|; no quantity in SI units comes near, and sums of it stay finite
)

// Largest error of packing, in the units of the quantities.
const (
	maxWindError        = 0.05 // m/s
	maxHeightError      = 1    // m
	maxTemperatureError = 0.05 // K
)

// String is such as "wind toward east".
func (q Quantity) String() string {
	switch q {
	case East:
		return "wind toward east"
	case North:
		return "wind toward north"
	case Height:
		return "height"
	case Temperature:
		return "temperature"
	}
	return "surface quantity"
}

// bound is the largest error that packing may make in a quantity, in its unit.
func (q Quantity) bound() float64 {
	switch q {
	case East, North:
		return maxWindError
	case Height:
		return maxHeightError
	case Temperature:
		return maxTemperatureError
	}
	return math.Inf(1)
}

// packing is how the values of one plane become codes.
type packing struct{ offset, scale float32 }

// packingOf is the packing that values from low to high need.
func packingOf(low, high float32) packing {
	span := float64(high) - float64(low)
	scale := float32(span / maxCode)
	if float64(scale)*maxCode < span { // rounded down: the highest value would miss its code
		scale = math.Nextafter32(scale, math.MaxFloat32)
	}
	return packing{low, scale}
}

// check refuses a packing that no values need, or whose error in a quantity
// may be over its bound. NaN fails.
func (p packing) check(q Quantity) error {
	top := math.Abs(float64(p.offset)) + maxCode*float64(p.scale)
	if !(p.scale >= 0 && top <= 4*maxValue) {
		return fmt.Errorf("%v with offset %g, scale %g: want values within ±%g", q, p.offset, p.scale, float64(maxValue))
	}
	if worst := p.worst(); worst > q.bound() {
		return fmt.Errorf("%v from %.6g over %.6g: error of packing %.4g: want at most %g",
			q, p.offset, maxCode*float64(p.scale), worst, q.bound())
	}
	return nil
}

// worst is the largest error of packing: half a code, and the rounding of the
// product and the sum in value to 24 bits, of which the first is below
// 65534/2^24 < 1/256 of the scale and the second 2^-24 of the value.
func (p packing) worst() float64 {
	largest := math.Abs(float64(p.offset)) + maxCode*float64(p.scale)
	return float64(p.scale)*(1./2+1./256) + largest/(1<<24)
}

// value is what a code other than missing stands for. The conversion of the
// product keeps it from being fused with the sum, so that every machine reads
// the same value.
func (p packing) value(code uint16) float32 {
	return p.offset + float32(p.scale*float32(code))
}

// putPlane packs the values of a tile, in rows from the south-west and missing
// outside the grid, into a plane of planeSize octets.
func putPlane(b []byte, values *[tileNodes]float32, q Quantity) error {
	le := binary.LittleEndian
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, v := range values {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	var p packing
	inverse := 0.0
	switch {
	case low > high: // no values
		p = packing{0, float32(math.NaN())}
	case low < -maxValue || high > maxValue:
		return fmt.Errorf("%v from %g to %g: want within ±%g", q, low, high, float64(maxValue))
	default:
		p = packingOf(low, high)
		if err := p.check(q); err != nil {
			return err
		}
		if p.scale > 0 {
			inverse = 1 / float64(p.scale)
		}
	}
	le.PutUint32(b, math.Float32bits(p.offset))
	le.PutUint32(b[4:], math.Float32bits(p.scale))
	codes := b[planeHead:planeSize]
	for i, v := range values {
		code := uint16(missing)
		if v == v { // is a number
			code = uint16((float64(v)-float64(low))*inverse + 0.5)
		}
		le.PutUint16(codes[2*i:], code)
	}
	return nil
}

// planePacking reads how a plane is packed; none of it is there if the scale
// is not a number.
func planePacking(b []byte, q Quantity) (p packing, some bool, err error) {
	le := binary.LittleEndian
	p = packing{math.Float32frombits(le.Uint32(b)), math.Float32frombits(le.Uint32(b[4:]))}
	if p.scale != p.scale {
		return p, false, nil
	}
	return p, true, p.check(q)
}

// takeRow unpacks n codes.
func takeRow(to []float32, codes []byte, p packing) {
	codes = codes[:2*len(to)]
	for i := range to {
		code := binary.LittleEndian.Uint16(codes[2*i:])
		to[i] = p.value(code)
		if code == missing {
			to[i] = float32(math.NaN())
		}
	}
}
