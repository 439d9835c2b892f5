package fetch

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Limits of a raster that is cut.
const (
	maxLevels  = 20      // directories of a file
	maxTags    = 200     // entries of a directory
	maxValue   = 4 << 20 // octets of an entry: places of half a million tiles
	maxCut     = 1 << 30 // octets of a crop
	maxCutTile = 64 << 20
)

// Tags of a TIFF directory that are changed or looked at (TIFF 6.0; GeoTIFF 1.0).
const (
	tagSubfile     = 254
	tagWidth       = 256
	tagLength      = 257
	tagDescription = 270
	tagSoftware    = 305
	tagDateTime    = 306
	tagTileWidth   = 322
	tagTileLength  = 323
	tagTileOffsets = 324
	tagTileCounts  = 325
	tagPixelScale  = 33550
	tagTiepoint    = 33922
	tagGeoKeys     = 34735
)

// geoTags stand only in the first directory of a file with overviews.
var geoTags = []uint16{tagPixelScale, tagTiepoint, tagGeoKeys, 34736, 34737, 42112, 42113}

// kindSize is the octets that a value of a kind takes (TIFF 6.0, section 2;
// BigTIFF adds 16 to 18).
var kindSize = [...]int{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}

// value is an entry of a directory: its octets in the order of the file.
type value struct {
	kind  uint16
	count int
	b     []byte
}

// directory is one image of a TIFF file: the whole, or an overview.
type directory map[uint16]value

// order is an order of octets that can be read and written.
type order interface {
	binary.ByteOrder
	binary.AppendByteOrder
}

// tiff reads the directories of a file, by a function that reads octets.
type tiff struct {
	order order
	big   bool
	read  func(at int64, n int) ([]byte, error)
}

// directories reads the header and all directories.
func (t *tiff) directories() ([]directory, error) {
	head, err := t.read(0, 16)
	if err != nil {
		return nil, err
	}
	switch string(head[:4]) {
	case "II*\x00":
		t.order = binary.LittleEndian
	case "MM\x00*":
		t.order = binary.BigEndian
	case "II+\x00":
		t.order, t.big = binary.LittleEndian, true
	case "MM\x00+":
		t.order, t.big = binary.BigEndian, true
	default:
		return nil, fmt.Errorf("begins with %q: want a TIFF header", head[:8])
	}
	next := int64(t.order.Uint32(head[4:]))
	if t.big {
		next = int64(t.order.Uint64(head[8:]))
	}
	var all []directory
	for next != 0 {
		if len(all) == maxLevels {
			return nil, fmt.Errorf("more than %d directories", maxLevels)
		}
		d, after, err := t.directory(next)
		if err != nil {
			return nil, fmt.Errorf("directory %d: %w", len(all)+1, err)
		}
		all, next = append(all, d), after
	}
	if len(all) == 0 {
		return nil, errors.New("no directory")
	}
	return all, nil
}

// word is a count or place of 2, 4 or 8 octets.
func (t *tiff) word(b []byte) uint64 {
	switch len(b) {
	case 2:
		return uint64(t.order.Uint16(b))
	case 4:
		return uint64(t.order.Uint32(b))
	}
	return t.order.Uint64(b)
}

// directory reads the directory at an octet, and where the next one lies.
func (t *tiff) directory(at int64) (d directory, next int64, err error) {
	counter, word := 2, 4
	if t.big {
		counter, word = 8, 8
	}
	b, err := t.read(at, counter)
	if err != nil {
		return nil, 0, err
	}
	n := t.word(b)
	if n < 1 || n > maxTags {
		return nil, 0, fmt.Errorf("%d entries: want 1 to %d", n, maxTags)
	}
	length := 4 + 2*word
	entries, err := t.read(at+int64(counter), int(n)*length+word)
	if err != nil {
		return nil, 0, err
	}
	d = directory{}
	for i := range int(n) {
		e := entries[i*length : (i+1)*length]
		kind, count := t.order.Uint16(e[2:]), t.word(e[4:4+word])
		if int(kind) >= len(kindSize) || kindSize[kind] == 0 {
			continue // of a later standard
		}
		size := kindSize[kind]
		if count > uint64(maxValue/size) {
			return nil, 0, fmt.Errorf("tag %d: %d values: want fewer than %d", t.order.Uint16(e), count, maxValue/size)
		}
		v := value{kind: kind, count: int(count), b: e[4+word : 4+word+min(int(count)*size, word)]}
		if int(count)*size > word {
			if v.b, err = t.read(int64(t.word(e[4+word:])), int(count)*size); err != nil {
				return nil, 0, fmt.Errorf("tag %d: %w", t.order.Uint16(e), err)
			}
		}
		d[t.order.Uint16(e)] = v
	}
	return d, int64(t.word(entries[int(n)*length:])), nil
}

