package fetch

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// Limits of an index. That of an ensemble of 50 members has some 9,000 lines.
const (
	maxIndex      = 64 << 20 // octets
	maxIndexLines = 200_000
	maxMessage    = 256 << 20 // octets of a message
)

// ident is what an index says that a field is, and what a message must turn out
// to be.
type ident struct {
	parameter   grib.Parameter
	surface     grib.Surface
	value       int64 // thousandths of the level's unit; 0 where there is none
	statistic   grib.Statistic
	start, step time.Duration
	member      wind.Member
}

// message is one message that is wanted, where it lies and what is in it.
type message struct {
	first  int64
	length int64 // octets; 0: to the end of the file
	fields []ident
}

// entry is a line of an index: a field, and the place of its message.
type entry struct {
	offset int64
	length int64 // 0 where the index does not say
	cycle  time.Time
	ident  ident
	known  bool // ident could be made out; else the field is none that is wanted
}

// field is an ident as package wind looks at it.
func (i ident) field() *grib.Field {
	value := float64(i.value) / 1000
	if i.surface == grib.Ground || i.surface == grib.Atmosphere {
		value = math.NaN()
	}
	return &grib.Field{
		Discipline: uint8(i.parameter >> 16), Category: uint8(i.parameter >> 8), Number: uint8(i.parameter),
		Level: grib.Level{Surface: i.surface, Value: value, Surface2: grib.NoSurface}, Statistic: i.statistic,
		StepStart: i.start, Step: i.step,
	}
}

// identOf is what a message says that a field is.
func identOf(f *grib.Field) ident {
	i := ident{
		parameter: f.Parameter(), surface: f.Level.Surface, statistic: f.Statistic,
		start: f.StepStart, step: f.Step, member: wind.MemberOf(f),
	}
	if i.surface != grib.Ground && i.surface != grib.Atmosphere && !math.IsNaN(f.Level.Value) {
		i.value = int64(math.Round(f.Level.Value * 1000))
	}
	return i
}

func (i ident) String() string {
	text := fmt.Sprintf("%v, step %g h", i.field(), i.step.Hours())
	if i.member.Kind != wind.Single {
		text += ", " + i.member.String()
	}
	return text
}

// wanted picks the messages of an index that flights need: those of fields that
// package wind makes use of, not above the top, hPa.
func wanted(entries []entry, cycle time.Time, top float64) ([]message, error) {
	heights := map[ident]bool{} // with which a geopotential need not be fetched
	for _, e := range entries {
		if e.known && e.ident.parameter == grib.GeopotentialHeight {
			heights[e.ident] = true
		}
	}
	at := map[int64]int{}
	var out []message
	for i, e := range entries {
		if !e.known || !wind.Wanted(e.ident.field()) {
			continue
		}
		if e.ident.surface == grib.Isobaric && float64(e.ident.value)/1000 < top*100-1e-6 {
			continue
		}
		twin := e.ident
		if twin.parameter = grib.GeopotentialHeight; e.ident.parameter == grib.Geopotential && heights[twin] {
			continue
		}
		if !e.cycle.Equal(cycle) {
			return nil, fmt.Errorf("line %d is of the cycle %s: want %s", i+1, e.cycle.Format(time.RFC3339), cycle.Format(time.RFC3339))
		}
		if k, ok := at[e.offset]; ok { // another field of one message
			out[k].fields = append(out[k].fields, e.ident)
			continue
		}
		at[e.offset] = len(out)
		out = append(out, message{first: e.offset, length: e.length, fields: []ident{e.ident}})
	}
	slices.SortFunc(out, func(a, b message) int { return int(min(max(a.first-b.first, -1), 1)) })
	for i := 1; i < len(out); i++ {
		if a := out[i-1]; a.length == 0 || a.first+a.length > out[i].first {
			return nil, fmt.Errorf("messages at octets %d and %d overlap: want them one after the other", a.first, out[i].first)
		}
	}
	return out, nil
}

// lines hands out the lines of an index.
func lines(text []byte, line func(n int, s string) error) error {
	if trimmed := bytes.TrimLeft(text, " \t\r\n\ufeff"); len(trimmed) == 0 || trimmed[0] == '<' {
		return errPage
	}
	scan := bufio.NewScanner(bytes.NewReader(text))
	for n := 1; scan.Scan(); n++ {
		if n > maxIndexLines {
			return fmt.Errorf("more than %d lines", maxIndexLines)
		}
		if s := strings.TrimSpace(scan.Text()); s != "" {
			if err := line(n, s); err != nil {
				return fmt.Errorf("line %d: %.80q: %w", n, s, err)
			}
		}
	}
	return scan.Err()
}

