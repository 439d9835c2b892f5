package grib

import (
	"fmt"
	"math"
	"slices"
)

// Unpacker unpacks fields one after the other in memory that it uses again: once
// it has grown to the largest, only a dst that is too small costs an allocation.
// The zero value is ready. It is for one goroutine at a time.
type Unpacker struct {
	head   []byte    // section 7 up to the packed values, where something is before them
	packed []byte    // the packed values that are wanted
	skip   uint64    // bits of section 7, after its head, before packed
	bitmap []byte    // section 6
	all    []float32 // the stored values, of a packing that can only be unpacked whole
	sparse []float32 // points, missing ones too, in the order of the stream
	turned []float32 // columns of a window
	groups groupBlock
	room   [chunk + spare]int64 // packed integers
}

// chunk is how many packed integers are held at a time, 4 KiB.
const chunk = 512

// Values unpacks the field as Field.Values does.
func (u *Unpacker) Values(f *Field, dst []float32) ([]float32, error) {
	return u.Window(f, Window{Rows: f.Grid.NY, Cols: f.Grid.NX}, dst)
}

// Window unpacks a part of the field: Rows·Cols values, rows from south to north,
// each from west to east, to the bit those that Values has there. Like Values it
// takes dst if its capacity suffices.
//
// It does not look at what it does not need: packed values behind the last that
// is wanted are not read, and are damaged unseen; but section 7 is held against
// the size that the headers give it.
func (u *Unpacker) Window(f *Field, w Window, dst []float32) ([]float32, error) {
	if f.refusal != nil {
		return nil, f.wrap(f.refusal)
	}
	if err := w.check(f.Grid); err != nil {
		return nil, f.wrap(err)
	}
	dst, err := u.unpack(f, f.cut(w), dst)
	if err != nil {
		return nil, f.wrap(err)
	}
	return dst, nil
}

// unpack reads what is needed of sections 6 and 7 and returns the values of a cut.
// Memory for them is allocated only when section 7 is found to be long enough for
// all that it is said to hold.
func (u *Unpacker) unpack(f *Field, c cut, dst []float32) ([]float32, error) {
	first, last := c.bounds()
	from, to := first, last // among the values that are stored
	mapped := f.bitmap.length > 0
	if mapped {
		var err error
		if from, to, err = u.cover(f, first, last); err != nil {
			return nil, fmt.Errorf("section 6: %w", err)
		}
	}
	if err := u.fetch(f, from, to); err != nil {
		return nil, fmt.Errorf("section 7: %w", err)
	}
	dst = room(dst, c.lines.n*c.points.n)
	lines := dst
	if c.columns {
		u.turned = room(u.turned, len(dst))
		lines = u.turned
	}
	if mapped {
		u.sparse = room(u.sparse, last-first)
		if err := u.expand(f, u.sparse[:to-from], run(from, to)); err != nil {
			return nil, fmt.Errorf("section 7: %w", err)
		}
		spread(u.sparse, u.bitmap, first, to-from)
		c.pieces().copy(lines, u.sparse, first)
	} else if err := u.expand(f, lines, c.pieces()); err != nil {
		return nil, fmt.Errorf("section 7: %w", err)
	}
	c.settle(dst, lines)
	return dst, nil
}

// room returns b with length n, in new memory if its own does not suffice.
func room[T any](b []T, n int) []T {
	if cap(b) < n {
		return make([]T, n)
	}
	return b[:n]
}

// cover reads the bitmap and returns which of the stored values those of the
// points first to last-1 are.
func (u *Unpacker) cover(f *Field, first, last int) (from, to int, err error) {
	if u.bitmap, err = f.read(u.bitmap, f.bitmap, 0, f.bitmap.length); err != nil {
		return 0, 0, err
	}
	if n := countOnes(u.bitmap, f.Points); n != f.stored {
		return 0, 0, fmt.Errorf("%d points present: want the %d values of section 5", n, f.stored)
	}
	return countOnes(u.bitmap, first), countOnes(u.bitmap, last), nil
}

// read returns the octets from to to-1 of a segment of the file, with padding
// zeros behind them, in the memory of b if it suffices.
func (f *Field) read(b []byte, s segment, from, to int64) ([]byte, error) {
	n := int(to - from)
	b = room(b, n+padding)
	clear(b[n:])
	return b, readFull(f.source, b[:n], s.offset+from)
}

// fetch checks that section 7 is as long as what it is said to hold, and reads
// what expand needs of it for the values from to to-1.
func (u *Unpacker) fetch(f *Field, from, to int) error {
	switch {
	case f.constant():
		return nil
	case f.Packing == 0:
		return u.fetchSimple(f, from, to)
	case f.Packing == 2 || f.Packing == 3:
		return u.fetchGroups(f, from, to)
	default:
		return u.fetchWhole(f)
	}
}

