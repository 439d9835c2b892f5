package grib

import (
	"fmt"
	"math"
)

// streams are where the parts of section 7 in complex packing begin, in bits
// after its head: the extra descriptors of spatial differencing (at 0), the
// references of the groups, their widths, their lengths, the values.
type streams struct {
	references, widths, lengths, values uint64
}

// groupBlock holds some groups of a field.
type groupBlock struct {
	streams
	references, widths, lengths [groupsHeld + spare]int64
	start                       groupPlace // where unpacking begins
	to                          int        // value before which it ends
}

// groupPlace is the beginning of a group: its number from 0, the value of the
// stream and the bit of the packed values at which it begins.
type groupPlace struct {
	group, value int
	bit          uint64
}

const groupsHeld = 256

// absent marks a missing value among packed integers.
const absent = math.MinInt64

// fetchGroups is fetch for packings 5.2 and 5.3. Differences are summed up from
// the first value on; without them, what is before the first group that is
// wanted is left out.
func (u *Unpacker) fetchGroups(f *Field, from, to int) error {
	g := &f.groups
	s := g.layout(f.scale.bits)
	octets := uint64(f.payload.length)
	if s.values > octets*8 {
		return fmt.Errorf("%d octets: want at least %d, for descriptors, references, widths and lengths of %d groups", octets, s.values/8, g.n)
	}
	u.groups.streams = s
	var err error
	if u.head, err = f.read(u.head, f.payload, 0, int64(s.values/8)); err != nil {
		return err
	}
	end, total, err := u.measure(f, from, to)
	if err != nil {
		return err
	}
	if want := (s.values + total + 7) / 8; octets < want {
		return fmt.Errorf("%d octets: want at least %d, for %d values in %d groups", octets, want, f.stored, g.n)
	}
	return u.fetchBits(f, s.values+u.groups.start.bit, s.values+end)
}

// layout returns where the parts of section 7 begin if group references have the
// given bits.
func (g *grouping) layout(bits uint) streams {
	count := uint64(g.n)
	whole := func(bits uint64) uint64 { return (bits + 7) &^ 7 }
	var s streams
	if g.order > 0 {
		s.references = uint64(g.order+1) * uint64(g.extraOctets) * 8
	}
	s.widths = s.references + whole(count*uint64(bits))
	s.lengths = s.widths + whole(count*uint64(g.widthBits))
	s.values = s.lengths + whole(count*uint64(g.lengthBits))
	return s
}

// measure walks the groups, which must hold as many values as section 5 says. It
// sets where unpacking the values from to to-1 begins, and returns the bits of the
// packed values up to the end of the last group that is needed, and of all.
func (u *Unpacker) measure(f *Field, from, to int) (end, total uint64, err error) {
	g, b := &f.groups, &u.groups
	b.start, b.to = groupPlace{}, to
	values := uint64(0)
	for k := 0; k < g.n; k += groupsHeld {
		n := u.loadSizes(g, k)
		for i := range n {
			width, length := uint64(b.widths[i]), uint64(b.lengths[i])
			if width > maxBits {
				return 0, 0, fmt.Errorf("group %d of %d: %d bits per value: want at most %d", k+i+1, g.n, width, maxBits)
			}
			if g.order == 0 && values <= uint64(from) {
				b.start = groupPlace{k + i, int(values), total}
			}
			before := values
			values += length
			total += length * width
			if length > uint64(f.stored) || values > uint64(f.stored) {
				return 0, 0, fmt.Errorf("group %d of %d: the groups so far hold more values than the %d of section 5", k+i+1, g.n, f.stored)
			}
			if before < uint64(to) {
				end = total
			}
		}
	}
	if values != uint64(f.stored) {
		return 0, 0, fmt.Errorf("%d groups hold %d values: want the %d of section 5", g.n, values, f.stored)
	}
	return max(end, b.start.bit), total, nil
}

// loadSizes takes widths, in bits per value, and lengths, in values, of the groups
// from k on and returns how many it has.
func (u *Unpacker) loadSizes(g *grouping, k int) int {
	b := &u.groups
	n := min(groupsHeld, g.n-k)
	take(b.widths[:n], u.head, b.streams.widths+uint64(k)*uint64(g.widthBits), g.widthBits, int64(g.widthBase))
	take(b.lengths[:n], u.head, b.streams.lengths+uint64(k)*uint64(g.lengthBits), g.lengthBits, 0)
	for i := range n {
		b.lengths[i] = int64(g.lengthBase) + b.lengths[i]*int64(g.lengthStep)
	}
	if k+n == g.n {
		b.lengths[n-1] = int64(g.lastLength)
	}
	return n
}

// load is loadSizes and takes the references as well.
func (u *Unpacker) load(f *Field, k int) int {
	n := u.loadSizes(&f.groups, k)
	bits := f.scale.bits
	take(u.groups.references[:n], u.head, u.groups.streams.references+uint64(k)*uint64(bits), bits, 0)
	return n
}

// complex unpacks the groups from where fetchGroups has found the first that is
// needed, up to the last value that is.
func (u *Unpacker) complex(f *Field, dst []float32, want pieces) error {
	b := &u.groups
	c := newChain(f, u.head)
	c.dst, c.want, c.at = dst, want, b.start.value
	c.now = c.want.next()
	bit, held := b.streams.values+b.start.bit-u.skip, 0
	for k, value := b.start.group, b.start.value; value < b.to; k += groupsHeld {
		for i := range u.load(f, k) {
			width := uint(b.widths[i])
			left := min(int(b.lengths[i]), b.to-value)
			value += left
			for left > 0 {
				n := min(left, chunk-held)
				u.group(&c, u.room[held:held+n], bit, i)
				bit += uint64(n) * uint64(width)
				left -= n
				held += n
				if held < chunk {
					continue
				}
				if err := c.emit(u.room[:held]); err != nil {
					return err
				}
				held = 0
			}
		}
	}
	return c.emit(u.room[:held])
}

// group fills x with integers of group i of those held, the first of which begins
// at bit at of packed.
func (u *Unpacker) group(c *chain, x []int64, at uint64, i int) {
	reference, width := u.groups.references[i], uint(u.groups.widths[i])
	switch {
	case width == 0:
		// All ones in the reference are the primary substitute for missing
		// values, one less the secondary.
		v := reference + c.least
		if reference > c.most {
			v = absent
		}
		for i := range x {
			x[i] = v
		}
	case c.missing == 0:
		take(x, u.packed, at, width, reference+c.least)
	default:
		take(x, u.packed, at, width, 0)
		c.mark(x, width, reference)
	}
}
