package grib

import (
	"fmt"
	"io"
	"time"
)

// Field is one field of one message: everything that its header sections say,
// and where its values lie. Values unpacks them on demand. A Field is read-only
// once Scan has yielded it, so several goroutines may use it at once.
type Field struct {
	Message int   // number of its message in the file, from 1
	Index   int   // number of the field in its message, from 1
	Offset  int64 // octet of the file at which its message begins, from 0

	Centre     uint16 // originating centre, common code table C-11
	Discipline uint8  // code table 0.0
	Category   uint8  // code table 4.1
	Number     uint8  // code table 4.2
	Level      Level

	Reference time.Time     // UTC, to the second
	StepStart time.Duration // start of the interval after Reference; equals Step for a field at one instant
	Step      time.Duration // end of the interval, or the instant, after Reference; may be negative
	Valid     time.Time     // Reference + Step: the instant, or the end of the interval; UTC
	Statistic Statistic     // what was done over StepStart..Step; Instant if it is no interval

	Points  int    // points of the grid, including missing ones
	Grid    Grid   // all zero but Template if Supported blames the grid
	Product uint16 // product definition template, the N of 4.N
	Packing uint16 // data representation template, the N of 5.N
	Member  Member // of an ensemble; zero if the product is no member's

	Subcentre uint16 // of Centre, its own numbers
	Process   uint8  // generating process, the centre's own numbers
	Status    uint8  // production status, code table 1.3: 0 operational, 1 test, 2 research, 3 re-analysis
	DataType  uint8  // type of processed data, code table 1.4; MemberDoubt compares it with Member

	refusal  error // why the values cannot be had, nil if they can
	source   io.ReaderAt
	scale    scaling
	groups   grouping
	coding   ccsds   // of packing 5.42
	float    int     // octets of a value in packing 5.4
	stored   int     // values in section 7: points that the bitmap does not leave out
	bitmap   segment // octets of the bitmap, empty if there is none
	payload  segment // octets of section 7 after its head
	scanning uint8   // flag table 3.4
	process  uint8   // type of generating process, code table 4.3
}

// segment is a stretch of the file, in octets.
type segment struct {
	offset, length int64
}

// Parameter says what the field is a field of.
func (f *Field) Parameter() Parameter {
	return Parameter(f.Discipline)<<16 | Parameter(f.Category)<<8 | Parameter(f.Number)
}

// Supported returns nil if Values can unpack the field, else an error that
// names the grid, product, packing or other feature that is not supported.
// It reads nothing: a field can be supported and its packed values still be
// damaged.
func (f *Field) Supported() error {
	if f.refusal == nil {
		return nil
	}
	return f.wrap(f.refusal)
}

// Values unpacks the field: Points values, rows from south to north, each from
// west to east in the sense of Grid, whatever order they have in the message; NaN
// where missing. Components of wind are as the message has them, see Grid.Turn.
// The unit is that of the parameter in code table 4.2, SI throughout. Each value
// is the float32 next to (R + X·2^E)·10^-D taken in float64.
//
// The values go into dst if its capacity suffices, else into new memory, and
// what was in dst is lost even if an error comes back. Calls on different
// fields, or on the same one with different dst, may run at once if the
// io.ReaderAt given to Scan allows it, as files and byte readers do. For many
// fields an Unpacker is faster, and it can unpack a part.
func (f *Field) Values(dst []float32) ([]float32, error) {
	var u Unpacker
	return u.Values(f, dst)
}

// String names the field as a person would: "UGRD at 50000 Pa, 6h0m0s", with
// ", member 7" behind it if it is a member's.
func (f *Field) String() string {
	if f.Member.Kind == NoMember {
		return fmt.Sprintf("%v %v, %v", f.Parameter(), f.Level, f.Step)
	}
	return fmt.Sprintf("%v %v, %v, %v", f.Parameter(), f.Level, f.Step, f.Member)
}

// wrap says in err which field it is about.
func (f *Field) wrap(err error) error {
	return fmt.Errorf("grib: message %d at octet %d, field %d (%v): %w", f.Message, f.Offset, f.Index, f, err)
}
