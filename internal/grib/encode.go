package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"time"
)

// Header is what a message says of the one field in it: Append writes it. It
// covers what the project itself writes, which is grid 3.0, products 4.0, 4.1,
// 4.8 and 4.11, and packing 5.0 without bitmap.
type Header struct {
	Centre    uint16    // originating centre, common code table C-11; 65535 stands for none
	Status    uint8     // production status of the data, code table 1.3; 2 is research
	Process   uint8     // type of generating process, code table 4.3; 192 to 254 are local, 255 stands for none
	Note      string    // local use section in plain text, at most 1024 octets; none is written if it is empty
	Reference time.Time // years 0 to 9999, to the second

	Parameter Parameter
	Level     Level
	Step      time.Duration // the instant, or the end of the interval, after Reference; in whole seconds
	StepStart time.Duration // the start of the interval; of no meaning for an Instant
	Statistic Statistic     // Instant if it is no interval

	// Ensemble is the member that the field belongs to; the zero value is a
	// forecast that is no ensemble's.
	Ensemble struct {
		Size   uint8 // forecasts in the ensemble; 0 if there is none
		Kind   uint8 // type of ensemble forecast, code table 4.6: 1 unperturbed, 3 positively perturbed
		Number uint8 // perturbation number
	}

	// The grid: NX columns from West eastward and NY rows from South northward,
	// DLon and DLat apart. Degrees, in whole millionths.
	NX, NY      int
	South, West float64
	DLat, DLon  float64

	// Precision is the greatest error that packing may make, in the
	// parameter's unit, above 0. The bits per value follow from it and the
	// field's range. Rounding to float32 comes on top.
	Precision float64
}

const (
	maxNote      = 1024 // octets
	maxEncoded   = 24   // bits per value: float32 tells no more apart
	earthShape   = 6    // code table 3.2: a sphere with a radius of 6,371,229 m
	masterTables = 2    // version of the WMO tables: has all parameters of this package
	noIncrement  = 255  // code table 4.4: time unit missing
)

// Append appends a message with the field whose values are given in rows from
// south to north, each from west to east, NX·NY of them, all finite. What
// Values reads back differs from them by Precision at most. An error leaves dst
// as it was.
func (h Header) Append(dst []byte, values []float32) ([]byte, error) {
	grid, err := h.section3()
	if err != nil {
		return dst, fmt.Errorf("grib: %v: %w", h.Parameter, err)
	}
	product, err := h.section4()
	if err != nil {
		return dst, fmt.Errorf("grib: %v: %w", h.Parameter, err)
	}
	if len(values) != h.NX*h.NY {
		return dst, fmt.Errorf("grib: %v: %d values: want %d × %d", h.Parameter, len(values), h.NX, h.NY)
	}
	p, err := h.packed(values)
	if err != nil {
		return dst, fmt.Errorf("grib: %v: %w", h.Parameter, err)
	}
	if len(h.Note) > maxNote {
		return dst, fmt.Errorf("grib: %v: note of %d octets: want at most %d", h.Parameter, len(h.Note), maxNote)
	}
	start, out := len(dst), dst
	out = append(out, "GRIB\xff\xff"...)
	out = append(out, byte(h.Parameter>>16), 2)
	out = binary.BigEndian.AppendUint64(out, 0) // the length, set below
	out = appendSection(out, 1, h.section1())
	if h.Note != "" {
		out = appendSection(out, 2, []byte(h.Note))
	}
	out = appendSection(out, 3, grid)
	out = appendSection(out, 4, product)
	out = appendSection(out, 5, p.section5(len(values)))
	out = appendSection(out, 6, []byte{255}) // no bitmap
	out = p.appendSection7(out, values)
	out = append(out, "7777"...)
	binary.BigEndian.PutUint64(out[start+8:], uint64(len(out)-start))
	return out, nil
}

// appendSection appends a section of which body is all but the length and the
// number.
func appendSection(dst []byte, number byte, body []byte) []byte {
	dst = binary.BigEndian.AppendUint32(dst, uint32(sectionHead+len(body)))
	return append(append(dst, number), body...)
}

// section1 is the octets of identify from the sixth on.
func (h Header) section1() []byte {
	kind := byte(1) // code table 1.4: forecast products
	if h.Ensemble.Size > 0 {
		kind = 5 // control and perturbed forecasts
	}
	b := binary.BigEndian.AppendUint16(nil, h.Centre)
	b = append(b, 0, 0, masterTables, 0, 1) // no sub-centre, no local tables, start of the forecast
	b = appendDate(b, h.Reference)
	return append(b, h.Status, kind)
}

