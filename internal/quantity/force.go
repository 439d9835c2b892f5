package quantity

// Area reads an area and returns square metres. Units: m² (also m2), cm², mm²,
// in² (also sq in), ft² (also sq ft). Never negative.
func Area(s string) (float64, error) { return read(s, &area) }

// Force reads a force and returns newtons. Units: N, kN, lbf. Never negative; a
// "kg" or "lb" of force is not read, as it is a mass.
func Force(s string) (float64, error) { return read(s, &force) }

// The factors are exact by definition. SI units and prefixes: BIPM, SI Brochure,
// 9th edition, tables 4 and 7. Inch and foot: see length. Pound-force: 0.453 592
// 37 kg × 9.806 65 m/s² (standard gravity), which NIST SP 811 (2008), B.8, rounds
// to 4.448 222 E+00 N.
var (
	area = dimension{
		name: "an area", example: `"240 cm2" or "24 in2"`,
		units: []unit{
			{[]string{"m²", "m2"}, 1, 1},
			{[]string{"cm²", "cm2"}, 1, 1e4},
			{[]string{"mm²", "mm2"}, 1, 1e6},
			{[]string{"in²", "in2", "sq in"}, 254 * 254, 1e8},
			{[]string{"ft²", "ft2", "sq ft"}, 3048 * 3048, 1e8},
		},
	}
	force = dimension{
		name: "a force", example: `"180 N" or "40 lbf"`,
		units: []unit{
			{[]string{"N"}, 1, 1},
			{[]string{"kN"}, 1000, 1},
			{[]string{"lbf"}, 45359237 * 980665, 1e13},
		},
	}
)
