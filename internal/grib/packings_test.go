package grib_test

import (
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHugePackings: as TestHugeClaims, memory is bounded by what is there.
func TestHugePackings(t *testing.T) {
	huge := lattice{ni: 4096, nj: 4096, la1: 50e6, la2: -50e6, lo2: 100e6}
	const n = 1 << 24
	packed := func(template uint16, payload []byte, parts ...any) []byte {
		five := section(5, append([]any{uint32(n), template}, parts...)...)
		return sealed(0, section1(referenceTime), huge.section3(), wind500.section4(), five, noBitmap, section(7, payload))
	}
	image := picture{width: 4096, height: 4096, depth: 8, colour: 6}.encode(32)
	for want, file := range map[string][]byte{
		"section 7: 10 octets of values: want 67108864":                      packed(4, make([]byte, 10), byte(1)),
		"octets: too few for a PNG image of 4096 × 4096 pixels of 32 bits":   packed(41, image, scale{bits: 32}.octets()),
		"section 7: 10 octets: want at least 5120, for 16777216 values in C": packed(42, make([]byte, 10), scale{bits: 8}.octets(), byte(8), byte(32), uint16(128)),
	} {
		f := only(t, file)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := f.Values(nil)
		runtime.ReadMemStats(&after)
		assert.ErrorContains(t, err, want)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))
	}
}

// TestCorruptedPackings changes every octet of small messages in each packing:
// whatever comes out keeps the promises of Field.
func TestCorruptedPackings(t *testing.T) {
	c := coding{scale: scale{bits: 5}, flags: preprocess, block: 8, interval: 2}
	for _, good := range [][]byte{
		whole(c.sections(anyOption(rand.New(rand.NewPCG(1, 1))), 7, 8, 9, 9, 9, 30)),
		whole(imaged(6, scale{bits: 8}, picture{width: 3, height: 2, depth: 8}.encode(8, 1, 2, 3, 4, 5, 6))),
		whole(floats(1, 6, []float32{1, 2, 3, 4, 5, 6})),
		whole(floats(2, 6, []float64{1, 2, 3, 4, 5, 6})),
	} {
		for at := range good {
			for v := range 256 {
				bad := slices.Clone(good)
				bad[at] = byte(v)
				fields, faults := scanAll(bad)
				require.NotZero(t, len(fields)+len(faults), "octet %d = %d", at+1, v)
				for _, f := range fields {
					checkField(t, f, bad)
				}
			}
		}
	}
}
