// Package quantity is how people write quantities: "3.6 lb", "30 km",
// "5.2 m/s ± 8 %", "+45 min". It turns such text into SI numbers and SI
// numbers into text in the units that the reader asked for.
//
// It hides the unit names, their exact factors and the forms that a number may
// take. Everything that it returns is SI: metres, kilograms, metres per
// second, seconds, cubic metres, pascals, kelvins, joules, watts, coulombs,
// amperes, volts, and a fraction of one for a percentage; only a rate of loss
// stays per hour, as its name says. It does not know
// which quantity it reads or what range would be sensible for it: a burst
// altitude of 3 mm is the caller's to refuse.
//
// # Numbers
//
// A number is written in decimal digits with a point ("1.64", ".5", "3e4"); a
// number without a unit is refused, for every quantity that has one. A space (plain,
// no-break, thin or narrow no-break) may separate groups of exactly three
// digits, "27 000 m", and may or may not stand before the unit. A comma is
// always refused, since it means thousands to one reader and decimals to the
// next: kitchen scales show "1,640 kg" for 1640 g. The message says how to
// write either. The sign − (U+2212) is read as the hyphen is. Zero is allowed;
// any other number must have a size between 1e-12 and 1e12 in its own unit.
//
// Lengths, durations and differences of temperature may be negative (a site
// below sea level, an earlier launch, a colder gas), and so may the number of a
// temperature down to absolute zero; all others may not. Lengths, masses and
// durations may be sums of falling units: "1 h 30 min", "3 lb 9.6 oz"; a sign
// before the first holds for the whole.
package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Length reads a length and returns metres. Units: m, km, cm, mm, ft, in, yd,
// mi (the statute mile of 1609.344 m) and nmi, also written NM or nm (the
// nautical mile of 1852 m; nanometres are not read). It may be negative.
func Length(s string) (float64, error) { return read(s, &length) }

// Mass reads a mass and returns kilograms. Units: kg, g, lb, oz (both
// avoirdupois). Never negative.
func Mass(s string) (float64, error) { return read(s, &mass) }

// Speed reads a speed and returns metres per second. Units: m/s, km/h, m/min,
// kn (also kt), mph, ft/s, ft/min. It is a size: never negative.
func Speed(s string) (float64, error) { return read(s, &speed) }

// Duration reads a duration and returns seconds. Units: s, min, h, d (of
// 86 400 s). It may carry a sign, as an offset does: "+45 min", "-1 h 30 min".
func Duration(s string) (float64, error) { return read(s, &duration) }

// Percent reads a percentage and returns it as a fraction of one: "8 %" is
// 0.08. Never negative; over 100 % is the caller's to refuse.
func Percent(s string) (float64, error) { return read(s, &percent) }

// Uncertain is a quantity with its uncertainty, both in the SI unit of the
// quantity.
type Uncertain struct {
	// Centre is the middle of the distribution.
	Centre float64
	// Spread is one standard deviation, 0 or more; NaN where the text gave
	// none, so that the caller's documented default holds (see Or).
	Spread float64
}

// Or returns u with the spread given, in SI units, where u has none of its own.
func (u Uncertain) Or(spread float64) Uncertain {
	if math.IsNaN(u.Spread) {
		u.Spread = spread
	}
	return u
}

// UncertainLength reads a length in metres with its spread: "30 km ± 1.5 km",
// "92000 ft ± 5 %", or without: "30 km". The spread is one standard deviation,
// in any unit of length or in per cent of the centre, after ±, +- or +/-.
func UncertainLength(s string) (Uncertain, error) { return readUncertain(s, &length) }

// UncertainSpeed is UncertainLength for a speed, in metres per second:
// "5.2 m/s ± 8 %".
func UncertainSpeed(s string) (Uncertain, error) { return readUncertain(s, &speed) }

// UncertainDuration is UncertainLength for a duration, in seconds:
// "+10 min ± 5 min".
func UncertainDuration(s string) (Uncertain, error) { return readUncertain(s, &duration) }

// UncertainMass is UncertainLength for a mass, in kilograms: "640 g ± 2 g",
// "600 g ± 3 %".
func UncertainMass(s string) (Uncertain, error) { return readUncertain(s, &mass) }

// UncertainVolume is UncertainLength for a volume, in cubic metres:
// "2.6 m³ ± 3 %". Units: see Volume.
func UncertainVolume(s string) (Uncertain, error) { return readUncertain(s, &volume) }

// UncertainPercent reads a percentage with its spread, both as fractions of
// one. The spread is in percentage points, never a share of the centre:
// "30 % ± 20 %" is 0.3 with a standard deviation of 0.2 (not 0.06), "0 % ± 5 %"
// is 0 with 0.05. A spread without a per cent sign is refused.
func UncertainPercent(s string) (Uncertain, error) { return readUncertain(s, &percent) }

// UncertainNumber reads a coefficient, which has no unit, with its spread as a
// number or in per cent of the centre: "0.78 ± 0.03", "0.78 ± 5 %", or
// without: "0.78". Never negative; a unit, and a centre in per cent, is refused.
func UncertainNumber(s string) (Uncertain, error) { return readUncertain(s, &coefficient) }

// spreadMarks are the ways to write "plus or minus".
var spreadMarks = [...]string{"+/-", "+-", "±"}

// readUncertain reads a centre of dimension d and, after a spread mark, its spread.
func readUncertain(s string, d *dimension) (Uncertain, error) {
	if len(s) > maxText {
		return Uncertain{}, fmt.Errorf("%s: want %s in at most %d bytes", quote(s), d.name, maxText)
	}
	centre, spread, marked := cutSpread(plain(s))
	if !marked {
		v, err := read(s, d)
		return Uncertain{Centre: v, Spread: math.NaN()}, err
	}
	c, err := read(centre, d)
	if err != nil {
		return Uncertain{}, fmt.Errorf("centre %w", err)
	}
	if _, _, again := cutSpread(spread); again {
		return Uncertain{}, fmt.Errorf("%s: want one spread", quote(s))
	}
	w, err := readSpread(spread, c, d)
	if err != nil {
		return Uncertain{}, fmt.Errorf("spread %w", err)
	}
	return Uncertain{Centre: c, Spread: w}, nil
}

// cutSpread parts s at its first spread mark.
func cutSpread(s string) (centre, spread string, marked bool) {
	at, width := len(s), 0
	for _, mark := range spreadMarks {
		if i := strings.Index(s, mark); i >= 0 && i < at {
			at, width = i, len(mark)
		}
	}
	return strings.TrimSpace(s[:at]), strings.TrimSpace(s[at+width:]), width > 0
}

// readSpread reads a spread around the centre c: per cent of it, or a size of
// the same dimension. Of a percentage, both would be written alike, and it is
// the size.
func readSpread(s string, c float64, d *dimension) (float64, error) {
	if strings.HasPrefix(s, "+") || strings.HasPrefix(s, "-") {
		return 0, fmt.Errorf("%s: want a size without a sign, such as %s", quote(s), d.example)
	}
	if d == &percent {
		return read(s, d)
	}
	if strings.HasSuffix(s, "%") || strings.HasSuffix(s, "percent") {
		p, err := Percent(s)
		if err != nil {
			return 0, err
		}
		if c == 0 {
			return 0, fmt.Errorf("%s: a share of a centre of zero says nothing: want %s", quote(s), d.want())
		}
		return p * math.Abs(c), nil
	}
	return read(s, d)
}
