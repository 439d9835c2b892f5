package balloon

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/atmos"
)

// pflanz is X₁ without gravity in closed form: with b = ρ·CdS·v₁·fill/(2m·(j+1))
// the speed is v₁/(1 + b·τ^(j+1)), and τʲ/(1 + b·τ^(j+1))² is greatest at
// τ^(j+1) = j/(b·(j+2)), or at τ = 1 if that lies beyond it. Source: derived by
// hand from the growth of the drag area in Knacke, NWC TP 6575 (1991), Fig.
// 5-51.
func pflanz(b, j float64) float64 {
	if peak := j / (b * (j + 2)); peak < 1 {
		slowed := (2*j + 2) / (j + 2)
		return math.Pow(peak, j/(j+1)) / (slowed * slowed)
	}
	return 1 / ((1 + b) * (1 + b))
}

// pflanzOf is the closed form for an opening.
func pflanzOf(o Opening, fill float64) float64 {
	j := float64(o.Canopy.Shape.Growth)
	return pflanz(o.Density*o.Canopy.DragArea()*o.Speed*fill/(2*o.Mass*(j+1)), j)
}

func TestFillingAgainstClosedForm(t *testing.T) {
	flat, err := ShapeNamed("flat circular")
	require.NoError(t, err)
	// By hand: 1.5 kg, CdS 0.876504 m², 1.225 kg/m³, 60 m/s, 0.16 s:
	// b = 1.1454, τ³ = 2/(4b) = 0.43653, X₁ = 0.43653^(2/3)·(2/3)² = 0.25575.
	o := Opening{Mass: 1.5, Canopy: Canopy{Shape: flat, Outline: Circle, Size: 1.2, Cd: 0.775, Count: 1}, Density: 1.225, Speed: 60}
	assert.InDelta(t, 0.25575, o.filling(0.16, 0), 1e-4)
}

func TestFillingIsPflanzWithoutWeight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := shapes[rapid.SampledFrom([]int{0, 4, 5}).Draw(t, "shape")]
		s.Growth = rapid.IntRange(1, 3).Draw(t, "growth")
		o := Opening{
			Mass:    rapid.Float64Range(0.1, 20).Draw(t, "mass"),
			Canopy:  Canopy{Shape: s, Outline: Circle, Size: rapid.Float64Range(0.4, 4).Draw(t, "size"), Cd: s.MiddleCd(), Count: 1},
			Density: rapid.Float64Range(0.01, 1.3).Draw(t, "density"),
			Speed:   rapid.Float64Range(5, 150).Draw(t, "speed"),
		}
		fill := s.Fill * o.Canopy.NominalDiameter() / o.Speed
		assert.InEpsilon(t, pflanzOf(o, fill), o.filling(fill, 0), 1e-4, "filling of %+v", o)
		assert.Greater(t, o.filling(fill, atmos.StandardGravity), o.filling(fill, 0), "with weight")
	})
}

// With weight, against small steps of Euler's method: the slow twin.
func TestFillingWithWeightAgainstSmallSteps(t *testing.T) {
	flat, err := ShapeNamed("flat circular")
	require.NoError(t, err)
	for _, c := range []struct{ mass, size, density, speed, adds float64 }{
		{1.5, 1.2, 0.0184102, 42.7, 0.105},
		{1.5, 1.2, 1.225, 60, 0.03},
		{0.25, 0.6, 1.225, 15, 0.32},
	} {
		o := Opening{Mass: c.mass, Canopy: Canopy{Shape: flat, Outline: Circle, Size: c.size, Cd: 0.775, Count: 1}, Density: c.density, Speed: c.speed}
		fill := flat.Fill * c.size / c.speed
		const steps = 400000
		v, top := c.speed, 0.0
		for i := range steps {
			tau := (float64(i) + 0.5) / steps
			top = max(top, tau*tau*v*v)
			v += (atmos.StandardGravity - c.density*o.Canopy.DragArea()*tau*tau*v*v/(2*c.mass)) * fill / steps
		}
		with, without := o.filling(fill, atmos.StandardGravity), o.filling(fill, 0)
		assert.InEpsilon(t, top/(c.speed*c.speed), with, 1e-4, "filling at %g m/s", c.speed)
		l, err := o.Load()
		require.NoError(t, err)
		assert.InEpsilon(t, max(l.Steady, l.Unslowed*top/(c.speed*c.speed)), l.Greatest, 1e-4, "Load at %g m/s", c.speed)
		t.Logf("at %g m/s and %g kg/m³ X₁ is %.4f, without weight %.4f", c.speed, c.density, with, without)
		assert.InEpsilon(t, c.adds, top/(c.speed*c.speed)/pflanzOf(o, fill)-1, 0.15, "what the weight adds at %g m/s", c.speed)
	}
}