func appendDate(b []byte, t time.Time) []byte {
	t = t.UTC()
	b = binary.BigEndian.AppendUint16(b, uint16(t.Year()))
	return append(b, byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), byte(t.Second()))
}

// section3 is the octets of locate and lattice from the sixth on.
func (h Header) section3() ([]byte, error) {
	if h.NX < 1 || h.NY < 1 || h.NX > maxPoints/h.NY {
		return nil, fmt.Errorf("%d × %d points: want at least one of each and at most %d", h.NX, h.NY, maxPoints)
	}
	north, east := h.South+float64(h.NY-1)*h.DLat, h.West+float64(h.NX-1)*h.DLon
	switch {
	case !(h.DLat > 0 && h.DLon > 0):
		return nil, fmt.Errorf("spacing of %g and %g degrees: want more than 0", h.DLat, h.DLon)
	case !(h.South >= -90 && north <= 90+microdegree/2):
		return nil, fmt.Errorf("rows from latitude %g to %g: want -90 to 90", h.South, north)
	case !(h.West >= -360 && h.West <= 360 && east-h.West <= 360+microdegree/2):
		return nil, fmt.Errorf("columns from longitude %g to %g: want once round at most, from -360 to 360", h.West, east)
	}
	b := []byte{0}
	b = binary.BigEndian.AppendUint32(b, uint32(h.NX*h.NY))
	b = append(b, 0, 0, 0, 0, earthShape)
	b = append(b, make([]byte, 15)...)
	b = binary.BigEndian.AppendUint32(b, uint32(h.NX))
	b = binary.BigEndian.AppendUint32(b, uint32(h.NY))
	b = append(b, make([]byte, 8)...) // angles in microdegrees
	for i, angle := range [...]float64{h.South, fromZero(h.West), north, fromZero(east), h.DLon, h.DLat} {
		n := math.Round(angle / microdegree)
		if math.Abs(angle/microdegree-n) > 1e-3 {
			return nil, fmt.Errorf("corner or spacing of %g degrees: want whole millionths", angle)
		}
		b = binary.BigEndian.AppendUint32(b, signBit(int64(n), 32))
		if i == 1 {
			b = append(b, iIncrement|jIncrement) // u toward east, v toward north
		}
	}
	return append(b, jPositive), nil
}

// fromZero brings a longitude into [0, 360), as GRIB2 wants it.
func fromZero(lon float64) float64 {
	lon = math.Mod(lon, 360)
	if lon < 0 {
		lon += 360
	}
	return lon
}

// signBit is n as GRIB2 has negative numbers, in the given number of bits.
func signBit(n int64, width uint) uint32 {
	if n >= 0 {
		return uint32(n)
	}
	return uint32(-n) | 1<<(width-1)
}

// section4 is the octets of describe and interval from the sixth on.
func (h Header) section4() ([]byte, error) {
	if year := h.Reference.UTC().Year(); year < 0 || year > 9999 {
		return nil, fmt.Errorf("reference time in the year %d: want 0 to 9999", year)
	}
	from := h.Step
	template := uint16(0)
	if h.Ensemble.Size > 0 {
		template = 1
	}
	if h.Statistic != Instant {
		from, template = h.StepStart, []uint16{8, 11}[template]
	}
	unit, length, err := timeUnit(from, h.Step)
	if err != nil {
		return nil, err
	}
	b := binary.BigEndian.AppendUint16([]byte{0, 0}, template)
	b = append(b, byte(h.Parameter>>8), byte(h.Parameter), h.Process, 255, 255, 0, 0, 0, unit)
	b = binary.BigEndian.AppendUint32(b, signBit(int64(from/length), 32))
	for _, s := range []struct {
		kind  Surface
		value float64
	}{{h.Level.Surface, h.Level.Value}, {h.Level.Surface2, h.Level.Value2}} {
		if b, err = appendSurface(b, s.kind, s.value); err != nil {
			return nil, err
		}
	}
	if h.Ensemble.Size > 0 {
		b = append(b, h.Ensemble.Kind, h.Ensemble.Number, h.Ensemble.Size)
	}
	if h.Statistic == Instant {
		return b, nil
	}
	b = appendDate(b, h.Reference.Add(h.Step))
	b = append(b, 1, 0, 0, 0, 0, byte(h.Statistic), 2, unit)
	b = binary.BigEndian.AppendUint32(b, uint32((h.Step-from)/length))
	return append(b, noIncrement, 0, 0, 0, 0), nil
}

