package hazard

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// read makes a layer of squares.
func read(t testing.TB, s ground.LayerSource, features ...string) *ground.Layer {
	t.Helper()
	text := `{"type":"FeatureCollection","features":[`
	for i, f := range features {
		if i > 0 {
			text += ","
		}
		text += f
	}
	l, err := ground.ReadLayer(s, []byte(text+"]}"))
	require.NoError(t, err)
	return l
}

// landings meets a map with landings at these longitudes, all at 50.5° N, so many
// seconds after start.
func landings(m *ground.Map, seconds float64, lons ...float64) []Met {
	var all []Met
	for _, lon := range lons {
		p := path([3]float64{50.5, lon, 0})
		p[0].Time = seconds
		all = append(all, Meet(m, flight.Flight{End: flight.Landed, Path: p}, Sky{Start: start}))
	}
	return all
}

func whole() []geo.Box { return []geo.Box{{South: -90, West: -180, North: 90, East: 180}} }

// Worked by hand: forest (class 0.5) with a layer of its own severity 0.1, with
// one of 0.9, with one of none, alone and on top of each other.
func TestLayersOwnSeverity(t *testing.T) {
	tenth, nine := 0.1, 0.9
	m := &ground.Map{Layers: []*ground.Layer{
		read(t, ground.LayerSource{Name: "scrub", Class: ground.Forest, Severity: &tenth, Covers: whole()}, square(0, 50, 3, 51, "")),
		read(t, ground.LayerSource{Name: "wood", Class: ground.Forest}, square(1, 50, 4, 51, "")),
		read(t, ground.LayerSource{Name: "gorge", Class: ground.Forest, Severity: &nine}, square(2, 50, 5, 51, "")),
		read(t, ground.LayerSource{Name: "pond", Class: ground.Water}, square(2.6, 50, 2.8, 51, "")),
	}}
	s := severity(0.9, 0.5, 0, 0, 0)
	for _, tt := range []struct {
		lon, want float64
		by        string
	}{
		{0.5, 0.1, "scrub"}, {1.5, 0.5, "wood"}, {2.5, 0.9, "gorge"}, {3.5, 0.9, "gorge"}, {4.5, 0.9, "gorge"}, {2.7, 0.9, "pond"}, {6, 0, ""},
	} {
		got := Assess(landings(m, 0, tt.lon), 1, s, m)
		assert.InDelta(t, 100*tt.want, got.Value, 1e-9, "landing at %g°", tt.lon)
		sum := 0.0
		for _, l := range got.Layers {
			sum += l.Points
			if l.Points > 0 {
				assert.Equal(t, tt.by, l.Name, "landing at %g°", tt.lon)
			}
		}
		assert.InDelta(t, got.Value, sum, 1e-9)
	}
	got := Assess(landings(m, 0, 0.5, 1.5, 2.5, 6), 1, s, m)
	assert.InDelta(t, 100*(0.1+0.5+0.9)/4, got.Value, 1e-9)
	require.Len(t, got.Layers, 4)
	for i, want := range []LayerShare{
		{Name: "scrub", Class: ground.Forest, Severity: 0.1, Landing: Probability{Hits: 3, Of: 4}, Points: 2.5},
		{Name: "wood", Class: ground.Forest, Severity: 0.5, Landing: Probability{Hits: 2, Of: 4}, Points: 12.5},
		{Name: "gorge", Class: ground.Forest, Severity: 0.9, Landing: Probability{Hits: 1, Of: 4}, Points: 22.5},
		{Name: "pond", Class: ground.Water, Severity: 0.9, Landing: Probability{Hits: 0, Of: 4}},
	} {
		l := got.Layers[i]
		assert.Equal(t, [4]any{want.Name, want.Class, want.Landing.Hits, want.Landing.Of}, [4]any{l.Name, l.Class, l.Landing.Hits, l.Landing.Of})
		assert.InDelta(t, want.Severity, l.Severity, 0)
		assert.InDelta(t, want.Points, l.Points, 1e-9, want.Name)
	}
	assert.InDelta(t, 0.75, got.Classes[1].Landing.Value, 0, "forest, whoever says so")
	assert.InDelta(t, 37.5, got.Classes[1].Points, 1e-9)
	assert.Equal(t, "coming down in forest (gorge): 37.5 of 37.5 points", got.Greatest)
	assert.InDelta(t, 100.0, got.Worst, 0, "water is not assessed")
}

// The most that a score can be takes in severities of layers' own: none above
// hold with a limit of the classes' alone.
func TestLimitOfOwnSeverities(t *testing.T) {
	one := 1.0
	m := &ground.Map{Layers: []*ground.Layer{read(t, ground.LayerSource{Name: "gorge", Class: ground.Forest, Severity: &one}, square(0, 50, 1, 51, ""))}}
	met := landings(m, 0, 0.5, 3)
	var flights []Met
	for i := range 1024 {
		flights = append(flights, met[min(i%3, 1)])
	}
	got := Assess(flights, 16, severity(0, 0.1, 0, 0, 0), m)
	assert.InDelta(t, 100.0/3, got.Value, 0.1)
	assert.True(t, got.Low < got.Value && got.Value < got.High, "%g to %g around %g", got.Low, got.High, got.Value)
	all := make([]Met, 1024)
	for i := range all {
		all[i] = met[0]
	}
	assert.InDelta(t, 100, Assess(all, 16, severity(0, 0.1, 0, 0, 0), m).High, 1e-9)
}

