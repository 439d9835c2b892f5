package mission_test

import (
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// said is a window whose landings are around a place, 80 % of them in a circle of
// 10 km radius.
func said(t time.Time, lat float64, v launch.Verdict) report.Window {
	d := landing.Distribution{MostLikely: geo.Point{Lat: lat, Lon: 10}, Regions: []landing.Region{{Share: 0.8, Area: 3.1416e8, Shape: orb.MultiPolygon{}}}}
	return report.Window{Site: "Field", Time: t, Launch: report.Launch{
		Verdict: v, Landing: &report.Landing{Distribution: d}, Hazard: &hazard.Score{Value: 12},
	}}
}

// cycle is a week of a forecast's cycle.
func cycle(day int, windows ...report.Window) report.Week {
	return report.Week{Windows: windows, Forecast: report.Forecast{Cycle: at(day, 0, 0)}}
}

// The newest cycle before comes first; a degree of latitude is 111.2 km there
// (GRS 80, 50° N: 111,229 m).
func TestCompare(t *testing.T) {
	when := at(24, 9, 0)
	week := cycle(23, said(when, 50, launch.Go), said(when.Add(time.Hour), 50, launch.Go))
	got := mission.Compare(week, cycle(21, said(when, 49, launch.NoGo)))
	got = mission.Compare(got, cycle(22, said(when, 49.95, launch.Go)))
	assert.Empty(t, week.Windows[0].Earlier, "the week itself is left as it was")
	assert.Empty(t, got.Windows[1].Earlier)
	earlier := got.Windows[0].Earlier
	require.Len(t, earlier, 2)
	assert.Equal(t, at(22, 0, 0), earlier[0].Cycle)
	assert.InDelta(t, 5561, earlier[0].Moved, 5)
	assert.InDelta(t, 0, earlier[0].Toward, 1e-6)
	assert.InDelta(t, 111_229, earlier[1].Moved, 20)
	assert.Equal(t, launch.NoGo, earlier[1].Verdict)
	assert.Equal(t, at(22, 0, 0), got.Windows[0].Steady(), "the one before differs")

	// Farther off than the region is wide, or of another verdict, it is not steady.
	far := mission.Compare(week, cycle(22, said(when, 49.9, launch.Go)))
	assert.True(t, far.Windows[0].Steady().IsZero())
	other := mission.Compare(week, cycle(22, said(when, 50, launch.Marginal)))
	assert.True(t, other.Windows[0].Steady().IsZero())
	none := mission.Compare(week, cycle(22, report.Window{Site: "Field", Time: when, NotCovered: "it ends before"}))
	assert.Equal(t, "it ends before", none.Windows[0].Earlier[0].NotCovered)
	assert.True(t, none.Windows[0].Steady().IsZero())
	assert.True(t, week.Windows[0].Steady().IsZero())
}

func TestShared(t *testing.T) {
	var launches []plan.Plan
	for h := range 3 {
		launches = append(launches, plan.Plan{Site: plan.Site{Name: "Field"}, Launch: at(24, 8+h, 0)})
	}
	got := mission.Shared(launches, cycle(23, said(at(24, 9, 0), 50, launch.Go), said(at(24, 12, 0), 50, launch.Go)))
	require.Len(t, got, 1)
	assert.Equal(t, at(24, 9, 0), got[0].Launch)
	assert.Len(t, launches, 3)
}
