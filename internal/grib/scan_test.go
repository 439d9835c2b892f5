package grib_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// TestFields reads the headers of a message with four fields: sections 4–7, 3–7
// and 2–7 are repeated.
func TestFields(t *testing.T) {
	north := threeByTwo(0x40)
	north.la1, north.la2 = -3e6, -2e6
	local := section(2, []byte("local use"))
	surface := product{category: 3, number: 0, unit: 10, forecast: -2, surface: 1}
	rain := product{template: 8, category: 1, number: 8, unit: 1, forecast: 6, surface: 1, end: referenceTime.Add(9 * time.Hour), ranges: 1, statistic: 1}
	layer := product{category: 2, number: 3, unit: 0, forecast: 90, surface: 103, scale: -1, value: 3, surface2: 103}
	fields, faults := scanAll(sealed(0, section1(referenceTime), local, threeByTwo(0x40).section3(),
		wind500.section4(), simple(scale{bits: 3}, noBitmap, 1, 2, 3, 4, 5, 6),
		surface.section4(), simple(scale{bits: 4}, noBitmap, 6, 5, 4, 3, 2, 1),
		north.section3(), rain.section4(), simple(scale{bits: 0}, noBitmap, 0, 0, 0, 0, 0, 0),
		local, threeByTwo(0x40).section3(), layer.section4(), complexly(groups{scale: scale{bits: 4}, plain: true, lengths: []int{6}}, 3, 3, 3, 3, 3, 4)),
		plain())
	require.Empty(t, faults)
	require.Len(t, fields, 5)
	requireValues(t, fields[0], 1, 2, 3, 4, 5, 6)
	requireValues(t, fields[1], 6, 5, 4, 3, 2, 1)
	requireValues(t, fields[2], 0, 0, 0, 0, 0, 0)
	requireValues(t, fields[3], 3, 3, 3, 3, 3, 4)

	type header struct {
		message, index  int
		parameter, text string
		level           grib.Level
		start, step     time.Duration
		statistic       grib.Statistic
		product, packed uint16
		south           float64
	}
	var got []header
	for _, f := range fields {
		got = append(got, header{f.Message, f.Index, f.Parameter().String(), f.String(), f.Level, f.StepStart, f.Step, f.Statistic, f.Product, f.Packing, f.Grid.Lat0})
		assert.Equal(t, f.Reference.Add(f.Step), f.Valid)
		assert.Equal(t, referenceTime, f.Reference)
		assert.Equal(t, uint16(7), f.Centre)
		assert.Equal(t, 6, f.Points)
	}
	const hour = time.Hour
	none := grib.NoSurface
	assert.Equal(t, []header{
		{1, 1, "UGRD", "UGRD at 50000 Pa, 6h0m0s", grib.Level{grib.Isobaric, 50000, none, 0}, 6 * hour, 6 * hour, grib.Instant, 0, 0, 50},
		{1, 2, "PRES", "PRES at the ground, -6h0m0s", grib.Level{grib.Ground, 0, none, 0}, -6 * hour, -6 * hour, grib.Instant, 0, 0, 50},
		{1, 3, "APCP", "APCP at the ground, 9h0m0s", grib.Level{grib.Ground, 0, none, 0}, 6 * hour, 9 * hour, grib.Accumulation, 8, 0, -3},
		{1, 4, "VGRD", "VGRD from 30 m above ground to 0 m above ground, 1h30m0s", grib.Level{grib.HeightAboveGround, 30, grib.HeightAboveGround, 0}, 90 * time.Minute, 90 * time.Minute, grib.Instant, 0, 2, 50},
		{2, 1, "UGRD", "UGRD at 50000 Pa, 6h0m0s", grib.Level{grib.Isobaric, 50000, none, 0}, 6 * hour, 6 * hour, grib.Instant, 0, 0, 50},
	}, got)
}

// TestSurfaceValue: scale factors and values have a sign bit.
func TestSurfaceValue(t *testing.T) {
	for _, c := range []struct {
		scale, value int
		want         float64
	}{
		{0, 85000, 85000},
		{2, 995, 9.95},
		{-3, 7, 7000},
		{9, -2000, -2e-6}, // potential vorticity surface of the southern hemisphere
		{127, 0, 0},
		// 0.4 hPa in every way that centres may write it.
		{0, 40, 40},
		{1, 400, 40},
		{-1, 4, 40},
		{3, 40000, 40},
		{-2, 850, 85000}, // JMA
	} {
		p := wind500
		p.scale, p.value = c.scale, c.value
		f := only(t, sealed(0, section1(referenceTime), threeByTwo(0).section3(), p.section4(), simple(scale{}, noBitmap, make([]uint64, 6)...)))
		assert.Equal(t, c.want, f.Level.Value, "scale factor %d, value %d", c.scale, c.value)
		assert.True(t, f.Level.At(grib.Isobaric, c.want))
	}
	four := wind500.section4()
	copy(four[23:], "\xff\xff\xff\xff\xff")
	f := only(t, sealed(0, section1(referenceTime), threeByTwo(0).section3(), four, simple(scale{}, noBitmap, make([]uint64, 6)...)))
	assert.True(t, math.IsNaN(f.Level.Value), "Level = %v, want no value", f.Level)
}

