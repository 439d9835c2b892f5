package grib_test

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// measured are the packings whose section 7 must have a length that follows from
// the sections before it, or from its own beginning.
var measured = []uint16{0, 2, 3, 4}

// TestEveryTruncation cuts a real message of each packing at every octet: always an
// error, never a field.
func TestEveryTruncation(t *testing.T) {
	for _, packing := range append(measured[:len(measured):len(measured)], 41, 42) {
		whole := realMessages(t, packing)[0]
		only(t, whole)
		for n := range whole {
			fields, faults := scanAll(whole[:n])
			require.Empty(t, fields, "packing 5.%d cut to %d octets", packing, n)
			require.NotEmpty(t, faults, "packing 5.%d cut to %d octets", packing, n)
		}
	}
}

// TestEveryCutOfValues takes octets off the end of section 7 of real messages, with
// all lengths put right: never a value, of the whole field or of a part that the
// missing octets have nothing of.
func TestEveryCutOfValues(t *testing.T) {
	for _, packing := range measured {
		for _, whole := range realMessages(t, packing)[:2] {
			parts := sectionsOf(whole)
			seven := parts[len(parts)-2]
			if len(seven) < 100 {
				continue // a constant field
			}
			var u grib.Unpacker
			for n := 5; n < len(seven); n++ {
				cut := section(7, seven[5:n])
				f := only(t, sealed(whole[6], slices.Concat(slices.Concat(parts[1:len(parts)-2]...), cut)))
				_, err := u.Values(f, nil)
				require.ErrorContains(t, err, "section 7: ", "packing 5.%d cut to %d octets of %d", packing, n, len(seven))
				first := grib.Window{Row: f.Grid.NY - 1, Rows: 1, Cols: 1} // of the stream
				_, err = u.Window(f, first, nil)
				require.ErrorContains(t, err, "section 7: ", "packing 5.%d cut to %d octets of %d", packing, n, len(seven))
			}
		}
	}
}

// TestEveryHeaderOctet gives every octet of the sections before the data of a real
// message every value: an error, or a field that says what the octets say.
func TestEveryHeaderOctet(t *testing.T) {
	whole := realMessages(t, 3)[0]
	parts := sectionsOf(whole)
	heads := len(whole) - len(parts[len(parts)-1]) - len(parts[len(parts)-2]) + 5
	var u grib.Unpacker
	faulty, good, refused, damaged := 0, 0, 0, 0
	for at := range heads {
		for v := 1; v < 256; v++ {
			bad := slices.Clone(whole)
			bad[at] ^= byte(v)
			var fields []*grib.Field
			var faults []error
			bounded(t, len(bad), func() int {
				fields, faults = scanAll(bad)
				return 0
			})
			if len(fields) == 0 {
				require.NotEmpty(t, faults, "octet %d = %d", at+1, bad[at])
				faulty++
				continue
			}
			require.Len(t, fields, 1, "octet %d = %d", at+1, bad[at])
			f := fields[0]
			requireSays(t, f, bad)
			if f.Supported() != nil {
				refused++
				continue
			}
			var values []float32
			var err error
			bounded(t, len(bad), func() int {
				values, err = u.Values(f, nil)
				return f.Points
			})
			if err != nil {
				require.ErrorContains(t, err, "section ")
				damaged++
				continue
			}
			good++
			require.Len(t, values, f.Points)
			for _, v := range values {
				if math.IsInf(float64(v), 0) {
					require.Failf(t, "infinite", "octet %d = %d", at+1, bad[at])
				}
			}
		}
	}
	// Most octets are lengths, numbers of templates, places and times.
	assert.Greater(t, faulty, heads*255/10, "errors of the walk")
	assert.Greater(t, refused, 1000, "fields that are not supported")
	assert.Greater(t, damaged, 1000, "fields whose values are refused")
	assert.Greater(t, good, heads*255/10, "fields with values")
}

// requireSays reads the octets of a message of one field anew, by their places in
// the templates 3.0 and 4.0 of WMO-No. 306.
func requireSays(t *testing.T, f *grib.Field, message []byte) {
	t.Helper()
	section := map[byte][]byte{}
	for _, s := range sectionsOf(message)[1:] {
		if len(s) > 4 {
			section[s[4]] = append([]byte{0}, s...) // so that octet n is at n
		}
	}
	two := func(s byte, octet int) uint16 { return binary.BigEndian.Uint16(section[s][octet:]) }
	four := func(s byte, octet int) uint32 { return binary.BigEndian.Uint32(section[s][octet:]) }
	type said struct {
		discipline                     byte
		centre, grid, product, packing uint16
		points                         uint32
		reference                      time.Time
	}
	one := section[1]
	require.Equal(t, said{
		message[6],
		two(1, 6), two(3, 13), two(4, 8), two(5, 10), four(3, 7),
		time.Date(int(two(1, 13)), time.Month(one[15]), int(one[16]), int(one[17]), int(one[18]), int(one[19]), 0, time.UTC),
	}, said{
		f.Discipline,
		f.Centre, f.Grid.Template, f.Product, f.Packing, uint32(f.Points), f.Reference,
	})
	if f.Supported() != nil {
		return
	}
	require.Equal(t, section[4][10:12], []byte{f.Category, f.Number})
	require.Equal(t, section[4][23], byte(f.Level.Surface))
	require.Equal(t, [2]uint32{four(3, 31), four(3, 35)}, [2]uint32{uint32(f.Grid.NX), uint32(f.Grid.NY)})
	if scale, value := section[4][24], four(4, 25); scale != 255 && value != math.MaxUint32 {
		sign := func(negative bool) float64 { return map[bool]float64{false: 1, true: -1}[negative] }
		want := sign(value>>31 == 1) * float64(value&math.MaxInt32) * math.Pow(10, -sign(scale>>7 == 1)*float64(scale&127))
		require.InEpsilon(t, want+1e-300, f.Level.Value+1e-300, 1e-9, "value of the level")
	}
	if unit, n := section[4][18], four(4, 19); unit == 1 && n < 1<<20 && f.Product == 0 {
		require.Equal(t, time.Duration(n)*time.Hour, f.Step)
	}
}
