package grib

import (
	"fmt"
	"math/bits"

	"github.com/nilsmagnus/grib/griblib"
)

// CCSDS lossless data compression: recommended standard CCSDS 121.0-B-3
// (August 2020), the coding of packing 5.42. Chapters and tables of it are given
// from memory: chapter 3 is the adaptive entropy coder (table 3-1 fundamental
// sequences, 3-2 zero blocks), 4 the preprocessor, 5 the coded data (table 5-1
// option identifiers). What they say here has been held against libaec.

// ccsds is what template 5.42 says of the coding.
type ccsds struct {
	block     int  // samples of a block, J: 8, 16, 32 or 64
	interval  int  // blocks from one reference sample to the next, r
	predicted bool // samples are mapped prediction errors, chapter 4
	padded    bool // each interval begins with a whole octet
	idBits    uint // bits of an option identifier, table 5-1
}

// Flags of template 5.42, octet 22. They are those of the library libaec, which
// makes the same stream whatever those say that are marked as not in it.
const (
	ccsdsSigned     = 0x01 // samples are two's complement
	ccsds3Byte      = 0x02 // how the encoder's memory held samples of 17 to 24 bits: not in the stream
	ccsdsMSB        = 0x04 // how it ordered their octets: not in the stream
	ccsdsPreprocess = 0x08 // unit-delay predictor and mapping
	ccsdsRestricted = 0x10 // restricted set of code options, up to 4 bits
	ccsdsPadded     = 0x20 // each interval is filled up to a whole octet
	ccsdsAnyBlock   = 0x40 // blocks need not be of the standard's sizes
	ccsdsUnknown    = 0x80
)

const (
	maxBlock    = 64   // chapter 3: J is 8, 16, 32 or 64
	maxInterval = 4096 // chapter 4: r is 1 to 4096
	maxRun      = 64   // chapter 3: blocks of a segment, beyond which no run of zero blocks goes
)

// ccsdsTemplate is template 5.42.
//
//	octets  field
//	12–21   template 5.0
//	22      flags
//	23      block size J
//	24–25   reference sample interval r, in blocks
type ccsdsTemplate struct {
	griblib.Data0
	Flags, Block uint8
	Interval     uint16
}

// ccsdsOf converts what template 5.42 has beyond 5.0.
func ccsdsOf(t ccsdsTemplate) (ccsds, error) {
	n := uint(t.Bits)
	c := ccsds{
		block:     int(t.Block),
		interval:  int(t.Interval),
		predicted: t.Flags&ccsdsPreprocess != 0,
		padded:    t.Flags&ccsdsPadded != 0,
		idBits:    identifierBits(n, t.Flags&ccsdsRestricted != 0),
	}
	switch {
	case t.Flags&(ccsdsSigned|ccsdsUnknown) != 0:
		return c, fmt.Errorf("CCSDS flags %#02x not supported: want neither signed samples (0x01) nor 0x80", t.Flags)
	case c.block != 8 && c.block != 16 && c.block != 32 && c.block != maxBlock:
		return c, fmt.Errorf("CCSDS block size %d not supported: want 8, 16, 32 or 64", c.block)
	case c.interval < 1 || c.interval > maxInterval:
		return c, fmt.Errorf("CCSDS reference sample interval %d not supported: want 1 to %d", c.interval, maxInterval)
	case c.idBits == 0:
		return c, fmt.Errorf("CCSDS restricted options for %d bits not supported: want at most 4", n)
	}
	return c, nil
}

// identifierBits is the length of option identifiers for samples of n bits,
// table 5-1. The restricted set is one for up to 4 bits; libaec, from which
// template 5.42 has its flags, refuses it for 5 to 8, for which this returns 0,
// and passes over the flag above.
func identifierBits(n uint, restricted bool) uint {
	switch {
	case n > 16:
		return 5
	case n > 8:
		return 4
	case !restricted:
		return 3
	case n > 4:
		return 0
	case n > 2:
		return 2
	}
	return 1
}

// enough checks that the payload is no shorter than n samples take at least:
// every segment in the shortest code of all, one run of zero blocks.
func (c ccsds) enough(payload []byte, n int) error {
	segments := (n + maxRun*c.block - 1) / (maxRun * c.block)
	have, want := len(payload)-padding, (segments*int(c.idBits+2)+7)/8
	if have < want {
		return fmt.Errorf("%d octets: want at least %d, for %d values in CCSDS blocks of %d", have, want, n, c.block)
	}
	return nil
}

// ccsds decodes len(dst) samples of s.bits bits each, 1 to maxBits.
func (s scaling) ccsds(dst []float32, payload []byte, c ccsds) error {
	d := decoder{
		ccsds: c, scaling: s,
		payload: payload, end: uint64(len(payload)-padding) * 8,
		most: 1<<s.bits - 1,
	}
	n := len(dst)
	for len(dst) > 0 {
		for b := 0; b < c.interval && len(dst) > 0; {
			blocks, err := d.next(dst, b)
			if err != nil {
				return fmt.Errorf("CCSDS block at sample %d of %d: %w", n-len(dst), n, err)
			}
			b += blocks
			dst = dst[min(blocks*c.block, len(dst)):]
		}
		if c.padded {
			d.at = (d.at + 7) &^ 7
		}
	}
	return d.trailing()
}

// trailing checks that nothing but padding is left: zeros up to the next
// multiple of eight octets at most.
func (d *decoder) trailing() error {
	left := d.end - min(d.at, d.end)
	if left >= 64 {
		return fmt.Errorf("%d octets behind the last CCSDS block: want none but padding", left/8)
	}
	if bits.LeadingZeros64(load(d.payload, d.at)) < int(left) {
		return fmt.Errorf("the last %d bits behind the last CCSDS block: want zeros", left)
	}
	return nil
}
