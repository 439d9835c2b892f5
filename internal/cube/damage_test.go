package cube_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
)

// openAndVerify opens a cube and checks every block.
func openAndVerify(data []byte) (opened bool, err error) {
	c, err := cube.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return false, err
	}
	return true, c.Verify()
}

// parts says where the parts of a cube of small axes lie.
func parts(t *testing.T, data []byte) (header, block, blocks, ground int) {
	t.Helper()
	header = int(binary.LittleEndian.Uint32(data[12:]))
	block, ground, blocks = 136*10+4, 136+4, 2*2*4
	require.Len(t, data, header+blocks*block+4*ground)
	return header, block, blocks, ground
}

// TestCutShort: each beginning of a cube is refused, and so is what follows it.
func TestCutShort(t *testing.T) {
	data := pack(t, small(), wavy)
	for n := range data {
		opened, err := openAndVerify(data[:n])
		if opened || err == nil || !strings.HasPrefix(err.Error(), "cube cut short: ") {
			t.Fatalf("the first %d of %d octets: opened %t, error %v", n, len(data), opened, err)
		}
	}
	_, err := openAndVerify(data[:1234])
	require.EqualError(t, err, "cube cut short: 1234 octets: want 22541")
	_, err = openAndVerify(append(slices.Clone(data), 0))
	require.EqualError(t, err, "cube too long: 22542 octets: want 22541")
}

// TestCutShortLater: a cube that shrinks after it was opened.
func TestCutShortLater(t *testing.T) {
	a := small()
	data := pack(t, a, wavy)
	c, err := cube.Open(bytes.NewReader(data[:len(data)-1]), int64(len(data)))
	require.NoError(t, err)
	require.NoError(t, c.Read(1, 1, room(a, whole(a.Grid))))
	for _, err := range []error{c.Verify(), c.Terrain(whole(a.Grid), make([]float32, 99))} {
		require.ErrorIs(t, err, io.ErrUnexpectedEOF)
		require.EqualError(t, err, "cube: terrain, rows 8 to 8, columns 8 to 10, octets 22402 to 22541: "+
			"139 octets from 22402: want 140: unexpected EOF")
	}
	_, err = cube.Open(bytes.NewReader(data[:90]), int64(len(data)))
	require.EqualError(t, err, "cube header: 90 octets from 1: want 157: unexpected EOF")
	_, err = cube.Open(bytes.NewReader(data[:10]), int64(len(data)))
	require.EqualError(t, err, "cube header: 10 octets from 1: want 80: unexpected EOF")
}

// TestFlips: each octet, changed in one bit, in its highest or in all, is found
// out: the header's when the cube is opened, a block's when it is read, and by
// the block's name.
func TestFlips(t *testing.T) {
	a := small()
	data := pack(t, a, wavy)
	header, block, blocks, ground := parts(t, data)
	part := room(a, whole(a.Grid))
	for i := range data {
		for _, flip := range []byte{0x01, 0x80, 0xff} {
			data[i] ^= flip
			opened, err := openAndVerify(data)
			switch {
			case err == nil:
				t.Fatalf("octet %d changed by %#x is not noticed", i+1, flip)
			case i < header:
				require.False(t, opened, "octet %d of the header changed by %#x", i+1, flip)
				if i >= 80 {
					require.ErrorContains(t, err, "cube header, octets 1 to 157: checksum ")
				}
			default:
				require.True(t, opened)
				require.ErrorContains(t, err, "checksum")
				first := header + (i-header)/block*block
				if n := i - header - blocks*block; n >= 0 {
					first = header + blocks*block + n/ground*ground
					require.ErrorContains(t, err, "cube: terrain, ")
				}
				require.ErrorContains(t, err, ", octets "+strconv.Itoa(first+1)+" to ", "octet %d", i+1)
			}
			data[i] ^= flip
		}
	}
	// Read, too, finds it; and reads what does not touch the block.
	c := open(t, data)
	data[header+block*13+50] ^= 4 // member 1, step 1, south-east tile
	require.EqualError(t, c.Verify(), c.Read(1, 1, part).Error())
	require.ErrorContains(t, c.Verify(), "cube: member perturbed 1, step 3h0m0s, rows 0 to 7, columns 8 to 10, octets ")
	require.NoError(t, c.Read(1, 0, part))
	require.NoError(t, c.Read(1, 1, room(a, cube.Window{Rows: 9, Cols: 8})))
	require.Error(t, c.Read(1, 1, room(a, cube.Window{Row: 7, Rows: 2, Cols: 9})))
}

