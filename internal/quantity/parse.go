package quantity

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

const (
	maxText  = 120  // bytes of one quantity
	maxShown = 40   // runes of it that an error repeats
	largest  = 1e12 // of a number, in its own unit
	smallest = 1e-12
)

// numberForm is a number at the start of a text: digits, in groups of three or
// not, a fraction, a power of ten.
var numberForm = regexp.MustCompile(`^(?:(?:\d{1,3}(?: \d{3})+|\d+)(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?`)

// plain writes every accepted space as a plain one and the minus sign as a
// hyphen, and drops spaces at the ends.
func plain(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch r {
		case '\u00a0', '\u2009', '\u202f':
			return ' '
		case '\u2212':
			return '-'
		}
		return r
	}, s))
}

// quote repeats a text in an error, cut where it is long.
func quote(s string) string {
	if utf8.RuneCountInString(s) > maxShown {
		s = string([]rune(s)[:maxShown]) + "…"
	}
	return strconv.Quote(s)
}

// read reads one quantity of dimension d, in SI.
func read(s string, d *dimension) (float64, error) {
	if len(s) > maxText {
		return 0, fmt.Errorf("%s: want %s in at most %d bytes", quote(s), d.name, maxText)
	}
	v, err := sum(plain(s), d)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", quote(s), err)
	}
	return v, nil
}

// sum adds the terms of a quantity under its one sign.
func sum(s string, d *dimension) (float64, error) {
	if strings.Contains(s, ",") {
		return 0, comma(s)
	}
	negative := strings.HasPrefix(s, "-")
	if negative && !d.signed {
		return 0, fmt.Errorf("%s is never negative", d.noun())
	}
	sign := 1.0
	if negative {
		sign = -1
	}
	if negative || strings.HasPrefix(s, "+") {
		s = strings.TrimLeft(s[1:], " ")
	}
	total, last := 0.0, math.Inf(1)
	for first := true; first || s != ""; first = false {
		v, u, rest, err := term(s, sign, d)
		if err != nil {
			return 0, err
		}
		size := u.scale / u.per
		if !first && (!d.summed || size >= last) {
			return 0, fmt.Errorf("want one number and unit%s", d.sumHint())
		}
		total, last, s = total+v, size, rest
	}
	if d.zeros != nil && total < 0 {
		return 0, errors.New("nothing is colder than absolute zero, -273.15 °C")
	}
	return total, nil
}

// sumHint says how parts may follow each other, where they may.
func (d *dimension) sumHint() string {
	if !d.summed {
		return ", such as " + d.example
	}
	return ", or parts from the largest unit to the smallest"
}

// term reads one number and its unit at the start of s, under the sign of the
// whole: the SI value, the unit and what follows.
func term(s string, sign float64, d *dimension) (v float64, u unit, rest string, err error) {
	digits := numberForm.FindString(s)
	after := strings.TrimLeft(s[len(digits):], " ")
	end := nameEnd(after, d)
	name := strings.TrimRight(after[:end], " ")
	u, ok := d.unit(name)
	switch {
	case digits == "" || (after == "" && !ok):
		return 0, unit{}, "", errors.New("want " + d.want())
	case name == "" && after != "":
		return 0, unit{}, "", fmt.Errorf("%s is not one number: want digits with a decimal point, spaces only between groups of three", quote(s))
	case !ok:
		return 0, unit{}, "", errors.New(d.unknown(name))
	}
	n, err := strconv.ParseFloat(strings.ReplaceAll(digits, " ", ""), 64)
	if err != nil || n > largest || (n < smallest && strings.ContainsAny(mantissa(digits), "123456789")) {
		return 0, unit{}, "", fmt.Errorf("the number %s: want 0 or %g to %g", quote(digits), smallest, largest)
	}
	return (sign*n*u.scale + d.zeros[u.names[0]]) / u.per, u, strings.TrimLeft(after[end:], " "), nil
}

// nameEnd is where the unit at the start of a text ends: before the next
// number, but after the 3 of a cubic unit and the 2 of an area. "1 m3 mm" stays a sum of lengths.
func nameEnd(after string, d *dimension) int {
	end := strings.IndexAny(after, "0123456789.+-")
	if end < 0 {
		return len(after)
	}
	next := after[end+1:]
	if next != "" && strings.ContainsAny(next[:1], "0123456789.") {
		return end
	}
	if _, cubic := volume.unit(after[:end+1]); cubic && (d == &volume || next == "") {
		return end + 1
	}
	if _, square := perArea.unit(after[:end+1]); square && d == &perArea {
		return end + 1
	}
	if _, square := area.unit(after[:end+1]); square && (d == &area || next == "") {
		return end + 1
	}
	return end
}

// mantissa is a number without its power of ten.
func mantissa(digits string) string {
	if i := strings.IndexAny(digits, "eE"); i >= 0 {
		return digits[:i]
	}
	return digits
}

// comma refuses a text with a comma in it and says how it could be written.
func comma(s string) error {
	without := quote(strings.ReplaceAll(s, ",", ""))
	if strings.Count(s, ",") > 1 {
		return fmt.Errorf("a comma is not read: write %s", without)
	}
	point := quote(strings.Replace(s, ",", ".", 1))
	if thousands.MatchString(s) {
		return fmt.Errorf("a comma could mean thousands or decimals: write %s or %s", without, point)
	}
	return fmt.Errorf("the decimal mark is a point: write %s", point)
}

// thousands is a comma that could stand between groups of three digits.
var thousands = regexp.MustCompile(`(^|[^\d])\d{1,3},\d{3}([^\d]|$)`)
