package grib_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// TestMember: members by kind of code table 4.6 and number, over an interval too,
// and what section 1 (type of data, code table 1.4) has against it.
func TestMember(t *testing.T) {
	const all = 30
	end := referenceTime.Add(6 * time.Hour)
	for _, c := range []struct {
		p        product
		data     byte
		want     grib.Member
		text     string
		control  bool
		doubtful string
	}{
		{product{template: 0}, 1, grib.Member{}, "single", false, ""},
		{product{template: 0}, 2, grib.Member{}, "single", false, ""},
		{product{template: 0}, 3, grib.Member{}, "single", false, "type of data 3 (control forecast) in product 4.0, which names no member"},
		{product{template: 0}, 5, grib.Member{}, "single", false, "type of data 5 (control and perturbed forecasts) in product 4.0, which names no member"},
		{product{template: 8, ranges: 1, end: end}, 4, grib.Member{}, "single", false, "type of data 4 (perturbed forecast) in product 4.8, which names no member"},
		{product{template: 0, process: 4}, 1, grib.Member{}, "single", false, "type of generating process 4 (ensemble forecast) in product 4.0, which names no member"},
		{product{template: 1, kind: 0, of: 21}, 5, grib.Member{Kind: grib.ControlHigh, Of: 21}, "control", true, ""},
		{product{template: 1, kind: 1, of: all}, 3, grib.Member{Kind: grib.ControlLow, Of: all}, "control", true, ""},
		{product{template: 1, kind: 1, of: all}, 4, grib.Member{Kind: grib.ControlLow, Of: all}, "control", true, "type of data 4 (perturbed forecast) in product 4.1 of the control"},
		{product{template: 1, kind: 2, member: 9, of: all}, 4, grib.Member{Kind: grib.Negative, Number: 9, Of: all}, "member 9 negative", false, ""},
		{product{template: 11, kind: 3, member: 7, of: all, ranges: 1, end: end}, 4, grib.Member{Kind: grib.Positive, Number: 7, Of: all}, "member 7", false, ""},
		{product{template: 1, kind: 3, member: 7, of: all, process: 4}, 1, grib.Member{Kind: grib.Positive, Number: 7, Of: all}, "member 7", false, ""},
		{product{template: 11, kind: 3, member: 7, of: all, ranges: 1, end: end}, 3, grib.Member{Kind: grib.Positive, Number: 7, Of: all}, "member 7", false, "type of data 3 (control forecast) in product 4.11 of the member 7"},
		{product{template: 1, kind: 4, member: 2, of: 3}, 4, grib.Member{Kind: grib.MultiModel, Number: 2, Of: 3}, "member 2", false, ""},
		{product{template: 1, kind: 255, member: 50, of: 51}, 4, grib.Member{Kind: grib.KindMissing, Number: 50, Of: 51}, "member 50", false, ""},
		{product{template: 1, kind: 255, of: 51}, 3, grib.Member{Kind: grib.KindMissing, Of: 51}, "control", true, ""},
		{product{template: 1, kind: 192, of: 51}, 4, grib.Member{Kind: 193, Of: 51}, "member 0", false, ""},
	} {
		head := section1(referenceTime)
		head[20] = c.data
		c.p.unit = 1
		f := only(t, sealed(0, head, threeByTwo(0).section3(), c.p.section4(), simple(scale{bits: 3}, noBitmap, 1, 2, 3, 4, 5, 6)))
		requireValues(t, f, 4, 5, 6, 1, 2, 3)
		assert.Equal(t, c.want, f.Member)
		assert.Equal(t, c.data, f.DataType)
		assert.Equal(t, c.text, f.Member.String())
		assert.Equal(t, c.control, f.Member.Control(), "%v", f.Member)
		assert.Equal(t, c.doubtful, f.MemberDoubt(), "%v", f.Member)
		if c.want.Kind == grib.NoMember {
			assert.NotContains(t, f.String(), "single")
		} else {
			assert.Contains(t, f.String(), "0s, "+c.text)
		}
		interval := c.p.template == 8 || c.p.template == 11
		assert.Equal(t, interval, f.Valid.Equal(end))
		assert.Equal(t, interval, f.Statistic != grib.Instant)
	}
}

// TestShortMember: a product section that ends before the member, or before the
// interval behind it, condemns the message.
func TestShortMember(t *testing.T) {
	for template, want := range map[uint16]string{
		1:  "length 34 octets: want at least 37",
		11: "length 34 octets: want at least 37",
	} {
		four := wind500.section4()
		four[8] = byte(template)
		_, faults := scanAll(sealed(0, section1(referenceTime), threeByTwo(0).section3(), four, simple(scale{}, noBitmap, make([]uint64, 6)...)))
		require.Len(t, faults, 1)
		assert.ErrorContains(t, faults[0], want)
	}
	member := product{template: 1, unit: 1, kind: 3, member: 7, of: 20}
	four := member.section4()
	four[8] = 11
	_, faults := scanAll(sealed(0, section1(referenceTime), threeByTwo(0).section3(), four, simple(scale{}, noBitmap, make([]uint64, 6)...)))
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], "length 37 octets: want at least 61")
}