// TestSwaps: blocks in each other's place are found out, even though each is
// whole; and so are blocks of another cube of the same size.
func TestSwaps(t *testing.T) {
	a := small()
	data := pack(t, a, func(int, int, int, int) float32 { return 1 }) // so that only numbers differ
	header, block, blocks, ground := parts(t, data)
	swap := func(base, size, i, j int) {
		x, y := data[base+i*size:][:size], data[base+j*size:][:size]
		held := slices.Clone(x)
		copy(x, y)
		copy(y, held)
		_, err := openAndVerify(data)
		require.ErrorContains(t, err, "checksum", "blocks %d and %d", i, j)
		copy(y, x)
		copy(x, held)
	}
	for i := range blocks {
		for j := range i {
			swap(header, block, i, j)
		}
	}
	for i := range 4 {
		for j := range i {
			swap(header+blocks*block, ground, i, j)
		}
	}
	_, err := openAndVerify(data)
	require.NoError(t, err)

	a.Cycle = a.Cycle.AddDate(0, 0, -1)
	other := pack(t, a, func(int, int, int, int) float32 { return 1 })
	copy(other[header+3*block:][:block], data[header+3*block:])
	_, err = openAndVerify(other)
	require.ErrorContains(t, err, "rows 8 to 8, columns 8 to 10, octets ")
	require.ErrorContains(t, err, "checksum")
}

// seal puts the right checksum on a header of data that begins with one of the
// given length.
func seal(data []byte, header int) {
	binary.LittleEndian.PutUint32(data[header-4:], crc32c(data[:header-4]))
}

// TestHeaders: headers that are whole but wrong are refused by name.
func TestHeaders(t *testing.T) {
	data := pack(t, small(), wavy)
	header, _, _, _ := parts(t, data)
	nan := math.Float64bits(math.NaN())
	for _, c := range []struct {
		name  string
		at    int // octets before
		value any // little-endian
		want  string
	}{
		{"magic", 6, uint8('\n'), `cube begins with "tdcube\n\n": want "tdcube\r\n"`},
		{"version", 8, uint16(2), "cube version 2: this program reads version 1"},
		{"length", 12, uint32(158), "cube header of 158 octets: want 157 by its lists"},
		{"huge length", 12, uint32(math.MaxUint32), "cube header of 4294967295 octets: want 157 by its lists"},
		{"cycle", 16, uint64(math.MaxInt64), "want whole seconds in the years 1 to 9999"},
		{"columns", 24, uint32(math.MaxUint32), "cube: grid of 4294967295 columns and 9 rows: want at most 1048576 nodes"},
		{"rows", 28, uint32(1 << 30), "cube: grid of 11 columns and 1073741824 rows: want at most 1048576 nodes"},
		{"nodes", 24, uint32(1 << 20), "want at most"},
		{"latitude", 32, nan, "cube: grid rows from latitude NaN"},
		{"longitude", 40, nan, "cube: grid's west edge NaN"},
		{"spacing", 48, nan, "cube: grid spacing in latitude NaN"},
		{"spacing", 56, nan, "cube: grid spacing in longitude NaN"},
		{"members", 64, uint16(129), "cube with 129 members: want at most 128"},
		{"steps", 66, uint16(1001), "cube with 1001 steps: want at most 1000"},
		{"levels", 68, uint16(201), "cube with 201 levels: want at most 200"},
		{"surface", 70, uint8(33), "cube with 33 surface quantities: want at most 32"},
		{"terrain", 71, uint8(2), "cube header, octet 72: 2: want 0"},
		{"source", 72, uint32(1<<16 + 1), "cube with 65537 octets of source: want at most 65536"},
		{"note", 76, uint32(math.MaxUint32), "cube with 4294967295 octets of note: want at most 65536"},
		{"one level less", 68, uint16(1), "cube header of 157 octets: want 149 by its lists"},
		{"level", 80, math.Float64bits(200001), "cube: level 200001 Pa: want over 0 to 200000, each less than the one before"},
		{"level", 88, math.Float64bits(100000), "cube: level 100000 Pa"},
		{"step", 100, uint32(0), "cube: step 0s: want whole seconds"},
		{"kind", 104, uint8(4), "cube: member of kind 4: want less than 4"},
		{"kind", 104, uint8(0), "cube: 2 members, one of them a single run: want it alone"},
		{"reserved", 105, uint8(1), "cube header, octet 106: 1: want 0"},
		{"member", 104, uint32(0x00010002), "cube: member perturbed 1 twice: want each once"},
		{"surface", 113, uint8(2), "cube: surface quantity 2 after 2: want each more than the one before"},
		{"text", 114, uint8(0xff), `want UTF-8`},
	} {
		bad := slices.Clone(data)
		_, err := binary.Encode(bad[c.at:], binary.LittleEndian, c.value)
		require.NoError(t, err)
		seal(bad, header)
		_, err = openAndVerify(bad)
		assert.ErrorContains(t, err, c.want, "%s", c.name)
	}
}

