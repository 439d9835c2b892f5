package report

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
)

// Week is every launch time of a plan that was looked at.
type Week struct {
	Plan     string
	Zone     *time.Location // of the plan's own site
	Forecast Forecast
	Sites    []string // names
	Step     time.Duration
	Daylight bool // launch times are those by daylight, as the plan names no hours

	Asked   int      // launch times that were to be looked at
	Windows []Window // those that were, in order of time and of site
	Ranked  []int    // indices of Windows, the best first; those that are not covered last

	Version  string
	Warnings []string // that hold of every launch time, whole sentences
	Cautions []string // whole sentences
}

// Window is one launch time from one site.
type Window struct {
	Site string
	Time time.Time // of the launch, UTC
	// NotCovered says why nothing can be said of it; empty: Launch is the answer,
	// but for Flown.
	NotCovered string
	Launch     Launch
	// Earlier is what earlier cycles of the forecast had said, the newest first.
	Earlier []Earlier
}

// Earlier is what an earlier cycle said of a launch time.
type Earlier struct {
	Cycle      time.Time
	NotCovered string // why it said nothing; then the rest is empty
	Verdict    launch.Verdict
	Score      float64 // hazard score, 0 to 100
	Area80     float64 // m², of the 80 % region
	MostLikely geo.Point
	Moved      float64 // m, of the most likely landing from there to the newest cycle's
	Toward     float64 // degrees clockwise from north, of that move
}

// Steady is since which of the earlier cycles a window's answer has held: the same
// verdict, and the most likely landing no farther off than the radius of a circle
// as large as the newest 80 % region. Zero where the last one before differs already, or
// there is none.
func (w Window) Steady() time.Time {
	var since time.Time
	radius := math.Sqrt(w.Launch.Area(0.8) / math.Pi)
	for _, e := range w.Earlier {
		if e.NotCovered != "" || e.Verdict != w.Launch.Verdict || !(e.Moved <= radius) {
			break
		}
		since = e.Cycle
	}
	return since
}

// Best is the first of the ranking; false where none is covered with a landing.
func (k Week) Best() (Window, bool) {
	if len(k.Ranked) == 0 {
		return Window{}, false
	}
	best := k.Windows[k.Ranked[0]]
	return best, best.NotCovered == "" && best.Launch.Landing != nil
}

// weekHead heads the table of launch times; units stand in the names.
var weekHead = []string{
	"rank", "launch_utc", "site", "verdict", "score", "score_low", "score_high", "latitude_deg", "longitude_deg",
	"distance_m", "bearing_deg", "down_p05_utc", "down_p50_utc", "down_p95_utc", "area80_m2", "lead_s",
	"water", "forest", "built_up", "closed", "airfield", "abroad", "because",
}

// WriteWeekCSV writes a line for each launch time, in their order, as RFC 4180 has
// it. Shares of the landings on each class are of those known to be on it; what is
// not known is empty.
func WriteWeekCSV(w io.Writer, k Week) error {
	table := csv.NewWriter(w)
	table.UseCRLF = true
	if err := table.Write(weekHead); err != nil {
		return err
	}
	rank := make([]int, len(k.Windows))
	for place, i := range k.Ranked {
		rank[i] = place + 1
	}
	for i, one := range k.Windows {
		line := make([]string, len(weekHead))
		copy(line, []string{strconv.Itoa(rank[i]), stamp(one.Time), one.Site, "not covered"})
		line[15] = decimal(one.Time.Sub(k.Forecast.Cycle).Seconds(), 0)
		line[len(line)-1] = one.NotCovered
		if l := one.Launch; one.NotCovered == "" {
			line[3], line[len(line)-1] = l.Verdict.String(), first(l)
			if d := l.Landing; d != nil {
				copy(line[4:], []string{
					decimal(l.Hazard.Value, 2), decimal(l.Hazard.Low, 2), decimal(l.Hazard.High, 2),
					decimal(d.MostLikely.Lat, 5), decimal(d.MostLikely.Lon, 5), decimal(d.Distance, 0), decimal(d.Bearing, 1),
					stamp(d.Early), stamp(d.Middle), stamp(d.Late), decimal(l.Area(0.8), 0),
				})
				for j, name := range weekHead[16:22] {
					line[16+j] = onClass(l.Hazard, name)
				}
			}
		}
		if err := table.Write(line); err != nil {
			return err
		}
	}
	table.Flush()
	return table.Error()
}

// onClass is the share of landings on a class, as the table has it.
func onClass(h *hazard.Score, column string) string {
	for _, c := range h.Classes {
		if name := strings.ReplaceAll(c.Class.String(), "-", "_"); name == column && c.NotAssessed.Value < 1 {
			return decimal(c.Landing.Value, 4)
		}
	}
	return ""
}
