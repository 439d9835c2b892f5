package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
)

// decoder decodes coded data sets, the coded form of blocks (chapter 5).
type decoder struct {
	ccsds
	scaling
	payload []byte // with its padding
	end     uint64 // bits of it without
	at      uint64 // bit that is next, between coded data sets at most end
	most    uint64 // largest sample, 2^n - 1
	last    uint64 // the sample before, which predicts the next
	room    [maxBlock]uint64
}

var errCut = errors.New("the octets end within it")

// next decodes the coded data set of block b of an interval into the front of
// dst, as much of it as there is. It returns how many blocks it held: one, or a
// run of zero blocks.
//
// A coded data set is an identifier, the reference sample if the block is the
// first of an interval and samples are predicted, and the coded samples. The
// identifier 0 is shared by two options which the next bit tells apart, that of
// ones only stands for samples as they are, and those between for a split of
// k = identifier - 1 bits (table 5-1), of which k = 0 is the fundamental
// sequence.
func (d *decoder) next(dst []float32, b int) (blocks int, err error) {
	id := uint(peek(d.payload, d.at, d.idBits))
	d.at += uint64(d.idBits)
	plain := id == 1<<d.idBits-1
	extended := false
	if id == 0 {
		extended = peek(d.payload, d.at, 1) == 1
		d.at++
	}
	first := 0 // samples that are not coded: the reference
	if b == 0 && d.predicted && !plain {
		if d.at > d.end {
			return 0, errCut
		}
		d.last = uint64(peek(d.payload, d.at, d.bits))
		d.at += uint64(d.bits)
		first = 1
	}
	switch {
	case id == 0 && !extended:
		return d.zeros(dst, b)
	case extended:
		err = d.extension(first)
	case plain:
		err = d.plain()
	default:
		err = d.split(first, id-1)
	}
	if err != nil {
		return 0, err
	}
	if b == 0 && d.predicted {
		if plain {
			d.last = d.room[0]
		}
		d.room[0] = 0 // the reference predicts itself
	}
	return 1, d.emit(dst[:min(d.block, len(dst))])
}

// zeros decodes a run of blocks whose samples are all zero, or all equal to the
// one before if predicted (table 3-2): the fundamental sequence of 1 to 4 blocks
// is that number less one, 4 stands for the remainder of the segment of 64 blocks,
// and 5 blocks and more for their own number.
//
// The remainder of the last segment ends with the last sample, which may be before
// its last block.
func (d *decoder) zeros(dst []float32, b int) (blocks int, err error) {
	const remainder = 4
	var code [1]uint64
	if !d.sequence(code[:]) {
		return 0, errCut
	}
	left := min(maxRun-b%maxRun, d.interval-b)
	if run := code[0]; run == remainder {
		blocks = left
	} else {
		left = min(left, (len(dst)+d.block-1)/d.block)
		if run < remainder {
			run++
		}
		if run > uint64(left) {
			return 0, fmt.Errorf("a run of %d zero blocks: want at most the %d left", run, left)
		}
		blocks = int(run)
	}
	x := uint64(0)
	if d.predicted {
		x = d.last
	}
	v := float32((d.reference + float64(int64(x))*d.binary) * d.decimal)
	dst = dst[:min(blocks*d.block, len(dst))]
	for i := range dst {
		dst[i] = v
	}
	return blocks, nil
}

// extension decodes a block in the second extension option (chapter 3): each
// pair of samples x, y is the fundamental sequence of (x+y)(x+y+1)/2 + y. A
// reference sample takes the place of the first x, which is then 0.
func (d *decoder) extension(first int) error {
	var codes [maxBlock / 2]uint64
	pairs := codes[:d.block/2]
	if !d.sequence(pairs) {
		return errCut
	}
	for i, code := range pairs {
		sum := uint64(math.Sqrt(8*float64(code)+1)-1) / 2
		y := code - sum*(sum+1)/2
		d.room[2*i], d.room[2*i+1] = sum-y, y
	}
	if first == 1 && d.room[0] != 0 {
		return fmt.Errorf("%d in the place of the reference sample: want 0", d.room[0])
	}
	return nil
}

// plain takes the samples of a block as they are, the option of no compression
// (chapter 3).
func (d *decoder) plain() error {
	if d.at+uint64(d.block)*uint64(d.bits) > d.end {
		return errCut
	}
	at := d.at
	for i := range d.room[:d.block] {
		d.room[i] = uint64(peek(d.payload, at, d.bits))
		at += uint64(d.bits)
	}
	d.at = at
	return nil
}

// split decodes a block in the split-sample option (chapter 3): the
// fundamental sequences of all samples without their k lowest bits, then these
// bits of all.
func (d *decoder) split(first int, k uint) error {
	x := d.room[first:d.block]
	if !d.sequence(x) {
		return errCut
	}
	at := d.at
	d.at += uint64(len(x)) * uint64(k)
	if d.at > d.end {
		return errCut
	}
	if k > 0 {
		appendBits(x, d.payload, at, k)
	}
	return nil
}

