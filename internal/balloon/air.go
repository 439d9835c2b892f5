package balloon

import (
	"fmt"
	"math"
	"sort"

	"example.org/thistledown/internal/atmos"
)

// Limits of the air.
const (
	minAirTemperature = 150.0 // K
	maxAirTemperature = 340.0 // K
	minAirPressure    = 1.0   // Pa
	maxAirPressure    = 120e3 // Pa
)

// Layer is the air at a height. Its density may carry the moisture that its
// pressure and temperature do not show.
type Layer struct {
	Height atmos.Geometric
	atmos.State
}

// Air is the air above one place, from below upward, two levels or more: the
// forecast's own, or StandardAir. Between levels temperature is taken as linear
// in height, as in every layer of the standard; pressure follows by hydrostatic
// balance, and what moisture makes of the density is linear too.
type Air []Layer

// StandardAir is the U.S. Standard Atmosphere 1976 between two heights, −5 to
// 80 km, in steps of at most a number of metres, 1 or more.
func StandardAir(bottom, top atmos.Geometric, step float64) (Air, error) {
	_, low := atmos.Standard(bottom)
	_, high := atmos.Standard(top)
	if !low || !high || !(top > bottom) || !(step >= 1) {
		return nil, fmt.Errorf("standard air from %g to %g m by %g m: want a bottom below a top, both within −5000 to 80000 m, by 1 m or more",
			float64(bottom), float64(top), step)
	}
	n := max(1, int(math.Ceil(float64(top-bottom)/step)))
	if n >= maxLevels {
		return nil, fmt.Errorf("standard air from %g to %g m by %g m: want fewer than %d levels", float64(bottom), float64(top), step, maxLevels)
	}
	a := make(Air, n+1)
	for i := range a {
		z := min(top, bottom+(top-bottom)*atmos.Geometric(i)/atmos.Geometric(n))
		s, _ := atmos.Standard(z)
		a[i] = Layer{z, s}
	}
	return a, nil
}

// Check reports every fault of the air.
func (a Air) Check() error {
	var w wants
	if len(a) < 2 || len(a) > maxLevels {
		w = append(w, fmt.Errorf("air of %d levels: want 2 to %d", len(a), maxLevels))
	}
	for i, l := range a {
		w.between(fmt.Sprintf("air level %d: temperature", i), l.Temperature, minAirTemperature, maxAirTemperature, "K")
		w.between(fmt.Sprintf("air level %d: pressure", i), l.Pressure, minAirPressure, maxAirPressure, "Pa")
		w.between(fmt.Sprintf("air level %d: density", i), l.Density, thinnestAir, densestAir, "kg/m³")
		if dry := atmos.Density(l.Pressure, l.Temperature); l.Density > 0 && !(math.Abs(l.Density/dry-1) <= 0.05) {
			w = append(w, fmt.Errorf("air level %d: density %.4g kg/m³: want it within 5 %% of the %.4g that its pressure and temperature have", i, l.Density, dry))
		}
		if h := float64(l.Height); math.IsNaN(h) || math.IsInf(h, 0) || i > 0 && !(l.Height > a[i-1].Height) {
			w = append(w, fmt.Errorf("air level %d: height %g m: want it above the level before", i, h))
		}
		if i > 0 && !(l.Pressure < a[i-1].Pressure) {
			w = append(w, fmt.Errorf("air level %d: pressure %g Pa: want it below that of the level before", i, l.Pressure))
		}
	}
	return w.err()
}

// At is the air at a height; false outside the levels.
func (a Air) At(z atmos.Geometric) (Layer, bool) {
	if len(a) < 2 || !(z >= a[0].Height && z <= a[len(a)-1].Height) {
		return Layer{}, false
	}
	i := max(1, sort.Search(len(a), func(i int) bool { return a[i].Height >= z }))
	share := float64((z - a[i-1].Height) / (a[i].Height - a[i-1].Height))
	return spanning(a[i-1], a[i]).at(share), true
}

// From is the air from a height upward, that of a release; false outside the
// levels and at the highest.
func (a Air) From(z atmos.Geometric) (Air, bool) {
	low, ok := a.At(z)
	if !ok || z == a[len(a)-1].Height {
		return nil, false
	}
	above := sort.Search(len(a), func(i int) bool { return a[i].Height > z })
	return append(Air{low}, a[above:]...), true
}

// Column is the density alone, for the way down.
func (a Air) Column() Column {
	c := make(Column, len(a))
	for i, l := range a {
		c[i] = AirLevel{l.Height, l.Density}
	}
	return c
}

// span is the air between two levels: the logarithm of the pressure above over
// that below, and of the temperature.
type span struct {
	below, above          Layer
	pressure, temperature float64
	moistBelow, moist     float64 // density over that of dry air below, and by how much more above
}

// spanning is the air between two levels.
func spanning(below, above Layer) span {
	s := span{
		below: below, above: above,
		pressure:    math.Log(above.Pressure / below.Pressure),
		temperature: math.Log(above.Temperature / below.Temperature),
		moistBelow:  below.Density / atmos.Density(below.Pressure, below.Temperature),
	}
	s.moist = above.Density/atmos.Density(above.Pressure, above.Temperature) - s.moistBelow
	return s
}

// evenly is the logarithm of a ratio of temperatures below which a layer has one.
const evenly = 1e-6

// at is the air a share of the way up. Where temperature is linear in height the
// logarithm of the pressure is linear in that of the temperature.
func (s span) at(share float64) Layer {
	a, b := s.below, s.above
	t := a.Temperature + share*(b.Temperature-a.Temperature)
	part := share
	if math.Abs(s.temperature) > evenly {
		part = math.Log(t/a.Temperature) / s.temperature
	}
	p := a.Pressure * math.Exp(part*s.pressure)
	return Layer{
		Height: a.Height + atmos.Geometric(share)*(b.Height-a.Height),
		State:  atmos.State{Temperature: t, Pressure: p, Density: atmos.Density(p, t) * (s.moistBelow + share*s.moist)},
	}
}
