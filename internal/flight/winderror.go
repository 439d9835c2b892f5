package flight

import "math"

// WindError is how one flight's wind differs from the forecast's: values at
// evenly spaced heights from mean sea level up, linear between them, constant
// below the first and above the last. It is the same for the whole flight, up
// and down: errors of a forecast live longer than a flight does (from memory,
// low confidence: six hours and more). The zero value is no error.
type WindError struct {
	Spacing     float64   // m between heights, over 0 where there are values
	East, North []float64 // m/s, as many of each
}

// At is the error at a height above mean sea level, m/s toward east and north.
func (e WindError) At(height float64) (east, north float64) {
	last := len(e.East) - 1
	if last < 0 {
		return 0, 0
	}
	i, w := tablePlace(height, e.Spacing, last)
	if i == last {
		return e.East[last], e.North[last]
	}
	return e.East[i] + w*(e.East[i+1]-e.East[i]), e.North[i] + w*(e.North[i+1]-e.North[i])
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
	last := len(p.Rate) - 1
	i, w := tablePlace(height, p.Spacing, last)
	if i == last {
		return p.Rate[last]
	}
	return p.Rate[i] + w*(p.Rate[i+1]-p.Rate[i])
}

// tablePlace is which entry of a table of evenly spaced heights lies at or
// below a height, and the share of the way from there to the next.
func tablePlace(height, spacing float64, last int) (entry int, share float64) {
	x := math.Min(math.Max(height/spacing, 0), float64(last))
	entry = int(x)
	return entry, x - float64(entry)
}
