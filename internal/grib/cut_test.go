package grib_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// slice cuts a window out of the values of a whole field, point by point.
func slice(g grib.Grid, values []float32, w grib.Window) []float32 {
	var cut []float32
	for j := range w.Rows {
		for i := range w.Cols {
			cut = append(cut, values[(w.Row+j)*g.NX+(w.Col+i)%g.NX])
		}
	}
	return cut
}

// requireWindow wants a window to be the slice of Values, whatever the Unpacker
// unpacked before. The memory is full of junk.
func requireWindow(t *testing.T, u *grib.Unpacker, f *grib.Field, whole []float32, w grib.Window) {
	t.Helper()
	junk := slices.Repeat([]float32{-7e9}, w.Rows*w.Cols)
	got, err := u.Window(f, w, junk)
	require.NoError(t, err, "%+v of packing 5.%d", w, f.Packing)
	require.Same(t, &junk[0], &got[0])
	requireSame(t, slice(f.Grid, whole, w), got)
}

// randomWindow draws a window of the grid; over the seam only where there is one.
func randomWindow(r *rand.Rand, g grib.Grid, around bool) grib.Window {
	w := grib.Window{Rows: 1 + r.IntN(g.NY), Cols: 1 + r.IntN(g.NX)}
	w.Row = r.IntN(g.NY - w.Rows + 1)
	if w.Col = r.IntN(g.NX); !around {
		w.Col = r.IntN(g.NX - w.Cols + 1)
	}
	return w
}

// globe is ni × nj points round the Earth, in any scanning mode.
func globe(ni, nj uint32, mode byte) lattice {
	l := lattice{ni: ni, nj: nj, la1: 60e6, la2: -60e6, lo1: 0, lo2: 360e6 - 360e6/int(ni), mode: mode}
	if mode&0x80 != 0 {
		l.lo1, l.lo2 = l.lo2, l.lo1
	}
	if mode&0x40 != 0 {
		l.la1, l.la2 = l.la2, l.la1
	}
	return l
}

// packAny is sections 5 to 7 of n random values in packing 5.0, 5.2 or 5.3, with
// a bitmap or substitutes for missing values or neither.
func packAny(r *rand.Rand, n int) []byte {
	bitmap := noBitmap
	stored := n
	if r.IntN(3) == 0 {
		present := make([]uint64, n)
		stored = 0
		for i := range present {
			present[i] = r.Uint64() & 1
			stored += int(present[i])
		}
		bitmap = bitmapOf(present...)
	}
	s := scale{r: 2, e: 1, bits: byte(1 + r.IntN(32))}
	if r.IntN(3) == 0 {
		x := make([]uint64, stored)
		for i := range x {
			x[i] = r.Uint64N(1 << s.bits)
		}
		return simple(s, bitmap, x...)
	}
	g := groups{scale: scale{bits: 24}, missing: byte(r.IntN(3)), order: byte(r.IntN(3))}
	g.plain = g.order == 0
	x := make([]int64, stored)
	for i := range x {
		if x[i] = 5000 + r.Int64N(1<<(1+i%16)); g.missing > 0 && r.IntN(5) == 0 {
			x[i] = primary - r.Int64N(int64(g.missing))
		}
	}
	for left := stored; left > 0; {
		length := min(left, 1+2*r.IntN(9))
		if left > length && r.IntN(5) == 0 {
			for i := range length {
				x[stored-left+i] = 77
			}
		}
		g.lengths = append(g.lengths, length)
		left -= length
	}
	return withBitmap(complexly(g, x...), bitmap)
}

// withBitmap puts another section 6 between the sections 5 and 7.
func withBitmap(five67, bitmap []byte) []byte {
	five := binary.BigEndian.Uint32(five67)
	return slices.Concat(five67[:five], bitmap, five67[five+6:])
}

// TestWindow cuts random windows out of random fields in every scanning mode,
// with one Unpacker for all.
func TestWindow(t *testing.T) {
	var u grib.Unpacker
	for seed := range uint64(640) {
		r := rand.New(rand.NewPCG(seed, 7))
		mode := byte(seed%16) << 4
		l := globe(uint32(2+r.IntN(40)), uint32(2+r.IntN(40)), mode)
		f := only(t, sealed(0, section1(referenceTime), l.section3(), wind500.section4(), packAny(r, int(l.ni*l.nj))))
		whole, err := f.Values(nil)
		require.NoError(t, err, "seed %d", seed)
		for range 8 {
			requireWindow(t, &u, f, whole, randomWindow(r, f.Grid, true))
		}
		again, err := u.Values(f, nil)
		require.NoError(t, err)
		requireSame(t, whole, again)
	}
}

