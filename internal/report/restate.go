package report

import (
	"strconv"
	"strings"

	"example.org/thistledown/internal/quantity"
)

// heightFrom is from which number of metres a length in a sentence is a height,
// m: nothing that is measured across or hung up is as long.
const heightFrom = 100

// Restate is a sentence with its quantities in the given units, for faults, whose
// sentences are made where no units are known. What is read of it is what Mind
// reads in a text.
func Restate(sentence string, units quantity.System) string {
	return strings.ReplaceAll(restate(sentence, units), "\u00a0", " ")
}

// restate prints the quantities of a sentence in the given units: numbers with
// one of the SI units in which packages below write theirs, m, km, m³, g, kg and
// m/s. What stands in double quotes is somebody's name and left as it is.
func restate(sentence string, units quantity.System) string {
	t := text{units: units}
	words := strings.Split(sentence, " ")
	out := words[:0]
	quoted := false
	// A speed is of what rises and falls, unless the sentence is of the wind.
	windy := strings.Contains(sentence, "wind") || strings.Contains(sentence, "gust")
	for i := 0; i < len(words); i++ {
		if !quoted && i+1 < len(words) {
			unit := strings.TrimRight(words[i+1], ".,:;)?")
			if printed, ok := t.quantity(words[i], unit, windy); ok {
				out = append(out, printed+words[i+1][len(unit):])
				i++
				continue
			}
		}
		if strings.Count(words[i], `"`)%2 == 1 {
			quoted = !quoted
		}
		out = append(out, words[i])
	}
	return strings.Join(out, " ")
}

// quantity prints a number with its SI unit; false where they are none. A speed
// is that of a wind, or of what rises and falls.
func (t *text) quantity(number, unit string, wind bool) (string, bool) {
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return "", false
	}
	switch unit {
	case "m":
		if v < heightFrom {
			return t.length(v), true
		}
		return keep(t.units.Altitude(v)), true
	case "km":
		return keep(t.units.Distance(1000 * v)), true
	case "m³":
		return keep(t.units.Volume(v)), true
	case "g":
		return keep(t.units.Mass(v / 1000)), true
	case "kg":
		return keep(t.units.Mass(v)), true
	case "mm", "mm/h":
		if t.units != quantity.US {
			return keep(number + " " + unit), true
		}
		return keep(inches(v/25.4) + " in" + strings.TrimPrefix(unit, "mm")), true
	case "m/s":
		if wind {
			return keep(t.units.WindSpeed(v)), true
		}
		return keep(t.units.VerticalSpeed(v)), true
	}
	return "", false
}

// inches are a depth of rain, to a thousandth where it is little.
func inches(v float64) string {
	if v > 0 && v < 0.095 {
		return strconv.FormatFloat(v, 'f', 3, 64)
	}
	return strconv.FormatFloat(v, 'f', 2, 64)
}
