package wind

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/grib"
)

// Contents are what of a forecast can be flown on: every member has every step,
// and every step wind and height on every level.
type Contents struct {
	Grid    grib.Grid
	Members []Member
	Steps   []time.Duration // after the cycle, increasing
	Levels  []float64       // Pa, decreasing
	Surface []Quantity      // carried by some member at some step
	Terrain bool            // the model's own ground is carried

	// Lacks says in whole sentences what is missing, left out or joined.
	Lacks []string

	pressures []int32 // of Levels, hundredths of a pascal
	of        map[Member][]Member
}

// NoTerrain is said of a forecast without a model's own ground.
const NoTerrain = "The forecast carries no terrain: the ground is taken at mean sea level."

// had says which uppers a member has on a level, at some steps of it.
type had map[time.Duration]map[int32]uint8

// flyable is the uppers without which a level cannot be flown on.
const flyable = 1<<east | 1<<north | 1<<height

// complete reports whether there is a level to fly on.
func (h had) complete() bool { return len(h.steps()) > 0 }

// join adds what another has.
func (h had) join(o had) had {
	sum := had{}
	for _, part := range []had{h, o} {
		for step, levels := range part {
			if sum[step] == nil {
				sum[step] = map[int32]uint8{}
			}
			for p, mask := range levels {
				sum[step][p] |= mask
			}
		}
	}
	return sum
}

// steps that have at least one level to fly on.
func (h had) steps() []time.Duration {
	var steps []time.Duration
	for step, levels := range h {
		for _, mask := range levels {
			if mask&flyable == flyable {
				steps = append(steps, step)
				break
			}
		}
	}
	return steps
}

// Contents finds out what can be flown on. The error wraps ErrNoWind where
// nothing can.
func (c *Forecast) Contents() (Contents, error) {
	c.sort()
	var t Contents
	grid, err := c.windGrid()
	if err != nil {
		return t, err
	}
	t.Grid = grid
	have := map[Member]had{}
	for _, e := range c.entries {
		if have[e.member] == nil {
			have[e.member] = had{}
		}
		if e.plane.kind >= kind(uppers) {
			continue
		}
		if have[e.member][e.step] == nil {
			have[e.member][e.step] = map[int32]uint8{}
		}
		have[e.member][e.step][e.plane.pressure] |= 1 << e.plane.kind
	}
	t.tags(c)
	t.processes(c)
	t.joinMembers(have)
	if err := t.chooseSteps(have); err != nil {
		return t, err
	}
	if err := t.chooseLevels(have); err != nil {
		return t, err
	}
	t.below(c.entries)
	return t, nil
}

// noCentre is the centre of a message that names none.
const noCentre = 65535

// tags warns of fields that are no operational forecast's, or are tagged in two
// ways at once.
func (t *Contents) tags(c *Forecast) {
	switch {
	case c.Centre == noCentre:
		t.Lacks = append(t.Lacks, "The forecast names no centre that issued it: it may be invented, and nothing to fly on.")
	case c.status == 3:
		t.Lacks = append(t.Lacks, "The forecast is marked as a re-analysis, of weather that is past.")
	case c.status != 0:
		t.Lacks = append(t.Lacks, "The forecast is marked as a test or research product, not as an operational one.")
	}
	if c.doubt != "" {
		t.Lacks = append(t.Lacks, fmt.Sprintf("Fields are tagged in two ways, such as %s; the product counts.", c.doubt))
	}
}

// processes warns of winds at one step of one member that come out of different
// models: files of two may have been mixed.
func (t *Contents) processes(c *Forecast) {
	for i := 1; i < len(c.entries); i++ {
		a, b := c.entries[i-1], c.entries[i]
		if a.member == b.member && a.step == b.step && b.plane.kind <= kind(height) && a.process != b.process {
			t.Lacks = append(t.Lacks, fmt.Sprintf(
				"At the step %g h fields aloft are of different generating processes (%v and %v): files of two models may have been mixed.",
				a.step.Hours(), a.process, b.process))
			return
		}
	}
}

