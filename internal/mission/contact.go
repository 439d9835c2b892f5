package mission

import (
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// contacts is where each radio tracker is lost to the site on its way down to the
// most likely landing, over the ground between. The site lies on that ground, too,
// whatever the plan says of its elevation: on a forecast model's ground a site in a
// valley would look at a cliff.
func contacts(l *report.Launch, p plan.Plan, terrain ground.Terrain) []report.Contact {
	const apart, most = 250.0, 2000 // m between points of the ground looked over
	distance, toward, _ := geo.Inverse(l.At, l.Landing.MostLikely)
	if distance < 1 || distance > balloon.MaxRadioDistance {
		return nil
	}
	n := min(max(int(distance/apart), 1), most)
	profile := make([]balloon.Terrain, n+1)
	for i := range profile {
		away := distance * float64(i) / float64(n)
		height, ok := terrain.At(geo.Direct(l.At, toward, away))
		if !ok {
			return nil
		}
		profile[i] = balloon.Terrain{Distance: away, Height: height}
	}
	var all []report.Contact
	for _, tracker := range p.Train.Trackers {
		if tracker.Kind != balloon.RadioTracker {
			continue
		}
		lost, err := balloon.Listener{Antenna: tracker.Antenna, Profile: profile}.Lost(distance)
		if err != nil {
			continue // ground beyond what a radio path is worked out for
		}
		all = append(all, report.Contact{Antenna: tracker.Antenna, AboveGround: lost.AboveGround})
	}
	return all
}
