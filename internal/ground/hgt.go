package ground

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
)

// maxZip bounds the octets of a zip with one square of heights in it.
const maxZip = 1 << 26

// hgtName is the name of a square: its south-west corner (NASA, SRTM
// documentation, section 2.1.1).
var hgtName = regexp.MustCompile(`(?i)^([ns])(\d\d)([ew])(\d\d\d)`)

// openHGT is a square degree of heights of the Shuttle Radar Topography
// Mission: rows from north to south of 16-bit heights in metres above mean sea
// level, high octet first, at the points of a grid that takes in all four edges,
// 1201 or 3601 of them (3 or 1 seconds of arc); -32768 is a gap (NASA, SRTM
// documentation, section 2.2).
func openHGT(name string, r io.ReaderAt, size int64) (*raster, error) {
	side := 0
	for _, n := range []int{1201, 3601} {
		if size == int64(2*n*n) {
			side = n
		}
	}
	if side == 0 {
		return nil, fmt.Errorf("%d octets: want a GeoTIFF file, or 1201² or 3601² heights of 2 octets each", size)
	}
	corner := hgtName.FindStringSubmatch(name[strings.LastIndexAny(name, `/\`)+1:])
	if corner == nil {
		return nil, errors.New("name does not give the south-west corner: want one like N44W072.hgt")
	}
	lat, errLat := strconv.ParseFloat(corner[2], 64)
	lon, errLon := strconv.ParseFloat(corner[4], 64)
	if err := errors.Join(errLat, errLon); err != nil {
		return nil, err
	}
	if strings.EqualFold(corner[1], "s") {
		lat = -lat
	}
	if strings.EqualFold(corner[3], "w") {
		lon = -lon
	}
	if !(lat >= -90 && lat < 90 && lon >= -180 && lon < 180) {
		return nil, fmt.Errorf("south-west corner %g, %g from the name: want -90 to 89 and -180 to 179", lat, lon)
	}
	step := 1 / float64(side-1)
	g := frame{nx: side, ny: side, x0: lon, y0: lat + 1, dx: step, dy: -step}
	l := layout{
		width: side, height: side, form: formSigned, bits: 16, bands: 1, packed: packedNot, predictor: 1,
		chunkW: side, chunkH: side, across: 1, lone: true, noData: -32768,
	}
	f := &tiffFile{r: r, size: size, order: binary.BigEndian}
	return &raster{frame: g, unpacker: unpacker{file: f, layout: l}}, g.check()
}

// openZip opens the one square in a zip.
func openZip(r io.ReaderAt, size int64) (*raster, error) {
	if size > maxZip {
		return nil, fmt.Errorf("zip of %d octets: want at most %d", size, maxZip)
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, err
	}
	var square *zip.File
	for _, f := range z.File {
		if !strings.HasSuffix(strings.ToLower(f.Name), ".hgt") {
			continue
		}
		if square != nil {
			return nil, fmt.Errorf("zip with %s and %s: want one .hgt file", square.Name, f.Name)
		}
		square = f
	}
	if square == nil {
		return nil, errors.New("zip without a .hgt file: want one")
	}
	const most = 2 * 3601 * 3601
	if square.UncompressedSize64 > most {
		return nil, fmt.Errorf("%s of %d octets: want at most %d", square.Name, square.UncompressedSize64, most)
	}
	in, err := square.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", square.Name, err)
	}
	b, err := io.ReadAll(io.LimitReader(in, most+1))
	if err = errors.Join(err, in.Close()); err != nil {
		return nil, fmt.Errorf("%s: %w", square.Name, err)
	}
	return openHGT(square.Name, bytes.NewReader(b), int64(len(b)))
}
