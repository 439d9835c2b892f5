package grib_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"runtime/metrics"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// FuzzScan holds what comes out of any octets against what Scan and Values
// promise.
func FuzzScan(f *testing.F) {
	twoRows := lattice{ni: 3, nj: 2, la1: 59444000, la2: 19876000, lo2: 180e6, di: 90e6, flags: 0x20}
	for _, g := range [][]byte{cone211(3, 2).section3(), rotated(threeByTwo(0x40), -30e6, 10e6, 5), gaussian(2, twoRows)} {
		m := product{template: 11, category: 2, number: 3, unit: 1, surface: 100, value: 2, scale: -2, end: referenceTime, ranges: 1, kind: 3, member: 7, of: 20}
		f.Add(sealed(0, section1(referenceTime), g, m.section4(), simple(scale{bits: 3}, noBitmap, 1, 2, 3, 4, 5, 6)))
	}
	head := [][]byte{section1(referenceTime), threeByTwo(0).section3(), wind500.section4()}
	message := func(more ...[]byte) []byte { return sealed(0, append(head[:len(head):len(head)], more...)...) }
	rain := product{template: 8, category: 1, number: 8, unit: 1, surface: 1, end: referenceTime.Add(time.Hour), ranges: 1}
	f.Add([]byte{})
	f.Add([]byte("<html>GRIB</html>"))
	f.Add(edition1())
	f.Add(plain())
	f.Add(message(simple(scale{r: -3, e: -2, d: 1, bits: 5}, bitmapOf(0, 1, 1, 0, 0, 1), 7, 8, 9), rain.section4(), simple(scale{bits: 4}, sameBitmap, 1, 2, 3)))
	for order := range byte(3) {
		f.Add(message(complexly(groups{scale: scale{bits: 12}, order: order, missing: order, lengths: []int{1, 3, 2}}, 90, 80, 70, 65, 66, 60)))
	}
	f.Add(message(coding{scale: scale{bits: 6}, flags: preprocess, block: 8, interval: 2}.sections(mostly(1), 9, 8, 7, 6, 5, 60)))
	f.Add(message(imaged(6, scale{bits: 8}, picture{width: 3, height: 2, depth: 8}.encode(8, 1, 2, 3, 4, 5, 6))))
	f.Add(message(floats(2, 6, []float64{1, 2, 3, 4, 5, 6})))
	for _, mode := range []byte{0x30, 0x90, 0xe0} {
		f.Add(append([]byte("\r\r\nHTXE88 KWBC 220000\r\r\n"), sealed(0, section1(referenceTime), threeByTwo(mode).section3(), rain.section4(), simple(scale{bits: 3}, noBitmap, 1, 2, 3, 4, 5, 6))...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		events, offset := 0, int64(-1)
		bounded(t, len(data), func() (values int) {
			for field, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
				if err == nil && field.Supported() == nil {
					require.NotEmpty(t, field.String())
				}
			}
			return 0
		})
		for field, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			events++
			if err != nil {
				require.Nil(t, field)
				require.NotContains(t, err.Error(), "\n")
				require.True(t, strings.HasPrefix(err.Error(), "grib: "), "%v", err)
				continue
			}
			require.GreaterOrEqual(t, field.Offset, offset)
			offset = field.Offset
			checkField(t, field, data)
		}
		require.NotZero(t, events, "neither a field nor an error")
		require.LessOrEqual(t, events, 2+len(data)/4)
	})
}

// checkGrid wants the corners of a supported grid to lie on the Earth and to be
// found there, but for the poles, where columns meet, and for spacings so small
// that rounding in double precision shows.
func checkGrid(t *testing.T, g grib.Grid) {
	t.Helper()
	require.NotEmpty(t, g.String())
	require.True(t, g.Spacing() >= 0, "%+v", g)
	for _, n := range [][2]int{{0, 0}, {g.NX - 1, 0}, {0, g.NY - 1}, {g.NX - 1, g.NY - 1}} {
		lat, lon := g.Place(n[0], n[1])
		require.True(t, math.Abs(lat) <= 90 && lon >= -180 && lon < 180, "%+v: Place(%d, %d) = %g, %g", g, n[0], n[1], lat, lon)
		sin, cos := g.Turn(lat, lon)
		require.InDelta(t, 1, math.Hypot(sin, cos), 1e-9, "%+v: Turn(%g, %g)", g, lat, lon)
		own := g.Lat0 + float64(n[1])*g.DLat // latitude in the grid's coordinates
		if math.Abs(lat) > 89 || math.Abs(own) > 89 || g.Spacing() < 1e-3 || g.Template != 30 && g.NX > 1 && g.DLon < 1e-3 {
			continue
		}
		if g.Template == 1 && (g.NX == 1 && g.DLon == 0 || g.NY == 1 && g.DLat == 0) {
			continue // a line without width, which rotation there and back misses
		}
		_, y, ok := g.Locate(lat, lon)
		require.True(t, ok, "%+v: Locate(%g, %g), node %v", g, lat, lon, n)
		require.InDelta(t, n[1], y, 1e-5, "%+v: Locate(%g, %g), node %v", g, lat, lon, n)
	}
}

