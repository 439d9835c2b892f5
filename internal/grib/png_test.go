package grib_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// picture is a PNG image, ISO/IEC 15948:2004, with filter 0 in each row.
type picture struct {
	width, height uint32
	depth, colour byte
	more          []byte // chunks before the pixels
}

// chunk is a chunk of a PNG image (5.3).
func chunk(kind string, content []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	b = append(append(b, kind...), content...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// encode packs pixels of the given bits.
func (p picture) encode(bits int, pixels ...uint64) []byte {
	var rows bytes.Buffer
	w := zlib.NewWriter(&rows)
	for row := range slices.Chunk(pixels, int(p.width)) {
		var s bitString
		s.put(0, 8)
		for _, v := range row {
			s.put(v, bits)
		}
		if _, err := w.Write(s.octets); err != nil {
			panic(err)
		}
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	head := binary.BigEndian.AppendUint32(nil, p.width)
	head = append(binary.BigEndian.AppendUint32(head, p.height), p.depth, p.colour, 0, 0, 0)
	return slices.Concat([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", head), p.more, chunk("IDAT", rows.Bytes()), chunk("IEND", nil))
}

// imaged is sections 5 to 7 of n values in packing 5.41.
func imaged(n int, s scale, image []byte) []byte {
	return slices.Concat(section(5, uint32(n), uint16(41), s.octets()), noBitmap, section(7, image))
}

// TestPNG takes pixels of each depth as integers, template 7.41; the northern row
// is first.
func TestPNG(t *testing.T) {
	for _, c := range []struct {
		bits, pixel        int
		depth, colour      byte
		v0, v1, v2, v3, v4 uint64
	}{
		{bits: 1, pixel: 1, depth: 1, v0: 1, v3: 1},
		{bits: 2, pixel: 2, depth: 2, v0: 1, v1: 2, v2: 3},
		{bits: 3, pixel: 4, depth: 4, v0: 7, v1: 2, v2: 5, v4: 1},
		{bits: 4, pixel: 4, depth: 4, v0: 15, v1: 2, v2: 9, v4: 1},
		{bits: 4, pixel: 8, depth: 8, v0: 15, v1: 2, v2: 9, v4: 1},
		{bits: 8, pixel: 8, depth: 8, v0: 255, v1: 2, v2: 128, v4: 1},
		{bits: 12, pixel: 16, depth: 16, v0: 0xfff, v1: 0x102, v2: 0x8, v4: 1},
		{bits: 16, pixel: 16, depth: 16, v0: 0xffff, v1: 0x102, v2: 0x8000, v4: 1},
		{bits: 24, pixel: 24, depth: 8, colour: 2, v0: 0xffffff, v1: 0x10203, v2: 0x800000, v4: 1},
		{bits: 32, pixel: 32, depth: 8, colour: 6, v0: 0xffffff00, v1: 0x1020300, v2: 0x80000000, v4: 0x100},
	} {
		p := picture{width: 3, height: 2, depth: c.depth, colour: c.colour}
		f := only(t, whole(imaged(6, scale{r: 1, e: 1, bits: byte(c.bits)}, p.encode(c.pixel, c.v0, c.v1, c.v2, c.v3, c.v4, 0))))
		y := func(x uint64) float32 { return float32(1 + 2*float64(x)) }
		requireValues(t, f, y(c.v3), y(c.v4), y(0), y(c.v0), y(c.v1), y(c.v2))
	}
	// One row for all values, as with a bitmap; filters of another encoder.
	m := image.NewGray16(image.Rect(0, 0, 4, 1))
	for i := range 4 {
		m.SetGray16(i, 0, color.Gray16{Y: uint16(300 * i)})
	}
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, m))
	five := section(5, uint32(4), uint16(40010), scale{bits: 16}.octets())
	f := only(t, whole(slices.Concat(five, bitmapOf(1, 0, 1, 1, 0, 1), section(7, b.Bytes()))))
	requireValues(t, f, 600, nan, 900, 0, nan, 300)
	constant := section(5, uint32(6), uint16(41), scale{r: 25, d: 1}.octets())
	requireValues(t, only(t, whole(slices.Concat(constant, noBitmap, section(7)))), 2.5, 2.5, 2.5, 2.5, 2.5, 2.5)
}

// TestPNGRefused: an image that is not what sections 3 and 5 say is an error.
func TestPNGRefused(t *testing.T) {
	good := picture{width: 3, height: 2, depth: 8}
	grey := func(change func(p *picture), bits int) []byte {
		p := good
		change(&p)
		return p.encode(bits, 1, 2, 3, 4, 5, 6)
	}
	for want, file := range map[string][]byte{
		"no PNG image": imaged(6, scale{bits: 8}, []byte("\x89PNG")),
		"PNG image of 4 × 2 pixels: want the 6 values of section 5": imaged(6, scale{bits: 8}, grey(func(p *picture) { p.width = 4 }, 8)),
		"PNG image of 4294967295 × 4294967295 pixels":               imaged(6, scale{bits: 8}, grey(func(p *picture) { p.width, p.height = math.MaxUint32, math.MaxUint32 }, 8)),
		"colour type 3 and 8 bits a sample":                         imaged(6, scale{bits: 8}, grey(func(p *picture) { p.colour = 3 }, 8)),
		"colour type 4 and 8 bits a sample":                         imaged(6, scale{bits: 16}, grey(func(p *picture) { p.colour = 4 }, 16)),
		"colour type 2 and 16 bits a sample":                        imaged(6, scale{bits: 32}, grey(func(p *picture) { p.colour, p.depth = 2, 16 }, 48)),
		"PNG image of 8 bits a pixel: want those that hold the 9":   imaged(6, scale{bits: 9}, grey(func(*picture) {}, 8)),
		"PNG image of 16 bits a pixel: want those that hold the 8":  imaged(6, scale{bits: 8}, grey(func(p *picture) { p.depth = 16 }, 16)),
		"a pixel of the PNG image is wider than the 2 bits":         imaged(6, scale{bits: 2}, grey(func(*picture) {}, 8)),
		"PNG image with a transparent colour: want none":            imaged(6, scale{bits: 8}, grey(func(p *picture) { p.more = chunk("tRNS", []byte{0, 3}) }, 8)),
		"PNG image with a transparent colour: want none  ":          imaged(6, scale{bits: 16}, grey(func(p *picture) { p.depth, p.more = 16, chunk("tRNS", []byte{0, 3}) }, 16)),
		"PNG image with a transparent colour: want none ":           imaged(6, scale{bits: 24}, grey(func(p *picture) { p.colour, p.more = 2, chunk("tRNS", []byte{0, 0, 0, 0, 0, 3}) }, 24)),
		"PNG image: png: invalid format: chunk out of order":        imaged(6, scale{bits: 8}, grey(func(p *picture) { p.more = chunk("IEND", nil) }, 8)),
	} {
		_, err := only(t, whole(file)).Values(nil)
		assert.ErrorContains(t, err, string(bytes.TrimSpace([]byte(want))))
	}
	image := grey(func(*picture) {}, 8)
	for n := range image[:len(image)-12] { // without the last chunk, which is empty
		_, err := only(t, whole(imaged(6, scale{bits: 8}, image[:n]))).Values(nil)
		require.Error(t, err, "%d octets of %d", n, len(image))
	}
	for at := range image {
		bad := slices.Clone(image)
		bad[at] ^= 0x10
		_, err := only(t, whole(imaged(6, scale{bits: 8}, bad))).Values(nil)
		require.Error(t, err, "octet %d", at)
	}
}

// FuzzPNG holds any image against what Values promises.
func FuzzPNG(f *testing.F) {
	p := picture{width: 3, height: 2, depth: 8}
	f.Add(p.encode(8, 1, 2, 3, 4, 5, 6), byte(8), uint16(6))
	p.depth = 16
	f.Add(p.encode(16, 1, 2, 3, 4, 5, 6), byte(12), uint16(6))
	p.depth, p.colour = 8, 2
	f.Add(p.encode(24, 1, 2, 3, 4, 5, 6), byte(24), uint16(6))
	p.colour = 6
	f.Add(p.encode(32, 1, 2, 3, 4, 5, 6), byte(32), uint16(6))
	p = picture{width: 3, height: 2, depth: 2}
	f.Add(p.encode(2, 1, 2, 3, 0, 1, 2), byte(2), uint16(6))
	f.Fuzz(func(t *testing.T, image []byte, bits byte, n uint16) {
		fields, _ := scanAll(row(int(n), imaged(int(n), scale{bits: bits}, image)))
		if len(fields) == 0 {
			return // no points
		}
		values, err := fields[0].Values(nil)
		if err != nil {
			require.Nil(t, values)
			return
		}
		require.Len(t, values, int(n))
		for i, v := range values {
			require.True(t, v >= 0 && v <= float32(uint64(1)<<bits-1), "value %d = %g of %d bits", i, v, bits)
		}
	})
}
