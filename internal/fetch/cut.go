package fetch

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

// metresPerDegree is of latitude, on the sphere of 6,371 km.
const metresPerDegree = 111_195

// choose is the coarsest level whose pixels are no higher than some metres; the
// finest if none is so fine.
func choose(all []level, metres float64) level {
	chosen := all[0]
	for _, l := range all[1:] {
		if l.dLat*metresPerDegree <= metres*1.01 {
			chosen = l
		}
	}
	return chosen
}

// tiles are those of a level that a box touches: columns and rows of tiles, the
// second of each not included. It is not ok if it touches none.
func (l level) tiles(box geo.Box) (c0, c1, r0, r1 int64, ok bool) {
	spanOf := func(from, to, pixels, tile float64) (int64, int64) {
		a, b := math.Floor(from), math.Ceil(to)
		return int64(math.Floor(max(a, 0) / tile)), int64(math.Ceil(min(b, pixels) / tile))
	}
	c0, c1 = spanOf((box.West-l.west)/l.dLon, (box.East-l.west)/l.dLon, float64(l.width), float64(l.tileW))
	r0, r1 = spanOf((l.north-box.North)/l.dLat, (l.north-box.South)/l.dLat, float64(l.height), float64(l.tileH))
	return c0, c1, r0, r1, c0 < c1 && r0 < r1
}

// piece is a tile in its file.
type piece struct{ at, length int64 }

// cut is what of a level is kept, in its own packing.
type cut struct {
	t       *tiff
	first   directory // the file's own, which says where it lies
	l       level
	c0, r0  int64
	columns int64 // of tiles
	pieces  []piece
}

// newCut finds the tiles.
func newCut(t *tiff, first directory, l level, box geo.Box) (cut, bool, error) {
	c0, c1, r0, r1, ok := l.tiles(box)
	k := cut{t: t, first: first, l: l, c0: c0, r0: r0, columns: c1 - c0}
	total := int64(0)
	for r := r0; ok && r < r1; r++ {
		for c := c0; c < c1; c++ {
			i := int(r*l.across() + c)
			at, err := t.whole(l.d, tagTileOffsets, i)
			length, err2 := t.whole(l.d, tagTileCounts, i)
			if err := errors.Join(err, err2); err != nil {
				return k, false, err
			}
			if total += length; length > maxCutTile || total > maxCut {
				return k, false, fmt.Errorf("a crop of more than %d octets, or tiles of more than %d: want a smaller box or coarser pixels", maxCut, maxCutTile)
			}
			k.pieces = append(k.pieces, piece{at, length})
		}
	}
	return k, ok, nil
}

// octets is how many its tiles have.
func (k cut) octets() (sum int64) {
	for _, p := range k.pieces {
		sum += p.length
	}
	return sum
}

// fetch brings the tiles, neighbours in the file together.
func (k cut) fetch(ctx context.Context, w *web, r *remote, came func(int64)) ([][]byte, error) {
	order := make([]int, 0, len(k.pieces))
	for i, p := range k.pieces {
		if p.length > 0 { // a tile without any octets has nothing but the value for no data
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return int(min(max(k.pieces[a].at-k.pieces[b].at, -1), 1)) })
	out := make([][]byte, len(k.pieces))
	const gap = 1 << 12 // octets between tiles that cost less than another request
	for len(order) > 0 {
		first := k.pieces[order[0]].at
		n, end := 1, first+k.pieces[order[0]].length
		for n < len(order) {
			next := k.pieces[order[n]]
			if next.at < end || next.at > end+gap || next.at+next.length-first > maxRange {
				break
			}
			end = next.at + next.length
			n++
		}
		b, err := w.slice(ctx, r, first, int(end-first))
		if err != nil {
			return nil, err
		}
		for _, i := range order[:n] {
			at := k.pieces[i].at - first
			out[i] = b[at : at+k.pieces[i].length]
		}
		came(end - first)
		order = order[n:]
	}
	return out, nil
}

// slice fetches some octets of a file into memory.
func (w *web) slice(ctx context.Context, r *remote, at int64, n int) ([]byte, error) {
	b, got := make([]byte, n), 0
	err := w.octets(ctx, r, func() span { return span{at + int64(got), at + int64(n) - 1} }, func(body io.Reader, _ int64) error {
		m, err := io.ReadFull(body, b[got:])
		got += m
		return err
	})
	return b, err
}