// fetchWhole reads all of section 7, for the packings that can only be unpacked
// whole.
func (u *Unpacker) fetchWhole(f *Field) (err error) {
	if f.Packing == 4 {
		if err := f.enough(uint64(f.float) * 8); err != nil {
			return err
		}
	}
	if u.packed, err = f.read(u.packed, f.payload, 0, f.payload.length); err != nil {
		return err
	}
	switch f.Packing {
	case 41, 40010:
		_, err = imageHeader(u.packed, f.scale.bits, f.stored)
	case 42:
		err = f.coding.enough(u.packed, f.stored)
	}
	return err
}

// enough checks that section 7 is long enough for values of the given bits one
// behind the other.
func (f *Field) enough(bits uint64) error {
	want := (uint64(f.stored)*bits + 7) / 8
	if have := uint64(f.payload.length); have < want {
		return fmt.Errorf("%d octets of values: want %d, for %d values of %d bits", have, want, f.stored, bits)
	}
	return nil
}

// whole unpacks all values of a packing that can only be unpacked whole.
func (u *Unpacker) whole(f *Field, dst []float32) error {
	switch f.Packing {
	case 4:
		return ieee(dst, u.packed, f.float)
	case 42:
		return f.scale.ccsds(dst, u.packed, f.coding)
	default:
		return f.scale.png(dst, u.packed)
	}
}

// expand unpacks the values of the wanted pieces of the stream, which fetch has
// made ready, each into its place in dst. A packing that can only be unpacked
// whole does so elsewhere and leaves the choice to want.copy(dst, all, 0).
func (u *Unpacker) expand(f *Field, dst []float32, want pieces) error {
	switch {
	case f.constant():
		f.scale.constant(dst)
	case f.Packing == 0:
		u.simple(f, dst, want)
	case f.Packing == 2 || f.Packing == 3:
		if err := u.complex(f, dst, want); err != nil {
			return err
		}
	default:
		u.all = room(u.all, f.stored)
		if err := u.whole(f, u.all); err != nil {
			return err
		}
		want.copy(dst, u.all, 0)
	}
	if f.scale.fits() {
		return nil
	}
	for _, v := range dst {
		if math.IsInf(float64(v), 0) {
			return fmt.Errorf("value %v: want the range of float32, with R = %g, 2^E = %g, 10^-D = %g", v, float32(f.scale.reference), f.scale.binary, f.scale.decimal)
		}
	}
	return nil
}

// constant reports whether all values are the reference value and section 7 is
// empty: no bits, or no groups. There are encoders that then take R for the value
// itself; here it is R·10^-D, by the formula of regulation 92.9.4.
func (f *Field) constant() bool {
	switch f.Packing {
	case 2, 3:
		return f.groups.n == 0
	case 4:
		return false
	}
	return f.scale.bits == 0
}

// constant fills dst with the value of X = 0.
func (s scaling) constant(dst []float32) {
	v := float32(s.reference * s.decimal)
	for i := range dst {
		dst[i] = v
	}
}

// fetchSimple is fetch for packing 5.0.
func (u *Unpacker) fetchSimple(f *Field, from, to int) error {
	bits := uint64(f.scale.bits)
	want := (uint64(f.stored)*bits + 7) / 8
	if have := uint64(f.payload.length); have < want {
		return fmt.Errorf("%d octets of values: want %d, for %d values of %d bits", have, want, f.stored, bits)
	}
	return u.fetchBits(f, uint64(from)*bits, uint64(to)*bits)
}

// fetchBits reads the bits from to to-1 of section 7 into packed.
func (u *Unpacker) fetchBits(f *Field, from, to uint64) error {
	first := from / 8
	u.skip = first * 8
	var err error
	u.packed, err = f.read(u.packed, f.payload, int64(first), int64((to+7)/8))
	return err
}

// simple unpacks integers of equal width, one behind the other.
func (u *Unpacker) simple(f *Field, dst []float32, want pieces) {
	bits := uint64(f.scale.bits)
	for p := want.next(); p.n > 0; p = want.next() {
		at := uint64(p.at)*bits - u.skip
		for part := range slices.Chunk(dst[p.to:][:p.n], chunk) {
			x := u.room[:len(part)]
			take(x, u.packed, at, f.scale.bits, 0)
			f.scale.convert(part, x)
			at += chunk * bits
		}
	}
}

// convert turns packed integers into values.
func (s scaling) convert(dst []float32, x []int64) {
	dst = dst[:len(x)]
	for i, v := range x {
		dst[i] = float32((s.reference + float64(v)*s.binary) * s.decimal)
	}
}

// fits reports whether no value can be beyond float32, whatever the integers.
func (s scaling) fits() bool {
	return (math.Abs(s.reference)+math.Exp2(63)*s.binary)*s.decimal <= math.MaxFloat32
}

// spread moves the first n values of dst, which stands for the points from first
// on, to those that the bitmap has bits set for, n of them, and makes the others
// NaN. It works from the end, so that no value is overwritten before it has moved.
func spread(dst []float32, bitmap []byte, first, n int) {
	missing := float32(math.NaN())
	for i := len(dst) - 1; i >= 0; i-- {
		k := first + i
		if bitmap[k>>3]>>(7-k&7)&1 == 0 {
			dst[i] = missing
			continue
		}
		n--
		dst[i] = dst[n]
	}
}
