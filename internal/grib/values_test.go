package grib_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

var nan = float32(math.NaN())

// scanAll returns the fields of a file and what was wrong with it.
func scanAll(parts ...[]byte) (fields []*grib.Field, faults []error) {
	for f, err := range grib.Scan(reader(parts...)) {
		if err != nil {
			faults = append(faults, err)
			continue
		}
		fields = append(fields, f)
	}
	return fields, faults
}

// only returns the one field of a file without faults.
func only(t *testing.T, parts ...[]byte) *grib.Field {
	t.Helper()
	fields, faults := scanAll(parts...)
	require.Empty(t, faults)
	require.Len(t, fields, 1)
	return fields[0]
}

func requireValues(t *testing.T, f *grib.Field, want ...float32) {
	t.Helper()
	got, err := f.Values(nil)
	require.NoError(t, err)
	requireSame(t, want, got)
}

// requireSame is equality where NaN equals NaN.
func requireSame(t *testing.T, want, got []float32) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, v := range got {
		if v != want[i] && (v == v || want[i] == want[i]) {
			require.Failf(t, "values differ", "Values = %v, want %v", got, want)
		}
	}
}

// TestSimple holds packing 5.0 against Y = (R + X·2^E)·10^-D, regulation 92.9.4,
// reckoned by hand. Grid threeByTwo(0) has its northern row first.
func TestSimple(t *testing.T) {
	for _, c := range []struct {
		name  string
		scale scale
		x     []uint64
		want  []float32
	}{
		{"integers", scale{bits: 8}, []uint64{1, 2, 3, 4, 5, 255}, []float32{4, 5, 255, 1, 2, 3}},
		{"D above 0", scale{r: 10, d: 1, bits: 3}, []uint64{0, 1, 2, 3, 4, 7}, []float32{1.3, 1.4, 1.7, 1, 1.1, 1.2}},
		{"D below 0", scale{r: 1, d: -2, bits: 12}, []uint64{0, 1, 2, 3, 4, 4095}, []float32{400, 500, 409600, 100, 200, 300}},
		{"E above 0", scale{r: -1, e: 3, bits: 1}, []uint64{0, 1, 0, 1, 0, 1}, []float32{7, -1, 7, -1, 7, -1}},
		{"E below 0", scale{r: -0.5, e: -2, bits: 5}, []uint64{0, 1, 2, 3, 4, 31}, []float32{0.25, 0.5, 7.25, -0.5, -0.25, 0}},
		{"32 bits", scale{e: -31, bits: 32}, []uint64{0, 1 << 31, 1 << 30, 1 << 29, 3 << 30, 1 << 28}, []float32{0.25, 1.5, 0.125, 0, 1, 0.5}},
		{"constant", scale{r: 2.5, bits: 0}, make([]uint64, 6), []float32{2.5, 2.5, 2.5, 2.5, 2.5, 2.5}},
		{"constant with D", scale{r: 25, d: 1, bits: 0}, make([]uint64, 6), []float32{2.5, 2.5, 2.5, 2.5, 2.5, 2.5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			requireValues(t, only(t, whole(simple(c.scale, noBitmap, c.x...))), c.want...)
		})
	}
}

// TestBitmap: values of the points with a set bit follow one another.
func TestBitmap(t *testing.T) {
	f := only(t, whole(simple(scale{bits: 4}, bitmapOf(0, 1, 1, 0, 0, 1), 7, 8, 9)))
	requireValues(t, f, nan, nan, 9, nan, 7, 8)
	f = only(t, whole(simple(scale{bits: 4}, bitmapOf(0, 0, 0, 0, 0, 0))))
	requireValues(t, f, nan, nan, nan, nan, nan, nan)
	f = only(t, whole(simple(scale{r: 3, bits: 0}, bitmapOf(1, 0, 0, 0, 0, 1), 0, 0)))
	requireValues(t, f, nan, nan, 3, 3, nan, nan)
}