// windGrid is the one grid that winds come on.
func (c *Forecast) windGrid() (grib.Grid, error) {
	switch len(c.winds) {
	case 0:
		return grib.Grid{}, errNoWinds()
	case 1:
		return c.grids[c.winds[0]], nil
	}
	return grib.Grid{}, fmt.Errorf("winds on two grids, %v and %v: want the files of one", c.grids[c.winds[0]], c.grids[c.winds[1]])
}

func errNoWinds() error {
	return fmt.Errorf("%w: want %s, %s and %s on isobaric levels", ErrNoWind, upperNames[east], upperNames[north], upperNames[height])
}

// chooseSteps keeps the steps that at least half of the members have, and the
// members that have all of these.
func (t *Contents) chooseSteps(have map[Member]had) error {
	count := map[time.Duration]int{}
	for _, m := range t.Members {
		for _, s := range have[m].steps() {
			count[s]++
		}
	}
	var few []string
	for _, s := range slices.Sorted(maps.Keys(count)) {
		if 2*count[s] >= len(t.Members) {
			t.Steps = append(t.Steps, s)
		} else {
			few = append(few, fmt.Sprintf("%g h", s.Hours()))
		}
	}
	if len(few) > 0 {
		t.Lacks = append(t.Lacks, fmt.Sprintf("Not used, since most members lack them: the steps %s.", some(few)))
	}
	t.bareSteps(have)
	t.missingSteps()
	t.keepMembers("a step that most have", func(m Member) bool {
		steps := have[m].steps()
		return !slices.ContainsFunc(t.Steps, func(s time.Duration) bool { return !slices.Contains(steps, s) })
	})
	switch {
	case len(t.Steps) == 0 || len(t.Members) == 0:
		return errNoWinds()
	case len(t.Steps) > MaxSteps:
		return fmt.Errorf("%d forecast steps: want at most %d", len(t.Steps), MaxSteps)
	case len(t.Members) > MaxMembers:
		return fmt.Errorf("%d members: want at most %d", len(t.Members), MaxMembers)
	}
	return nil
}

// bareSteps names the steps for which there are fields aloft and none to fly on.
func (t *Contents) bareSteps(have map[Member]had) {
	bare := map[time.Duration]bool{}
	for _, m := range t.Members {
		for s := range have[m] {
			bare[s] = true
		}
	}
	for _, m := range t.Members {
		for _, s := range have[m].steps() {
			delete(bare, s)
		}
	}
	if len(bare) == 0 {
		return
	}
	var names []string
	for _, s := range slices.Sorted(maps.Keys(bare)) {
		names = append(names, fmt.Sprintf("%g h", s.Hours()))
	}
	t.Lacks = append(t.Lacks, fmt.Sprintf("Not used, since no level has wind and height there: the steps %s.", some(names)))
}

// missingSteps warns where steps lie further apart than later ones: forecasts
// are published ever more sparsely, never more densely again.
func (t *Contents) missingSteps() {
	least := time.Duration(math.MaxInt64)
	var gaps []string
	for i := len(t.Steps) - 1; i > 0; i-- {
		gap := t.Steps[i] - t.Steps[i-1]
		if gap > least {
			gaps = append(gaps, fmt.Sprintf("%g and %g h", t.Steps[i-1].Hours(), t.Steps[i].Hours()))
		}
		least = min(least, gap)
	}
	if len(gaps) > 0 {
		slices.Reverse(gaps)
		t.Lacks = append(t.Lacks, fmt.Sprintf("A step seems to be missing, since later ones are closer together, between %s: winds are interpolated across.", some(gaps)))
	}
}

// keepMembers drops the members that lack something, and says which.
func (t *Contents) keepMembers(what string, fine func(Member) bool) {
	var kept []Member
	var lost []string
	for _, m := range t.Members {
		if fine(m) {
			kept = append(kept, m)
		} else {
			lost = append(lost, m.String())
		}
	}
	if len(lost) > 0 {
		t.Lacks = append(t.Lacks, fmt.Sprintf("Left out, for want of %s: %s.", what, some(lost)))
	}
	t.Members = kept
}

