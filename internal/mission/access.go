package mission

import (
	"math"
	"slices"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/report"
)

// access is how hard it is to get to where the flights came down.
func access(l *report.Launch, landed []ensemble.Outcome, g *Ground, terrain ground.Terrain) *report.Access {
	a := &report.Access{Drive: report.DriveFactor * l.Landing.Distance}
	likely := l.Landing.MostLikely
	for _, w := range g.Ways {
		road := report.Road{Name: w.Name}
		away := make([]float64, len(landed))
		for i, o := range landed {
			metres, _, ok := w.Nearest(o.At)
			if !ok {
				metres = math.Inf(1)
				road.Beyond += 1 / float64(len(landed))
			}
			away[i] = metres
		}
		slices.Sort(away)
		road.Median, road.Ninety = away[len(away)/2], away[len(away)*9/10]
		road.Nearest, road.Bearing, road.Known = w.Nearest(likely)
		a.Roads = append(a.Roads, road)
	}
	a.Slope, a.Sloped = terrain.Slope(likely)
	for _, h := range g.Heights {
		if _, ok := h.At(likely); ok {
			a.Fine = true
		}
	}
	return a
}
