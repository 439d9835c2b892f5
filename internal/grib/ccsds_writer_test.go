package grib_test

import (
	"math/rand/v2"
	"slices"
)

// coding is an encoder of CCSDS 121.0-B-3, written from the standard a bit at a
// time, and its template 5.42. Chapters and tables are those of ccsds.go.
type coding struct {
	scale    scale
	flags    byte // of template 5.42
	block    int  // J
	interval int  // r
}

// Flags of template 5.42.
const (
	preprocess  = 0x08
	restricted  = 0x10
	padInterval = 0x20
)

// option is a way to code a block: zeroRun, extension, plain, or k of a split.
type option int

const (
	zeroRun   option = -3
	extension option = -2
	asIs      option = -1
)

// choice picks one of the options that a block may have.
type choice func(options []option) option

// sections are 5 to 7 of a message of the integers, in the options that choose
// picks.
func (c coding) sections(choose choice, x ...uint64) []byte {
	five := section(5, uint32(len(x)), uint16(42), c.scale.octets(), c.flags, byte(c.block), uint16(c.interval))
	return slices.Concat(five, noBitmap, section(7, c.encode(choose, x)))
}

// encode codes samples interval by interval. The last block is filled up with
// its last sample.
func (c coding) encode(choose choice, x []uint64) []byte {
	x = slices.Clone(x)
	for len(x)%c.block != 0 {
		x = append(x, x[len(x)-1])
	}
	var out bitString
	for interval := range slices.Chunk(x, c.block*c.interval) {
		coded, reference := interval, false
		if c.flags&preprocess != 0 {
			coded, reference = mapped(interval, uint64(1)<<c.scale.bits-1), true
		}
		c.encodeInterval(&out, choose, coded, interval[0], reference)
		for c.flags&padInterval != 0 && out.n%8 != 0 {
			out.put(0, 1)
		}
	}
	return out.octets
}

// mapped is the prediction errors of samples 0 to most, chapter 4: each is
// predicted to be as the one before. The first, which is not, has 0.
func mapped(x []uint64, most uint64) []uint64 {
	out := []uint64{0}
	for i := 1; i < len(x); i++ {
		before, error := int64(x[i-1]), int64(x[i])-int64(x[i-1])
		theta := min(before, int64(most)-before)
		switch {
		case 0 <= error && error <= theta:
			out = append(out, uint64(2*error))
		case -theta <= error && error < 0:
			out = append(out, uint64(-2*error-1))
		default:
			out = append(out, uint64(theta+max(error, -error)))
		}
	}
	return out
}

// encodeInterval codes the blocks of an interval; reference tells that the first
// sample goes before them as it is.
func (c coding) encodeInterval(out *bitString, choose choice, coded []uint64, first uint64, reference bool) {
	blocks := slices.Collect(slices.Chunk(coded, c.block))
	for b := 0; b < len(blocks); {
		block := blocks[b]
		run := zeroBlocks(blocks, b)
		head := func(id uint64, more ...uint64) {
			out.put(id, c.identifier())
			for _, bit := range more {
				out.put(bit, 1)
			}
			if b == 0 && reference {
				out.put(first, int(c.scale.bits))
			}
		}
		if b == 0 && reference {
			block = block[1:]
		}
		chosen := choose(c.options(block, run > 0))
		used := 1
		switch chosen {
		case zeroRun:
			head(0, 0)
			used = 1 + int(choose(upTo(run)))
			// 5 and more that reach the end of the segment, or of the blocks.
			if used == run && used >= 5 && (b+used)%64 == 0 || used == run && used >= 5 && b+used == len(blocks) {
				unary(out, 4)
				break
			}
			if used >= 5 {
				unary(out, uint64(used))
				break
			}
			unary(out, uint64(used-1))
		case extension:
			head(0, 1)
			for pair := range slices.Chunk(blocks[b], 2) {
				unary(out, (pair[0]+pair[1])*(pair[0]+pair[1]+1)/2+pair[1])
			}
		case asIs:
			out.put(1<<c.identifier()-1, c.identifier())
			for i, v := range blocks[b] {
				if i == 0 && b == 0 && reference {
					v = first
				}
				out.put(v, int(c.scale.bits))
			}
		default:
			k := int(chosen)
			head(uint64(k + 1))
			for _, v := range block {
				unary(out, v>>k)
			}
			for _, v := range block {
				out.put(v&(1<<k-1), k)
			}
		}
		b += used
	}
}

// zeroBlocks is how many blocks from b on, in its segment of 64, are all zero.
func zeroBlocks(blocks [][]uint64, b int) int {
	n := 0
	for ; b+n < len(blocks) && (n == 0 || (b+n)%64 != 0); n++ {
		if slices.Max(blocks[b+n]) != 0 {
			break
		}
	}
	return n
}

// upTo is the options 0 to n-1, the last first.
func upTo(n int) []option {
	var all []option
	for i := n - 1; i >= 0; i-- {
		all = append(all, option(i))
	}
	return all
}

// identifier is the length of an option identifier, table 5-1.
func (c coding) identifier() int {
	n := c.scale.bits
	switch {
	case c.flags&restricted != 0 && n <= 2:
		return 1
	case c.flags&restricted != 0 && n <= 4:
		return 2
	case n <= 8:
		return 3
	case n <= 16:
		return 4
	}
	return 5
}

// options are those of table 5-1 that code a block in not much more than it has.
func (c coding) options(block []uint64, zero bool) []option {
	all := []option{asIs}
	if zero {
		all = append(all, zeroRun)
	}
	sums := uint64(0)
	for _, v := range block {
		sums += v
	}
	if sums <= 60 {
		all = append(all, extension)
	}
	for k := 0; k+1 < 1<<c.identifier()-1 && k < int(c.scale.bits); k++ {
		if sums>>k <= 4000 {
			all = append(all, option(k))
		}
	}
	return all
}

// unary is a fundamental sequence, table 3-1.
func unary(out *bitString, v uint64) {
	for range v {
		out.put(0, 1)
	}
	out.put(1, 1)
}

// anyOption picks by chance.
func anyOption(r *rand.Rand) choice {
	return func(options []option) option { return options[r.IntN(len(options))] }
}

// mostly picks an option wherever a block may have it, else as it is, and the
// longest of runs.
func mostly(wanted option) choice {
	return func(options []option) option {
		if slices.Contains(options, wanted) {
			return wanted
		}
		return options[0]
	}
}