// readIdx reads lines such as
//
//	4:335736:d=2025080100:UGRD:10 mb:432 hour fcst:ENS=low-res ctl
//
// which are number, octet, cycle, parameter, level, time and, of ensembles, the
// member. They give no length: a message ends where the next begins, the last
// with the file. Several fields of one message share its octet.
func readIdx(text []byte) ([]entry, error) {
	var all []entry
	err := lines(text, func(_ int, s string) error {
		part := strings.SplitN(s, ":", 8)
		if len(part) < 6 {
			return errors.New("want number, octet, cycle, parameter, level and time, with colons between")
		}
		var e entry
		var err error
		if e.offset, err = strconv.ParseInt(part[1], 10, 64); err != nil || e.offset < 0 {
			return fmt.Errorf("octet %q: want a whole number", part[1])
		}
		if e.cycle, err = time.Parse("d=2006010215", part[2]); err != nil {
			return fmt.Errorf("cycle %q: want such as d=2025080100", part[2])
		}
		extra := ""
		if len(part) > 6 {
			extra = part[6]
		}
		e.ident, e.known = idxIdent(part[3], part[4], part[5], extra)
		all = append(all, e)
		return nil
	})
	if err != nil {
		return nil, err
	}
	starts := make([]int64, len(all))
	for i, e := range all {
		starts[i] = e.offset
	}
	slices.Sort(starts)
	starts = slices.Compact(starts)
	for i := range all {
		if k, _ := slices.BinarySearch(starts, all[i].offset); k+1 < len(starts) {
			all[i].length = starts[k+1] - starts[k]
			if all[i].length > maxMessage {
				return nil, fmt.Errorf("a message of %d octets at octet %d: want at most %d", all[i].length, all[i].offset, maxMessage)
			}
		}
	}
	return all, nil
}

// idxIdent makes out a field of an idx line.
func idxIdent(name, level, when, extra string) (ident, bool) {
	i := ident{statistic: grib.Instant}
	ok := false
	for _, p := range []grib.Parameter{
		grib.Temperature, grib.EastwardWind, grib.NorthwardWind, grib.GeopotentialHeight, grib.Geopotential,
		grib.Gust, grib.CloudCover, grib.PrecipitationRate, grib.Visibility, grib.CAPE,
	} {
		if p.String() == name {
			i.parameter, ok = p, true
		}
	}
	if !ok {
		return i, false
	}
	if i.surface, i.value, ok = idxLevel(level); !ok {
		return i, false
	}
	if i.statistic, i.start, i.step, ok = idxTime(when); !ok {
		return i, false
	}
	switch number := 0; {
	case extra == "":
	case extra == "ENS=low-res ctl" || extra == "ENS=hi-res ctl":
		i.member = wind.Member{Kind: wind.Control}
	case strings.HasPrefix(extra, "ENS=+"):
		if number, ok = numberOf(extra[len("ENS=+"):]); ok {
			i.member = wind.Member{Kind: wind.Perturbed, Number: number}
		}
	case strings.HasPrefix(extra, "ENS=-"):
		if number, ok = numberOf(extra[len("ENS=-"):]); ok {
			i.member = wind.Member{Kind: wind.Negative, Number: number}
		}
	default: // means and spreads of an ensemble, probabilities
		ok = false
	}
	return i, ok
}

func numberOf(s string) (int, bool) {
	n, err := strconv.Atoi(s)
	return n, err == nil && n >= 0 && n <= 255
}

// idxLevel reads a level whole: "10 mb" is not "10 m above ground", and
// "30-0 mb above ground" is neither.
func idxLevel(s string) (grib.Surface, int64, bool) {
	switch s {
	case "surface":
		return grib.Ground, 0, true
	case "entire atmosphere":
		return grib.Atmosphere, 0, true
	}
	for _, unit := range []struct {
		tail    string
		surface grib.Surface
		factor  float64
	}{{" mb", grib.Isobaric, 100}, {" m above ground", grib.HeightAboveGround, 1}} {
		if number, ok := strings.CutSuffix(s, unit.tail); ok {
			v, err := strconv.ParseFloat(number, 64)
			return unit.surface, int64(math.Round(v * unit.factor * 1000)), err == nil && v > 0 && v < 1e6
		}
	}
	return 0, 0, false
}