// checkField holds a field of a file against the documentation of Field.
func checkField(t *testing.T, f *grib.Field, data []byte) {
	t.Helper()
	require.Equal(t, "GRIB", string(data[f.Offset:][:4]))
	require.Equal(t, f.Valid, f.Reference.Add(f.Step))
	require.LessOrEqual(t, f.StepStart, f.Step)
	require.NotContains(t, f.String(), "\n")
	if f.Supported() != nil {
		_, err := f.Values(nil)
		require.EqualError(t, err, f.Supported().Error())
		return
	}
	g := f.Grid
	require.Contains(t, []uint16{0, 1, 8, 11}, f.Product)
	require.Equal(t, f.Product == 0 || f.Product == 8, f.Member == grib.Member{}, "product 4.%d of the %v", f.Product, f.Member)
	require.True(t, g.NX >= 1 && g.NY >= 1 && g.NX*g.NY == f.Points && f.Points <= 1<<24, "%+v, %d points", g, f.Points)
	require.True(t, g.Lat0 >= -90 && g.Lat0+float64(g.NY-1)*g.DLat <= 90+1e-9, "%+v", g)
	require.True(t, g.Lon0 >= -180 && g.Lon0 < 180 && g.DLon >= 0 && float64(g.NX-1)*g.DLon <= 1080, "%+v", g)
	checkGrid(t, g)
	if f.Points <= 1<<18 { // a constant field may be larger; its memory is that of the points
		checkUnpacking(t, f, len(data))
	}
}

// checkUnpacking unpacks a field, whole and in part, and returns whether it has
// values. Those are finite or missing, as many as promised, and the same again and
// in any part.
func checkUnpacking(t *testing.T, f *grib.Field, size int) bool {
	t.Helper()
	var u grib.Unpacker
	var values []float32
	var err error
	bounded(t, size, func() int {
		values, err = u.Values(f, nil)
		return f.Points
	})
	g := f.Grid
	w := grib.Window{Row: g.NY / 3, Col: g.NX / 3, Rows: (g.NY + 2) / 3, Cols: (g.NX + 2) / 3}
	if g.DLon == 360/float64(g.NX) && g.NY%2 == 0 {
		w.Col = g.NX - (w.Cols+1)/2 // over the seam
	}
	part, partErr := u.Window(f, w, slices.Repeat([]float32{7}, w.Rows*w.Cols))
	if err != nil {
		require.Nil(t, values)
		require.NotContains(t, err.Error(), "\n")
		return false
	}
	require.Len(t, values, f.Points)
	require.False(t, slices.ContainsFunc(values, func(v float32) bool { return math.IsInf(float64(v), 0) }), "infinite values")
	require.NoError(t, partErr)
	requireSame(t, slice(g, values, w), part)
	again, err := f.Values(make([]float32, 3, f.Points))
	require.NoError(t, err)
	requireSame(t, values, again)
	return true
}

// bounded runs what unpacks as many values as it returns from a file of the given
// size, and fails if that takes more than two seconds, or 8 MiB over the honest
// need (what else goes on in the process may take some): the octets of the file and
// four times the values, as those of a field with a bitmap whose lines are columns,
// in a packing that is unpacked whole, are held four times.
func bounded(t *testing.T, size int, run func() (values int)) {
	t.Helper()
	const patience = 2 * time.Second
	hung := time.AfterFunc(5*patience, func() { panic("grib: hangs") })
	defer hung.Stop()
	before, begin := allocated(), time.Now()
	values := run()
	took := time.Since(begin)
	need := uint64(2*size + 4*4*values)
	require.LessOrEqual(t, allocated()-before, need+(8<<20), "octets allocated")
	require.LessOrEqual(t, took, patience, "time taken")
}

