package report

import (
	"fmt"

	"example.org/thistledown/internal/hazard"
)

// fewVolumes is how many volumes of airspace have a line of their own each even
// if no flight crosses them.
const fewVolumes = 10

// airspace is the volumes of airspace in words: each that some flight crosses,
// and of many the others together.
func airspace(all []hazard.Crossing) []string {
	var lines []string
	others := 0
	var none hazard.Probability
	for _, c := range all {
		if c.Probability.Hits == 0 && len(all) > fewVolumes {
			others, none = others+1, c.Probability
			continue
		}
		line := fmt.Sprintf("%s crossed by %s of flights%s, %.1f\u00a0points", c.Name, percent(c.Probability), onWhichWay(c), c.Points)
		if len(c.Hours) > 0 {
			line += ", in its hours"
		}
		lines = append(lines, line)
	}
	if others > 0 {
		lines = append(lines, fmt.Sprintf("%d others, each crossed by %s of flights", others, percent(none)))
	}
	return lines
}

// onWhichWay says on which way a volume is crossed; nothing where no flight does.
func onWhichWay(c hazard.Crossing) string {
	switch {
	case c.Up.Hits > 0 && c.Down.Hits > 0:
		return fmt.Sprintf(" (up %.1f\u00a0%%, down %.1f\u00a0%%)", 100*c.Up.Value, 100*c.Down.Value)
	case c.Up.Hits > 0:
		return ", on the way up"
	case c.Down.Hits > 0:
		return ", on the way down"
	}
	return ""
}