// timeUnit is the longest unit of code table 4.4 that both steps are whole
// numbers of: hours, minutes or seconds.
func timeUnit(from, to time.Duration) (code byte, unit time.Duration, err error) {
	if min(from, to) < -maxStep || max(from, to) > maxStep || from > to {
		return 0, 0, fmt.Errorf("step from %v to %v: want at most 250 years, start first", from, to)
	}
	for _, u := range []struct {
		code byte
		unit time.Duration
	}{{1, time.Hour}, {0, time.Minute}, {13, time.Second}} {
		if from%u.unit == 0 && to%u.unit == 0 && max(to, -from)/u.unit <= math.MaxInt32 {
			return u.code, u.unit, nil
		}
	}
	return 0, 0, fmt.Errorf("step from %v to %v: want whole seconds, fewer than 2^31", from, to)
}

// appendSurface appends a fixed surface: its type, scale factor and scaled
// value, which are missing where it has no value.
func appendSurface(b []byte, kind Surface, value float64) ([]byte, error) {
	b = append(b, byte(kind))
	if kind == NoSurface || math.IsNaN(value) {
		return append(b, 255, 255, 255, 255, 255), nil
	}
	const finest = 6 // decimals
	for scale := range finest + 1 {
		v := value * math.Pow10(scale)
		n := math.Round(v)
		if math.Abs(n) >= 1<<31 {
			break
		}
		if math.Abs(v-n) <= 1e-6*max(1, math.Abs(n)) && surfaceIs(n, scale, value) {
			return binary.BigEndian.AppendUint32(append(b, byte(scale)), signBit(int64(n), 32)), nil
		}
	}
	return nil, fmt.Errorf("level of %v: want at most %d decimals and 2^31 units of the last", value, finest)
}

// surfaceIs reports whether n units of scale decimals are read back as value.
func surfaceIs(n float64, scale int, value float64) bool {
	return n/math.Pow10(scale) == value
}

// simplePacking is how a field is packed: X of these bits and values R + X·2^E.
type simplePacking struct {
	reference float32
	exponent  int
	bits      uint
}

// packed finds how to pack values.
func (h Header) packed(values []float32) (simplePacking, error) {
	if !(h.Precision > 0 && h.Precision <= math.MaxFloat32) {
		return simplePacking{}, fmt.Errorf("precision %g: want more than 0", h.Precision)
	}
	if len(values) == 0 {
		return simplePacking{}, errors.New("no values")
	}
	low, high := values[0], values[0]
	for i, v := range values {
		if d := float64(v); math.IsNaN(d) || math.IsInf(d, 0) {
			return simplePacking{}, fmt.Errorf("value %d is %v: want finite ones", i, v)
		}
		low, high = min(low, v), max(high, v)
	}
	_, e := math.Frexp(2 * h.Precision) // 2^(e-1) <= 2·precision
	p := simplePacking{reference: low, exponent: e - 1}
	span := math.Round(math.Ldexp(float64(high)-float64(low), -p.exponent))
	if span >= 1<<maxEncoded {
		return simplePacking{}, fmt.Errorf("values from %g to %g with a precision of %g: want fewer than 2^%d steps", low, high, h.Precision, maxEncoded)
	}
	p.bits = uint(bits.Len64(uint64(span)))
	return p, nil
}

// section5 is the octets of represent from the sixth on.
func (p simplePacking) section5(n int) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(n))
	b = append(b, 0, 0) // template 5.0
	b = binary.BigEndian.AppendUint32(b, math.Float32bits(p.reference))
	b = binary.BigEndian.AppendUint16(b, uint16(signBit(int64(p.exponent), 16)))
	return append(b, 0, 0, byte(p.bits), 0) // no decimal scale, floating point
}

// appendSection7 appends the packed values, one behind the other.
func (p simplePacking) appendSection7(dst []byte, values []float32) []byte {
	length := sectionHead + (uint64(len(values))*uint64(p.bits)+7)/8
	dst = binary.BigEndian.AppendUint32(dst, uint32(length))
	dst = append(dst, 7)
	if p.bits == 0 {
		return dst
	}
	unit := math.Ldexp(1, -p.exponent)
	reference := float64(p.reference)
	held, n := uint64(0), uint(0) // the n lowest bits of held are not written yet
	for _, v := range values {
		x := uint64(math.Round((float64(v) - reference) * unit))
		held = held<<p.bits | x
		for n += p.bits; n >= 8; n -= 8 {
			dst = append(dst, byte(held>>(n-8)))
		}
	}
	if n > 0 {
		dst = append(dst, byte(held<<(8-n)))
	}
	return dst
}
