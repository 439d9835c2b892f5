package grib

import (
	"encoding/binary"
	"fmt"
)

// decode fills the fixed-size struct v from the octets of a section after the
// first skip ones.
func decode(section []byte, skip int, v any) error {
	if want := skip + binary.Size(v); len(section) < want {
		return fmt.Errorf("length %d octets: want at least %d", len(section), want)
	}
	_, err := binary.Decode(section[skip:], binary.BigEndian, v)
	return err
}

// GRIB2 has no two's complement: negative numbers are a sign bit and a magnitude
// (regulation 92.1.5).

func signed32(u uint32) int32 {
	if u>>31 == 0 {
		return int32(u)
	}
	return -int32(u &^ (1 << 31))
}

func signed16(u uint16) int {
	if u>>15 == 0 {
		return int(u)
	}
	return -int(u &^ (1 << 15))
}

func signed8(u uint8) int {
	if u>>7 == 0 {
		return int(u)
	}
	return -int(u &^ (1 << 7))
}