// TestBetweenMessages: bulletin headings (WMO-No. 386) and zeros are passed over.
func TestBetweenMessages(t *testing.T) {
	heading := []byte("\x01\r\r\n123\r\r\nHTXE88 KWBC 220000\r\r\n")
	end := []byte("\r\r\n\x03")
	zeros := make([]byte, 20000)
	for _, parts := range [][][]byte{
		{plain(), zeros[:16381], plain()}, // around the blocks of 16 KiB that are searched
		{plain(), zeros[:16382], plain()},
		{plain(), zeros[:16383], plain()},
		{plain(), zeros[:16384], plain()},
		{plain(), plain()},
		{heading, plain(), end, heading, plain(), end},
		{zeros, plain(), zeros, plain(), zeros},
		{zeros[:7], heading, plain(), end, zeros, heading, plain(), zeros[:16384-3]},
		{[]byte("####018000000####\n"), heading, plain(), heading, plain()},
	} {
		fields, faults := scanAll(parts...)
		assert.Empty(t, faults)
		require.Len(t, fields, 2)
		requireValues(t, fields[1], 4, 5, 6, 1, 2, 3)
		at := len(slices.Concat(parts...)) - fieldsTail(parts)
		assert.Equal(t, int64(at), fields[1].Offset)
	}
}

// fieldsTail is how many octets from the last message on there are.
func fieldsTail(parts [][]byte) int {
	b := slices.Concat(parts...)
	return len(b) - bytes.LastIndex(b, []byte("GRIB"))
}

// TestResync: a bad message between two good ones costs itself alone.
func TestResync(t *testing.T) {
	spoil := func(change func(m []byte)) []byte {
		m := plain()
		change(m)
		return m
	}
	size := len(plain())
	for name, c := range map[string]struct {
		bad  []byte
		want string
	}{
		"no end":       {plain()[:size-10], "section 0: length 185 octets leads to"},
		"end spoiled":  {spoil(func(m []byte) { m[size-1] = '8' }), `leads to "7778": want "7777"`},
		"too long":     {spoil(func(m []byte) { m[9] = 1 }), "want the 281474976710841 of its section 0"},
		"length 2⁶³":   {spoil(func(m []byte) { m[8] = 128 }), "want the 9223372036854775993 of its section 0"},
		"too short":    {spoil(func(m []byte) { m[15] = 19 }), "section 0: length 19 octets: want at least 20"},
		"edition 3":    {spoil(func(m []byte) { m[7] = 3 }), "GRIB edition 3, want 2"},
		"magic":        {spoil(func(m []byte) { m[3] = 'D' }), "185 octets from octet 185 on, after message 1, are neither"},
		"junk":         {[]byte("junk\x00junk\x00junk\x00"), "15 octets from octet 185 on, after message 1, are neither"},
		"text":         {bytes.Repeat([]byte("x"), 257), "257 octets from octet 185 on, after message 1, are neither"},
		"no section 3": {sealed(0, section1(referenceTime), wind500.section4()), "section 4 after section 1 at octet 222"},
		"no data":      {sealed(0, section1(referenceTime), threeByTwo(0).section3()), "ends after section 3: want sections up to 7"},
		"twice data": {
			whole(slices.Concat(simple(scale{bits: 0}, noBitmap, make([]uint64, 6)...), section(7), section(7))),
			"section 7 after section 7",
		},
		"section 9":       {sealed(0, section1(referenceTime), section(9)), "section 9 at octet 222: want sections 1 to 7"},
		"loose octets":    {sealed(0, section1(referenceTime), []byte{0, 0}), "2 octets after section 1: want a section"},
		"short section 1": {sealed(0, section(1, uint32(0))), "section 1 at octet 201: length 9 octets: want 21 to 9"},
		"short template":  {sealed(0, section1(referenceTime), threeByTwo(0).section3(), section(4, uint16(0), uint16(0), uint16(0))), "section 4 at octet 294: length 11 octets: want at least 34"},
		"reference time":  {sealed(0, section1(referenceTime)[:14], []byte{3, 32, 0, 0, 0, 0, 0}), "section 1 at octet 201: reference time 2017-03-32 00:00:00: want a date"},
		"number of points": {
			sealed(0, section1(referenceTime), lattice{ni: 3, nj: 2, points: 7}.section3()),
			"section 3 at octet 222: 3 × 2 points: want the 7 of octets 7–10",
		},
		"number of values": {whole(simple(scale{bits: 3}, noBitmap, 1, 2, 3)), "3 values by section 5, 6 points by section 3, no bitmap"},
		"too many values":  {whole(simple(scale{bits: 3}, bitmapOf(1, 1, 1, 1, 1, 1), make([]uint64, 7)...)), "7 values by section 5: want at most the 6 points"},
		"short bitmap":     {whole(simple(scale{bits: 3}, section(6, byte(0)), 1, 2, 3)), "0 octets of bitmap: want a bit for each of 6 points"},
		"no bitmap before": {whole(simple(scale{bits: 3}, sameBitmap, 1, 2, 3)), "bitmap indicator 254"},
		"edition 1":        {edition1(), "GRIB edition 1, want 2"},
	} {
		t.Run(name, func(t *testing.T) {
			fields, faults := scanAll(plain(), c.bad, plain())
			require.Len(t, faults, 1)
			assert.ErrorContains(t, faults[0], c.want)
			if !strings.Contains(c.want, "are neither") {
				assert.ErrorContains(t, faults[0], "message 2 at octet 185")
			}
			require.Len(t, fields, 2)
			assert.Equal(t, int64(size+len(c.bad)), fields[1].Offset)
			requireValues(t, fields[1], 4, 5, 6, 1, 2, 3)
			for line := range strings.Lines(faults[0].Error()) {
				assert.NotContains(t, line, "\n")
			}
		})
	}
}

