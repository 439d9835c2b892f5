package balloon_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

const pound = 0.45359237 // kg, exact

// shapeNamed is a shape that must be known.
func shapeNamed(t require.TestingT, name string) balloon.Shape {
	s, err := balloon.ShapeNamed(name)
	require.NoError(t, err)
	return s
}

// round is a flat circular canopy.
func round(t require.TestingT, size, cd float64) balloon.Canopy {
	return balloon.Canopy{Shape: shapeNamed(t, "flat circular"), Outline: balloon.Circle, Size: size, Cd: cd, Count: 1}
}

// worked is four loads under flat circular canopies, ρ 1.225 kg/m³ and g
// 9.80665 m/s². Source: computed apart from this code in Python, double
// precision, from v = √(2mg/(ρ·CdS)); Cd within Knacke, NWC TP 6575 (1991),
// Table 5-1.
var worked = []struct{ mass, size, cd, area, speed, energy, at20, at30 float64 }{
	{0.25, 0.6, 0.75, 0.212058, 4.344607, 2.3595, 16.127, 35.440},
	{1.0, 1.0, 0.75, 0.589049, 5.213528, 13.5904, 19.352, 42.528},
	{1.5, 1.2, 0.775, 0.876504, 5.234508, 20.5501, 19.430, 42.699},
	{2.0, 1.5, 0.80, 1.413717, 4.759278, 22.6507, 17.666, 38.822},
}

func TestWorkedCanopies(t *testing.T) {
	for _, c := range worked {
		canopy := round(t, c.size, c.cd)
		require.NoError(t, canopy.Check())
		assert.InDelta(t, c.area, canopy.DragArea(), 0.6e-6, "DragArea of %g m", c.size)
		d := balloon.Descent{Mass: c.mass, DragArea: canopy.DragArea()}
		v := d.Speed(1.225)
		assert.InDelta(t, c.speed, v, 0.6e-6, "Speed(1.225) of %g kg under %g m", c.mass, c.size)
		assert.InDelta(t, c.energy, d.Energy(v, 0), 0.6e-4, "Energy of %g kg", c.mass)
		for z, want := range map[atmos.Geometric]float64{20e3: c.at20, 30e3: c.at30} {
			air, ok := atmos.Standard(z)
			require.True(t, ok)
			assert.InDelta(t, want, d.Speed(air.Density), 0.6e-3, "Speed of %g kg at %g m", c.mass, float64(z))
		}
	}
}

// A sideways wind adds to the energy: 1 kg at 5 m/s down and 8 m/s along is
// 44.5 J; 14.9 J are 7.7 m/s for 0.5 kg, 5.5 for 1 kg, 2.3 for 5.44 kg. Source:
// computed apart from this code from m(v² + w²)/2.
func TestLandingEnergy(t *testing.T) {
	assert.InDelta(t, 44.5, balloon.Descent{Mass: 1, DragArea: 1}.Energy(5, 8), 1e-12)
	for mass, speed := range map[float64]float64{0.5: 7.7, 1: 5.5, 5.44: 2.3} {
		got := math.Sqrt(14.9 / balloon.Descent{Mass: mass, DragArea: 1}.Energy(1, 0))
		assert.InDelta(t, speed, got, 0.051, "speed of 14.9 J for %g kg", mass)
	}
}

// 25 ft·lbf (14 CFR 107.130(a)(1), seen as a copy) is 33.8954 J, 11 are 14.9140
// and 75 are 101.69 (both energies from memory); the joules computed apart from
// this code.
func TestYardsticks(t *testing.T) {
	var got []float64
	for _, y := range balloon.Yardsticks() {
		got = append(got, y.Energy)
		assert.NotEmpty(t, y.Source, "Source of %s", y.About)
	}
	assert.InDeltaSlice(t, []float64{14.9140, 33.8954, 80, 101.69}, got, 0.005)
}