// A range that is closed from 8 to 16 h UTC: start is at 6 h.
func TestLandingsOutOfHours(t *testing.T) {
	m := &ground.Map{Layers: []*ground.Layer{read(t, ground.LayerSource{
		Name: "range", Class: ground.Closed, Active: []ground.Hours{{From: 8 * time.Hour, To: 16 * time.Hour}},
	}, square(0, 50, 1, 51, ""))}}
	s := severity(0, 0, 0, 1, 0)
	for _, tt := range []struct{ hours, want float64 }{{1.9, 0}, {2.1, 100}, {9.9, 100}, {10.1, 0}} {
		got := Assess(landings(m, tt.hours*3600, 0.5), 1, s, m)
		assert.InDelta(t, tt.want, got.Value, 0, "landing at %g h", 6+tt.hours)
		assert.Equal(t, 0, got.Classes[3].NotAssessed.Hits, "known to be open, or known to be closed")
		assert.Equal(t, int(tt.want/100), got.Layers[0].Landing.Hits)
	}
}

// Owners by how many landings are on their land, at most MaxParcels of them; two
// parcels of one owner are one.
func TestParcelsByProbability(t *testing.T) {
	var farms []string
	for i := range 25 {
		farms = append(farms, square(float64(i), 50, float64(i)+1, 51, fmt.Sprintf(`"owner":"Farm %d"`, i)))
	}
	farms = append(farms, square(30, 50, 31, 51, `"owner":"Farm 7"`))
	m := &ground.Map{Layers: []*ground.Layer{read(t, ground.LayerSource{Name: "land", Parcels: true, Covers: whole()}, farms...)}}
	var lons []float64
	for i := range 25 {
		lons = append(lons, float64(i)+0.5)
	}
	lons = append(lons, 30.5, 30.6, 3.2, 40, 40)
	flights := landings(m, 0, lons...)
	flights[29].Landed = false
	got := Assess(flights, 2, severity(1, 1, 1, 1, 1), m)
	require.Len(t, got.Parcels, MaxParcels)
	assert.Equal(t, 5, got.OtherParcels)
	for i, want := range []struct {
		owner string
		hits  int
	}{{"Farm 7", 3}, {"Farm 3", 2}, {"Farm 0", 1}, {"Farm 1", 1}, {"Farm 2", 1}, {"Farm 4", 1}} {
		p := got.Parcels[i]
		assert.Equal(t, [4]any{want.owner, "land", want.hits, 29}, [4]any{p.Owner, p.Layer, p.Landing.Hits, p.Landing.Of})
		assert.InDelta(t, float64(want.hits)/29, p.Landing.Value, 1e-12)
		assert.True(t, p.Landing.Low < p.Landing.Value && p.Landing.Value < p.Landing.High)
	}
	assert.Zero(t, got.Value, "land of somebody's is not bad to come down on")
	assert.Empty(t, got.Greatest)
	assert.Equal(t, ground.Class(0), got.Layers[0].Class)
	assert.Equal(t, 28, got.Layers[0].Landing.Hits)
	assert.Zero(t, got.Layers[0].Points)
}

// What was met with another map is a bug of the caller.
func TestLayersMustBeTheMaps(t *testing.T) {
	m := &ground.Map{Layers: []*ground.Layer{read(t, ground.LayerSource{Name: "a", Class: ground.Forest}, square(0, 50, 1, 51, ""))}}
	assert.PanicsWithValue(t, "hazard: a flight came down on a layer that is not given", func() {
		Assess([]Met{{Landed: true, Layers: ground.LayerSet{}.With(1)}}, 1, Severity{}, m)
	})
	assert.PanicsWithValue(t, "hazard: a flight came down on a layer that is not given", func() {
		Assess([]Met{{Landed: true, Layers: ground.LayerSet{}.With(127)}}, 1, Severity{}, m)
	})
	assert.PanicsWithValue(t, "hazard: a flight came down on a parcel of a layer that is not given", func() {
		Assess([]Met{{Landed: true, Parcels: []ground.Parcel{{Layer: 1, Owner: 1}}}}, 1, Severity{}, m)
	})
}

// A layer's share widens what --until watches where its class's does not: two
// woods that every flight comes down on one of.
func TestHalfWidthOfLayers(t *testing.T) {
	m := &ground.Map{Layers: []*ground.Layer{
		read(t, ground.LayerSource{Name: "a", Class: ground.Forest}, square(0, 50, 1, 51, "")),
		read(t, ground.LayerSource{Name: "b", Class: ground.Forest}, square(1, 50, 2, 51, "")),
	}}
	met := landings(m, 0, 0.5, 1.5)
	var flights []Met
	for i := range 64 {
		flights = append(flights, met[(i/16+i)%2*min(i%3, 1)])
	}
	got := Assess(flights, 4, Severity{}, m)
	assert.InDelta(t, max(got.Layers[0].Landing.HalfWidth(), got.Layers[1].Landing.HalfWidth()), got.HalfWidth, 1e-12)
	assert.Greater(t, got.HalfWidth, got.Classes[1].Landing.HalfWidth())
}
