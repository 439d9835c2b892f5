package quantity

import "strings"

// dimension is one kind of quantity and the units that it may be written in.
type dimension struct {
	name    string // with its article: "a length"
	example string // how to write one, quoted
	signed  bool   // may be negative
	summed  bool   // may be a sum of falling units
	units   []unit

	// zeros says, for a dimension counted from absolute zero, where the zero of
	// each unit lies, by its first name and as (n·scale + zero)/per in SI; nil
	// for the others.
	zeros map[string]float64
}

// unit is one unit by all its names, the one to recommend first. A number n of
// it is n·scale/per in SI, except as zeros says. Both are whole numbers that a
// float64 holds exactly, so that a decimal as people write it converts to the
// nearest float64.
type unit struct {
	names      []string
	scale, per float64
}

// The factors are exact by definition. SI prefixes, minute, hour and day: BIPM,
// SI Brochure, 9th edition, tables 7 and 8. Nautical mile 1852 m and knot:
// NIST SP 811 (2008), appendix B.8. International foot 0.3048 m, of which the
// yard is 3, the mile 5280 and the inch a twelfth, and the avoirdupois pound
// 0.453 592 37 kg, of which the ounce is a sixteenth: NIST SP 811, B.6 and B.8.
// The US survey foot (1200/3937 m) is not meant by any of them.
var (
	length = dimension{
		name: "a length", example: `"30 km" or "92000 ft"`, signed: true, summed: true,
		units: []unit{
			{[]string{"m", "metre", "metres", "meter", "meters"}, 1, 1},
			{[]string{"km"}, 1000, 1},
			{[]string{"cm"}, 1, 100},
			{[]string{"mm"}, 1, 1000},
			{[]string{"ft", "foot", "feet"}, 3048, 10000},
			{[]string{"in", "inch", "inches"}, 254, 10000},
			{[]string{"yd", "yard", "yards"}, 9144, 10000},
			{[]string{"mi", "mile", "miles"}, 1609344, 1000},
			{[]string{"nmi", "NM", "nm"}, 1852, 1},
		},
	}
	mass = dimension{
		name: "a mass", example: `"1640 g" or "3.6 lb"`, summed: true,
		units: []unit{
			{[]string{"kg"}, 1, 1},
			{[]string{"g"}, 1, 1000},
			{[]string{"lb", "lbs"}, 45359237, 1e8},
			{[]string{"oz"}, 45359237, 16e8},
		},
	}
	speed = dimension{
		name: "a speed", example: `"5.2 m/s" or "1000 ft/min"`,
		units: []unit{
			{[]string{"m/s"}, 1, 1},
			{[]string{"km/h"}, 1000, 3600},
			{[]string{"m/min"}, 1, 60},
			{[]string{"kn", "kt", "kts", "knot", "knots"}, 1852, 3600},
			{[]string{"mph", "mi/h"}, 1609344, 3600e3},
			{[]string{"ft/s"}, 3048, 10000},
			{[]string{"ft/min", "fpm"}, 3048, 600000},
		},
	}
	duration = dimension{
		name: "a duration", example: `"45 min" or "1 h 30 min"`, signed: true, summed: true,
		units: []unit{
			{[]string{"s", "sec", "second", "seconds"}, 1, 1},
			{[]string{"min", "minute", "minutes"}, 60, 1},
			{[]string{"h", "hr", "hour", "hours"}, 3600, 1},
			{[]string{"d", "day", "days"}, 86400, 1},
		},
	}
	percent = dimension{
		name: "a percentage", example: `"8 %"`,
		units: []unit{
			{[]string{"%", "percent"}, 1, 100},
		},
	}
	coefficient = dimension{
		name: "a coefficient", example: `"0.78"`,
		units: []unit{
			{[]string{""}, 1, 1},
		},
	}
)

// dimensions are all of them, to say what a misplaced unit would have been.
var dimensions = [...]*dimension{
	&length, &mass, &speed, &duration, &percent, &coefficient,
	&volume, &pressure, &temperature, &difference, &rate,
	&energy, &power, &charge, &current, &voltage,
	&area, &force,
}

// noun is the name of the dimension without its article.
func (d *dimension) noun() string {
	_, noun, _ := strings.Cut(d.name, " ")
	return noun
}

// want says what a text of this dimension looks like.
func (d *dimension) want() string {
	if _, bare := d.unit(""); bare {
		return d.name + " without a unit, such as " + d.example
	}
	return d.name + " with its unit, such as " + d.example
}

// unit finds a unit by one of its names, which are told apart by case: "Mm"
// and "M" are units too, and not these.
func (d *dimension) unit(name string) (unit, bool) {
	for _, u := range d.units {
		for _, n := range u.names {
			if n == name {
				return u, true
			}
		}
	}
	return unit{}, false
}

// list names the units of the dimension: "m, km or ft".
func (d *dimension) list() string {
	names := make([]string, len(d.units))
	for i, u := range d.units {
		names[i] = u.names[0]
	}
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

// unknown says what is wrong with a unit that d does not have.
func (d *dimension) unknown(name string) string {
	for _, other := range dimensions {
		if _, ok := other.unit(name); ok && other != d {
			return name + " is a unit of " + other.noun() + ", want " + d.want()
		}
	}
	if bare, ok := ungauged(name); ok && d == &pressure {
		return quote(name) + ": whether a pressure is gauge or absolute is said by what it is given for, not by its unit: write " + bare
	}
	if _, bare := d.unit(""); bare {
		return quote(name) + " is not read here: want " + d.want()
	}
	return quote(name) + " is not a unit of " + d.noun() + " here: want " + d.list()
}
