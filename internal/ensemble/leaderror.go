package ensemble

import "math"

// leadHours are the forecast ages of the table of scores, h.
var leadHours = [...]float64{6, 24, 72, 120, 168}

// levelScores are root mean square vector errors of forecast wind against
// radiosondes, northern mid-latitudes, m/s, by forecast age: from memory,
// ±30 %, no source seen; where a range is remembered its middle. Heights are
// those of the pressure levels in the standard atmosphere, m; the last holds
// for 50 to 10 hPa.
var levelScores = [...]struct {
	height float64
	vector [len(leadHours)]float64
}{
	{1460, [...]float64{2.75, 3.5, 5, 7.5, 9}},  // 850 hPa
	{5580, [...]float64{2.75, 4, 6, 9, 11}},     // 500 hPa
	{10380, [...]float64{3.5, 5, 8, 12, 15}},    // 250 hPa
	{20640, [...]float64{3.5, 4.25, 5, 6.5, 8}}, // 50 hPa
}

// WindErrorAt is the standard deviation of the forecast wind's error on each
// axis, m/s, at a forecast age in seconds and a height in metres above mean sea
// level, for a forecast of which nothing better is known.
//
// The published kind of score is of the vector, and holds the radiosonde's own
// error too: what is taken as forecast error is the score's square less half
// that of the shortest age at the level, since at short range the two are of
// about one size ([HollingsworthLonnberg1986], abstract), shared between two
// axes. It is linear between the ages and the heights of the table, constant
// before the first age, below the first height and above the last, and goes on
// growing after the last age as between the last two. All of it is from memory,
// ±30 %; no source has been seen.
func WindErrorAt(lead, height float64) float64 {
	i, w := leadPlace(lead)
	at := func(level int) float64 {
		short := levelScores[level].vector[0]
		axis := func(i int) float64 {
			v := levelScores[level].vector[i]
			return math.Sqrt((v*v - short*short/2) / 2)
		}
		return axis(i) + w*(axis(i+1)-axis(i))
	}
	last := len(levelScores) - 1
	switch {
	case !(height > levelScores[0].height):
		return at(0)
	case height >= levelScores[last].height:
		return at(last)
	}
	k := 0
	for height > levelScores[k+1].height {
		k++
	}
	low, high := levelScores[k].height, levelScores[k+1].height
	return at(k) + (at(k+1)-at(k))*(height-low)/(high-low)
}

// leadPlace is where a forecast age in seconds lies among the table's: at or
// after which, and the share of the way to the next, over one after the last.
func leadPlace(lead float64) (i int, share float64) {
	hours := lead / 3600
	if !(hours > leadHours[0]) {
		return 0, 0
	}
	for i < len(leadHours)-2 && hours > leadHours[i+1] {
		i++
	}
	return i, (hours - leadHours[i]) / (leadHours[i+1] - leadHours[i])
}

// How far a wind error reaches in height: the height over which its correlation
// falls to 1/e, m, is lowScale up to lowTop and highScale from highFrom on,
// linear between. From memory, low confidence: 1 to 3 km in the troposphere, 3
// to 6 km above; the middle of each is taken.
const (
	lowScale, lowTop    = 2000.0, 10e3
	highScale, highFrom = 4500.0, 20e3
)

// How far it reaches in time and along the ground, s and m, for forecasts of
// leadHours' first age or less and of its last or more, linear between. From
// memory, low confidence: 6 to 12 h, 200 to 500 km.
const (
	shortLife, longLife   = 6 * 3600.0, 12 * 3600.0
	shortReach, longReach = 200e3, 500e3
)

// errorLaw is the law of the wind error of one launch.
type errorLaw struct {
	sigma float64 // standard deviation on each axis, m/s; NaN: WindErrorAt
	scale float64 // height of correlation, m; NaN: as lowScale and highScale say
	lead  float64 // age of the forecast at launch, s
}

func (s Spec) errorLaw() errorLaw { return errorLaw{s.WindError, s.WindScale, s.Lead} }

// WindErrorBetween is the least and the greatest standard deviation of a spec's
// wind error on each axis, m/s, between two heights.
func (s Spec) WindErrorBetween(low, high float64) (least, greatest float64) {
	l := s.errorLaw()
	least = min(l.axis(low), l.axis(high))
	greatest = max(l.axis(low), l.axis(high))
	for _, level := range levelScores {
		if level.height > low && level.height < high {
			least, greatest = min(least, l.axis(level.height)), max(greatest, l.axis(level.height))
		}
	}
	return least, greatest
}

// axis is the standard deviation on each axis at a height, m/s.
func (l errorLaw) axis(height float64) float64 {
	if math.IsNaN(l.sigma) {
		return WindErrorAt(l.lead, height)
	}
	return l.sigma
}

// stretched is a height in units of the height of correlation there: the
// integral of its inverse from sea level up. With e^(−|Δ|) of it a covariance is
// positive definite however the height of correlation varies.
func (l errorLaw) stretched(height float64) float64 {
	if !math.IsNaN(l.scale) {
		return height / l.scale
	}
	const growth = (highScale - lowScale) / (highFrom - lowTop)
	s := min(height, lowTop) / lowScale
	if height > lowTop {
		s += math.Log1p(growth*(min(height, highFrom)-lowTop)/lowScale) / growth
	}
	if height > highFrom {
		s += (height - highFrom) / highScale
	}
	return s
}

// skips reports whether a height, in units of errorSpacing, lies half-way
// between two at which the error is worked out: above 16 km, where the height of
// correlation that is left to this tool is at least 3.5 km, every other does.
func (l errorLaw) skips(height int) bool {
	return math.IsNaN(l.scale) && height > 16 && height%2 == 1
}

// life and reach are how long, s, and how far along the ground, m, errors stay
// correlated.
func (l errorLaw) life() float64  { return l.grown(shortLife, longLife) }
func (l errorLaw) reach() float64 { return l.grown(shortReach, longReach) }

func (l errorLaw) grown(short, long float64) float64 {
	first, last := leadHours[0], leadHours[len(leadHours)-1]
	hours := l.lead / 3600
	if !(hours > first) {
		return short
	}
	return short + (long-short)*min((hours-first)/(last-first), 1)
}