// allocated is how many octets this process has allocated since it began, give or
// take small ones.
func allocated() uint64 {
	sample := []metrics.Sample{{Name: "/gc/heap/allocs:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}

// fuzzUnpacker damages real messages of one packing as mutate does.
func fuzzUnpacker(f *testing.F, packing uint16) {
	messages := realMessages(f, packing)
	for k := range messages {
		f.Add(uint8(k), []byte{})
		for what := range byte(16) {
			f.Add(uint8(k), []byte{what, 40 * what, 7 * byte(k), 1, what, 200, 90 * byte(k), 128})
		}
	}
	f.Fuzz(func(t *testing.T, which uint8, changes []byte) {
		data := mutate(messages[int(which)%len(messages)], changes)
		if len(data) == 0 {
			return
		}
		var fields []*grib.Field
		bounded(t, len(data), func() int {
			for field, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
				if err == nil {
					fields = append(fields, field)
				}
			}
			return 0
		})
		for k, field := range fields {
			if k == 4 {
				break // there may be thousands, alike
			}
			checkField(t, field, data)
		}
		if len(fields) == 1 && fields[0].Offset == 0 && fields[0].Supported() == nil && fields[0].Points <= 1<<18 {
			if _, err := fields[0].Values(nil); err == nil {
				requireRoom(t, data[:binary.BigEndian.Uint64(data[8:])])
			}
		}
		// Of a message whose end is not there nothing is left.
		if len(fields) > 0 {
			cut := len(data) - 1 - len(changes)*97%(len(data)-1)
			left, _ := scanAll(data[:cut])
			for _, field := range left {
				require.NotEqual(t, fields[len(fields)-1].Offset, field.Offset, "cut to %d octets", cut)
			}
		}
	})
}

// requireRoom reckons anew how long section 7 of a message of one field with values
// must be.
func requireRoom(t *testing.T, message []byte) {
	t.Helper()
	var five, seven []byte
	for _, s := range sectionsOf(message) {
		switch {
		case len(s) > 4 && s[4] == 5:
			five = append([]byte{0}, s...) // so that octet n is at n
		case len(s) > 4 && s[4] == 7:
			seven = s[5:]
		}
	}
	n := uint64(binary.BigEndian.Uint32(five[6:]))
	packing := binary.BigEndian.Uint16(five[10:])
	if packing == 4 { // octet 12: precision, code table 5.7
		require.GreaterOrEqual(t, uint64(8*len(seven)), n*32*uint64(five[12]), "bits of section 7")
		return
	}
	if packing != 0 && packing != 2 && packing != 3 {
		return
	}
	wide := uint64(five[20])
	if packing == 0 {
		require.GreaterOrEqual(t, uint64(8*len(seven)), n*wide, "bits of section 7")
		return
	}
	groups := uint64(binary.BigEndian.Uint32(five[32:]))
	if groups == 0 {
		return
	}
	at := uint64(0) // bit
	octet := func() { at = (at + 7) / 8 * 8 }
	read := func(wide byte) (v uint64) {
		for range wide {
			v = v<<1 | uint64(seven[at/8]>>(7-at%8)&1)
			at++
		}
		return v
	}
	if packing == 3 && five[48] > 0 {
		at = 8 * (uint64(five[48]) + 1) * uint64(five[49])
	}
	at += groups * wide
	octet()
	widths := make([]uint64, groups)
	for i := range widths {
		widths[i] = uint64(five[36]) + read(five[37])
	}
	octet()
	bits, values := uint64(0), uint64(0)
	for i, width := range widths {
		length := uint64(binary.BigEndian.Uint32(five[38:])) + uint64(five[42])*read(five[47])
		if i == len(widths)-1 {
			length = uint64(binary.BigEndian.Uint32(five[43:]))
		}
		bits, values = bits+width*length, values+length
	}
	octet()
	require.Equal(t, n, values, "values of the groups")
	require.GreaterOrEqual(t, uint64(8*len(seven)), at+bits, "bits of section 7")
}

func FuzzSimple(f *testing.F)       { fuzzUnpacker(f, 0) }
func FuzzComplex(f *testing.F)      { fuzzUnpacker(f, 2) }
func FuzzDifferencing(f *testing.F) { fuzzUnpacker(f, 3) }
func FuzzIEEE(f *testing.F)         { fuzzUnpacker(f, 4) }
func FuzzPNGMessage(f *testing.F)   { fuzzUnpacker(f, 41) }
func FuzzCCSDSMessage(f *testing.F) { fuzzUnpacker(f, 42) }
