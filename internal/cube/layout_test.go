package cube_test

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// crc32c is CRC-32C bit by bit, by the polynomial of RFC 3720, section 12.1,
// written with its lowest bit first.
func crc32c(parts ...[]byte) uint32 {
	crc := ^uint32(0)
	for _, part := range parts {
		for _, b := range part {
			crc ^= uint32(b)
			for range 8 {
				low := crc & 1
				crc >>= 1
				if low == 1 {
					crc ^= 0x82F63B78
				}
			}
		}
	}
	return ^crc
}

// TestCRC32C: the test patterns of RFC 3720, appendix B.4 (from memory), there
// as octets in the order in which they are sent, lowest first. The library, by
// another way of computing, agrees.
func TestCRC32C(t *testing.T) {
	zeros, ones, up := make([]byte, 32), make([]byte, 32), make([]byte, 32)
	for i := range 32 {
		ones[i], up[i] = 0xff, byte(i)
	}
	for _, c := range []struct {
		octets []byte
		want   uint32
	}{{zeros, 0x8A9136AA}, {ones, 0x62A8AB43}, {up, 0x46DD794E}} {
		assert.Equal(t, c.want, crc32c(c.octets), "crc32c(%x)", c.octets)
		assert.Equal(t, c.want, crc32.Checksum(c.octets, crc32.MakeTable(crc32.Castagnoli)), "crc32.Checksum(%x)", c.octets)
	}
}

// octets puts a cube together by the tables of the package comment.
type octets []byte

func (o *octets) n16(v uint16)  { *o = binary.LittleEndian.AppendUint16(*o, v) }
func (o *octets) n32(v uint32)  { *o = binary.LittleEndian.AppendUint32(*o, v) }
func (o *octets) n64(v uint64)  { *o = binary.LittleEndian.AppendUint64(*o, v) }
func (o *octets) r32(v float32) { o.n32(math.Float32bits(v)) }
func (o *octets) r64(v float64) { o.n64(math.Float64bits(v)) }

// plane holds codes of the south-west corner of a tile, and elsewhere missing.
func (o *octets) plane(offset, scale float32, rows ...[]uint16) {
	o.r32(offset)
	o.r32(scale)
	for r := range 8 {
		for c := range 8 {
			code := uint16(65535)
			if r < len(rows) && c < len(rows[r]) {
				code = rows[r][c]
			}
			o.n16(code)
		}
	}
}

// TestLayout: a cube of 9 columns and 2 rows, octet by octet.
func TestLayout(t *testing.T) {
	a := cube.Axes{
		Centre:  0x0102,
		Cycle:   time.Date(1969, 12, 31, 23, 59, 58, 0, time.UTC),
		Grid:    geo.Grid{NX: 9, NY: 2, Lat0: -1.5, Lon0: 179, DLat: 0.5, DLon: 0.25},
		Levels:  []float64{50000},
		Steps:   []time.Duration{90 * time.Minute},
		Members: []cube.Member{{Kind: cube.Perturbed, Number: 258}},
		Surface: []uint8{9},
		Terrain: true,
		Source:  "abc",
		Note:    "é",
	}
	var head octets
	head = append(head, "tdcube\r\n"...)
	head.n16(1)
	head.n16(0x0102)
	head.n32(80 + 8 + 4 + 4 + 1 + 3 + 2 + 4)
	head.n64(math.MaxUint64 - 1) // -2 s
	head.n32(9)
	head.n32(2)
	head.r64(-1.5)
	head.r64(179)
	head.r64(0.5)
	head.r64(0.25)
	head.n16(1)
	head.n16(1)
	head.n16(1)
	head = append(head, 1, 1)
	head.n32(3)
	head.n32(2)
	require.Len(t, head, 80)
	head.r64(50000)
	head.n32(5400)
	head = append(head, 2, 0, 2, 1, 9)
	head = append(head, "abc\xc3\xa9"...)
	want := append(octets{}, head...)
	want.n32(crc32c(head))

	nan := float32(math.NaN())
	block := func(number uint64, planes octets) {
		var n octets
		n.n64(number)
		want = append(want, planes...)
		want.n32(crc32c(head, n, planes))
	}
	// Ranges are 65534 times a power of two, so that scales are exact. Wind has
	// to stay within the bound of its error.
	const wind = 1. / 16
	var west, east octets
	west.plane(2, wind, []uint16{0, 65534}, []uint16{65535, 1})
	west.plane(-3, 0, []uint16{0, 0}, []uint16{0, 0})
	west.plane(5, 1, []uint16{0, 65534, 0}, []uint16{7})
	west.plane(0, nan)
	west.plane(1, 1024, []uint16{0, 65534})
	east.plane(2, 0, []uint16{0}, []uint16{0})
	east.plane(0, nan)
	east.plane(0, nan)
	east.plane(0, nan)
	east.plane(0, nan)
	block(0, west)
	block(1, east)
	var ground octets
	ground.plane(-400, 1./8, []uint16{0, 1, 2, 3, 4, 5, 6, 7}, []uint16{8, 9, 10, 11, 12, 13, 14, 65534})
	block(2, ground)
	ground = nil
	ground.plane(4321, 0, []uint16{0}, []uint16{0})
	block(3, ground)

	got := pack(t, a, func(member, _, plane, node int) float32 {
		row, column := node/9, node%9
		if member < 0 {
			switch {
			case column == 8:
				return 4321
			case node == 16:
				return -400 + 65534./8
			}
			return -400 + float32(8*row+column)/8
		}
		values := map[[3]int]float32{
			{0, 0, 0}: 2, {0, 0, 1}: 2 + wind*65534, {0, 1, 1}: 2 + wind, {0, 0, 8}: 2, {0, 1, 8}: 2,
			{1, 0, 0}: -3, {1, 0, 1}: -3, {1, 1, 0}: -3, {1, 1, 1}: -3,
			{2, 0, 0}: 5, {2, 0, 1}: 65539, {2, 0, 2}: 5, {2, 1, 0}: 12,
			{4, 0, 0}: 1, {4, 0, 1}: 1 + 1024*65534,
		}
		if v, ok := values[[3]int{plane, row, column}]; ok {
			return v
		}
		return nan
	})
	// The mark of a missing plane is any not-a-number, and which is not said:
	// this also holds the writer to the one above.
	require.Equal(t, []byte(want), got)
}
