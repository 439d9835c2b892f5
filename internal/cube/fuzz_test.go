package cube_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
)

// FuzzCube holds what comes of any octets against what the package promises:
// as they are, and with checksums put right so that what lies behind them is
// reached.
func FuzzCube(f *testing.F) {
	a := small()
	f.Add(pack(f, a, wavy), uint16(0))
	f.Add(pack(f, a, func(int, int, int, int) float32 { return float32(math.NaN()) }), uint16(3))
	a.Surface, a.Terrain, a.Source, a.Note = nil, false, "", ""
	a.Members = []cube.Member{{Kind: cube.Single, Number: 9}}
	a.Grid.NX, a.Grid.DLon = 12, 30
	f.Add(pack(f, a, wavy), uint16(0xb12))
	f.Add([]byte("tdcube\r\n\x01\x00"), uint16(0))
	f.Add([]byte{}, uint16(1))
	f.Fuzz(func(t *testing.T, data []byte, corner uint16) {
		if len(data) > 1<<16 {
			return
		}
		fuzzOpen(t, data, corner)
		fuzzOpen(t, sealed(data), corner)
	})
}

// sealed is data with the right checksums and, where a cube of its header is
// small, the right length.
func sealed(data []byte) []byte {
	data = slices.Clone(data)
	if len(data) < 84 {
		return data
	}
	le := binary.LittleEndian
	header := int(le.Uint32(data[12:]))
	if header < 84 || header > len(data) {
		return data
	}
	seal(data, header)
	nx, ny := uint64(le.Uint32(data[24:])), uint64(le.Uint32(data[28:]))
	tiles := (nx + 7) / 8 * ((ny + 7) / 8)
	blocks := tiles * uint64(le.Uint16(data[64:])) * uint64(le.Uint16(data[66:]))
	planes := 4*uint64(le.Uint16(data[68:])) + uint64(data[70])
	if nx > 1000 || ny > 1000 || blocks*(136*planes+4) > 1<<17 {
		return data
	}
	size := header + int(blocks*(136*planes+4)+uint64(data[71]&1)*tiles*140)
	data = append(data, make([]byte, max(size-len(data), 0))...)[:size]
	for n, at := uint64(0), header; at < size; n++ {
		length := int(136*planes + 4)
		if n >= blocks {
			length = 140
		}
		block := data[at : at+length]
		le.PutUint32(block[length-4:], crc32c(data[:header-4], le.AppendUint64(nil, n), block[:length-4]))
		at += length
	}
	return data
}

// fuzzOpen opens octets, reads the window from a corner on, and judges.
func fuzzOpen(t *testing.T, data []byte, corner uint16) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	c, err := cube.Open(bytes.NewReader(data), int64(len(data)))
	runtime.ReadMemStats(&after)
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20), "octets allocated by Open")
	if err != nil {
		require.Nil(t, c)
		requireLines(t, err)
		return
	}
	a := c.Axes()
	require.NoError(t, a.Check())
	require.Equal(t, a.Size(), int64(len(data)))
	bad := c.Verify()
	if bad != nil {
		requireLines(t, bad)
	}
	window := cube.Window{Row: int(corner>>8) % a.Grid.NY, Col: int(corner) % a.Grid.NX}
	window.Rows, window.Cols = min(a.Grid.NY-window.Row, 20), min(a.Grid.NX-window.Col, 20)
	part := room(a, window)
	first := error(nil)
	for m := range min(len(a.Members), 3) {
		for s := range min(len(a.Steps), 3) {
			if err := c.Read(m, s, part); err != nil {
				requireLines(t, err)
				first = err
				continue
			}
			for p, plane := range part.Planes {
				for i, v := range plane {
					require.False(t, math.Abs(float64(v)) > 1e31, "plane %d, value %d: %g", p, i, v)
				}
			}
		}
	}
	if bad == nil {
		require.NoError(t, first, "of a cube that passes Verify")
		requireAgain(t, c, data)
	}
}

// requireLines wants errors that begin with the package's name, and only lists
// of faults in more than one line.
func requireLines(t *testing.T, err error) {
	t.Helper()
	require.True(t, strings.HasPrefix(err.Error(), "cube"), "%v", err)
	require.LessOrEqual(t, strings.Count(err.Error(), "\n"), 8, "%v", err)
}

// requireAgain: a sound cube, read and written again, has the same axes, and
// its values, read again, are the same to the stated error.
func requireAgain(t *testing.T, c *cube.Cube, data []byte) {
	a := c.Axes()
	nodes := a.Grid.NX * a.Grid.NY
	parts := make([]*cube.Part, len(a.Members)*len(a.Steps))
	for i := range parts {
		parts[i] = room(a, whole(a.Grid))
		require.NoError(t, c.Read(i/len(a.Steps), i%len(a.Steps), parts[i]))
	}
	ground := make([]float32, nodes)
	if a.Terrain {
		require.NoError(t, c.Terrain(whole(a.Grid), ground))
	}
	of := func(member, step, plane, node int) float32 {
		if member < 0 {
			return ground[node]
		}
		return parts[member*len(a.Steps)+step].Planes[plane][node]
	}
	for _, part := range parts {
		for _, plane := range part.Planes {
			for _, v := range plane {
				if math.Abs(float64(v)) > 1e30 {
					return // a reader takes a little more than a writer
				}
			}
		}
	}
	again := pack(t, a, of)
	require.Len(t, again, len(data))
	header := binary.LittleEndian.Uint32(data[12:])
	require.Equal(t, data[:header], again[:header])
	d := open(t, again)
	part := room(a, whole(a.Grid))
	for i := range parts {
		require.NoError(t, d.Read(i/len(a.Steps), i%len(a.Steps), part))
		for p, plane := range part.Planes {
			requireNear(t, a.Grid, whole(a.Grid), plane, func(node int) float32 { return parts[i].Planes[p][node] })
		}
	}
}
