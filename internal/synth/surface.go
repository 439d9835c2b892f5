package synth

import (
	"math"
	"math/rand/v2"

	"example.org/thistledown/internal/atmos"
)

// Friction: the share of the balanced wind that is left at the ground, by how
// much it is turned there toward low pressure, and over what height that fades,
// at night and, added to it, in the afternoon. The numbers are common practice.
const (
	nightShare, dayShare = 0.55, 0.20
	nightTurn, dayTurn   = 30 * degree, -18 * degree
	nightDepth, dayDepth = 250.0, 350.0 // m
)

// slowed is balanced air after friction: V = V_g (1 - (1 - r·exp(iα))·exp(-z/D))
// with z the height above ground, 0 below it.
func (c *Column) slowed(a Air) Air {
	z := max(float64(a.Height.Geometric(c.lat))-c.terrain, 0)
	fade := math.Exp(-z / (nightDepth + dayDepth*c.day))
	share := nightShare + dayShare*c.day
	turn := (nightTurn + dayTurn*c.day) * math.Tanh(c.sin/0.15) // the other way south of the equator
	sin, cos := math.Sincos(turn)
	along, across := 1-fade*(1-share*cos), fade*share*sin // across: to the left
	a.East, a.North = along*a.East-across*a.North, along*a.North+across*a.East
	return a
}

const hillCount = 12

// hillSize is the height of the ground where the sum of all hills has its
// standard deviation, m.
const hillSize = 250.0

// hill is one wave of the ground.
type hill struct{ number, along, phase, size float64 }

// newHills draws the ground: waves 180 to 1,500 km long, the shorter the lower.
func newHills(r *rand.Rand) [hillCount]hill {
	var hills [hillCount]hill
	total := 0.0
	for i := range hills {
		h := &hills[i]
		h.number = math.Round(20 * math.Pow(6, (float64(i)+r.Float64())/hillCount))
		h.along = h.number * (2*r.Float64() - 1)
		h.phase = 2 * math.Pi * r.Float64()
		h.size = math.Pow(h.number, -0.5)
		total += h.size * h.size / 2
	}
	for i := range hills {
		hills[i].size /= math.Sqrt(total)
	}
	return hills
}

// terrain is the height of the ground, m, 0 or more, and the same in every
// direction at a pole.
func (w *Week) terrain(p place) float64 {
	sum := 0.0
	for _, h := range w.hills {
		sum += h.size * math.Cos(h.number*p.lon+h.along*p.lat+h.phase)
	}
	sum *= p.cos * p.cos
	return hillSize * (sum + math.Sqrt(sum*sum+0.25)) / 2 // smoothly never below 0
}

// Surface is the weather at the foot of the column. Wind follows from the air
// above; the rest is made up from what usually goes with it: cloud and rain with
// poleward wind and low pressure at 700 hPa, showers with warmth in the
// afternoon, mist with calm nights.
func (c *Column) Surface() Surface {
	ground := c.AtHeight(atmos.Geometric(c.terrain + 10))
	speed := math.Hypot(ground.East, ground.North)
	wet, warm := c.moisture()
	rain := 1.5e-4 * math.Pow(max(wet-0.9, 0), 2)
	rain = min(rain, 3e-3)
	night := 1 - c.day
	mist := night * night * math.Exp(-speed*speed/4)
	return Surface{
		Terrain: atmos.Geometric(c.terrain), East: ground.East, North: ground.North,
		Gust:          speed*(1.3+0.4*c.day) + 6*rain/(rain+2e-4),
		Cloud:         100 / (1 + math.Exp(-1.6*wet)),
		Precipitation: rain,
		Visibility:    24000 * (1 - 0.8*rain/(rain+1e-4)) * (1 - 0.9*mist),
		CAPE:          1200 * c.day * max(wet+0.3, 0) * warm,
	}
}

// moisture is how much weather there is, of a mean of 0 and a deviation of
// about 1, and how warm the air at 850 hPa is, 0 to about 2.
func (c *Column) moisture() (wet, warm float64) {
	const windSize, heightSize = 8, 700 // m/s, m²/s²
	l := c.week.level(70000)
	poleward, potential := 0.0, 0.0
	for i := range l.waves {
		v, h := l.waves[i].value, &c.waves[i]
		poleward += real(v * h.north)
		potential += real(v * h.potential)
	}
	poleward *= math.Tanh(c.sin / 0.15)
	low := c.week.level(85000)
	temperature := c.balanced(&low).Temperature
	return 0.7*poleward/windSize - 0.6*potential/heightSize, max((temperature-278)/15, 0)
}
