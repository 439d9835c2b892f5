package grib

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/png"
)

// header is the first chunk of an image in the format PNG (ISO/IEC 15948:2004,
// 11.2.2), as far as it says what a pixel is.
type header struct {
	Width, Height uint32
	Depth, Colour uint8 // bits of each sample, and colour type
}

// Colour types of PNG, and the samples of a pixel in each.
const (
	pngGrey = 0 // one
	pngRGB  = 2 // three
	pngRGBA = 6 // four
)

const (
	pngSignature = "\x89PNG\r\n\x1a\n"
	pngHead      = pngSignature + "\x00\x00\x00\rIHDR"
)

// imageHeader reads the header of the image in the payload, and checks that it
// has n pixels, each a packed integer of the given bits.
//
// Template 7.41 has integers of 1, 2, 4, 8 or 16 bits as shades of grey, of 24 as
// RGB, and of 32 as RGB with opacity, first octet first. Where octet 20 of section
// 5 has another number of bits, the next greater of these holds them; ecCodes goes
// by whole octets for fewer than 8 as well.
func imageHeader(payload []byte, bits uint, n int) (header, error) {
	var h header
	const length = len(pngHead) + 10
	if len(payload) < length || !bytes.HasPrefix(payload, []byte(pngHead)) {
		return h, errors.New("no PNG image: want its signature and header")
	}
	if _, err := binary.Decode(payload[len(pngHead):length], binary.BigEndian, &h); err != nil {
		return h, err
	}
	if uint64(h.Width)*uint64(h.Height) != uint64(n) {
		return h, fmt.Errorf("PNG image of %d × %d pixels: want the %d values of section 5", h.Width, h.Height, n)
	}
	pixel := h.pixel()
	if pixel == 0 {
		return h, fmt.Errorf("PNG image of colour type %d and %d bits a sample: want grey of 1, 2, 4, 8 or 16, or RGB or RGBA of 8", h.Colour, h.Depth)
	}
	if pixel != deep(bits) && !(bits < 8 && pixel == 8) {
		return h, fmt.Errorf("PNG image of %d bits a pixel: want those that hold the %d of section 5", pixel, bits)
	}
	// Deflate (RFC 1951) makes of an octet at most 1032, so that an image which
	// says that it is large is so.
	const inflation = 1032
	if row := (uint64(h.Width)*uint64(pixel) + 7) / 8; row*uint64(h.Height) > inflation*uint64(len(payload)) {
		return h, fmt.Errorf("%d octets: too few for a PNG image of %d × %d pixels of %d bits", len(payload), h.Width, h.Height, pixel)
	}
	return h, nil
}

// pixel returns the bits of a pixel, 0 if the template has no such.
func (h header) pixel() uint {
	switch {
	case h.Colour == pngGrey && (h.Depth == 1 || h.Depth == 2 || h.Depth == 4 || h.Depth == 8 || h.Depth == 16):
		return uint(h.Depth)
	case h.Colour == pngRGB && h.Depth == 8:
		return 24
	case h.Colour == pngRGBA && h.Depth == 8:
		return 32
	}
	return 0
}

// deep is the least of the depths of template 7.41 that holds integers of the
// given bits, 1 to maxBits.
func deep(bits uint) uint {
	for _, depth := range [...]uint{1, 2, 4, 8, 16, 24} {
		if bits <= depth {
			return depth
		}
	}
	return 32
}

// png unpacks the pixels of an image, row by row, whose header imageHeader has
// found good for len(dst) of them.
func (s scaling) png(dst []float32, payload []byte) error {
	h, err := imageHeader(payload, s.bits, len(dst))
	if err != nil {
		return err
	}
	decoded, err := png.Decode(bytes.NewReader(payload))
	if err != nil {
		return fmt.Errorf("PNG image: %w", err)
	}
	reach := uint32(0) // no bit of an integer is missing in it
	value := func(x uint32) float32 {
		reach |= x
		return float32((s.reference + float64(x)*s.binary) * s.decimal)
	}
	switch m := decoded.(type) {
	case *image.Gray: // of fewer than 8 bits too, spread from black to white
		shade := 255 / (1<<h.Depth - 1)
		for i := range dst {
			dst[i] = value(uint32(int(m.Pix[i]) / shade))
		}
	case *image.Gray16:
		for i := range dst {
			dst[i] = value(uint32(binary.BigEndian.Uint16(m.Pix[2*i:])))
		}
	case *image.RGBA: // of colour type 2, opacity added behind each pixel
		for i := range dst {
			dst[i] = value(binary.BigEndian.Uint32(m.Pix[4*i:]) >> 8)
		}
	case *image.NRGBA:
		if h.Colour != pngRGBA {
			return errors.New("PNG image with a transparent colour: want none")
		}
		for i := range dst {
			dst[i] = value(binary.BigEndian.Uint32(m.Pix[4*i:]))
		}
	default:
		return errors.New("PNG image with a transparent colour: want none")
	}
	if uint64(reach) >= 1<<s.bits {
		return fmt.Errorf("a pixel of the PNG image is wider than the %d bits of section 5", s.bits)
	}
	return nil
}
