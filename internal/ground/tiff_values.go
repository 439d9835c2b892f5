package ground

import (
	"encoding/binary"
	"math"
)

// predict undoes a row's predictor (TIFF 6.0, section 14; TIFF technical note 3
// for floats).
func (u *unpacker) predict(row []byte) {
	switch {
	case u.predictor == 2 && u.bits == 8:
		for i := u.bands; i < len(row); i++ {
			row[i] += row[i-u.bands]
		}
	case u.predictor == 2 && u.bits == 16:
		for i := 2 * u.bands; i+1 < len(row); i += 2 {
			sum := u.file.order.Uint16(row[i:]) + u.file.order.Uint16(row[i-2*u.bands:])
			u.file.order.PutUint16(row[i:], sum)
		}
	case u.predictor == 2:
		for i := 4 * u.bands; i+3 < len(row); i += 4 {
			sum := u.file.order.Uint32(row[i:]) + u.file.order.Uint32(row[i-4*u.bands:])
			u.file.order.PutUint32(row[i:], sum)
		}
	case u.predictor == 3:
		u.predictFloats(row)
	}
}

// predictFloats undoes predictor 3: a row's octets are differences, and stand
// with all the highest octets of its floats first, all the lowest last.
func (u *unpacker) predictFloats(row []byte) {
	for i := u.bands; i < len(row); i++ {
		row[i] += row[i-u.bands]
	}
	u.row = append(u.row[:0], row...)
	n := len(row) / 4
	for i := range n {
		b := [4]byte{u.row[i], u.row[n+i], u.row[2*n+i], u.row[3*n+i]}
		u.file.order.PutUint32(row[4*i:], binary.BigEndian.Uint32(b[:]))
	}
}

// values appends the first band of some pixels of a row of a strip or tile: NaN
// for no data, and for what is no number.
func (u *unpacker) values(dst []float64, row []byte, from, to int) []float64 {
	octets := u.bits / 8
	step := octets * u.bands
	order := u.file.order
	for at := from * step; at < to*step; at += step {
		var v float64
		switch b := row[at : at+octets]; {
		case u.form == formFloat:
			v = float64(math.Float32frombits(order.Uint32(b)))
		case u.form == formSigned && octets == 1:
			v = float64(int8(b[0]))
		case u.form == formSigned && octets == 2:
			v = float64(int16(order.Uint16(b)))
		case u.form == formSigned:
			v = float64(int32(order.Uint32(b)))
		case octets == 1:
			v = float64(b[0])
		case octets == 2:
			v = float64(order.Uint16(b))
		default:
			v = float64(order.Uint32(b))
		}
		if v == u.noData || math.IsInf(v, 0) {
			v = math.NaN()
		}
		dst = append(dst, v)
	}
	return dst
}