// Common practice of the trade: a square canopy of 1.2 m suits about 4 lb, and
// a payload should land at 4 to 6 m/s; a lighter train under it falls slower.
func TestSquareCanopyOfTheTrade(t *testing.T) {
	flat := shapeNamed(t, "flat circular")
	for _, cd := range []float64{flat.CdMin, flat.MiddleCd(), flat.CdMax} {
		c := balloon.Canopy{Shape: flat, Outline: balloon.Square, Size: 1.2, Cd: cd, Count: 1}
		v := balloon.Descent{Mass: 4 * pound, DragArea: c.DragArea()}.Speed(atmos.SeaLevelDensity)
		assert.Greater(t, v, 4.0, "landing speed of 4 lb, Cd %g", cd)
		assert.Less(t, v, 6.0, "landing speed of 4 lb, Cd %g", cd)
		light := balloon.Descent{Mass: 2 * pound, DragArea: c.DragArea()}.Speed(atmos.SeaLevelDensity)
		assert.InDelta(t, v/math.Sqrt2, light, 1e-12, "landing speed of 2 lb, Cd %g", cd)
	}
}

// Knacke, NWC TP 6575 (1991), Table 5-1 p. 5-3, seen as two transcriptions
// that agree: drag coefficients on nominal area, opening force
// coefficients, fill constants (Table 5-6 p. 5-44).
func TestShapes(t *testing.T) {
	for name, want := range map[string][5]float64{
		"flat circular":            {0.75, 0.80, 1.7, 1.7, 8},
		"hemispherical":            {0.62, 0.77, 1.6, 1.6, 0},
		"extended skirt 10 % flat": {0.78, 0.87, 1.4, 1.4, 10},
		"Cross ":                   {0.60, 0.85, 1.1, 1.2, 11.7},
	} {
		s := shapeNamed(t, name)
		assert.Equal(t, want, [5]float64{s.CdMin, s.CdMax, s.CxMin, s.CxMax, s.Fill}, "ShapeNamed(%q)", name)
	}
	seen := map[string]bool{}
	for _, s := range balloon.Shapes() {
		assert.False(t, seen[s.Name], "%s twice", s.Name)
		seen[s.Name] = true
		assert.Less(t, s.CdMin, s.CdMax, s.Name)
		assert.LessOrEqual(t, s.CxMin, s.CxMax, s.Name)
		assert.Contains(t, s.Source, "Knacke", s.Name)
		assert.GreaterOrEqual(t, s.CdMin, balloon.MinCanopyDrag, s.Name)
		assert.LessOrEqual(t, s.CdMax, balloon.MaxCanopyDrag, s.Name)
	}
	assert.Len(t, seen, 9)
}

func TestUnknownShapeListsTheKnown(t *testing.T) {
	_, err := balloon.ShapeNamed("parafoil")
	require.Error(t, err)
	for _, s := range balloon.Shapes() {
		assert.Contains(t, err.Error(), s.Name)
	}
	assert.Contains(t, err.Error(), `"parafoil"`)
}

// The area of a polygon from its corners, by the shoelace formula, and of a
// circle from a polygon of many corners.
func TestOutlineArea(t *testing.T) {
	polygon := func(n int, flat float64) float64 {
		r := flat / 2 / math.Cos(math.Pi/float64(n)) // half of flat to flat over cos is the corner's radius
		var twice float64
		for i := range n {
			a, b := 2*math.Pi*float64(i)/float64(n), 2*math.Pi*float64(i+1)/float64(n)
			twice += r * r * (math.Cos(a)*math.Sin(b) - math.Cos(b)*math.Sin(a))
		}
		return twice / 2
	}
	assert.InEpsilon(t, polygon(4, 1.3), balloon.Square.Area(1.3), 1e-12)
	assert.InEpsilon(t, polygon(6, 1.3), balloon.Hexagon.Area(1.3), 1e-12)
	assert.InEpsilon(t, polygon(100000, 1.3), balloon.Circle.Area(1.3), 1e-8)
	assert.True(t, math.IsNaN(balloon.Outline(0).Area(1)))
}

// drawCanopy draws a canopy within its limits.
func drawCanopy(t *rapid.T) balloon.Canopy {
	shapes := balloon.Shapes()
	s := shapes[rapid.IntRange(0, len(shapes)-1).Draw(t, "shape")]
	return balloon.Canopy{
		Shape:   s,
		Outline: rapid.SampledFrom([]balloon.Outline{balloon.Circle, balloon.Square, balloon.Hexagon}).Draw(t, "outline"),
		Size:    rapid.Float64Range(0.3, 20).Draw(t, "size"),
		Cd:      rapid.Float64Range(s.CdMin, s.CdMax).Draw(t, "cd"),
		Count:   rapid.IntRange(1, 4).Draw(t, "count"),
	}
}

func TestSizeAndSpeedAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCanopy(t)
		require.NoError(t, c.Check())
		speed := rapid.Float64Range(2, 12).Draw(t, "speed")
		density := rapid.Float64Range(0.7, 1.5).Draw(t, "density")
		mass := balloon.DragAreaFor(1, speed, density)
		mass = c.DragArea() / mass // the mass that this canopy lands at that speed
		if mass < balloon.MinFallMass || mass > balloon.MaxFallMass {
			return
		}
		sized, err := c.Sized(mass, speed, density)
		require.NoError(t, err)
		assert.InEpsilon(t, c.Size, sized.Size, 1e-12, "Sized(%g, %g, %g)", mass, speed, density)
		d := balloon.Descent{Mass: mass, DragArea: sized.DragArea()}
		assert.InEpsilon(t, speed, d.Speed(density), 1e-12)
		assert.InEpsilon(t, c.Area(), c.Outline.Area(c.Outline.Size(c.Area())), 1e-12)
	})
}

func TestFallIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCanopy(t)
		density := rapid.Float64Range(0.004, 1.5).Draw(t, "density")
		mass := rapid.Float64Range(0.1, 20).Draw(t, "mass")
		more := rapid.Float64Range(1.001, 3).Draw(t, "more")
		v := balloon.Descent{Mass: mass, DragArea: c.DragArea()}.Speed(density)
		assert.Less(t, v, balloon.Descent{Mass: mass * more, DragArea: c.DragArea()}.Speed(density), "heavier")
		assert.Less(t, v, balloon.Descent{Mass: mass, DragArea: c.DragArea()}.Speed(density/more), "thinner air")
		larger := c
		larger.Size *= more
		assert.Greater(t, v, balloon.Descent{Mass: mass, DragArea: larger.DragArea()}.Speed(density), "larger canopy")
		second := c
		second.Count++
		assert.Greater(t, v, balloon.Descent{Mass: mass, DragArea: second.DragArea()}.Speed(density), "one more canopy")
	})
}

func TestCanopyCheckReportsEveryFault(t *testing.T) {
	bad := balloon.Canopy{Outline: 9, Size: 0, Cd: 1.5, Count: 0}
	err := bad.Check()
	require.Error(t, err)
	for _, want := range []string{
		`canopy shape "": want one of flat circular`,
		"canopy outline 9: want circle, square or hexagon",
		"canopy size 0 m: want 0.1 to 60 m",
		"canopy drag coefficient on nominal area 1.5 (no unit): want 0.2 to 1.2",
		"canopies 0: want 1 to 8",
	} {
		assert.Contains(t, err.Error(), want)
	}
	nan := round(t, math.NaN(), math.NaN())
	assert.ErrorContains(t, nan.Check(), "canopy size NaN m")
	assert.ErrorContains(t, nan.Check(), "nominal area NaN")

	_, err = round(t, 1, 0.75).Sized(-1, 0, math.NaN())
	require.Error(t, err)
	for _, want := range []string{"mass -1 kg", "landing speed 0 m/s", "air density NaN kg/m³"} {
		assert.Contains(t, err.Error(), want)
	}
	_, err = round(t, 1, 0.75).Sized(1000, 0.5, 1.2)
	assert.ErrorContains(t, err, "1000 kg at 0.5 m/s: canopy size")
}

func ExampleCanopy_Sized() {
	flat, _ := balloon.ShapeNamed("flat circular")
	c := balloon.Canopy{Shape: flat, Outline: balloon.Square, Size: 1, Cd: flat.MiddleCd(), Count: 1}
	c, err := c.Sized(1.6, 5, atmos.SeaLevelDensity)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("1.6 kg at 5 m/s: a square of %.2f m\n", c.Size)
	// Output: 1.6 kg at 5 m/s: a square of 1.15 m
}
