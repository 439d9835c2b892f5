package ground

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.org/thistledown/internal/geo"
)

const (
	nauticalMile = 1852.0             // m, exact by definition
	maxRadius    = 500 * nauticalMile // m
)

// numbers reads so many numbers with commas between them.
func numbers(s string, n int) ([]float64, error) {
	parts := strings.Split(s, ",")
	if len(parts) != n {
		return nil, fmt.Errorf("%.40q: %d values: want %d with commas between them", s, len(parts), n)
	}
	values := make([]float64, n)
	for i, part := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			return nil, fmt.Errorf("%.40q: value %d: want a number", s, i+1)
		}
		values[i] = v
	}
	return values, nil
}

// miles reads a length in nautical miles, and gives it in metres.
func miles(s string) (float64, error) {
	v, err := numbers(s, 1)
	if err != nil {
		return 0, err
	}
	if m := v[0] * nauticalMile; m > 0 && m <= maxRadius {
		return m, nil
	}
	return 0, fmt.Errorf("%g nautical miles: want over 0, up to %g", v[0], maxRadius/nauticalMile)
}

// position reads a latitude and a longitude: each a number with its letter
// behind it.
func position(s string) (geo.Point, error) {
	lat, rest, err := angle(s, "NS")
	if err != nil {
		return geo.Point{}, fmt.Errorf("%.40q: latitude: %w", s, err)
	}
	lon, rest, err := angle(rest, "EW")
	if err != nil {
		return geo.Point{}, fmt.Errorf("%.40q: longitude: %w", s, err)
	}
	if strings.TrimSpace(rest) != "" {
		return geo.Point{}, fmt.Errorf("%.40q: %.20q behind the position: want nothing", s, rest)
	}
	return geo.Point{Lat: lat, Lon: lon}, nil
}

// angle reads a number of degrees and its letter, the first of two letters for
// positive ones, and gives what is left of the text.
func angle(s, letters string) (degrees float64, rest string, err error) {
	s = strings.TrimLeft(s, " \t")
	n := strings.IndexFunc(s, func(r rune) bool { return (r < '0' || r > '9') && r != ':' && r != '.' })
	if n < 0 {
		n = len(s)
	}
	digits, rest := s[:n], strings.TrimLeft(s[n:], " \t")
	letter := 0
	if rest != "" {
		letter = 1 + strings.IndexByte(letters, rest[0]&^0x20)
	}
	if letter == 0 {
		return 0, rest, fmt.Errorf("want a number such as 54:25:30, 54:25.500 or 54.425, then %c or %c", letters[0], letters[1])
	}
	most := 90.0
	if letters == "EW" {
		most = 180
	}
	degrees, err = sexagesimal(digits, len(strconv.Itoa(int(most))))
	if err != nil {
		return 0, rest, err
	}
	if degrees > most {
		return 0, rest, fmt.Errorf("%s is over %g degrees", digits, most)
	}
	if letter == 2 {
		degrees = -degrees
	}
	return degrees, rest[1:], nil
}

// sexagesimal reads degrees, degrees and minutes, or degrees, minutes and
// seconds, with colons between them or, at full width, without; wide is how many
// digits degrees have then. The last of them may have decimals.
func sexagesimal(s string, wide int) (float64, error) {
	parts := strings.Split(s, ":")
	if whole, _, _ := strings.Cut(s, "."); len(parts) == 1 {
		switch len(whole) {
		case wide + 2:
			parts = []string{s[:wide], s[wide:]}
		case wide + 4:
			parts = []string{s[:wide], s[wide : wide+2], s[wide+2:]}
		}
	}
	if len(parts) > 3 {
		return 0, fmt.Errorf("%.20q: want degrees, minutes and seconds at most", s)
	}
	degrees, unit := 0.0, 1.0
	for i, part := range parts {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil || i < len(parts)-1 && strings.Contains(part, ".") {
			return 0, fmt.Errorf("%.20q: want numbers with colons between them, decimals in the last one only", s)
		}
		if i > 0 && v >= 60 {
			return 0, fmt.Errorf("%.20q: minutes or seconds %s: want under 60", s, part)
		}
		degrees += v * unit
		unit /= 60
	}
	return degrees, nil
}
