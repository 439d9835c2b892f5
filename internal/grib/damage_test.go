package grib_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// TestTruncation cuts messages at every octet: always an error, never a field.
func TestTruncation(t *testing.T) {
	two := sealed(0, section1(referenceTime), threeByTwo(0).section3(),
		wind500.section4(), simple(scale{bits: 4}, bitmapOf(0, 1, 1, 0, 0, 1), 7, 8, 9),
		wind500.section4(), complexly(groups{scale: scale{bits: 8}, order: 2, lengths: []int{3, 3}}, 9, 8, 7, 6, 5, 9))
	for _, whole := range [][]byte{plain(), two} {
		for n := range whole {
			fields, faults := scanAll(whole[:n])
			require.Empty(t, fields, "cut to %d octets", n)
			require.Len(t, faults, 1, "cut to %d octets", n)
			if n == 0 {
				continue
			}
			fields, faults = scanAll(plain(), whole[:n])
			require.Len(t, fields, 1, "cut to %d octets after a good message", n)
			require.Len(t, faults, 1, "cut to %d octets after a good message", n)
		}
	}
}

// TestShortReader: the file may be shorter than its size, or fail.
func TestShortReader(t *testing.T) {
	whole := plain()
	for n := range whole {
		fields, faults := 0, 0
		for f, err := range grib.Scan(bytes.NewReader(whole[:n]), int64(len(whole))) {
			if err != nil {
				faults++
				continue
			}
			fields++
			_, err = f.Values(nil)
			require.Error(t, err)
		}
		require.Zero(t, fields, "%d octets of %d", n, len(whole))
		require.NotZero(t, faults, "%d octets of %d", n, len(whole))
	}
	r := &failing{Reader: bytes.NewReader(whole), left: 3}
	var f *grib.Field
	for field, err := range grib.Scan(r, int64(len(whole))) {
		require.NoError(t, err)
		f = field
	}
	r.left = 0
	_, err := f.Values(nil)
	assert.ErrorIs(t, err, errWorn)
	assert.ErrorContains(t, err, "message 1 at octet 0, field 1 (UGRD at 50000 Pa, 6h0m0s)")
}

var errWorn = errors.New("worn out")

// failing fails after some reads.
type failing struct {
	*bytes.Reader
	left int
}

func (r *failing) ReadAt(b []byte, at int64) (int, error) {
	if r.left--; r.left < 0 {
		return 0, errWorn
	}
	return r.Reader.ReadAt(b, at)
}

// TestCorruptedLengths puts wrong lengths into every section head.
func TestCorruptedLengths(t *testing.T) {
	good := plain()
	heads := map[string]int{}
	for at, n := 16, 1; n <= 7; n++ {
		if n == 2 {
			continue
		}
		require.Equal(t, byte(n), good[at+4])
		heads[string(rune('0'+n))] = at
		at += int(binary.BigEndian.Uint32(good[at:]))
	}
	for number, at := range heads {
		right := binary.BigEndian.Uint32(good[at:])
		for _, length := range []uint32{0, 1, 4, 5, right - 1, right + 1, right + 4, right + 5, 185, 1 << 31, 1<<31 + right, math.MaxUint32} {
			if length == right {
				continue
			}
			bad := slices.Clone(good)
			binary.BigEndian.PutUint32(bad[at:], length)
			fields, faults := scanAll(bad)
			require.Empty(t, fields, "section %s of length %d", number, length)
			require.Len(t, faults, 1, "section %s of length %d", number, length)
		}
	}
	for bit := range 64 {
		bad := slices.Clone(good)
		bad[8+bit/8] ^= 128 >> (bit % 8)
		fields, faults := scanAll(bad)
		require.Empty(t, fields, "bit %d of the length of the message", bit)
		require.Len(t, faults, 1, "bit %d of the length of the message", bit)
	}
}

// TestTooManyFields: the fields of one message are bounded.
func TestTooManyFields(t *testing.T) {
	tail := slices.Concat(wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 6)...))
	head := slices.Concat(section1(referenceTime), threeByTwo(0).section3())
	fields, faults := scanAll(sealed(0, head, bytes.Repeat(tail, 4096)))
	assert.Empty(t, faults)
	assert.Len(t, fields, 4096)
	fields, faults = scanAll(sealed(0, head, bytes.Repeat(tail, 4097)))
	assert.Empty(t, fields)
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], "field 4097: want at most 4096 in a message")
}

// TestHugeClaims: memory is bounded by what a message holds, not by what it says.
func TestHugeClaims(t *testing.T) {
	huge := lattice{ni: 4096, nj: 4096, la1: 50e6, la2: -50e6, lo2: 100e6}
	big := lattice{ni: 4096, nj: 4097, la1: 50e6, la2: -50e6, lo2: 100e6}
	points := func(l lattice) uint32 { return l.ni * l.nj }
	tail := slices.Concat(noBitmap, section(7, make([]byte, 10)))
	packed := func(l lattice, template uint16, parts ...any) []byte {
		five := section(5, append([]any{points(l), template, scale{bits: 16}.octets()}, parts...)...)
		return sealed(0, section1(referenceTime), l.section3(), wind500.section4(), five, tail)
	}
	group := func(n, last uint32) []any {
		return []any{byte(1), byte(0), uint64(0), n, byte(0), byte(0), uint32(1), byte(1), last, byte(0), byte(2), byte(2)}
	}
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"simple":      {packed(huge, 0), "section 7: 10 octets of values: want 33554432, for 16777216 values of 16 bits"},
		"many groups": {packed(huge, 3, group(1<<24, 1)...), "section 7: 10 octets: want at least 33554438"},
		"more groups": {packed(huge, 3, group(1<<24+1, 1)...), "16777217 groups: want at most 16777216"},
		"long group":  {packed(huge, 3, group(2, 1<<32-1)...), "group 2 of 2: the groups so far hold more values than the 16777216"},
		"short group": {packed(huge, 3, group(2, 1<<23)...), "2 groups hold 8388609 values: want the 16777216"},
		"many points": {packed(big, 0), "16781312 points: want at most 16777216"},
		"long bitmap": {sealed(0, section1(referenceTime), huge.section3(), wind500.section4(), simple(scale{}, section(6, byte(0), make([]byte, 1<<21)))), ""},
	} {
		t.Run(name, func(t *testing.T) {
			f := only(t, c.file)
			if c.want == "" {
				requireValues(t, f, slices.Repeat([]float32{nan}, 1<<24)...)
				return
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := f.Values(nil)
			runtime.ReadMemStats(&after)
			assert.ErrorContains(t, err, c.want)
			assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))
		})
	}
}

// TestCorruptedOctets changes every octet of two small messages: whatever comes
// out keeps the promises of Field.
func TestCorruptedOctets(t *testing.T) {
	for _, good := range [][]byte{
		whole(simple(scale{r: 3, d: -1, bits: 4}, bitmapOf(0, 1, 1, 0, 0, 1), 7, 8, 9)),
		whole(complexly(groups{scale: scale{bits: 8}, missing: 1, order: 2, lengths: []int{3, 3}}, 9, primary, 7, 6, 5, 9)),
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
