package ground

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

const (
	// maxSide bounds the columns and the rows of a raster: once round the Earth
	// at half a second of arc is 2.6 million.
	maxSide = 1 << 22
	// maxPixels bounds the pixels of a crop.
	maxPixels = 1 << 26
	// maxChunk bounds the octets of a strip or tile once they are unpacked, as
	// far down as they are needed; and of a row.
	maxChunk = 1 << 26
)

// Compressions that are read (TIFF 6.0, sections 9 and 13; TIFF technical
// note 2; 32946 is the older code for deflate).
const (
	packedNot      = 1
	packedLZW      = 5
	packedDeflate  = 8
	packedBits     = 32773
	packedDeflate2 = 32946
)

// unread names the compressions that are refused, for whoever must convert the
// file.
var unread = map[uint64]string{
	2: "CCITT", 3: "CCITT fax 3", 4: "CCITT fax 4", 6: "JPEG (old)", 7: "JPEG", 34712: "JPEG 2000", 34887: "LERC",
	34925: "LZMA", 50000: "Zstandard", 50001: "WebP", 50002: "JPEG XL",
}

// Forms of a sample (TIFF 6.0, section 19).
const (
	formUnsigned = 1
	formSigned   = 2
	formFloat    = 3
)

// layout is how a raster's first band lies in its file.
type layout struct {
	width, height   int
	form, bits      int // formUnsigned, …; 8, 16 or 32
	bands           int // interleaved in a strip or tile
	packed          int
	predictor       int
	chunkW, chunkH  int     // of a strip or tile
	across          int     // strips or tiles side by side
	lone            bool    // one strip, which is the whole file
	offsets, counts uint16  // tags
	noData          float64 // NaN: none
}

// sizes reads a tag of each of the layout's numbers that has a limit.
func (f *tiffFile) sizes(l *layout) error {
	tiled := false
	if _, ok := f.tags[tagTileWidth]; ok {
		tiled = true
	}
	rows := uint64(math.MaxUint32)
	numbers := []struct {
		tag      uint16
		missing  uint64
		low, top uint64
		to       *int
	}{
		{tagWidth, 0, 1, maxSide, &l.width},
		{tagLength, 0, 1, maxSide, &l.height},
		{tagSamples, 1, 1, 1000, &l.bands},
		{tagRowsPerStrip, rows, 1, rows, &l.chunkH},
	}
	if tiled {
		numbers[3] = numbers[0]
		numbers[3].tag, numbers[3].to = tagTileWidth, &l.chunkW
		numbers = append(numbers, numbers[3])
		numbers[4].tag, numbers[4].to = tagTileLength, &l.chunkH
	}
	for _, n := range numbers {
		v, err := f.whole(n.tag, 0, n.missing)
		if err != nil {
			return err
		}
		if v < n.low || v > n.top {
			return fmt.Errorf("tag %d is %d: want %d to %d", n.tag, v, n.low, n.top)
		}
		*n.to = int(v)
	}
	l.offsets, l.counts, l.across = tagTileOffsets, tagTileCounts, 1
	if tiled {
		l.across = (l.width + l.chunkW - 1) / l.chunkW
		return nil
	}
	l.chunkW, l.chunkH = l.width, min(l.chunkH, l.height)
	l.offsets, l.counts = tagStripOffsets, tagStripCounts
	return nil
}

