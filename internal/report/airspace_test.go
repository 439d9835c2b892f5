package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// plain is lines with ordinary spaces where they may not be broken.
func plain(lines []string) []string {
	return strings.Split(strings.ReplaceAll(strings.Join(lines, "\n"), "\u00a0", " "), "\n")
}

func TestAirspaceInWords(t *testing.T) {
	share := func(hits int) hazard.Probability {
		v := float64(hits) / 1000
		return hazard.Probability{Value: v, Low: max(v-0.05, 0), High: max(v+0.05, 0.003), Hits: hits, Of: 1000}
	}
	crossed := hazard.Crossing{Name: "North", Probability: share(300), Up: share(200), Down: share(150), Points: 12}
	down := hazard.Crossing{Name: "South", Probability: share(200), Down: share(200), Points: 3, Hours: []ground.Hours{{}}}
	none := hazard.Crossing{Name: "West", Probability: hazard.Probability{High: 0.003, Of: 1000}}
	assert.Equal(t, []string{
		"North crossed by 30 % (25 to 35) of flights (up 20.0 %, down 15.0 %), 12.0 points",
		"South crossed by 20 % (15 to 25) of flights, on the way down, 3.0 points, in its hours",
		"West crossed by under 0.3 % of flights, 0.0 points",
	}, plain(airspace([]hazard.Crossing{crossed, down, none})))
	many := []hazard.Crossing{crossed}
	for range fewVolumes {
		many = append(many, none)
	}
	assert.Equal(t, []string{
		"North crossed by 30 % (25 to 35) of flights (up 20.0 %, down 15.0 %), 12.0 points",
		"10 others, each crossed by under 0.3 % of flights",
	}, plain(airspace(many)))
}