// TestBitmapReused: indicator 254 is the last bitmap of the message, even with a
// field without bitmap between.
func TestBitmapReused(t *testing.T) {
	fields, faults := scanAll(sealed(0, section1(referenceTime), threeByTwo(0x40).section3(),
		wind500.section4(), simple(scale{bits: 4}, bitmapOf(0, 1, 1, 0, 0, 1), 7, 8, 9),
		wind500.section4(), simple(scale{bits: 4}, noBitmap, 1, 2, 3, 4, 5, 6),
		wind500.section4(), simple(scale{bits: 4}, sameBitmap, 3, 2, 1),
		wind500.section4(), simple(scale{bits: 4}, bitmapOf(1, 1, 0, 0, 0, 0), 4, 5),
		wind500.section4(), simple(scale{bits: 4}, sameBitmap, 6, 7)))
	require.Empty(t, faults)
	require.Len(t, fields, 5)
	requireValues(t, fields[0], nan, 7, 8, nan, nan, 9)
	requireValues(t, fields[1], 1, 2, 3, 4, 5, 6)
	requireValues(t, fields[2], nan, 3, 2, nan, nan, 1)
	requireValues(t, fields[3], 4, 5, nan, nan, nan, nan)
	requireValues(t, fields[4], 6, 7, nan, nan, nan, nan)
}

// TestMissingValues: all ones are the primary substitute, one less the secondary,
// in a group of width 0 in the reference; the chain of differences passes over
// both (template 7.3).
func TestMissingValues(t *testing.T) {
	x := []int64{primary, 40, primary, primary, primary, 43, 41, primary, 41, 47, 60, 60, 60, secondary, secondary, secondary, primary, secondary, 70}
	grid := lattice{ni: 19, nj: 1, la1: 50e6, la2: 50e6, lo2: 18e6}
	for _, missing := range []byte{1, 2} {
		var want []float32
		field := slices.Clone(x)
		for i, v := range field {
			if missing == 1 && v == secondary {
				field[i] = primary
			}
			want = append(want, float32(v)/2)
			if v >= secondary {
				want[i] = nan
			}
		}
		for order := range byte(3) {
			g := groups{scale: scale{e: -1, bits: 12}, missing: missing, order: order, lengths: []int{1, 1, 3, 5, 3, 3, 3}}
			f := only(t, sealed(0, section1(referenceTime), grid.section3(), wind500.section4(), complexly(g, field...)))
			requireValues(t, f, want...)
		}
	}
}

// TestComplexRoundTrip packs random integers in random groups.
func TestComplexRoundTrip(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 1))
		missing, order := byte(r.IntN(3)), byte(r.IntN(3))
		plain := order == 0 && seed%2 == 0
		g := groups{scale: scale{r: float32(r.IntN(100)), e: r.IntN(9) - 4, d: r.IntN(5) - 2, bits: 31}, missing: missing, order: order, plain: plain}
		var x []int64
		var want []float32
		level, spread := int64(1<<16), int64(1)<<r.IntN(16)
		for range 1 + r.IntN(40) {
			length := 1 + 2*r.IntN(40)
			if r.IntN(40) == 0 {
				length += 2 * r.IntN(1<<6-20)
			}
			g.lengths = append(g.lengths, length)
			void := missing > 0 && r.IntN(6) == 0
			for range length {
				level += r.Int64N(2*spread+1) - spread
				level = max(0, min(level, 1<<17))
				v, y := level, float32((float64(g.scale.r)+math.Ldexp(float64(level), g.scale.e))*math.Pow10(-g.scale.d))
				if void || missing > 0 && r.IntN(20) == 0 {
					v, y = primary-r.Int64N(int64(missing)), nan
				}
				x, want = append(x, v), append(want, y)
			}
		}
		grid := lattice{ni: uint32(len(x)), nj: 1, la1: 50e6, la2: 50e6, lo2: 18e6}
		f := only(t, sealed(0, section1(referenceTime), grid.section3(), wind500.section4(), complexly(g, x...)))
		got, err := f.Values(nil)
		require.NoError(t, err, "seed %d", seed)
		requireSame(t, want, got)
	}
}

// TestConstantComplex: no groups and an empty section 7 is how NCEP writes a
// constant field in packing 5.3.
func TestConstantComplex(t *testing.T) {
	for order := range byte(3) {
		g := complexly(groups{scale: scale{r: 28, d: 1}, order: order}, make([]int64, 6)...)
		f := only(t, whole(g))
		requireValues(t, f, 2.8, 2.8, 2.8, 2.8, 2.8, 2.8)
	}
	empty := section(7)
	f := only(t, whole(slices.Concat(complexly(groups{scale: scale{r: 28, d: 1}}, make([]int64, 6)...)[:49+6], empty)))
	requireValues(t, f, 2.8, 2.8, 2.8, 2.8, 2.8, 2.8)
}