// layout reads how the raster lies in the file.
func (f *tiffFile) layout() (layout, error) {
	var l layout
	if err := f.sizes(&l); err != nil {
		return l, err
	}
	if err := f.sample(&l); err != nil {
		return l, err
	}
	for _, must := range []struct {
		tag  uint16
		what string
	}{{tagFillOrder, "bits filled from the low end"}, {tagOrientation, "rows or columns turned round"}} {
		if v, err := f.whole(must.tag, 0, 1); err != nil || v != 1 {
			return l, fmt.Errorf("tag %d is %d: %s: want 1", must.tag, v, must.what)
		}
	}
	planar, err := f.whole(tagPlanar, 0, 1)
	if err != nil || planar < 1 || planar > 2 {
		return l, fmt.Errorf("tag %d is %d: want 1 or 2, bands interleaved or apart", tagPlanar, planar)
	}
	if planar == 2 {
		l.bands = 1 // the first band's strips or tiles come first
	}
	if l.rowOctets() > maxChunk {
		return l, fmt.Errorf("rows of %d octets: want at most %d", l.rowOctets(), maxChunk)
	}
	chunks := uint64(l.across) * uint64((l.height+l.chunkH-1)/l.chunkH)
	for _, t := range []uint16{l.offsets, l.counts} {
		if n := f.tags[t].count; n < chunks {
			return l, fmt.Errorf("tag %d: %d values: want %d, one for each strip or tile", t, n, chunks)
		}
	}
	l.noData, err = f.noData(l)
	return l, err
}

// rowOctets is the octets of a row of a strip or tile.
func (l *layout) rowOctets() int { return l.chunkW * l.bands * l.bits / 8 }

// sample reads what a value looks like and how it is packed.
func (f *tiffFile) sample(l *layout) error {
	bits, err := f.whole(tagBits, 0, 1)
	if err != nil {
		return err
	}
	if bits != 8 && bits != 16 && bits != 32 {
		return fmt.Errorf("values of %d bits: want 8, 16 or 32", bits)
	}
	for i := range min(f.tags[tagBits].count, uint64(l.bands)) {
		if other, err := f.whole(tagBits, i, 1); err != nil || other != bits {
			return fmt.Errorf("bands of %d and of %d bits: want the same in all", bits, other)
		}
	}
	form, err := f.whole(tagFormat, 0, formUnsigned)
	if err != nil {
		return err
	}
	if form < formUnsigned || form > formFloat || form == formFloat && bits != 32 {
		return fmt.Errorf("values of format %d and %d bits: want whole numbers (1, 2) or floats of 32 bits (3)", form, bits)
	}
	packed, err := f.whole(tagCompression, 0, packedNot)
	if err != nil {
		return err
	}
	switch packed {
	case packedNot, packedLZW, packedDeflate, packedBits, packedDeflate2:
	default:
		name := unread[packed]
		if name == "" {
			name = "unknown"
		}
		return fmt.Errorf("compression %d (%s): want none, LZW, deflate or PackBits", packed, name)
	}
	predictor, err := f.whole(tagPredictor, 0, 1)
	if err != nil {
		return err
	}
	if packed == packedNot || packed == packedBits {
		predictor = 1 // the tag belongs to LZW and deflate
	}
	if predictor < 1 || predictor > 3 || predictor == 3 && form != formFloat {
		return fmt.Errorf("predictor %d of values of format %d: want 1, 2, or 3 with floats", predictor, form)
	}
	l.bits, l.form, l.packed, l.predictor = int(bits), int(form), int(packed), int(predictor)
	return nil
}

// noData reads the value that stands for no value, as GDAL writes it; NaN where
// there is none. A scale or an offset is refused, as are units of height other
// than metres, so that no height is out by a factor.
func (f *tiffFile) noData(l layout) (float64, error) {
	about, err := f.text(tagMetadata)
	if err != nil {
		return 0, err
	}
	for _, role := range []string{"scale", "offset"} {
		if bytes.Contains(about, []byte(`role="`+role+`"`)) {
			return 0, fmt.Errorf("tag %d gives the values a %s: want the values themselves", tagMetadata, role)
		}
	}
	text, err := f.text(tagNoData)
	if err != nil {
		return 0, err
	}
	word := strings.Trim(string(text), " \x00")
	if word == "" {
		return math.NaN(), nil
	}
	v, err := strconv.ParseFloat(word, 64)
	if err != nil {
		return 0, fmt.Errorf("tag %d, the value for no data, is %.40q: want a number", tagNoData, word)
	}
	if l.form == formFloat {
		v = float64(float32(v)) // as the pixels have it
	}
	return v, nil
}
