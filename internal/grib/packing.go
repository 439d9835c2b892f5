package grib

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/nilsmagnus/grib/griblib"
)

// scaling turns packed integers X into values: (R + X·2^E)·10^-D.
type scaling struct {
	reference float64 // R, exactly a float32
	binary    float64 // 2^E
	decimal   float64 // 10^-D
	bits      uint    // width of packed integers, or of group references
}

// grouping says how complex packing splits the integers into groups.
type grouping struct {
	n           int    // groups
	missing     uint   // number of substitutes for missing values, 0 to 2
	widthBase   uint   // bits of the narrowest group
	widthBits   uint   // bits of what each adds to that
	lengthBase  uint64 // values of the shortest group
	lengthStep  uint64 // unit of what each adds to that
	lengthBits  uint   // bits of that
	lastLength  uint64 // values of the last group
	order       int    // of spatial differencing, 0 to 2
	extraOctets uint   // octets of each of the extra descriptors
}

// represent reads section 5.
//
//	octets  field
//	6–9     number of values in section 7
//	10–11   data representation template number
//	12–21   template 5.0, which all but 5.4 begin with
//	12–15   reference value R, IEEE 754
//	16–17   binary scale factor E
//	18–19   decimal scale factor D
//	20      bits of each packed value, or group reference
//	21      type of original values
//	22–47   template 5.2, see group
//	48–49   template 5.3: order of spatial differencing, octets of descriptors
//	12      template 5.4, see ieeeOf
//	22–25   template 5.42, see ccsdsOf
//
// What makes the packing one that is not supported goes to blame.
func (f *Field) represent(b []byte, blame *error) error {
	f.stored = int(binary.BigEndian.Uint32(b[5:]))
	f.Packing = binary.BigEndian.Uint16(b[9:])
	f.groups, f.float, f.coding = grouping{}, 0, ccsds{}
	var t griblib.Data3
	var coded ccsdsTemplate
	var precision uint8
	var err error
	switch f.Packing {
	case 0, 41, 40010:
		err = decode(b, 11, &t.Data0)
	case 2:
		err = decode(b, 11, &t.Data2)
	case 3:
		err = decode(b, 11, &t)
	case 4:
		err = decode(b, 11, &precision)
	case 42:
		err = decode(b, 11, &coded)
		t.Data0 = coded.Data0
	default:
		*blame = refuse("packing 5.", f.Packing, packingName(f.Packing))
	}
	if err != nil || *blame != nil {
		return err
	}
	if f.Packing == 4 {
		f.float, *blame = ieeeOf(precision)
		return nil
	}
	if f.scale, *blame = scaleOf(t.Data0); *blame != nil {
		return nil
	}
	switch f.Packing {
	case 2, 3:
		f.groups, *blame = groupingOf(t)
	case 42:
		f.coding, *blame = ccsdsOf(coded)
	}
	return nil
}

// scaleOf converts template 5.0.
func scaleOf(t griblib.Data0) (scaling, error) {
	e, d := signed16(t.BinaryScale), signed16(t.DecimalScale)
	s := scaling{
		reference: float64(t.Reference),
		binary:    math.Ldexp(1, e),
		decimal:   math.Pow10(-d),
		bits:      uint(t.Bits),
	}
	if math.IsNaN(s.reference) || math.IsInf(s.reference, 0) {
		return s, fmt.Errorf("reference value %v: want a finite number", s.reference)
	}
	if s.binary == 0 || s.decimal == 0 || math.IsInf(s.binary, 0) || math.IsInf(s.decimal, 0) {
		return s, fmt.Errorf("scale factors E = %d, D = %d: want 2^E and 10^-D within the range of float64", e, d)
	}
	if s.bits > maxBits {
		return s, fmt.Errorf("%d bits per value: want at most %d", s.bits, maxBits)
	}
	return s, nil
}

// groupingOf converts what templates 5.2 and 5.3 have beyond 5.0.
//
//	octets  field
//	22      how groups were split, code table 5.4
//	23      missing value management, code table 5.5
//	24–31   primary and secondary substitute, in the units of the original
//	32–35   number of groups
//	36–37   base of group widths, bits of what each adds
//	38–41   base of group lengths
//	42      unit of what each length adds
//	43–46   length of the last group
//	47      bits of what each length adds
//	48      order of spatial differencing, code table 5.6
//	49      octets of each of the extra descriptors in section 7
func groupingOf(t griblib.Data3) (grouping, error) {
	g := grouping{
		missing:     uint(t.MissingValue),
		widthBase:   uint(t.GroupWidths),
		widthBits:   uint(t.GroupWidthsBits),
		lengthBase:  uint64(t.GroupLengthsReference),
		lengthStep:  uint64(t.GroupLengthIncrement),
		lengthBits:  uint(t.GroupScaledLengthsBits),
		lastLength:  uint64(t.GroupLastLength),
		order:       int(t.SpatialOrderDifference),
		extraOctets: uint(t.OctetsNumber),
	}
	if t.NG > maxPoints {
		return g, fmt.Errorf("%d groups: want at most %d", t.NG, maxPoints)
	}
	g.n = int(t.NG)
	if g.n == 0 {
		return g, nil // a constant field: nothing else counts
	}
	switch {
	case t.GroupMethod != 1:
		return g, fmt.Errorf("group splitting %d of code table 5.4 not supported: want 1 (general)", t.GroupMethod)
	case g.missing > 2:
		return g, fmt.Errorf("missing value management %d of code table 5.5 not supported: want 0 to 2", g.missing)
	case g.widthBits > maxBits || g.lengthBits > maxBits:
		return g, fmt.Errorf("group widths of %d bits and lengths of %d: want at most %d", g.widthBits, g.lengthBits, maxBits)
	case g.order > 2:
		return g, fmt.Errorf("spatial differencing of order %d not supported: want 0 to 2", g.order)
	case g.order > 0 && g.extraOctets > maxBits/8:
		return g, fmt.Errorf("extra descriptors of %d octets: want at most %d", g.extraOctets, maxBits/8)
	}
	return g, nil
}

// packingName names a data representation template, code table 5.0.
func packingName(template uint16) string {
	switch template {
	case 1:
		return "matrix"
	case 40, 40000:
		return "JPEG 2000"
	case 50, 51:
		return "spherical harmonics"
	case 61:
		return "logarithm"
	case 200:
		return "run length"
	}
	return ""
}