// TestWindowOfRealFields cuts the 1° forecast at 3 h, the 10 m wind in packings
// 5.0 and 5.2, the files of testdata in all packings, and what TestForeignFiles
// reads, at the seam and elsewhere.
func TestWindowOfRealFields(t *testing.T) {
	paths := []string{}
	for _, name := range []string{"gfs.t18z.pgrb2.1p00.f003", "template5_0.grib2", "template5_2.grib2"} {
		paths = append(paths, filepath.Join(gridModule(t), name))
	}
	if dir := os.Getenv("THISTLEDOWN_REFERENCE"); dir != "" {
		more, err := filepath.Glob(filepath.Join(dir, "grib", "*.grib2"))
		require.NoError(t, err)
		paths = append(paths, more...)
	}
	var u, v grib.Unpacker
	var whole []float32
	r := rand.New(rand.NewPCG(1, 2))
	files := smallFiles(t)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		files = append(files, data)
	}
	for _, data := range files {
		for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			if err != nil || f.Supported() != nil {
				continue // TestForeignFiles and TestAgainstEcCodes say which
			}
			whole, err = v.Values(f, whole)
			require.NoError(t, err)
			around := f.Grid.DLon == 360/float64(f.Grid.NX)
			requireWindow(t, &u, f, whole, randomWindow(r, f.Grid, around))
			small := grib.Window{Rows: min(15, f.Grid.NY), Cols: min(15, f.Grid.NX)}
			small.Row = r.IntN(f.Grid.NY - small.Rows + 1)
			requireWindow(t, &u, f, whole, small)
			if around {
				small.Col = f.Grid.NX - 7
				requireWindow(t, &u, f, whole, small)
			}
		}
	}
}

// TestWindowOutside: a window must lie in the grid, and goes over the seam only of
// a grid that closes.
func TestWindowOutside(t *testing.T) {
	var u grib.Unpacker
	part := only(t, plain()) // 3 × 2 points
	ring := only(t, sealed(0, section1(referenceTime), globe(3, 2, 0).section3(), wind500.section4(), simple(scale{bits: 8}, noBitmap, 1, 2, 3, 4, 5, 6)))
	for want, w := range map[string]grib.Window{
		"window of 0 rows and 1 columns: want at least one of each":      {Cols: 1},
		"window of 1 rows and -1 columns: want at least one of each":     {Rows: 1, Cols: -1},
		"window of 3 rows from row 0 on: want it within 2 rows":          {Rows: 3, Cols: 1},
		"window of 1 rows from row 2 on: want it within 2 rows":          {Row: 2, Rows: 1, Cols: 1},
		"window of 1 rows from row -1 on: want it within 2 rows":         {Row: -1, Rows: 1, Cols: 1},
		"window of 4 columns from column 0 on: want it within 3 columns": {Rows: 1, Cols: 4},
		"window of 1 columns from column 3 on: want it within 3 columns": {Rows: 1, Col: 3, Cols: 1},
		"window of 9223372036854775807 columns from column 1 on":         {Rows: 1, Col: 1, Cols: 1<<63 - 1},
	} {
		for _, f := range []*grib.Field{part, ring} {
			_, err := u.Window(f, w, nil)
			assert.ErrorContains(t, err, want)
		}
	}
	_, err := u.Window(part, grib.Window{Rows: 1, Col: 2, Cols: 2}, nil)
	assert.ErrorContains(t, err, "field 1 (UGRD at 50000 Pa, 6h0m0s): window of 2 columns from column 2 on: want it within 3 columns")
	got, err := u.Window(ring, grib.Window{Row: 1, Rows: 1, Col: 2, Cols: 2}, nil)
	require.NoError(t, err)
	assert.Equal(t, []float32{3, 1}, got)
}

// counting counts the octets that are read.
type counting struct {
	io.ReaderAt
	octets int
}

func (r *counting) ReadAt(b []byte, at int64) (int, error) {
	n, err := r.ReaderAt.ReadAt(b, at)
	r.octets += n
	return n, err
}

// TestWindowReads: of the packed values no more are read than lead up to the window,
// and without differencing no more than those of its rows.
func TestWindowReads(t *testing.T) {
	l := globe(64, 64, 0x40)
	x := make([]uint64, 64*64)
	y := make([]int64, len(x))
	lengths := slices.Repeat([]int{63, 1}, 64)
	for i := range x {
		x[i], y[i] = uint64(i%251), int64(i%251)
	}
	for _, c := range []struct {
		name   string
		packed []byte
		most   int // octets of section 7 for two rows in the middle
	}{
		{"simple", simple(scale{bits: 8}, noBitmap, x...), 2 * 64},
		{"complex", complexly(groups{scale: scale{bits: 8}, lengths: lengths, plain: true}, y...), 128 + 96 + 112 + 2*64 + 2},
		{"order 1", complexly(groups{scale: scale{bits: 12}, order: 1, lengths: lengths}, y...), 6 + 192 + 96 + 112 + 34*64*9/8 + 2},
	} {
		whole := sealed(0, section1(referenceTime), l.section3(), wind500.section4(), c.packed)
		r := &counting{ReaderAt: bytes.NewReader(whole)}
		for f, err := range grib.Scan(r, int64(len(whole))) {
			require.NoError(t, err)
			var u grib.Unpacker
			r.octets = 0
			_, err = u.Window(f, grib.Window{Row: 32, Rows: 2, Cols: 64}, nil)
			require.NoError(t, err)
			assert.LessOrEqual(t, r.octets, c.most, c.name)
			assert.Positive(t, r.octets)
		}
	}
}

// TestUnpackerAllocates: nothing, once it is warm.
func TestUnpackerAllocates(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(gridModule(t), "gfs.t18z.pgrb2.1p00.f003"))
	require.NoError(t, err)
	fields, faults := scanAll(data)
	require.Empty(t, faults)
	var u grib.Unpacker
	var values, part []float32
	unpack := func() {
		for _, f := range fields {
			values, err = u.Values(f, values)
			require.NoError(t, err)
			part, err = u.Window(f, grib.Window{Row: 40, Rows: 9, Col: 350, Cols: 20}, part)
			require.NoError(t, err)
		}
	}
	unpack()
	assert.Zero(t, testing.AllocsPerRun(1, unpack))
}
