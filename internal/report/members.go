package report

import (
	"fmt"
	"math"
	"strings"

	"example.org/thistledown/internal/hazard"
)

// members says how the members of a forecast differ, and where each of their
// groups comes down.
func (t *text) members(m *Members) {
	if m == nil || m.Spread == 0 {
		return
	}
	t.row("Members", "the mean landings of the %d members lie %s about their own mean (root mean square)",
		len(m.All), keep(t.units.Distance(m.Spread)))
	if len(m.Split) == 0 {
		return
	}
	t.row("", "they fall into two groups, and what is said above is of both together:")
	for _, g := range m.Split {
		var numbers []string
		for _, n := range g.Numbers {
			numbers = append(numbers, fmt.Sprint(n+1))
		}
		t.row("", "%d of them most likely near %s, %s from the site toward %s (members %s in order)", len(g.Numbers),
			position(g.MostLikely), keep(t.units.Distance(g.Distance)), bearing(g.Bearing), strings.Join(numbers, ", "))
	}
}

// memberError is the sampling error of the members for a class, if there is one
// to tell.
func memberError(m *Members, class int, c hazard.ClassShare) string {
	if m == nil || c.Landing.Hits == 0 || class >= len(m.Error) || math.IsNaN(m.Error[class]) {
		return ""
	}
	return fmt.Sprintf(", %s for so few members", keep(fmt.Sprintf("±\u00a0%.1f %%", 100*m.Error[class])))
}