// write writes the crop as a GeoTIFF of one image: tiles as they are, in the
// file's own order of octets.
func (k cut) write(to io.Writer, tiles [][]byte, about map[uint16]string) error {
	d := directory{}
	maps.Copy(d, k.l.d)
	for _, tag := range geoTags {
		if v, ok := k.first[tag]; ok {
			d[tag] = v
		}
	}
	delete(d, tagSubfile)
	l := k.l
	long := func(v ...uint32) value {
		out := value{kind: 4, count: len(v)}
		for _, n := range v {
			out.b = k.t.order.AppendUint32(out.b, n)
		}
		return out
	}
	double := func(v ...float64) value {
		out := value{kind: 12, count: len(v)}
		for _, x := range v {
			out.b = k.t.order.AppendUint64(out.b, math.Float64bits(x))
		}
		return out
	}
	rows := int64(len(tiles)) / k.columns
	d[tagWidth] = long(uint32(min(k.columns*l.tileW, l.width-k.c0*l.tileW)))
	d[tagLength] = long(uint32(min(rows*l.tileH, l.height-k.r0*l.tileH)))
	west, north := l.west+float64(k.c0*l.tileW)*l.dLon, l.north-float64(k.r0*l.tileH)*l.dLat
	if l.points {
		west, north = west+l.dLon/2, north-l.dLat/2
	}
	d[tagPixelScale], d[tagTiepoint] = double(l.dLon, l.dLat, 0), double(0, 0, 0, west, north, 0)
	for tag, text := range about {
		d[tag] = value{kind: 2, count: len(text) + 1, b: append([]byte(text), 0)}
	}
	counts, places := make([]uint32, len(tiles)), make([]uint32, len(tiles))
	for i, tile := range tiles {
		counts[i] = uint32(len(tile))
	}
	d[tagTileCounts], d[tagTileOffsets] = long(counts...), long(places...)
	at := k.t.size(d)
	for i, tile := range tiles {
		if len(tile) > 0 {
			places[i] = uint32(at)
		}
		at += len(tile)
	}
	if at > maxCut+maxValue {
		return fmt.Errorf("a crop of %d octets: want at most %d", at, maxCut)
	}
	d[tagTileOffsets] = long(places...)
	if _, err := to.Write(k.t.header(d)); err != nil {
		return err
	}
	for _, tile := range tiles {
		if _, err := to.Write(tile); err != nil {
			return err
		}
	}
	return nil
}

// classic is a value as a classic TIFF can have it: without places of 8 octets.
func (t *tiff) classic(v value) value {
	if v.kind != 16 && v.kind != 18 {
		return v
	}
	out := value{kind: 4, count: v.count}
	for i := range v.count {
		out.b = t.order.AppendUint32(out.b, uint32(t.order.Uint64(v.b[8*i:])))
	}
	return out
}

// size is the octets of header.
func (t *tiff) size(d directory) int { return len(t.header(d)) }

// header is a classic TIFF header with one directory and its values.
func (t *tiff) header(d directory) []byte {
	b := []byte("II*\x00")
	if t.order == binary.BigEndian {
		b = []byte("MM\x00*")
	}
	b = t.order.AppendUint32(b, 8)
	b = t.order.AppendUint16(b, uint16(len(d)))
	place := 8 + 2 + 12*len(d) + 4
	var behind []byte
	for _, tag := range slices.Sorted(maps.Keys(d)) {
		v := t.classic(d[tag])
		b = t.order.AppendUint16(b, tag)
		b = t.order.AppendUint16(b, v.kind)
		b = t.order.AppendUint32(b, uint32(v.count))
		if len(v.b) <= 4 {
			b = append(b, append(slices.Clone(v.b), make([]byte, 4-len(v.b))...)...)
			continue
		}
		b = t.order.AppendUint32(b, uint32(place+len(behind)))
		behind = append(behind, v.b...)
		if len(behind)%2 == 1 {
			behind = append(behind, 0) // values begin at even octets
		}
	}
	b = t.order.AppendUint32(b, 0)
	return append(b, behind...)
}
