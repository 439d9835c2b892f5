package fetch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// maxFiltered bounds an answer of a regional filter, octets.
const maxFiltered = 512 << 20

// around is how far beyond the box a filter is asked to cut, degrees: a node of the
// coarsest grid that it is used for must lie on each side.
const around = 2.5

// filterAddress fills the holes that a filter's address has besides those of a path.
func filterAddress(pattern string, box geo.Box, want []message) string {
	degrees := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return strings.NewReplacer(
		"{FIELDS}", filterFields(want),
		"{NORTH}", degrees(min(box.North+around, 90)), "{SOUTH}", degrees(max(box.South-around, -90)),
		"{WEST}", degrees(box.West-around), "{EAST}", degrees(east(box)+around),
	).Replace(pattern)
}

// east is the eastern edge of a box as a longitude not below its western one.
func east(b geo.Box) float64 {
	if b.East < b.West {
		return b.East + 360
	}
	return b.East
}

// filterFields names parameters and levels as a filter takes them, such as
// &var_UGRD=on&lev_10_mb=on: everything that has one of each is sent.
func filterFields(want []message) string {
	var flags []string
	for _, m := range want {
		for _, i := range m.fields {
			flags = append(flags, "var_"+i.parameter.String(), "lev_"+strings.ReplaceAll(i.level(), " ", "_"))
		}
	}
	slices.Sort(flags)
	var b strings.Builder
	for _, f := range slices.Compact(flags) {
		b.WriteString("&" + url.QueryEscape(f) + "=on")
	}
	return b.String()
}

// level is the words that idxLevel reads.
func (i ident) level() string {
	value := strconv.FormatFloat(float64(i.value)/1000, 'f', -1, 64)
	switch i.surface {
	case grib.Ground:
		return "surface"
	case grib.Atmosphere:
		return "entire atmosphere"
	case grib.Isobaric:
		return strconv.FormatFloat(float64(i.value)/100e3, 'f', -1, 64) + " mb"
	default:
		return value + " m above ground"
	}
}

// cutShare is the part of the globe that a filter is asked for, by which the octets
// to come are estimated.
func cutShare(b geo.Box) float64 {
	return min((b.North-b.South+2*around)/180, 1) * min((east(b)-b.West+2*around)/360, 1)
}

// fetchCut brings what is missing of a job as its site's filter cuts it: one answer,
// in which the messages come in any order, with others among them. came is told of the
// octets of the answer.
func (j *job) fetchCut(ctx context.Context, w *web, c *cropper, came func(octets int64, before bool)) (err error) {
	file, left, err := j.resume()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if len(left) == 0 {
		return nil
	}
	c.control = j.control
	address := filterAddress(j.filter, c.box, left)
	octets, err := w.whole(ctx, address, maxFiltered, wholly)
	if err != nil {
		return err
	}
	left, err = j.sort(w.c, file, c, octets, left)
	if err == nil && len(left) > 0 {
		err = fmt.Errorf("%w: %v is not in what the filter sent", errWrong, left[0].fields[0])
	}
	if err != nil {
		return fmt.Errorf("%s: %w", named(address), err)
	}
	came(int64(len(octets)), false)
	return nil
}

// wholly is what keeps octets from being messages from end to end.
func wholly(octets []byte) error {
	if int64(len(octets)) != messages(octets, func(*grib.Field) {}) {
		return fmt.Errorf("%d octets that do not end with a message", len(octets))
	}
	return nil
}

// sort writes what is kept of the wanted messages among octets that are whole
// messages, and returns those that are not there.
func (j *job) sort(c Client, file *os.File, crop *cropper, octets []byte, left []message) ([]message, error) {
	for len(octets) > 0 {
		n := messageLength(octets)
		one := octets[:n]
		octets = octets[n:]
		there := map[ident]bool{}
		for f, err := range grib.Scan(bytes.NewReader(one), int64(n)) {
			if err != nil {
				return nil, fmt.Errorf("%w: %w", errWrong, err)
			}
			there[same(identOf(f))] = true
		}
		k := slices.IndexFunc(left, func(m message) bool {
			return !slices.ContainsFunc(m.fields, func(i ident) bool { return !there[same(i)] })
		})
		if k < 0 {
			continue // of a parameter and a level that are wanted, but not together
		}
		kept, err := crop.crop(nil, one, left[k])
		if err != nil {
			return nil, err
		}
		if err := c.put(file, kept); err != nil {
			return nil, diskError{err}
		}
		left = slices.Delete(left, k, k+1)
	}
	return left, nil
}
