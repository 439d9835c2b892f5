package fetch

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// fieldsOf reads the fields of octets.
func fieldsOf(t *testing.T, b []byte) []*grib.Field {
	t.Helper()
	var all []*grib.Field
	for f, err := range grib.Scan(bytes.NewReader(b), int64(len(b))) {
		require.NoError(t, err)
		all = append(all, f)
	}
	return all
}

// A crop has the values of the whole at its own places, and the box in it, whatever
// packing, grid and box: of real messages of two centres, one of which begins its
// rows at 180° E.
func TestCropHasTheWholesValues(t *testing.T) {
	files := map[string][]byte{"2.5°": realFiles(t)[6]}
	files["0.25°, PNG"] = reference(t, "grib", "gfs_gh500_0p25_2022021000_f024_png.grib2")
	files["0.4°, CCSDS"] = reference(t, "grib", "ecmwf_ifs_oper_0p40_2024010100_f000_ccsds.grib2")
	for name, file := range files {
		for _, f := range fieldsOf(t, file) {
			if i := identOf(f); i.surface != grib.Isobaric || i.value != 500_00000 && i.value != 250_00000 || f.Parameter() != grib.GeopotentialHeight {
				continue
			}
			octets := file[f.Offset : f.Offset+int64(messageLength(file[f.Offset:]))]
			whole, err := f.Values(nil)
			require.NoError(t, err)
			for _, box := range []geo.Box{
				southSweden,
				{South: -20, North: -5, West: 170, East: -170},
				{South: 80, North: 90, West: -180, East: 180},
				{South: -90, North: -85, West: 0, East: 10},
				{South: 50, North: 52, West: -3, East: 3},
			} {
				c := cropper{box: box}
				out, err := c.crop(nil, octets, message{fields: []ident{identOf(f)}})
				require.NoError(t, err)
				require.Less(t, len(out), len(octets))
				kept := fieldsOf(t, out)[0]
				assert.Equal(t, same(identOf(f)), same(identOf(kept)))
				values, err := kept.Values(nil)
				require.NoError(t, err)
				low, high, worst := math.Inf(1), math.Inf(-1), 0.0
				for k, v := range values {
					lat, lon := kept.Grid.Place(k%kept.Grid.NX, k/kept.Grid.NX)
					x, y, ok := f.Grid.Locate(lat, lon)
					require.True(t, ok, "%s %v: %g %g", name, box, lat, lon)
					i, j := int(math.Round(x))%f.Grid.NX, int(math.Round(y))
					require.InDelta(t, math.Round(x), x, 1e-3)
					worst = max(worst, math.Abs(float64(v)-float64(whole[j*f.Grid.NX+i])))
					low, high = min(low, float64(v)), max(high, float64(v))
				}
				// Half a step of packing as crop says, and single precision of 12 km.
				assert.LessOrEqual(t, worst, (high-low)/(1<<21)+0.0005, "%s %v", name, box)
				for _, corner := range [][2]float64{{box.South, box.West}, {box.South, box.East}, {box.North, box.West}, {box.North, box.East}} {
					_, _, ok := kept.Grid.Locate(corner[0], corner[1])
					assert.True(t, ok, "%s: %v of %v in %v", name, corner, box, kept.Grid)
				}
			}
		}
	}
}

// Each thing that a message must be is looked at.
func TestCropRefuses(t *testing.T) {
	file := realFiles(t)[6]
	var f *grib.Field
	for _, x := range fieldsOf(t, file) {
		if x.Parameter() == grib.EastwardWind && x.Level.At(grib.Isobaric, 50000) {
			f = x
		}
	}
	octets := file[f.Offset : f.Offset+int64(messageLength(file[f.Offset:]))]
	is := identOf(f)
	change := func(by func(b []byte)) []byte {
		b := bytes.Clone(octets)
		by(b)
		return b
	}
	other := func(by func(i *ident)) ident {
		i := is
		by(&i)
		return i
	}
	for name, test := range map[string]struct {
		octets []byte
		want   ident
		says   string
	}{
		"a page":         {[]byte("<!DOCTYPE html><html></html>"), is, `begins with "<!DOCTYPE html><"`},
		"edition 1":      {change(func(b []byte) { b[7] = 1 }), is, "GRIB edition 1: want 2"},
		"length":         {change(func(b []byte) { b[15]++ }), is, "want"},
		"end":            {change(func(b []byte) { b[len(b)-1] = 0 }), is, "want 7777"},
		"cut":            {octets[:len(octets)/2], is, "want"},
		"other variable": {octets, other(func(i *ident) { i.parameter = grib.NorthwardWind }), "want VGRD"},
		"other level":    {octets, other(func(i *ident) { i.value = 40000_000 }), "want UGRD at 40000 Pa"},
		"other step":     {octets, other(func(i *ident) { i.step = 0 }), "step 6 h: want"},
		"other member":   {octets, other(func(i *ident) { i.member.Kind, i.member.Number = 2, 3 }), "member 3"},
	} {
		c := cropper{box: southSweden}
		out, err := c.crop([]byte("before"), test.octets, message{fields: []ident{test.want}})
		require.ErrorIs(t, err, errWrong, name)
		assert.ErrorContains(t, err, test.says, name)
		assert.Equal(t, "before", string(out), name)
	}
	c := cropper{box: southSweden}
	_, err := c.crop(nil, octets, message{fields: []ident{is}})
	assert.NoError(t, err)
}

// BenchmarkCrop crops a global 0.25° field, packed as PNG: octets a second are of
// the message.
func BenchmarkCrop(b *testing.B) {
	folder := os.Getenv("THISTLEDOWN_REFERENCE")
	if folder == "" {
		b.Skip("left out: a global field, as THISTLEDOWN_REFERENCE is not set")
	}
	octets, err := os.ReadFile(filepath.Join(folder, "grib", "gfs_gh500_0p25_2022021000_f024_png.grib2"))
	require.NoError(b, err)
	var is ident
	for f, err := range grib.Scan(bytes.NewReader(octets), int64(len(octets))) {
		require.NoError(b, err)
		is = identOf(f)
	}
	c := cropper{box: southSweden}
	b.SetBytes(int64(len(octets)))
	for b.Loop() {
		if _, err := c.crop(nil, octets, message{fields: []ident{is}}); err != nil {
			b.Fatal(err)
		}
	}
}