// edition1 is a message of GRIB edition 1 with a zero data section: "GRIB", the
// length in three octets, the edition.
func edition1() []byte {
	return append(append([]byte("GRIB\x00\x00\x40\x01"), make([]byte, 52)...), "7777"...)
}

// TestNoMessage: files without any message say so once, and how they begin.
func TestNoMessage(t *testing.T) {
	page := "<!DOCTYPE html><html><head><title>GRIB filter: 404</title></head><body>no such GRIB file</body></html>"
	for _, c := range []struct{ name, file, want string }{
		{"empty", "", "grib: the file is empty: want GRIB2 messages"},
		{"page", strings.Repeat("<p>sorry</p>", 5000), `grib: no GRIB message in the file, which begins "<p>sorry</p><p>sorry</p><p>sorry</p><p>s": want GRIB2 messages`},
		{"page on GRIB", page, `grib: no GRIB message in the file, which begins "<!DOCTYPE html><html><head><title>GRIB f": want GRIB2 messages`},
		{"page ending in GRIB", page + "GRIB", `grib: no GRIB message in the file, which begins "<!DOCTYPE html><html><head><title>GRIB f": want GRIB2 messages`},
		{"zeros", "\x00\x00", `grib: no GRIB message in the file, which begins "\x00\x00": want GRIB2 messages`},
		{"start of a message", "GRIB\x00\x00", `grib: no GRIB message in the file, which begins "GRIB\x00\x00": want GRIB2 messages`},
		{"edition 1", string(edition1()), "grib: message 1 at octet 0: GRIB edition 1, want 2"},
	} {
		fields, faults := scanAll([]byte(c.file))
		assert.Empty(t, fields, c.name)
		require.Len(t, faults, 1, c.name)
		assert.EqualError(t, faults[0], c.want, c.name)
	}
	_, faults := scanAll(edition1(), edition1(), edition1())
	assert.Len(t, faults, 3, "one for each message of edition 1")
	_, faults = scanAll([]byte("GRIB edition"), make([]byte, 9), plain()[:184])
	require.Len(t, faults, 2, "the early one is told once a message has been met")
	assert.ErrorContains(t, faults[0], "message 1 at octet 0: GRIB edition 105, want 2")
	assert.ErrorContains(t, faults[1], "message 2 at octet 21: cut off: 184 octets left in the file, want the 185 of its section 0")
}

// TestStop: a caller may leave the walk at any field or error.
func TestStop(t *testing.T) {
	bad := sealed(0, section1(referenceTime))
	for stop := range 4 {
		n := 0
		for f, err := range grib.Scan(reader(plain(), bad, []byte("junk\x00junk\x00junk\x00"), plain())) {
			assert.Equal(t, f == nil, err != nil, "a field or an error")
			if n == stop {
				break
			}
			n++
		}
		assert.Equal(t, stop, n)
	}
}
