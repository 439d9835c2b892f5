package ground

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

// maxCode bounds the codes of a legend.
const maxCode = math.MaxUint16

// Legend is what the codes of a land-cover raster stand for: for each code the
// classes, none for open ground. A code that is not in it is not known. The
// classes that it has, over all codes, are those that it was made to tell apart.
type Legend map[uint16]Set

// NamedLegend is one of the legends that are built in: worldcover (ESA
// WorldCover, codes 10 to 100), nlcd (National Land Cover Database of the United
// States, 11 to 95), corine (CORINE, 111 to 523 or rows 1 to 44) or igbp (MODIS,
// 0 to 17).
func NamedLegend(name string) (Legend, error) {
	l := Legend{}
	var entries []entry
	switch name {
	case "worldcover":
		entries = worldCover
	case "nlcd":
		entries = nlcd
	case "corine":
		entries = corine
		for i, e := range corine {
			l[uint16(i+1)] = e.is
		}
	case "igbp":
		entries = igbp
	default:
		return nil, fmt.Errorf("legend %q: want worldcover, nlcd, corine or igbp", name)
	}
	for _, e := range entries {
		l[e.code] = e.is
	}
	return l, nil
}

// classes is all classes of a legend.
func (l Legend) classes() Set {
	var s Set
	for _, is := range l {
		s |= is
	}
	return s
}

// CoverSource says what a raster of land cover is.
type CoverSource struct {
	Name   string // what results and faults call it
	Legend Legend
	// Credit is who made the data and under which terms, for reports; it may be
	// empty.
	Credit string
}

// check reports the first fault of s.
func (s CoverSource) check() error {
	if s.Name == "" {
		return errors.New("land cover without a name: want one")
	}
	if s.Legend.classes() == 0 {
		return fmt.Errorf("land cover %q: no code of its legend stands for a class: want one that does", s.Name)
	}
	return nil
}

// CoverCount is how many pixels of a land cover are of each sort.
type CoverCount struct {
	Assessed int // their code is in the legend
	NoData   int // the file has no value for them
	Unknown  int // their code is not in the legend
	// Codes is the codes that are not in the legend, the least first, ten at most.
	Codes []float64
}

// Cover is the land cover of a box as a raster has it: several classes of ground
// at once.
type Cover struct {
	source CoverSource
	frame  frame
	pane   pane
	is     []uint8 // known and the classes, by pixel of the pane
	all    Set
	count  CoverCount
}

// known is the bit of a pixel whose code is in the legend; no class has it,
// since the classes begin at 1.
const known = 1

// Source says what the cover is.
func (c *Cover) Source() CoverSource { return c.source }

// Count says what the pixels of the box are.
func (c *Cover) Count() CoverCount {
	n := c.count
	n.Codes = slices.Clone(n.Codes)
	return n
}

// At says which classes of ground the pixel around p stands for, and which of
// them the legend can tell: all of its classes, or none where the pixel has no
// value or an unknown code, outside the box that was read, and where p is no
// position.
func (c *Cover) At(p geo.Point) (under, assessed Set) {
	col, row, ok := c.frame.at(p)
	if !ok {
		return 0, 0
	}
	i, j := int(math.Floor(col+0.5)), int(math.Floor(row+0.5))-c.pane.row
	i = c.frame.within(i, c.pane)
	if uint(i) >= uint(c.pane.nx) || uint(j) >= uint(c.pane.ny) {
		return 0, 0
	}
	is := c.is[j*c.pane.nx+i]
	if is&known == 0 {
		return 0, 0
	}
	return Set(is &^ known), c.all
}

// ReadCover reads the land cover of a box from a GeoTIFF file: classic or
// BigTIFF, either order of octets, strips or tiles, the first band of whole
// numbers of 8, 16 or 32 bits or of floats of 32, not packed or by LZW, deflate
// or PackBits, predictors 1 to 3; of the images of a file the first. It lies on
// longitude and latitude (EPSG 4326, 4269, 4258), a UTM zone (326xx, 327xx,
// 269xx, 258xx), LAEA Europe (3035) or Conus Albers (5070), its rows and columns
// along the axes. WGS84, NAD83 and ETRS89 are taken to be one, which is out by
// up to 2 m. Where box and file do not meet, the cover knows nothing.
//
// Refused by name are all other compressions, systems and kinds of values,
// rasters of more than 4 million columns or rows, more than 67 million pixels in
// the box, strips or tiles of more than 64 MiB, and what ends before its last
// pixel.
func ReadCover(s CoverSource, r io.ReaderAt, size int64, box geo.Box) (*Cover, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	s.Legend = maps.Clone(s.Legend)
	c := &Cover{source: s, all: s.Legend.classes()}
	if err := c.read(r, size, box); err != nil {
		return nil, fmt.Errorf("land cover %q: %w", s.Name, err)
	}
	return c, nil
}

func (c *Cover) read(r io.ReaderAt, size int64, box geo.Box) error {
	codes, err := openRaster(r, size)
	if err != nil {
		return err
	}
	c.frame = codes.frame
	if c.pane, err = codes.window(box); err != nil || c.pane.pixels() == 0 {
		return err
	}
	if err := codes.promised(c.pane); err != nil {
		return err
	}
	c.is = make([]uint8, c.pane.pixels())
	last, is := -1.0, uint8(0)
	return codes.read(c.pane, func(col, row int, values []float64) {
		to := c.is[row*c.pane.nx+col:]
		for i, v := range values {
			if v != last {
				last, is = v, c.sort(v)
			}
			switch {
			case is != 0:
				c.count.Assessed++
			case math.IsNaN(v):
				c.count.NoData++
			default:
				c.count.Unknown++
			}
			to[i] = is
		}
	})
}

// sort is a code's classes, known among them; 0 for one that is not in the
// legend, which is noted.
func (c *Cover) sort(v float64) uint8 {
	if v >= 0 && v <= maxCode && v == math.Trunc(v) {
		if is, ok := c.source.Legend[uint16(v)]; ok {
			return uint8(is) | known
		}
	}
	if at, seen := slices.BinarySearch(c.count.Codes, v); !seen && !math.IsNaN(v) {
		const most = 10
		c.count.Codes = slices.Insert(c.count.Codes, at, v)
		c.count.Codes = c.count.Codes[:min(len(c.count.Codes), most)]
	}
	return 0
}
