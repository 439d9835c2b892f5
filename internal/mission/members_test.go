package mission_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/wind"
)

// desert is a forecast of members, each of which has air that moves toward east
// at one speed everywhere, around 24° N 14° E on the morning of planAt.
func desert(t *testing.T, speeds ...float64) mission.World {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= 40e3; z += 2000 {
		heights = append(heights, z)
	}
	var w mission.World
	for _, speed := range speeds {
		f, err := wind.New(wind.Axes{
			Grid:  geo.Grid{NX: 9, NY: 9, Lat0: 20, Lon0: 10, DLat: 1, DLon: 1},
			Start: time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), Times: []float64{0, 24 * 3600}, Heights: heights,
		}, func(_ geo.Point, z, _ float64) wind.Sample {
			s := wind.Still(z)
			s.East = speed
			return s
		})
		require.NoError(t, err)
		w.Winds = append(w.Winds, f)
	}
	water, err := ground.ReadLayer(ground.LayerSource{Name: "lake", Class: ground.Water, Covers: []geo.Box{{South: 20, North: 28, West: 10, East: 18}}}, []byte(
		`{"type":"Polygon","coordinates":[[[15.2,20],[17,20],[17,28],[15.2,28],[15.2,20]]]}`))
	require.NoError(t, err)
	w.Ground = &mission.Ground{Map: &ground.Map{Layers: []*ground.Layer{water}}}
	return w
}

// Seven members blow at 10 m/s or so, five at 20: two groups, whose most likely
// places are as far off as their winds carry in the mean time in the air. All of
// the second come down in water, none of the first: the sampling error is that
// of seven zeros and five ones, √(35/12/11/12) = 0.1487.
func TestMembersInTwoGroups(t *testing.T) {
	p := planAt(geo.Point{Lat: 24, Lon: 14})
	p.WindError, p.Ascent.Spread, p.Burst.Spread, p.Landing.Spread = 0.1, 0.05, 100, 0.05
	l, err := mission.Fly(t.Context(), desert(t, 10, 9.8, 19.9, 10.2, 20, 10.1, 20.3, 9.9, 20.1, 10.3, 19.8, 9.7), p, mission.Options{})
	require.NoError(t, err)
	require.NotNil(t, l.Members)
	require.Len(t, l.Members.Split, 2)
	assert.Equal(t, []int{0, 1, 3, 5, 7, 9, 11}, l.Members.Split[0].Numbers)
	assert.Equal(t, []int{2, 4, 6, 8, 10}, l.Members.Split[1].Numbers)
	for g, speed := range []float64{10, 20} {
		group := l.Members.Split[g]
		assert.InEpsilon(t, speed*l.Landing.Aloft, group.Distance, 0.03, "group %d", g)
		assert.InDelta(t, 90, group.Bearing, 2, "group %d", g)
	}
	assert.InDelta(t, 0.1487, l.Members.Error[0], 0.0001)
	assert.InDelta(t, 5.0/12, l.Hazard.Classes[0].Landing.Value, 0.02)
	assert.Less(t, l.Hazard.Classes[0].Landing.HalfWidth(), 0.02, "the interval of the flights is narrower, and apart")
	flights := 0
	for i, m := range l.Members.All {
		flights += m.Flights
		assert.InDelta(t, 1024.0/12, m.Flights, 16, "member %d", i)
	}
	assert.Equal(t, 1024, flights)
}

// Members of one kind are one group, and a single forecast has none to show.
func TestMembersInOneGroup(t *testing.T) {
	p := planAt(geo.Point{Lat: 24, Lon: 14})
	p.WindError, p.Ascent.Spread, p.Burst.Spread, p.Landing.Spread = 0.1, 0.05, 100, 0.05
	l, err := mission.Fly(t.Context(), desert(t, 10, 10.3, 9.6, 10.1, 9.9, 10.2, 9.8, 10.05, 9.95, 10.4, 9.7, 10), p, mission.Options{})
	require.NoError(t, err)
	assert.Empty(t, l.Members.Split)
	// The speeds' standard deviation, √(Σ(v−v̄)²/12), is √(0.605/12) m/s; the mean
	// of a member's 85 flights is off by some 100 m in 1,800.
	assert.InEpsilon(t, math.Sqrt(0.605/12)*l.Landing.Aloft, l.Members.Spread, 0.05)
	l, err = mission.Fly(t.Context(), desert(t, 10), p, mission.Options{})
	require.NoError(t, err)
	assert.Nil(t, l.Members)
	assert.False(t, math.IsNaN(l.Hazard.Value))
}