// TestScanningModes sends the same six values in the sixteen orders of flag table
// 3.4, each written down by walking the grid as the flags say.
func TestScanningModes(t *testing.T) {
	want := []float32{1, 2, 3, 4, 5, 6} // 50°N: 1 2 3, 51°N: 4 5 6
	for _, c := range []struct {
		mode   byte
		stream []uint64
	}{
		{0x00, []uint64{4, 5, 6, 1, 2, 3}},
		{0x10, []uint64{4, 5, 6, 3, 2, 1}},
		{0x20, []uint64{4, 1, 5, 2, 6, 3}},
		{0x30, []uint64{4, 1, 2, 5, 6, 3}},
		{0x40, []uint64{1, 2, 3, 4, 5, 6}},
		{0x50, []uint64{1, 2, 3, 6, 5, 4}},
		{0x60, []uint64{1, 4, 2, 5, 3, 6}},
		{0x70, []uint64{1, 4, 5, 2, 3, 6}},
		{0x80, []uint64{6, 5, 4, 3, 2, 1}},
		{0x90, []uint64{6, 5, 4, 1, 2, 3}},
		{0xa0, []uint64{6, 3, 5, 2, 4, 1}},
		{0xb0, []uint64{6, 3, 2, 5, 4, 1}},
		{0xc0, []uint64{3, 2, 1, 6, 5, 4}},
		{0xd0, []uint64{3, 2, 1, 4, 5, 6}},
		{0xe0, []uint64{3, 6, 2, 5, 1, 4}},
		{0xf0, []uint64{3, 6, 5, 2, 1, 4}},
	} {
		f := only(t, sealed(0, section1(referenceTime), threeByTwo(c.mode).section3(), wind500.section4(),
			simple(scale{bits: 3}, noBitmap, c.stream...)))
		got, err := f.Values(nil)
		require.NoError(t, err)
		assert.Equal(t, want, got, "scanning mode %#02x", c.mode)
		assert.Equal(t, grib.Grid{NX: 3, NY: 2, Lat0: 50, Lon0: 10, DLat: 1, DLon: 2}, f.Grid, "scanning mode %#02x", c.mode)
	}
	// A bitmap is in the order of the message too.
	f := only(t, sealed(0, section1(referenceTime), threeByTwo(0x20).section3(), wind500.section4(),
		simple(scale{bits: 3}, bitmapOf(1, 0, 1, 1, 0, 0), 4, 5, 2)))
	requireValues(t, f, nan, 2, nan, 4, 5, nan)
}

// TestDestination: memory of the caller is used if it suffices.
func TestDestination(t *testing.T) {
	f := only(t, plain())
	dst := make([]float32, 2, 10)
	got, err := f.Values(dst)
	require.NoError(t, err)
	assert.Equal(t, []float32{4, 5, 6, 1, 2, 3}, got)
	assert.Same(t, &dst[0], &got[0])
	short := []float32{9, 9}
	got, err = f.Values(short)
	require.NoError(t, err)
	assert.Equal(t, []float32{4, 5, 6, 1, 2, 3}, got)
	assert.Equal(t, []float32{9, 9}, short)
}

// TestConcurrentValues unpacks fields of one file at once.
func TestConcurrentValues(t *testing.T) {
	fields, faults := scanAll(plain(), whole(complexly(groups{scale: scale{bits: 8}, order: 2, lengths: []int{3, 3}}, 9, 8, 7, 6, 5, 9)))
	require.Empty(t, faults)
	require.Len(t, fields, 2)
	want := [][]float32{{4, 5, 6, 1, 2, 3}, {6, 5, 9, 9, 8, 7}}
	var wait sync.WaitGroup
	for k := range 8 {
		wait.Go(func() {
			var values []float32
			for range 200 {
				var err error
				values, err = fields[k%2].Values(values)
				if !assert.NoError(t, err) || !assert.Equal(t, want[k%2], values) {
					return
				}
			}
		})
	}
	wait.Wait()
}
