package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// ieeeOf converts octet 12 of template 5.4, the precision of code table 5.7, to the
// octets of a value: 1 is 32 bits, 2 is 64, 3 is 128.
func ieeeOf(precision uint8) (octets int, err error) {
	switch precision {
	case 1:
		return 4, nil
	case 2:
		return 8, nil
	}
	return 0, fmt.Errorf("precision %d of code table 5.7 not supported: want 1 or 2 (IEEE floating point of 32 or 64 bits)", precision)
}

// ieee takes len(dst) values of the given octets, 4 or 8, as they are. NaN, of
// which the template does not speak, is a missing value; what float32 cannot hold
// is an error.
func ieee(dst []float32, payload []byte, octets int) error {
	reach := uint32(0) // the greatest magnitude, as its bits
	const magnitude = 1<<31 - 1
	infinity := math.Float32bits(float32(math.Inf(1)))
	for i := range dst {
		v := uint32(0)
		if octets == 4 {
			v = binary.BigEndian.Uint32(payload[4*i:])
		} else {
			v = math.Float32bits(float32(math.Float64frombits(binary.BigEndian.Uint64(payload[8*i:]))))
		}
		dst[i] = math.Float32frombits(v)
		if v &= magnitude; v <= infinity {
			reach = max(reach, v)
		}
	}
	if reach == infinity {
		return errors.New("a value is infinite, or beyond float32: want a finite number")
	}
	return nil
}