// appendBits puts the integers of k bits each, 1 to 31, that begin at bit at behind
// the bits of x. Narrow ones come from eight octets in fours.
func appendBits(x []uint64, payload []byte, at uint64, k uint) {
	up, down := k&63, (64-k)&63
	if k <= 14 {
		for ; len(x) >= 4; x = x[4:] {
			w := load(payload, at)
			y := x[:4]
			y[0] = y[0]<<up | w>>down
			y[1] = y[1]<<up | w<<up>>down
			w = w << up << up
			y[2] = y[2]<<up | w>>down
			y[3] = y[3]<<up | w<<up>>down
			at += 4 * uint64(k)
		}
	}
	for i, high := range x {
		x[i] = high<<up | load(payload, at)>>down
		at += uint64(k)
	}
}

// sequence decodes len(x) fundamental sequences: each is as many zeros as its
// value, and a one (table 3-1). It returns false if the octets end before.
//
// The window holds 64 bits of the payload, first bit lowest, without those that
// have been used: the next one is then its lowest one, and to clear that takes no
// shift that waits for its place.
func (d *decoder) sequence(x []uint64) bool {
	base, next := d.at&^7, d.at // bit of the payload that is lowest in the window; first unused bit
	if base >= d.end {
		return false
	}
	window := mirrored(d.payload, base) & (^uint64(0) << (next & 7))
	for i := range x {
		for window == 0 {
			if base += 64; base >= d.end {
				return false
			}
			window = mirrored(d.payload, base)
		}
		one := base + uint64(bits.TrailingZeros64(window))
		window &= window - 1
		x[i] = one - next
		next = one + 1
	}
	d.at = next
	return next <= d.end
}

// mirrored returns 64 bits of b from bit at on, a multiple of 8, first bit lowest.
func mirrored(b []byte, at uint64) uint64 {
	w := binary.LittleEndian.Uint64(b[at>>3:])
	const ones, pairs, halves = 0x5555555555555555, 0x3333333333333333, 0x0f0f0f0f0f0f0f0f
	w = w>>1&ones | w&ones<<1
	w = w>>2&pairs | w&pairs<<2
	return w>>4&halves | w&halves<<4
}

// load returns the bits of b from bit at on, 57 of them at least, with zeros
// behind them.
func load(b []byte, at uint64) uint64 {
	return binary.BigEndian.Uint64(b[at>>3:]) << (at & 7)
}

// emit turns the coded samples of a block into values. Predicted ones are
// mapped prediction errors (chapter 4): the sample x before is the
// prediction, θ = min(x, most - x), and a δ up to 2θ stands for x + δ/2 if it is
// even, for x - (δ+1)/2 if it is odd. One above is as far beyond 2θ as the sample
// is farther than θ from x, on the side where there is room: that makes the
// sample δ itself if x is in the lower half, most - δ if it is in the upper.
func (d *decoder) emit(dst []float32) error {
	room := d.room[:len(dst)]
	sum, reach := uint64(0), uint64(0)
	for _, delta := range room {
		sum += delta
		reach |= delta
	}
	if reach > d.most {
		return fmt.Errorf("a sample is wider than %d bits", d.bits)
	}
	switch x := d.last; {
	case !d.predicted:
		for i, x := range room {
			dst[i] = float32((d.reference + float64(int64(x))*d.binary) * d.decimal)
		}
	case (sum+maxBlock)/2 <= min(x, d.most-x):
		d.inner(dst, room)
	default:
		d.edge(dst, room)
	}
	return nil
}

// inner adds prediction errors that take up, if all go one way, no more than the
// θ of the sample before: none of them is then above its own 2θ.
func (d *decoder) inner(dst []float32, room []uint64) {
	x := d.last
	reference, binary, decimal := d.reference, d.binary, d.decimal
	room = room[:len(dst)]
	for i := range dst {
		delta := room[i]
		x += delta>>1 ^ -(delta & 1)
		dst[i] = float32((reference + float64(int64(x))*binary) * decimal)
	}
	d.last = x
}

// edge adds prediction errors of any size.
func (d *decoder) edge(dst []float32, room []uint64) {
	x, most, top := d.last, d.most, (d.bits-1)&63
	reference, binary, decimal := d.reference, d.binary, d.decimal
	room = room[:len(dst)]
	for i := range dst {
		delta := room[i]
		upper := -(x >> top) & most // all ones if x is in the upper half
		next := x + (delta>>1 ^ -(delta & 1))
		if (delta+1)>>1 > upper^x {
			next = upper ^ delta
		}
		x = next
		dst[i] = float32((reference + float64(int64(x))*binary) * decimal)
	}
	d.last = x
}
