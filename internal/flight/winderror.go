package flight

import (
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// WindError is how one flight's wind differs from the forecast's: values at
// evenly spaced heights from mean sea level up, linear between them, constant
// below the first and above the last. The way down may have values of its own,
// as it goes through the same heights later and elsewhere; without any it has
// those of the way up. The zero value is no error.
type WindError struct {
	Spacing     float64   // m between heights, over 0 where there are values
	East, North []float64 // m/s on the way up, as many of each
	// On the way down: none, or as many as on the way up.
	DownEast, DownNorth []float64
}

// At is the error on the way up at a height above mean sea level, m/s toward
// east and north.
func (e WindError) At(height float64) (east, north float64) {
	return tableAt(e.East, height, e.Spacing), tableAt(e.North, height, e.Spacing)
}

// Down is the error of the way down, as one that has no other.
func (e WindError) Down() WindError {
	if len(e.DownEast) > 0 {
		e.East, e.North = e.DownEast, e.DownNorth
	}
	e.DownEast, e.DownNorth = nil, nil
	return e
}

// sound reports whether there are as many values of each kind as there must be.
func (e WindError) sound() bool {
	n, down := len(e.East), len(e.DownEast)
	return len(e.North) == n && len(e.DownNorth) == down && (down == 0 || down == n)
}

// tableAt is the value of a table of evenly spaced heights, 0 of an empty one.
func tableAt(values []float64, height, spacing float64) float64 {
	last := len(values) - 1
	if last < 0 {
		return 0
	}
	i, w := tablePlace(height, spacing, last)
	if i == last {
		return values[last]
	}
	return values[i] + w*(values[i+1]-values[i])
}

// Climbing is the profile of a climb at heights so far apart, from mean sea level
// up to the first above a top, held within balloon.MinAscent to balloon.MaxAscent:
// below the climb's first step and above its last the rate is as there. The rates
// are written over a slice, which is grown if it is too short. A climb has at least
// one step.
func Climbing(c balloon.Climb, top, spacing float64, rates []float64) Profile {
	first, last := c.Steps[0], c.Last()
	rates = rates[:0]
	for k := range max(int(top/spacing)+2, 2) {
		rate := last.Speed
		if z := atmos.Geometric(float64(k) * spacing); z <= first.Height {
			rate = first.Speed
		} else if z < last.Height {
			rate, _, _ = c.At(z)
		}
		rates = append(rates, min(max(rate, balloon.MinAscent), balloon.MaxAscent))
	}
	return Profile{Spacing: spacing, Rate: rates}
}

// Profile is a rate of ascent that changes with height: values at evenly spaced
// heights from mean sea level up, linear between them, constant below the first
// and above the last.
type Profile struct {
	Spacing float64   // m between heights, over 0
	Rate    []float64 // m/s, balloon.MinAscent to balloon.MaxAscent each
}

// At is the rate at a height above mean sea level, m/s. There must be values.
func (p Profile) At(height float64) float64 {
	return tableAt(p.Rate, height, p.Spacing)
}

// tablePlace is which entry of a table of evenly spaced heights lies at or
// below a height, and the share of the way from there to the next.
func tablePlace(height, spacing float64, last int) (entry int, share float64) {
	x := height / spacing
	if !(x > 0) {
		x = 0
	}
	if x > float64(last) {
		x = float64(last)
	}
	entry = int(x)
	return entry, x - float64(entry)
}
