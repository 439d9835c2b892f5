package mission_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rules"
)

// A launch time of a week says whom to call: those of the plan, each once, and the
// airfields near it; without rules in the plan the airfields alone.
func TestWeekSaysWhomToCall(t *testing.T) {
	p := planAt(lakeland)
	w := world(t)
	open := func(context.Context, []plan.Plan) (map[geo.Point]mission.World, error) {
		return map[geo.Point]mission.World{p.Site.At: w}, nil
	}
	found, err := mission.Week(t.Context(), open, []plan.Plan{p}, mission.WeekOptions{})
	require.NoError(t, err)
	bare := found.Windows[0].Launch.Calls
	require.NotNil(t, bare)
	assert.Empty(t, bare.People)
	assert.Empty(t, bare.Offices)
	require.NotEmpty(t, bare.Nearby)

	p.Rules = &plan.Regulations{
		Jurisdiction: rules.Europe, Flight: rules.Unstated(), Antenna: math.NaN(),
		People:  []plan.Person{{Name: "Ada Reed", Role: "launch", Telephone: "+46 70 174 06 05"}},
		Offices: []plan.Office{{Name: "Mill field", Telephone: "1", At: &p.Site.At}, {Name: "Control", Notified: true}},
	}
	found, err = mission.Week(t.Context(), open, []plan.Plan{p}, mission.WeekOptions{})
	require.NoError(t, err)
	l := found.Windows[0].Launch
	assert.Equal(t, bare.Nearby, l.Calls.Nearby)
	require.Len(t, l.Calls.People, 1)
	assert.Equal(t, "Ada Reed", l.Calls.People[0].Name)
	require.Len(t, l.Calls.Offices, 2)
	assert.True(t, l.Calls.Offices[1].Notified)

	// And how the search stands to the light: the car is not there before nineteen of
	// twenty flights are down, nor sooner than it can drive (60 km/h).
	a := l.Access
	require.NotNil(t, a)
	assert.False(t, a.There.Before(l.Landing.Late))
	assert.GreaterOrEqual(t, a.There.Sub(l.Time).Seconds()*60/3.6, a.Drive*0.999999)
	assert.True(t, a.Sunset.After(l.Landing.Late) && a.Dusk.After(a.Sunset), "%v, %v", a.Sunset, a.Dusk)
	assert.NotEmpty(t, l.Winds)
}
