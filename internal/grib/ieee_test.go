package grib_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// floats is sections 5 to 7 in packing 5.4.
func floats(precision byte, n int, values any) []byte {
	return slices.Concat(section(5, uint32(n), uint16(4), precision), noBitmap, section(7, values))
}

// TestIEEE takes values as they are, those of 64 bits to the next float32.
func TestIEEE(t *testing.T) {
	single := []float32{1, -2.5, math.MaxFloat32, math.SmallestNonzeroFloat32, nan, 0}
	requireValues(t, only(t, whole(floats(1, 6, single))), single[3], nan, 0, 1, -2.5, math.MaxFloat32)
	double := []float64{1, -2.5, math.MaxFloat32, 1e-60, math.NaN(), 0.1}
	requireValues(t, only(t, whole(floats(2, 6, double))), 0, nan, 0.1, 1, -2.5, math.MaxFloat32)
	// Octets behind the last value are passed over, as in packing 5.0.
	requireValues(t, only(t, whole(floats(1, 6, append(single, 9)))), single[3], nan, 0, 1, -2.5, math.MaxFloat32)
}

// TestIEEERefused: what is no float32, or not there, is an error.
func TestIEEERefused(t *testing.T) {
	inf := math.Inf(-1)
	for want, file := range map[string][]byte{
		"a value is infinite, or beyond float32":                         floats(1, 6, []float32{0, 1, 2, float32(inf), 4, 5}),
		"a value is infinite, or beyond float32: want":                   floats(2, 6, []float64{0, 1, 2, 3, inf, 5}),
		"a value is infinite, or beyond float32: want a finite number":   floats(2, 6, []float64{0, 1, -1e39, 3, 4, math.NaN()}),
		"23 octets of values: want 24, for 6 values of 32 bits":          floats(1, 6, make([]byte, 23)),
		"24 octets of values: want 48, for 6 values of 64 bits":          floats(2, 6, make([]byte, 24)),
		"precision 3 of code table 5.7 not supported: want 1 or 2 (IEEE": floats(3, 6, make([]byte, 96)),
		"precision 0 of code table 5.7 not supported":                    floats(0, 6, make([]byte, 96)),
	} {
		_, err := only(t, whole(file)).Values(nil)
		assert.ErrorContains(t, err, want)
	}
	five := section(5, uint32(6), uint16(4))
	_, faults := scanAll(whole(slices.Concat(five, noBitmap, section(7))))
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], "length 11 octets: want at least 12")
}