// whole is value i of an entry of unsigned whole numbers.
func (t *tiff) whole(d directory, tag uint16, i int) (int64, error) {
	v, ok := d[tag]
	if !ok || i >= v.count {
		return 0, fmt.Errorf("tag %d: %d values: want more than %d", tag, v.count, i)
	}
	switch v.kind {
	case 1:
		return int64(v.b[i]), nil
	case 3, 4, 16:
		size := kindSize[v.kind]
		n := t.word(v.b[i*size : (i+1)*size])
		if n > math.MaxInt64 {
			return 0, fmt.Errorf("tag %d: %d: beyond any file", tag, n)
		}
		return int64(n), nil
	}
	return 0, fmt.Errorf("tag %d: kind %d: want whole numbers", tag, v.kind)
}

// doubles are the values of an entry of that kind.
func (t *tiff) doubles(d directory, tag uint16, n int) ([]float64, error) {
	v, ok := d[tag]
	if !ok || v.kind != 12 || v.count < n {
		return nil, fmt.Errorf("tag %d: want %d doubles", tag, n)
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = math.Float64frombits(t.order.Uint64(v.b[8*i:]))
	}
	return out, nil
}

// level is an image of a file and where it lies: its north-west corner and the
// size of its pixels, in degrees.
type level struct {
	d                       directory
	width, height           int64
	tileW, tileH            int64
	west, north, dLon, dLat float64
	points                  bool // values are those of points, at the middles of pixels
}

// levels are the images of a file, the finest first. Masks are passed over.
func (t *tiff) levels(all []directory) ([]level, error) {
	scale, err := t.doubles(all[0], tagPixelScale, 2)
	if err != nil {
		return nil, err
	}
	tie, err := t.doubles(all[0], tagTiepoint, 6)
	if err != nil {
		return nil, err
	}
	first := level{dLon: scale[0], dLat: scale[1], west: tie[3] - tie[0]*scale[0], north: tie[4] + tie[1]*scale[1]}
	if !(first.dLon > 1e-7 && first.dLat > 1e-7 && first.dLon < 1 && first.dLat < 1) {
		return nil, fmt.Errorf("pixels of %g by %g: want degrees", first.dLon, first.dLat)
	}
	model := 0
	keys := all[0][tagGeoKeys]
	for i := 4; i+3 < keys.count && keys.kind == 3; i += 4 {
		at := func(k int) int { return int(t.order.Uint16(keys.b[2*(i+k):])) }
		switch {
		case at(0) == 1024 && at(1) == 0:
			model = at(3)
		case at(0) == 1025 && at(1) == 0 && at(3) == 2:
			first.points = true
		}
	}
	if model != 2 {
		return nil, fmt.Errorf("GeoTIFF model %d: want 2, latitude and longitude", model)
	}
	if first.points {
		first.west, first.north = first.west-first.dLon/2, first.north+first.dLat/2
	}
	var out []level
	for i, d := range all {
		if kind, err := t.whole(d, tagSubfile, 0); i > 0 && (err != nil || kind != 1) {
			continue // a mask, or a page of its own
		}
		l := first
		l.d = d
		for _, n := range []struct {
			tag uint16
			to  *int64
		}{{tagWidth, &l.width}, {tagLength, &l.height}, {tagTileWidth, &l.tileW}, {tagTileLength, &l.tileH}} {
			if *n.to, err = t.whole(d, n.tag, 0); err != nil {
				return nil, fmt.Errorf("%w: want a tiled GeoTIFF", err)
			}
			if *n.to < 1 || *n.to > 1<<22 {
				return nil, fmt.Errorf("tag %d is %d: want 1 to %d", n.tag, *n.to, 1<<22)
			}
		}
		if len(out) > 0 {
			l.dLon *= float64(out[0].width) / float64(l.width)
			l.dLat *= float64(out[0].height) / float64(l.height)
		}
		tiles := l.across() * ((l.height + l.tileH - 1) / l.tileH)
		for _, tag := range []uint16{tagTileOffsets, tagTileCounts} {
			if int64(d[tag].count) != tiles {
				return nil, fmt.Errorf("tag %d: %d values: want %d, one for each tile", tag, d[tag].count, tiles)
			}
		}
		out = append(out, l)
	}
	slices.SortStableFunc(out, func(a, b level) int { return int(b.width - a.width) })
	return out, nil
}

func (l level) across() int64 { return (l.width + l.tileW - 1) / l.tileW }
