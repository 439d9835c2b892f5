package plan

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// MaxFixesFile bounds a file of fixes, octets.
const MaxFixesFile = 16 << 20

// ReadFixes reads the fixes of a flight from a file: CSV with a line of column names
// (time, latitude, longitude, height_m or height_ft, and error_m or error_ft if there is
// one, in any order; other columns are passed over), or GPX 1.1, of which the points of
// tracks with an elevation and a time are taken, or, where there are none, its waypoints.
//
// Where the input is bad the error is Faults with the lines.
func ReadFixes(file string, content []byte) ([]Fix, error) {
	r := fixReader{file: file}
	switch trimmed := bytes.TrimSpace(bytes.TrimPrefix(content, []byte("\xef\xbb\xbf"))); {
	case len(content) > MaxFixesFile:
		r.refuse(0, "", fmt.Sprintf("%d octets", len(content)), fmt.Sprintf("at most %d", MaxFixesFile))
	case bytes.HasPrefix(trimmed, []byte("<")):
		r.gpx(content)
	default:
		r.csv(bytes.TrimPrefix(content, []byte("\xef\xbb\xbf")))
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	t, err := CheckTrack(&thistledownv1.Track{Fixes: r.fixes})
	var faults Faults
	if errors.As(err, &faults) {
		return nil, r.located(faults)
	}
	return t.Fixes, err
}

// fixReader is a file of fixes under way.
type fixReader struct {
	file   string
	fixes  []*thistledownv1.Fix
	lines  []int // of each
	faults Faults
}

func (r *fixReader) refuse(line int, field, value, want string) {
	if len(r.faults) < maxFaults {
		r.faults = append(r.faults, Fault{File: r.file, Line: line, Field: field, Value: value, Want: want})
	}
}

// fixPath is a fault's field of one of the fixes.
var fixPath = regexp.MustCompile(`^fixes\[(\d+)\]\.?(.*)$`)

// located are the faults of a track with the lines that they stand in.
func (r *fixReader) located(faults Faults) Faults {
	out := slices.Clone(faults)
	for i := range out {
		out[i].File = r.file
		if m := fixPath.FindStringSubmatch(out[i].Field); m != nil {
			if n, err := strconv.Atoi(m[1]); err == nil && n < len(r.lines) {
				out[i].Line, out[i].Field = r.lines[n], m[2]
			}
		}
	}
	return out
}

// Columns of a file of fixes.
const (
	timeColumn = "time"
	latColumn  = "latitude"
	lonColumn  = "longitude"
)

// wantColumns is what the first line of a file of fixes must hold.
const wantColumns = "columns time, latitude, longitude, and height_m or height_ft"

// csv reads lines of values.
func (r *fixReader) csv(content []byte) {
	in := csv.NewReader(bytes.NewReader(content))
	in.FieldsPerRecord, in.TrimLeadingSpace, in.ReuseRecord = -1, true, true
	head, err := in.Read()
	if err != nil {
		r.refuse(1, "", "no line of column names", wantColumns+", or GPX")
		return
	}
	columns := map[string]int{}
	for i, name := range head {
		name = strings.ToLower(strings.TrimSpace(name))
		if _, again := columns[name]; again {
			r.refuse(1, quote(name), "twice", "each column once")
		}
		columns[name] = i
	}
	height, heightUnit, _ := lengthColumn(columns, "height")
	deviation, errorUnit, hasError := lengthColumn(columns, "error")
	for _, name := range []string{timeColumn, latColumn, lonColumn} {
		if _, ok := columns[name]; !ok {
			r.refuse(1, name, "no such column", wantColumns+", in the first line")
		}
	}
	if heightUnit == "" {
		r.refuse(1, "height", "no column with its unit", wantColumns+", in the first line")
	}
	if len(r.faults) > 0 {
		return
	}
	for len(r.fixes) <= MaxFixes {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		line, _ := in.FieldPos(0)
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			r.refuse(bad.Line, "", bad.Err.Error(), "values between commas")
			return
		} else if err != nil {
			r.refuse(line, "", err.Error(), "values between commas")
			return
		}
		value := func(column int) string {
			if column < len(record) {
				return strings.TrimSpace(record[column])
			}
			return ""
		}
		f := &thistledownv1.Fix{Latitude: r.degrees(line, latColumn, value(columns[latColumn])), Longitude: r.degrees(line, lonColumn, value(columns[lonColumn]))}
		if f.Time = r.time(line, value(columns[timeColumn])); value(height) != "" {
			f.Height = value(height) + heightUnit
		}
		if hasError && value(deviation) != "" {
			f.Error = value(deviation) + errorUnit
		}
		r.fixes, r.lines = append(r.fixes, f), append(r.lines, line)
	}
	r.refuse(r.lines[MaxFixes], "", fmt.Sprintf("more than %d fixes", MaxFixes), "fewer, such as one each ten seconds")
}

