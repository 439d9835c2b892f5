package ground

import (
	"fmt"
	"strconv"
	"strings"
)

// Ref is what the height of a limit of airspace counts from.
type Ref uint8

// What a limit counts from.
const (
	AboveSea    Ref = iota // mean sea level
	AboveGround            // the ground under the place
	FlightLevel            // the surface of 1013.25 hPa, by an altimeter set to it
	Unlimited              // nothing: as high as there is air
)

// Limit is the floor or the ceiling of airspace. Two of them are alike if ==
// says so.
type Limit struct {
	Ref Ref
	// Metres is the height above mean sea level or above ground, -1,000 to
	// 200,000. Of a flight level it is the pressure altitude: geopotential metres
	// in the standard atmosphere, 30.48 for each level, 0 to 30,480. Of Unlimited
	// it is 0.
	Metres float64
}

const (
	foot         = 0.3048     // m, exact by definition
	hundredFeet  = 100 * foot // m, from one flight level to the next
	lowestLimit  = -1000      // m
	highestLimit = 200_000    // m
	highestLevel = 1000       // hundreds of feet
)

// String is the limit as ParseLimit reads it, heights in metres.
func (l Limit) String() string {
	switch {
	case l.Ref == FlightLevel:
		return "FL " + strconv.FormatFloat(l.Metres/hundredFeet, 'f', -1, 32)
	case l.Ref == Unlimited:
		return "UNL"
	case l.Ref == AboveGround && l.Metres == 0:
		return "GND"
	}
	words := strconv.FormatFloat(l.Metres, 'f', -1, 64) + " m "
	if l.Ref == AboveGround {
		return words + "AGL"
	}
	return words + "MSL"
}

// wantLimit says what ParseLimit reads.
const wantLimit = `such as "FL 95", "4500 ft MSL", "300 m AGL", "GND" or "UNL"`

// ParseLimit reads a floor or a ceiling as airspace is written: a flight level
// ("FL 95"), a height above mean sea level (MSL, AMSL, ASL, ALT, or nothing),
// above ground (AGL, GND, SFC), the ground alone, or none (UNL, UNLIMITED).
// Heights are in feet (ft) unless m says metres. Case and spaces do not matter.
func ParseLimit(s string) (Limit, error) {
	var p limitParts
	if !p.read(strings.ToUpper(s)) {
		return Limit{}, fmt.Errorf("height %.40q: want %s", s, wantLimit)
	}
	return p.limit(s)
}

// limitParts are the words and the number of a limit.
type limitParts struct {
	value           float64
	numbers         int
	ref             Ref
	refs            int
	metres, hasUnit bool
}

// limitRefs are the words for what a limit counts from.
var limitRefs = map[string]Ref{
	"FL": FlightLevel, "MSL": AboveSea, "AMSL": AboveSea, "ASL": AboveSea, "ALT": AboveSea,
	"AGL": AboveGround, "GND": AboveGround, "SFC": AboveGround,
	"UNL": Unlimited, "UNLIM": Unlimited, "UNLTD": Unlimited, "UNLIMITED": Unlimited,
}

// read takes the words and numbers of a limit apart; false where one of them is
// not known or comes twice.
func (p *limitParts) read(s string) bool {
	for s = strings.TrimSpace(s); s != ""; s = strings.TrimLeft(s, " \t") {
		n := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("-.0123456789", r) })
		if n < 0 {
			n = len(s)
		}
		if n > 0 {
			v, err := strconv.ParseFloat(s[:n], 64)
			if err != nil {
				return false
			}
			p.value, s = v, s[n:]
			p.numbers++
			continue
		}
		n = strings.IndexFunc(s, func(r rune) bool { return r < 'A' || r > 'Z' })
		if n < 0 {
			n = len(s)
		}
		word := s[:n]
		s = s[n:]
		ref, ok := limitRefs[word]
		switch {
		case ok:
			p.ref = ref
			p.refs++
		case (word == "FT" || word == "M") && !p.hasUnit:
			p.metres, p.hasUnit = word == "M", true
		default:
			return false
		}
	}
	return p.numbers <= 1 && p.refs <= 1 && p.numbers+p.refs > 0
}

// limit puts the parts together; s is the text that they come from.
func (p *limitParts) limit(s string) (Limit, error) {
	switch {
	case p.ref == FlightLevel && (p.numbers == 0 || p.hasUnit):
		return Limit{}, fmt.Errorf("height %.40q: want a flight level in hundreds of feet, such as \"FL 95\"", s)
	case p.ref == FlightLevel && !(p.value >= 0 && p.value <= highestLevel):
		return Limit{}, fmt.Errorf("flight level %g: want 0 to %d, hundreds of feet", p.value, highestLevel)
	case p.ref == FlightLevel:
		return Limit{FlightLevel, p.value * hundredFeet}, nil
	case p.ref == Unlimited && (p.numbers > 0 || p.hasUnit):
		return Limit{}, fmt.Errorf("height %.40q: want UNL without a number, or a height", s)
	case p.ref == Unlimited:
		return Limit{Ref: Unlimited}, nil
	case p.numbers == 0 && (p.ref != AboveGround || p.hasUnit):
		return Limit{}, fmt.Errorf("height %.40q: no number: want %s", s, wantLimit)
	}
	v := p.value
	if !p.metres {
		v *= foot
	}
	if !(v >= lowestLimit && v <= highestLimit) {
		return Limit{}, fmt.Errorf("height %.40q, %g m: want %d to %d m", s, v, lowestLimit, highestLimit)
	}
	if p.ref == AboveGround && v < 0 {
		return Limit{}, fmt.Errorf("height %.40q: want 0 or more above ground", s)
	}
	return Limit{p.ref, v}, nil
}

// checkLimits refuses a floor that is not below its ceiling, as far as the two
// can be compared without the day's air and the ground: both from the same, one
// of them without end, or so far apart that no air and no ground make up for it.
func checkLimits(floor, ceiling Limit) error {
	switch {
	case floor.Ref == Unlimited:
		return fmt.Errorf("floor %v: want a height", floor)
	case ceiling.Ref == AboveGround && ceiling.Metres == 0:
		return fmt.Errorf("ceiling %v: want it above the ground", ceiling)
	case floor.Ref == ceiling.Ref && !(floor.Metres < ceiling.Metres):
		return fmt.Errorf("floor %v and ceiling %v: want the floor below the ceiling", floor, ceiling)
	}
	if v := (&Volume{Floor: floor, Ceiling: ceiling}); !(v.Bottom() < v.Top()) {
		return fmt.Errorf("floor %v and ceiling %v: want the floor below the ceiling on some day, over some ground", floor, ceiling)
	}
	return nil
}
