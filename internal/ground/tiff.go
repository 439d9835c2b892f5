package ground

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Tags of a TIFF directory that are looked at (TIFF 6.0 of 1992, part 2;
// GeoTIFF 1.0, section 2; the last two are GDAL's own).
const (
	tagWidth          = 256
	tagLength         = 257
	tagBits           = 258
	tagCompression    = 259
	tagFillOrder      = 266
	tagStripOffsets   = 273
	tagOrientation    = 274
	tagSamples        = 277
	tagRowsPerStrip   = 278
	tagStripCounts    = 279
	tagPlanar         = 284
	tagPredictor      = 317
	tagTileWidth      = 322
	tagTileLength     = 323
	tagTileOffsets    = 324
	tagTileCounts     = 325
	tagFormat         = 339
	tagPixelScale     = 33550
	tagTiepoint       = 33922
	tagTransformation = 34264
	tagGeoKeys        = 34735
	tagMetadata       = 42112
	tagNoData         = 42113
)

// maxEntries bounds the entries of a directory.
const maxEntries = 1000

// tag is the values of an entry: of what kind, how many, and where in the file.
type tag struct {
	kind  uint16
	count uint64
	at    int64
}

// kindSizes is the octets that a value of a kind takes (TIFF 6.0, section 2;
// BigTIFF adds 16 to 18); zero is a kind that is not known.
var kindSizes = [...]uint64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}

// tiffFile is the first directory of a TIFF file. Values stay in the file until
// they are asked for, so that no count in a header costs memory.
type tiffFile struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	tags  map[uint16]tag
}

// isTIFF reports whether octets begin as a TIFF or BigTIFF file does.
func isTIFF(b []byte) bool {
	switch string(b[:min(len(b), 4)]) {
	case "II*\x00", "MM\x00*", "II+\x00", "MM\x00+":
		return true
	}
	return false
}

// openTIFF reads the header and the first directory: the whole image in a file
// that has overviews.
//
//	octets  classic                      BigTIFF
//	1–2     II or MM, the order of octets
//	3–4     42                           43
//	5–8     place of the directory       8, 0: octets of a place
//	9–16                                 place of the directory
func openTIFF(r io.ReaderAt, size int64) (*tiffFile, error) {
	f := &tiffFile{r: r, size: size, tags: map[uint16]tag{}}
	head, err := f.octets(0, 8)
	if err != nil {
		return nil, err
	}
	if !isTIFF(head) {
		return nil, fmt.Errorf("begins with % x: want a TIFF or BigTIFF header", head[:4])
	}
	f.order = binary.LittleEndian
	if head[0] == 'M' {
		f.order = binary.BigEndian
	}
	if f.order.Uint16(head[2:]) == 42 {
		return f, f.directory(uint64(f.order.Uint32(head[4:])), 4)
	}
	if n := f.order.Uint16(head[4:]); n != 8 {
		return nil, fmt.Errorf("BigTIFF places of %d octets: want 8", n)
	}
	place, err := f.octets(8, 8)
	if err != nil {
		return nil, err
	}
	return f, f.directory(f.order.Uint64(place), 8)
}

// directory reads the entries of a directory whose places take so many octets.
//
//	octets of an entry   classic   BigTIFF
//	tag                  1–2       1–2
//	kind                 3–4       3–4
//	count                5–8       5–12
//	values or place      9–12      13–20
func (f *tiffFile) directory(at uint64, word int) error {
	counter := word
	if word == 4 {
		counter = 2
	}
	b, err := f.octets(at, counter)
	if err != nil {
		return fmt.Errorf("directory: %w", err)
	}
	n := f.word(b)
	if n < 1 || n > maxEntries {
		return fmt.Errorf("directory of %d entries: want 1 to %d", n, maxEntries)
	}
	length := 4 + 2*word
	at += uint64(counter)
	entries, err := f.octets(at, int(n)*length)
	if err != nil {
		return fmt.Errorf("directory: %w", err)
	}
	for i := range int(n) {
		e := entries[i*length : (i+1)*length]
		t := tag{kind: f.order.Uint16(e[2:]), count: f.word(e[4 : 4+word])}
		if int(t.kind) >= len(kindSizes) || kindSizes[t.kind] == 0 {
			continue // a kind of a later standard, in a tag that nobody asks for
		}
		place, size := at+uint64(i*length+4+word), kindSizes[t.kind]
		if t.count > uint64(word)/size {
			place = f.word(e[4+word:])
		}
		if place > uint64(f.size) || t.count > (uint64(f.size)-place)/size {
			return fmt.Errorf("tag %d: %d values at octet %d: beyond the file's end, octet %d", f.order.Uint16(e), t.count, place, f.size)
		}
		t.at = int64(place)
		f.tags[f.order.Uint16(e)] = t
	}
	return nil
}

// word is a number of 2, 4 or 8 octets.
func (f *tiffFile) word(b []byte) uint64 {
	switch len(b) {
	case 2:
		return uint64(f.order.Uint16(b))
	case 4:
		return uint64(f.order.Uint32(b))
	}
	return f.order.Uint64(b)
}

// octets reads some octets of the file; callers bound how many.
func (f *tiffFile) octets(at uint64, n int) ([]byte, error) {
	if at > uint64(f.size) || uint64(n) > uint64(f.size)-at {
		return nil, fmt.Errorf("%d octets at octet %d: beyond the file's end, octet %d", n, at, f.size)
	}
	b := make([]byte, n)
	if _, err := f.r.ReadAt(b, int64(at)); err != nil {
		return nil, fmt.Errorf("%d octets at octet %d: %w", n, at, err)
	}
	return b, nil
}

// whole is value i of a tag of unsigned whole numbers, or the standard's
// default where the file has no such tag.
func (f *tiffFile) whole(name uint16, i, missing uint64) (uint64, error) {
	t, ok := f.tags[name]
	if !ok {
		return missing, nil
	}
	switch t.kind {
	case 1, 3, 4, 13, 16:
	default:
		return 0, fmt.Errorf("tag %d: kind %d: want unsigned whole numbers", name, t.kind)
	}
	if i >= t.count {
		return 0, fmt.Errorf("tag %d: %d values: want more than %d", name, t.count, i)
	}
	size := kindSizes[t.kind]
	b, err := f.octets(uint64(t.at)+i*size, int(size))
	if err != nil {
		return 0, fmt.Errorf("tag %d: %w", name, err)
	}
	if size == 1 {
		return uint64(b[0]), nil
	}
	return f.word(b), nil
}

// doubles is the values of a tag of kind 12, none where there is no such tag
// and at most 100.
func (f *tiffFile) doubles(name uint16) ([]float64, error) {
	t, ok := f.tags[name]
	if !ok {
		return nil, nil
	}
	if t.kind != 12 {
		return nil, fmt.Errorf("tag %d: kind %d: want 12, doubles", name, t.kind)
	}
	n := int(min(t.count, 100))
	b, err := f.octets(uint64(t.at), 8*n)
	if err != nil {
		return nil, fmt.Errorf("tag %d: %w", name, err)
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = math.Float64frombits(f.order.Uint64(b[8*i:]))
	}
	return v, nil
}

// text is the octets of a tag, at most 64 KiB of them; empty where there is no
// such tag.
func (f *tiffFile) text(name uint16) ([]byte, error) {
	t, ok := f.tags[name]
	if !ok {
		return nil, nil
	}
	if t.kind != 2 && t.kind != 1 {
		return nil, fmt.Errorf("tag %d: kind %d: want 2, text", name, t.kind)
	}
	return f.octets(uint64(t.at), int(min(t.count, 1<<16)))
}