// lengthColumn is the column of a length, and its unit.
func lengthColumn(columns map[string]int, name string) (column int, unit string, ok bool) {
	for _, unit := range []string{"m", "ft"} {
		if i, ok := columns[name+"_"+unit]; ok {
			return i, " " + unit, true
		}
	}
	return 0, "", false
}

// degrees reads a coordinate; nil, and a fault, where it is none.
func (r *fixReader) degrees(line int, field, text string) *float64 {
	v, err := strconv.ParseFloat(text, 64)
	if text == "" {
		return nil // which is missing
	}
	if err != nil {
		r.refuse(line, field, quote(text), "decimal degrees, such as 58.41")
		return nil
	}
	return proto.Float64(v)
}

// time reads a time; nil, and a fault, where it is none.
func (r *fixReader) time(line int, text string) *timestamppb.Timestamp {
	if text == "" {
		return nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		r.refuse(line, timeColumn, quote(text), "RFC 3339 with an offset, such as 2017-03-22T09:30:00+01:00")
		return nil
	}
	return timestamppb.New(t)
}

// gpxPoint is a point of GPX.
type gpxPoint struct {
	Lat  string `xml:"lat,attr"`
	Lon  string `xml:"lon,attr"`
	Ele  string `xml:"ele"`
	Time string `xml:"time"`
}

// gpx reads points of GPX, one after the other, so that what is no point takes no memory.
func (r *fixReader) gpx(content []byte) {
	in := xml.NewDecoder(bytes.NewReader(content))
	waypoints := fixReader{file: r.file}
	for len(r.fixes) <= MaxFixes && len(waypoints.fixes) <= MaxFixes {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		line, _ := in.InputPos()
		if err != nil {
			r.refuse(line, "", strings.TrimPrefix(err.Error(), "XML syntax error on "), "GPX 1.1")
			return
		}
		start, ok := token.(xml.StartElement)
		if !ok || start.Name.Local != "trkpt" && start.Name.Local != "wpt" {
			continue
		}
		var p gpxPoint
		if err := in.DecodeElement(&p, &start); err != nil {
			r.refuse(line, start.Name.Local, err.Error(), "GPX 1.1")
			return
		}
		to := r
		if start.Name.Local == "wpt" {
			to = &waypoints
		}
		if p.Ele = strings.TrimSpace(p.Ele); p.Ele == "" || strings.TrimSpace(p.Time) == "" {
			continue
		}
		f := &thistledownv1.Fix{
			Latitude: to.degrees(line, "lat", p.Lat), Longitude: to.degrees(line, "lon", p.Lon),
			Time: to.time(line, strings.TrimSpace(p.Time)), Height: p.Ele + " m",
		}
		to.fixes, to.lines = append(to.fixes, f), append(to.lines, line)
	}
	if len(r.fixes) == 0 && len(r.faults) == 0 {
		*r = waypoints
	}
	switch {
	case len(r.fixes) > MaxFixes:
		r.refuse(r.lines[MaxFixes], "", fmt.Sprintf("more than %d fixes", MaxFixes), "fewer, such as one each ten seconds")
	case len(r.fixes) == 0 && len(r.faults) == 0:
		r.refuse(0, "", "no point with an elevation and a time", "GPX 1.1 with them, or CSV with "+wantColumns)
	}
}
