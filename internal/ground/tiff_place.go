package ground

import (
	"errors"
	"fmt"
	"math"
)

// Keys of GeoTIFF 1.0 (section 6.2) that are looked at.
const (
	keyModel       = 1024
	keyRasterType  = 1025
	keyGeographic  = 2048
	keyAngles      = 2054
	keyProjected   = 3072
	keyLengths     = 3076
	keyHeightUnits = 4099
)

// maxKeys bounds the keys of a file.
const maxKeys = 256

// userDefined is a key's value where the file describes a system of its own.
const userDefined = 32767

// keys reads the keys that stand in the directory itself; 0 is none.
func (f *tiffFile) keys() (map[uint64]uint64, error) {
	if _, ok := f.tags[tagGeoKeys]; !ok {
		return nil, errors.New("without GeoTIFF keys: want a raster that says where it lies")
	}
	n, err := f.whole(tagGeoKeys, 3, 0)
	if err != nil {
		return nil, err
	}
	if n > maxKeys {
		return nil, fmt.Errorf("%d GeoTIFF keys: want at most %d", n, maxKeys)
	}
	keys := map[uint64]uint64{}
	for i := range n {
		var key [4]uint64 // number, tag of its values or 0, count, value
		for j := range key {
			if key[j], err = f.whole(tagGeoKeys, 4+4*i+uint64(j), 0); err != nil {
				return nil, err
			}
		}
		if key[1] == 0 {
			keys[key[0]] = key[3]
		}
	}
	return keys, nil
}

// frame reads where the raster lies.
func (f *tiffFile) frame(l layout) (frame, error) {
	keys, err := f.keys()
	if err != nil {
		return frame{}, err
	}
	if u := keys[keyHeightUnits]; u != 0 && u != 9001 {
		return frame{}, fmt.Errorf("heights in EPSG unit %d: want 9001, metres", u)
	}
	g, err := f.steps(keys[keyRasterType] == 2)
	if err != nil {
		return frame{}, err
	}
	g.nx, g.ny = l.width, l.height
	switch keys[keyModel] {
	case 1:
		if u := keys[keyLengths]; u != 0 && u != 9001 {
			return frame{}, fmt.Errorf("lengths in EPSG unit %d: want 9001, metres", u)
		}
		g.flat, err = projectionOf(keys[keyProjected])
	case 2:
		if u := keys[keyAngles]; u != 0 && u != 9102 {
			return frame{}, fmt.Errorf("angles in EPSG unit %d: want 9102, degrees", u)
		}
		switch code := keys[keyGeographic]; code {
		case 4326, 4269, 4258:
		default:
			err = fmt.Errorf("geographic system EPSG:%d: want 4326, 4269 or 4258", code)
		}
	default:
		err = fmt.Errorf("GeoTIFF model %d: want 1 or 2, projected or geographic", keys[keyModel])
	}
	if err != nil {
		return frame{}, err
	}
	return g, g.check()
}

// steps reads the place of the middle of the first pixel and the steps to the
// next. Pixels that are areas have a raster's coordinates at their corner, those
// that are points at their middle (GeoTIFF 1.0, section 2.5.2.2).
func (f *tiffFile) steps(points bool) (frame, error) {
	scale, err := f.doubles(tagPixelScale)
	if err != nil {
		return frame{}, err
	}
	tie, err := f.doubles(tagTiepoint)
	if err != nil {
		return frame{}, err
	}
	matrix, err := f.doubles(tagTransformation)
	if err != nil {
		return frame{}, err
	}
	var g frame
	switch {
	case len(matrix) == 16 && (matrix[1] != 0 || matrix[4] != 0):
		return g, errors.New("rows and columns that do not run east and north (a rotated raster): want one that does")
	case len(matrix) == 16:
		g = frame{dx: matrix[0], dy: matrix[5], x0: matrix[3], y0: matrix[7]}
	case len(scale) >= 2 && len(tie) >= 6:
		g = frame{dx: scale[0], dy: -scale[1], x0: tie[3] - tie[0]*scale[0], y0: tie[4] + tie[1]*scale[1]}
	case len(tie) > 6:
		return g, fmt.Errorf("%d ground control points in place of a grid: want a raster that is put right", len(tie)/6)
	default:
		return g, errors.New("says nowhere where its pixels lie: want tags 33550 and 33922, or 34264")
	}
	if !points {
		g.x0 += g.dx / 2
		g.y0 += g.dy / 2
	}
	return g, nil
}

// projectionOf is the projected system of an EPSG code. NAD83 and ETRS89 are
// taken to be WGS84: they are some 1.5 m and 0.8 m apart from it in the 2020s
// (from memory; it grows with the drift of the plates), a small part of a pixel.
func projectionOf(code uint64) (projection, error) {
	wgs84, grs80 := ellipsoid{semiMajor, 1 / wgs84Inv}, ellipsoid{semiMajor, 1 / grs80Inv}
	zone := int(code % 100)
	switch group := code / 100; {
	case group == 326 && zone >= 1 && zone <= 60:
		return newUTM(wgs84, zone, false), nil
	case group == 327 && zone >= 1 && zone <= 60:
		return newUTM(wgs84, zone, true), nil
	case group == 269 && zone >= 1 && zone <= 23, group == 258 && zone >= 28 && zone <= 38:
		return newUTM(grs80, zone, false), nil
	case code == 3035:
		return newEuropean(), nil
	case code == 5070:
		return newConus(), nil
	case code == userDefined:
		return nil, errors.New("projected system of its own (32767): want one with an EPSG code")
	}
	return nil, fmt.Errorf("projected system EPSG:%d: want a UTM zone (326xx, 327xx, 269xx, 258xx), 3035 or 5070", code)
}

// check reports a frame that lies nowhere.
func (g *frame) check() error {
	for _, v := range []float64{g.x0, g.y0, g.dx, g.dy} {
		if math.IsNaN(v) || math.Abs(v) > 1e9 {
			return fmt.Errorf("pixels at %g, %g with steps of %g and %g: want numbers", g.x0, g.y0, g.dx, g.dy)
		}
	}
	if !(g.dx > 1e-9 && math.Abs(g.dy) > 1e-9) {
		return fmt.Errorf("pixels of %g by %g: want columns that run east, and rows", g.dx, g.dy)
	}
	if g.flat != nil {
		return g.outline()
	}
	low, high := g.y0-g.dy/2, g.y0+(float64(g.ny)-0.5)*g.dy
	low, high = min(low, high), max(low, high)
	slack := math.Abs(g.dy) * 0.5001 // rows whose pixels are points may lie on the poles
	if !(low >= -90-slack && high <= 90+slack) {
		return fmt.Errorf("rows from latitude %g to %g: want -90 to 90: are they swapped?", low, high)
	}
	west, width := g.x0-g.dx/2, float64(g.nx)*g.dx
	if !(west >= -360-slack && west+width <= 720 && width <= 360+1.5*g.dx) {
		return fmt.Errorf("columns from longitude %g to %g: want at most 360 degrees, from -360 on", west, west+width)
	}
	g.around = math.Round(360 / g.dx)
	if math.Abs(g.around*g.dx-360) > 1e-6 || float64(g.nx) < g.around {
		g.around = 0
	}
	return nil
}
