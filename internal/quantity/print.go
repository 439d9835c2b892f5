package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// System is the family of units that results are printed in.
type System uint8

const (
	// SI prints metres, kilometres, m/s, km², grams, m³, bar, °C and joules.
	SI System = iota
	// US prints US customary units: feet, statute miles, mph, ft/min, square
	// miles, pounds, ft³, psi, °F and ft·lbf.
	US
)

// ParseSystem reads "si" or "us".
func ParseSystem(s string) (System, error) {
	switch s {
	case "si":
		return SI, nil
	case "us":
		return US, nil
	}
	return SI, fmt.Errorf("units %s: want si or us", quote(s))
}

// String is the name that ParseSystem reads.
func (s System) String() string {
	switch s {
	case SI:
		return "si"
	case US:
		return "us"
	}
	return "System(" + strconv.Itoa(int(s)) + ")"
}

const (
	foot = 3048.0 / 10000      // m, see units.go
	mile = 1609344.0 / 1000    // m
	acre = 43560 * foot * foot // m², of international feet: NIST Handbook 44 (2024), appendix C
)

// A printed number carries what a reader can act on and never a digit more
// than that: each method says to what it rounds, halves away from zero. From
// five digits on they are grouped in threes by a plain space, four are not (SI
// Brochure, 9th edition, 5.4.4). What is printed reads
// back, but for areas. A number that is not finite prints as "unknown".

// Distance prints metres along the ground: to 10 m (10 ft) below a kilometre
// (mile) and to 1 below 100, then to 0.1 km (mi), from 100 on to whole ones.
func (s System) Distance(metres float64) string {
	short, long, unit, far := metres, metres/1000, "m", "km"
	limit := 1000.0
	if s == US {
		short, long, unit, far = metres/foot, metres/mile, "ft", "mi"
		limit = mile / foot
	}
	if r := near(short, 100, 1, 10); math.Abs(r) < limit {
		return number(r, 0, unit)
	}
	return tenths(long, 100, far)
}

// Altitude prints a height in metres or feet: to whole ones below 1000, to 10
// below 10 000, then to 100.
func (s System) Altitude(metres float64) string {
	v, unit := metres, "m"
	if s == US {
		v, unit = metres/foot, "ft"
	}
	if r := near(v, 1000, 1, 10); math.Abs(r) < 10000 {
		return number(r, 0, unit)
	}
	return number(step(v, 100), 0, unit)
}

// VerticalSpeed prints a rate of climb or fall: in m/s to 0.1, or in ft/min to 10.
func (s System) VerticalSpeed(metresPerSecond float64) string {
	if s == US {
		return number(step(metresPerSecond*60/foot, 10), 0, "ft/min")
	}
	return number(tenth(metresPerSecond), 1, "m/s")
}

// WindSpeed prints the speed of air or of a drift: in m/s to 0.1 below 10 and
// to whole ones from there, or in whole mph.
func (s System) WindSpeed(metresPerSecond float64) string {
	if s == US {
		return number(step(metresPerSecond*3600/mile, 1), 0, "mph")
	}
	return tenths(metresPerSecond, 10, "m/s")
}

// Area prints square metres as m², as hectares from one hectare on and as km²
// from one square kilometre on (sq ft, acres, sq mi): m² and sq ft to whole
// ones, the larger units to 0.1 below 10, and none to more than three
// significant digits from 1000 on.
func (s System) Area(squareMetres float64) string {
	units := [...]string{"km²", "ha", "m²"}
	sizes := [...]float64{1e6, 1e4, 1}
	if s == US {
		units = [...]string{"sq mi", "acres", "sq ft"}
		sizes = [...]float64{mile * mile, acre, foot * foot}
	}
	for i, size := range sizes[:2] {
		if r := tenth(squareMetres / size); !(math.Abs(r) < 1) {
			return threeDigits(squareMetres/size, 1, units[i])
		}
	}
	return threeDigits(squareMetres/sizes[2], 0, units[2])
}

// Duration prints seconds: "38 s" below a minute, "45 min" below an hour,
// "2 h 31 min" below two days, then "3 d 4 h"; each to its smaller unit. It is
// the same in both systems.
func (s System) Duration(seconds float64) string {
	if !finite(seconds) {
		return unknown
	}
	sign := ""
	if seconds < 0 {
		sign, seconds = "-", -seconds
	}
	switch {
	case math.Round(seconds) < 60:
		if math.Round(seconds) == 0 {
			sign = ""
		}
		return sign + number(math.Round(seconds), 0, "s")
	case math.Round(seconds/60) < 60:
		return sign + number(math.Round(seconds/60), 0, "min")
	case math.Round(seconds/60) < 48*60:
		return sign + pair(math.Round(seconds/60), 60, "h", "min")
	}
	return sign + pair(math.Round(seconds/3600), 24, "d", "h")
}

// unknown is what a number that is not finite prints as.
const unknown = "unknown"

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// step rounds v to a multiple of size.
func step(v, size float64) float64 { return math.Round(v/size) * size }

// near rounds v to fine below limit and to coarse from there.
func near(v, limit, fine, coarse float64) float64 {
	if r := step(v, fine); math.Abs(r) < limit {
		return r
	}
	return step(v, coarse)
}

// tenth rounds v to 0.1.
func tenth(v float64) float64 { return math.Round(v*10) / 10 }

// tenths prints v to 0.1 below limit and to whole ones from there.
func tenths(v, limit float64, unit string) string {
	if r := tenth(v); math.Abs(r) < limit {
		return number(r, 1, unit)
	}
	return number(math.Round(v), 0, unit)
}

// threeDigits prints v with the decimals given below 10, to whole ones below 1000 and
// to three significant digits from there.
func threeDigits(v float64, decimals int, unit string) string {
	if r := tenth(v); decimals > 0 && math.Abs(r) < 10 {
		return number(r, decimals, unit)
	}
	if r := math.Round(v); math.Abs(r) < 1000 || !finite(v) {
		return number(r, 0, unit)
	}
	return number(step(v, math.Pow10(int(math.Log10(math.Abs(v)))-2)), 0, unit)
}

// pair prints a count of small units as large and small ones.
func pair(count, each float64, large, small string) string {
	whole, rest := math.Floor(count/each), math.Mod(count, each)
	if rest == 0 {
		return number(whole, 0, large)
	}
	return number(whole, 0, large) + " " + number(rest, 0, small)
}

// number prints v, already rounded, with the decimals given and its unit.
func number(v float64, decimals int, unit string) string {
	if !finite(v) {
		return unknown
	}
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, fraction, _ := strings.Cut(text, ".")
	text = grouped(whole)
	if fraction != "" {
		text += "." + fraction
	}
	if v < 0 {
		text = "-" + text
	}
	return text + " " + unit
}

// grouped parts five digits or more in threes.
func grouped(digits string) string {
	if len(digits) < 5 {
		return digits
	}
	head := (len(digits)-1)%3 + 1
	out := digits[:head]
	for ; head < len(digits); head += 3 {
		out += " " + digits[head:head+3]
	}
	return out
}
