package ground

import (
	"bufio"
	"compress/zlib"
	"errors"
	"fmt"
	"io"
	"slices"
)

var errShort = errors.New("ends before its last pixel")

// unpacker turns the octets of one strip or tile after the other into values.
type unpacker struct {
	file *tiffFile
	layout
	in        *bufio.Reader
	room, row []byte
	lzw       *lzwTable
}

// chunk finds strip or tile k; count is 0 where the file leaves it out, as
// sparse files do.
func (u *unpacker) chunk(k int) (at, count uint64, err error) {
	if u.lone {
		return 0, uint64(u.file.size), nil
	}
	if at, err = u.file.whole(u.offsets, uint64(k), 0); err != nil {
		return 0, 0, err
	}
	if count, err = u.file.whole(u.counts, uint64(k), 0); err != nil {
		return 0, 0, err
	}
	size := uint64(u.file.size)
	if at > size || count > size-at {
		return 0, 0, fmt.Errorf("strip or tile %d: %d octets at octet %d: beyond the file's end, octet %d", k+1, count, at, size)
	}
	return at, count, nil
}

// rows unpacks rows from (counted from 0) up to but not including to of strip
// or tile k. It is nil where the file leaves the chunk out. The octets hold
// until the next call.
func (u *unpacker) rows(k, from, to int) ([]byte, error) {
	at, count, err := u.chunk(k)
	if err != nil || count == 0 {
		return nil, err
	}
	octets := uint64(u.rowOctets())
	begin, end := uint64(from)*octets, uint64(to)*octets
	if u.packed == packedNot {
		begin, end = at+begin, at+end
		if end > at+count {
			return nil, fmt.Errorf("strip or tile %d: %w", k+1, errShort)
		}
		at, count = begin, end-begin
		begin, end = 0, count
	}
	if end > maxChunk {
		return nil, fmt.Errorf("strip or tile %d: %d octets unpacked: want at most %d", k+1, end, maxChunk)
	}
	in := io.NewSectionReader(u.file.r, int64(at), int64(count))
	if u.in == nil {
		u.in = bufio.NewReaderSize(in, 1<<15)
	}
	u.in.Reset(in)
	if u.room, err = u.unpack(u.room[:0], u.in, int(end)); err != nil {
		return nil, fmt.Errorf("strip or tile %d: %w", k+1, err)
	}
	rows := u.room[begin:end]
	for i := 0; i < len(rows); i += int(octets) {
		u.predict(rows[i : i+int(octets)])
	}
	return rows, nil
}

// unpack appends want octets of a chunk. Room is made as they come, not as the
// header promises.
func (u *unpacker) unpack(dst []byte, r *bufio.Reader, want int) ([]byte, error) {
	switch u.packed {
	case packedLZW:
		if u.lzw == nil {
			u.lzw = new(lzwTable)
		}
		return u.lzw.unpack(dst, r, want)
	case packedBits:
		return unpackBits(dst, r, want)
	case packedNot:
		return readAll(dst, r, want)
	}
	z, err := zlib.NewReader(r)
	if err != nil {
		return dst, fmt.Errorf("deflate: %w", err)
	}
	return readAll(dst, z, want)
}

// readAll appends want octets, a step at a time.
func readAll(dst []byte, r io.Reader, want int) ([]byte, error) {
	for len(dst) < want {
		step := min(want-len(dst), 1<<16)
		dst = slices.Grow(dst, step)
		n, err := io.ReadFull(r, dst[len(dst):len(dst)+step])
		dst = dst[:len(dst)+n]
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return dst, errShort
		}
		if err != nil {
			return dst, err
		}
	}
	return dst, nil
}

// unpackBits appends want octets of PackBits (TIFF 6.0, section 9): an octet n
// up to 127 stands before n+1 octets as they are, one over 128 before an octet
// that comes 257−n times; 128 is nothing.
func unpackBits(dst []byte, r *bufio.Reader, want int) ([]byte, error) {
	for len(dst) < want {
		n, err := r.ReadByte()
		if err != nil {
			return dst, errShort
		}
		times, run := int(n)+1, 1
		switch {
		case n == 128:
			continue
		case n > 128:
			times, run = 1, 257-int(n)
		}
		for range times {
			b, err := r.ReadByte()
			if err != nil {
				return dst, errShort
			}
			for range run {
				dst = append(dst, b)
			}
		}
	}
	return dst[:want], nil
}

// lzwTable is the strings of TIFF's LZW (TIFF 6.0, section 13): each is an
// earlier one and an octet.
type lzwTable struct {
	before [4096]uint16
	last   [4096]byte
	length [4096]uint16
}

const (
	lzwClear = 256
	lzwEnd   = 257
)

// unpack appends want octets. Codes are 9 to 12 bits, high bit first, and grow
// one code earlier than they need to.
func (t *lzwTable) unpack(dst []byte, r *bufio.Reader, want int) ([]byte, error) {
	next, width, old := lzwEnd+1, 9, -1
	var bits uint32
	held := 0
	for len(dst) < want {
		for held < width {
			b, err := r.ReadByte()
			if err != nil {
				return dst, errShort
			}
			bits, held = bits<<8|uint32(b), held+8
		}
		code := int(bits >> (held - width) & (1<<width - 1))
		held -= width
		switch {
		case code == lzwEnd:
			return dst, errShort
		case code == lzwClear:
			next, width, old = lzwEnd+1, 9, -1
			continue
		case code > next || code == next && old < 0 || old < 0 && code > lzwEnd:
			return dst, fmt.Errorf("LZW code %d: want at most %d", code, next)
		}
		start := len(dst)
		if code < next {
			dst = t.put(dst, code)
		} else { // the string that is only being made: the last one and its own first octet
			dst = t.put(dst, old)
			dst = append(dst, dst[start])
		}
		if old >= 0 && next < len(t.last) {
			t.before[next], t.last[next], t.length[next] = uint16(old), dst[start], t.of(old)+1
			next++
			if next >= 1<<width-1 && width < 12 {
				width++
			}
		}
		old = code
	}
	return dst[:want], nil
}

// of is the length of a code's string.
func (t *lzwTable) of(code int) uint16 {
	if code < lzwClear {
		return 1
	}
	return t.length[code]
}

// put appends a code's string, which is found from its end.
func (t *lzwTable) put(dst []byte, code int) []byte {
	n := int(t.of(code))
	dst = slices.Grow(dst, n)[:len(dst)+n]
	i := len(dst) - 1
	for ; code > lzwEnd; i-- {
		dst[i] = t.last[code]
		code = int(t.before[code])
	}
	dst[i] = byte(code)
	return dst
}