// idxTime reads "anl", "7 hour fcst" and "6-7 hour ave fcst".
func idxTime(s string) (statistic grib.Statistic, start, step time.Duration, ok bool) {
	if s == "anl" {
		return grib.Instant, 0, 0, true
	}
	word := strings.Fields(s)
	if len(word) < 3 || len(word) > 4 || word[len(word)-1] != "fcst" {
		return 0, 0, 0, false
	}
	unit := map[string]time.Duration{"min": time.Minute, "hour": time.Hour, "day": 24 * time.Hour}[word[1]]
	from, to, interval := strings.Cut(word[0], "-")
	if !interval {
		to = from
	}
	a, err := strconv.Atoi(from)
	b, err2 := strconv.Atoi(to)
	if unit == 0 || err != nil || err2 != nil || a < 0 || b < a || b > 60*maxHours || interval != (len(word) == 4) {
		return 0, 0, 0, false
	}
	statistic = grib.Instant
	if interval {
		if statistic, ok = map[string]grib.Statistic{
			"ave": grib.Average, "acc": grib.Accumulation, "max": grib.Maximum, "min": grib.Minimum,
		}[word[2]]; !ok {
			return 0, 0, 0, false
		}
	}
	return statistic, time.Duration(a) * unit, time.Duration(b) * unit, true
}

// jsonLine is a line of a .index file.
type jsonLine struct {
	Date      string `json:"date"`
	Time      string `json:"time"`
	Type      string `json:"type"`
	Step      string `json:"step"`
	Levtype   string `json:"levtype"`
	Levelist  string `json:"levelist"`
	Param     string `json:"param"`
	Number    string `json:"number"`
	Offset    *int64 `json:"_offset"`
	OctetsLen *int64 `json:"_length"`
}

// readJSONIndex reads lines of JSON such as
//
//	{"date":"20250301","time":"0000","type":"fc","step":"0","levtype":"pl","levelist":"100","param":"u","_offset":3247210,"_length":659143}
func readJSONIndex(text []byte) ([]entry, error) {
	var all []entry
	err := lines(text, func(_ int, s string) error {
		var l jsonLine
		if err := json.Unmarshal([]byte(s), &l); err != nil {
			return err
		}
		if l.Offset == nil || l.OctetsLen == nil || *l.Offset < 0 || *l.OctetsLen < 1 || *l.OctetsLen > maxMessage {
			return fmt.Errorf("_offset and _length: want whole numbers, the second 1 to %d", maxMessage)
		}
		cycle, err := time.Parse("20060102 1504", l.Date+" "+l.Time)
		if err != nil {
			return fmt.Errorf("date %q, time %q: want such as 20250301 and 0000", l.Date, l.Time)
		}
		e := entry{offset: *l.Offset, length: *l.OctetsLen, cycle: cycle}
		e.ident, e.known = jsonIdent(l)
		all = append(all, e)
		return nil
	})
	return all, err
}

// jsonIdent makes out a field of a line of JSON. Parameters and levels of the
// names are those of the tables of ecCodes 2.28 (grib2/shortName.def).
func jsonIdent(l jsonLine) (ident, bool) {
	i := ident{statistic: grib.Instant}
	hours, err := strconv.Atoi(l.Step)
	if err != nil || hours < 0 || hours > maxHours {
		return i, false
	}
	i.start, i.step = time.Duration(hours)*time.Hour, time.Duration(hours)*time.Hour
	switch l.Type {
	case "fc":
	case "cf":
		i.member = wind.Member{Kind: wind.Control}
	case "pf":
		number, ok := numberOf(l.Number)
		if !ok {
			return i, false
		}
		i.member = wind.Member{Kind: wind.Perturbed, Number: number}
	default: // means, spreads, probabilities
		return i, false
	}
	known := false
	switch l.Levtype {
	case "pl":
		v, err := strconv.ParseFloat(l.Levelist, 64)
		if err != nil || !(v > 0 && v < 2000) {
			return i, false
		}
		i.surface, i.value = grib.Isobaric, int64(math.Round(v*100*1000))
		i.parameter, known = map[string]grib.Parameter{
			"u": grib.EastwardWind, "v": grib.NorthwardWind, "t": grib.Temperature,
			"gh": grib.GeopotentialHeight, "z": grib.Geopotential,
		}[l.Param]
	case "sfc":
		i.parameter, known = map[string]grib.Parameter{
			"10u": grib.EastwardWind, "10v": grib.NorthwardWind, "z": grib.Geopotential,
		}[l.Param]
		i.surface, i.value = grib.HeightAboveGround, 10*1000
		if l.Param == "z" {
			i.surface, i.value = grib.Ground, 0
		}
	}
	return i, known
}

// readIndex reads an index of either form.
func readIndex(form string, text []byte) ([]entry, error) {
	if form == "index" {
		return readJSONIndex(text)
	}
	return readIdx(text)
}