// some lists the first of many words.
func some(words []string) string {
	const most = 12
	if len(words) <= most {
		return strings.Join(words, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(words[:most], ", "), len(words)-most)
}

// chooseLevels keeps the levels on which at least half of the members can be
// flown at every step, and the members that can be flown on all of these.
func (t *Contents) chooseLevels(have map[Member]had) error {
	count := map[int32]int{}       // members that have the level at every step
	lacking := map[uint8][]int32{} // what levels lack, by mask
	masks := map[int32]uint8{}
	full := func(m Member, p int32) (mask uint8) {
		mask = flyable
		for _, s := range t.Steps {
			mask &= have[m][s][p]
		}
		return mask
	}
	for _, m := range t.Members {
		levels := map[int32]bool{}
		for _, s := range t.Steps {
			for p := range have[m][s] {
				levels[p] = true
			}
		}
		for p := range levels {
			mask := full(m, p)
			if _, ok := masks[p]; !ok {
				masks[p] = flyable
			}
			masks[p] &= mask
			if mask == flyable {
				count[p]++
			}
		}
	}
	for p, mask := range masks {
		if 2*count[p] >= len(t.Members) {
			t.pressures = append(t.pressures, p)
		} else {
			lacking[flyable&^mask] = append(lacking[flyable&^mask], p)
		}
	}
	descending := func(a, b int32) int { return cmp.Compare(b, a) }
	slices.SortFunc(t.pressures, descending)
	for _, mask := range slices.Sorted(maps.Keys(lacking)) {
		slices.SortFunc(lacking[mask], descending)
		t.Lacks = append(t.Lacks, fmt.Sprintf("Not used, for want of %s at some step: the levels %s.", maskText(mask), hectopascals(lacking[mask])))
	}
	t.keepMembers("a level that most have", func(m Member) bool {
		return !slices.ContainsFunc(t.pressures, func(p int32) bool { return full(m, p) != flyable })
	})
	if len(t.pressures) < 2 || len(t.Members) == 0 {
		return fmt.Errorf("%w: %d isobaric levels with wind and height at every step: want at least 2", ErrNoWind, len(t.pressures))
	}
	if len(t.pressures) > MaxLevels {
		return fmt.Errorf("%d isobaric levels: want at most %d", len(t.pressures), MaxLevels)
	}
	for _, p := range t.pressures {
		t.Levels = append(t.Levels, float64(p)/100)
	}
	t.gaps()
	return nil
}

// maskText names uppers.
func maskText(mask uint8) string {
	var names []string
	for u := range uppers {
		if mask&(1<<u) != 0 {
			names = append(names, upperNames[u])
		}
	}
	return strings.Join(names, ", ")
}

// maxRatio is how far apart neighbouring levels may lie before it is worth a
// warning, as a ratio of pressures: forecasts have 50, 30, 20 and 10 hPa.
const maxRatio = 2.2

// gaps warns of levels that lie far apart.
func (t *Contents) gaps() {
	for i := 1; i < len(t.Levels); i++ {
		if low, high := t.Levels[i-1], t.Levels[i]; low/high > maxRatio {
			t.Lacks = append(t.Lacks, fmt.Sprintf(
				"Between %g and %g hPa, some %.0f km, the forecast has no level: winds are interpolated across.",
				low/100, high/100, 7*math.Log(low/high)))
		}
	}
}

// below notes which maps of the ground are carried.
func (t *Contents) below(entries []entry) {
	var carried [quantities]bool
	for _, e := range entries {
		switch {
		case e.plane.kind == terrainKind:
			t.Terrain = true
		case e.plane.kind >= surfaceKinds:
			carried[e.plane.kind-surfaceKinds] = true
		}
	}
	for q, yes := range carried {
		if yes {
			t.Surface = append(t.Surface, Quantity(q))
		}
	}
	if !t.Terrain {
		t.Lacks = append(t.Lacks, NoTerrain)
	}
}