// TestAbsurdHeaders: the largest lists that a header may announce are not
// allocated before the octets are there, and a size that does not fit is told
// without them.
func TestAbsurdHeaders(t *testing.T) {
	data := pack(t, small(), wavy)
	le := binary.LittleEndian
	le.PutUint16(data[64:], cube.MaxMembers)
	le.PutUint16(data[66:], cube.MaxSteps)
	le.PutUint16(data[68:], cube.MaxLevels)
	data[70] = cube.MaxSurface
	le.PutUint32(data[72:], cube.MaxText)
	le.PutUint32(data[76:], cube.MaxText)
	le.PutUint32(data[12:], 80+4*128+4*1000+8*200+32+2*65536+4)
	data = data[:200]
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := openAndVerify(data)
	runtime.ReadMemStats(&after)
	require.EqualError(t, err, "cube cut short: 200 octets: want a header of 137300")
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(64<<10), "octets allocated")
}

// TestPackingsRefused: a block that is whole, but packed as no writer packs.
func TestPackingsRefused(t *testing.T) {
	a := small()
	inf, nan := float32(math.Inf(1)), float32(math.NaN())
	for _, c := range []struct {
		name          string
		plane         int
		offset, scale float32
		want          string
	}{
		{"offset", 9, nan, 1, "surface quantity with offset NaN, scale 1: want values within ±1e+30"},
		{"offset", 9, -inf, 1, "surface quantity with offset -Inf, scale 1: want values within ±1e+30"},
		{"scale", 9, 0, inf, "surface quantity with offset 0, scale +Inf: want values within ±1e+30"},
		{"scale", 9, 0, -1, "surface quantity with offset 0, scale -1: want values within ±1e+30"},
		{"range", 9, 0, 1e27, "surface quantity with offset 0, scale 1e+27: want values within ±1e+30"},
		{"wind", 0, 0, 0.1, "wind toward east from 0 over 6553.4: error of packing 0.05078: want at most 0.05"},
		{"wind", 2, 1e7, 0.01, "wind toward north from 1e+07 over 655.34: error of packing 0.6011: want at most 0.05"},
		{"height", 5, -500, 2, "height from -500 over 131068: error of packing 1.016: want at most 1"},
		{"temperature", 6, 200, 0.1, "temperature from 200 over 6553.4: error of packing 0.05079: want at most 0.05"},
	} {
		data := pack(t, a, wavy)
		header, block, _, _ := parts(t, data)
		at := data[header+5*block:][:block]
		binary.LittleEndian.PutUint32(at[136*c.plane:], math.Float32bits(c.offset))
		binary.LittleEndian.PutUint32(at[136*c.plane+4:], math.Float32bits(c.scale))
		number := []byte{5, 0, 0, 0, 0, 0, 0, 0}
		binary.LittleEndian.PutUint32(at[block-4:], crc32c(data[:header-4], number, at[:block-4]))
		_, err := openAndVerify(data)
		assert.ErrorContains(t, err, c.want, c.name)
		assert.ErrorContains(t, err, "member control 0, step 3h0m0s, rows 0 to 7, columns 8 to 10", c.name)
		read := open(t, data).Read(0, 1, room(a, whole(a.Grid)))
		assert.Equal(t, err, read, c.name)
	}
}
