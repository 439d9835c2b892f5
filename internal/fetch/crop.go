package fetch

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// cropper turns messages as they come into what is kept of them. It is for one
// goroutine at a time.
type cropper struct {
	box     geo.Box
	control bool // a single forecast stands for the ensemble's control
	unpack  grib.Unpacker
	values  []float32
	kept    []float32
}

// crop checks a message against what the index says of it, and appends what is
// kept of it to dst: a message for each of its wanted fields with the part in and
// around the box, packed anew to within a two-millionth of the range of its
// values there. What has no such part, or has missing values in it, is kept as it
// is, whole.
func (c *cropper) crop(dst, octets []byte, want message) ([]byte, error) {
	fields, err := c.verify(octets, want)
	if err != nil {
		return dst, err
	}
	start := len(dst)
	for _, f := range fields {
		out, ok, err := c.part(dst, f)
		if err != nil {
			return dst[:start], fmt.Errorf("%w: %w", errWrong, err)
		}
		if !ok {
			return append(dst[:start], octets...), nil
		}
		dst = out
	}
	return dst, nil
}

// verify returns the wanted fields of a message, of which each must be there.
func (c *cropper) verify(octets []byte, want message) ([]*grib.Field, error) {
	n := len(octets)
	switch {
	case n < 20 || string(octets[:4]) != "GRIB":
		return nil, fmt.Errorf("%w: begins with %q: want GRIB", errWrong, octets[:min(n, 16)])
	case octets[7] != 2:
		return nil, fmt.Errorf("%w: GRIB edition %d: want 2", errWrong, octets[7])
	case messageLength(octets) != uint64(n):
		return nil, fmt.Errorf("%w: a message of %d octets: want %d", errWrong, messageLength(octets), n)
	case string(octets[n-4:]) != "7777":
		return nil, fmt.Errorf("%w: ends with %q: want 7777", errWrong, octets[n-4:])
	}
	found := map[ident]*grib.Field{}
	for f, err := range grib.Scan(bytes.NewReader(octets), int64(n)) {
		if err != nil {
			return nil, fmt.Errorf("%w: %w", errWrong, err)
		}
		found[same(identOf(f))] = f
	}
	var fields []*grib.Field
	for _, i := range want.fields {
		f := found[same(i)]
		if f == nil {
			for other := range found {
				return nil, fmt.Errorf("%w: %v: want %v", errWrong, other, i)
			}
		}
		if err := f.Supported(); err != nil {
			return nil, err
		}
		fields = append(fields, f)
	}
	return fields, nil
}

// same leaves out what an index and a message say in different ways: the
// number of a control.
func same(i ident) ident {
	if i.member.Kind == wind.Control {
		i.member.Number = 0
	}
	if i.statistic == grib.Instant {
		i.start = i.step
	}
	return i
}

// messageLength is octets 9 to 16 of a message.
func messageLength(b []byte) uint64 {
	n := uint64(0)
	for _, o := range b[8:16] {
		n = n<<8 | uint64(o)
	}
	return n
}

// part appends the part of a field in the box as a message of its own; it is not
// ok if that cannot be written.
func (c *cropper) part(dst []byte, f *grib.Field) (out []byte, ok bool, err error) {
	c.values, err = c.unpack.Values(f, c.values) // all of it: so that damage is found
	if err != nil {
		return dst, false, err
	}
	g, ok := f.Grid.LatLon()
	if !ok {
		return dst, false, nil
	}
	row, rows, col, cols := window(g, c.box)
	c.kept = c.kept[:0]
	low, high := math.Inf(1), math.Inf(-1)
	for j := row; j < row+rows; j++ {
		for i := col; i < col+cols; i++ {
			v := c.values[j*g.NX+i%g.NX]
			if v != v { // there is no place for missing values
				return dst, false, nil
			}
			low, high = min(low, float64(v)), max(high, float64(v))
			c.kept = append(c.kept, v)
		}
	}
	h := c.header(f)
	h.NX, h.NY, h.DLon, h.DLat = cols, rows, g.DLon, g.DLat
	h.South, h.West = g.Lat0+float64(row)*g.DLat, geo.WrapLon(g.Lon0+float64(col)*g.DLon)
	h.Precision = max((high-low)/(1<<21), 1e-12)
	out, err = h.Append(dst, c.kept)
	if err != nil { // a grid of spacings that are no whole millionths, say
		return dst, false, nil //nolint:nilerr // then the message is kept as it is
	}
	return out, true, nil
}

// header is that of a field's crop, but for the grid.
func (c *cropper) header(f *grib.Field) grib.Header {
	h := grib.Header{
		Centre: f.Centre, Status: f.Status, Process: 2, Reference: f.Reference, // code table 4.3: 2 forecast, 4 ensemble forecast
		Parameter: f.Parameter(), Level: f.Level, Step: f.Step, StepStart: f.StepStart, Statistic: f.Statistic,
	}
	const control, positive, negative = 1, 3, 2 // code table 4.6
	switch m := wind.MemberOf(f); {
	case m.Kind == wind.Single && !c.control:
		return h
	case m.Kind == wind.Single || m.Kind == wind.Control:
		h.Ensemble.Kind = control
	case m.Kind == wind.Negative:
		h.Ensemble.Kind = negative
	default:
		h.Ensemble.Kind = positive
	}
	h.Process = 4
	h.Ensemble.Number = uint8(f.Member.Number)
	h.Ensemble.Size = uint8(max(f.Member.Of, 1))
	return h
}

// window is what of a grid lies in and around a box, with a row and a column to
// spare: rows from the south, columns from the west and on round the Earth. Of a
// grid that does not go round all columns are kept.
func window(g grib.LatLonGrid, box geo.Box) (row, rows, col, cols int) {
	row, rows, cols = 0, g.NY, g.NX
	if g.DLat > 0 {
		south := int(math.Floor((box.South-g.Lat0)/g.DLat)) - 1
		north := int(math.Ceil((box.North-g.Lat0)/g.DLat)) + 1
		if south = max(south, 0); min(north, g.NY-1) > south {
			row, rows = south, min(north, g.NY-1)-south+1
		}
	}
	if math.Abs(float64(g.NX)*g.DLon-360) > 1e-6 {
		return row, rows, 0, cols
	}
	width := box.East - box.West
	if width < 360 {
		width = math.Mod(width+360, 360)
	}
	west := math.Floor(geo.WrapLon(box.West-g.Lon0)/g.DLon) - 1
	if n := int(math.Ceil(width/g.DLon)) + 5; n < g.NX {
		col, cols = (int(west)+g.NX)%g.NX, n
	}
	return row, rows, col, cols
}

// messages walks whole messages that lie one after the other, and returns where
// they end: what is behind that is cut short or no message.
func messages(b []byte, each func(f *grib.Field)) int64 {
	end := 0
	for len(b)-end >= 20 && string(b[end:end+4]) == "GRIB" {
		n := messageLength(b[end:])
		if n < 20 || n > uint64(len(b)-end) || string(b[end+int(n)-4:end+int(n)]) != "7777" {
			break
		}
		one := b[end : end+int(n)]
		var fields []*grib.Field
		var bad error
		for f, err := range grib.Scan(bytes.NewReader(one), int64(n)) {
			bad = errors.Join(bad, err)
			fields = append(fields, f)
		}
		if bad != nil {
			break
		}
		for _, f := range fields {
			each(f)
		}
		end += int(n)
	}
	return int64(end)
}
