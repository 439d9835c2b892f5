package hazard

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// start is the forecast's first time in these tests.
var start = time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)

// TestMain fixes the seed of the property tests, so that a failure comes back;
// -rapid.seed=0 on the command line draws another each time.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.seed", "1"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// severity has a different value for each class.
func severity(water, forest, builtUp, closed, air float64) Severity {
	s := Severity{Air: air}
	s.Ground[ground.Water], s.Ground[ground.Forest] = water, forest
	s.Ground[ground.BuiltUp], s.Ground[ground.Closed] = builtUp, closed
	return s
}

func set(classes ...ground.Class) ground.Set {
	var s ground.Set
	for _, c := range classes {
		s = s.With(c)
	}
	return s
}

// everything is the set of all classes.
func everything() ground.Set { return set(everyClass...) }

func TestSeverityCheckNamesEachFault(t *testing.T) {
	require.NoError(t, severity(0, 0.2, 0.9, 1, 0.5).Check())
	require.NoError(t, Severity{}.Check())
	err := severity(math.NaN(), 1, 1.5, -0.1, math.Inf(1)).Check()
	require.Error(t, err)
	assert.Equal(t, []string{
		"severity of water NaN: want 0 to 1",
		"severity of built_up 1.5: want 0 to 1",
		"severity of closed -0.1: want 0 to 1",
		"severity of closed airspace +Inf: want 0 to 1",
	}, strings.Split(err.Error(), "\n"))
}

// square is a GeoJSON feature from west to east and south to north.
func square(west, south, east, north float64, properties string) string {
	return fmt.Sprintf(`{"type":"Feature","properties":{%[5]s},"geometry":{"type":"Polygon","coordinates":`+
		`[[[%[1]g,%[2]g],[%[3]g,%[2]g],[%[3]g,%[4]g],[%[1]g,%[4]g],[%[1]g,%[2]g]]]}}`, west, south, east, north, properties)
}

func volumes(t testing.TB, features ...string) []*ground.Volume {
	t.Helper()
	v, err := ground.ReadVolumes("test", []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`))
	require.NoError(t, err)
	return v
}

func layer(t testing.TB, c ground.Class, covers []geo.Box, feature string) *ground.Layer {
	t.Helper()
	l, err := ground.ReadLayer(ground.LayerSource{Name: c.String(), Class: c, Covers: covers}, []byte(feature))
	require.NoError(t, err)
	return l
}

func path(steps ...[3]float64) []flight.Step {
	var p []flight.Step
	for i, s := range steps {
		p = append(p, flight.Step{Time: float64(i), At: geo.Point{Lat: s[0], Lon: s[1]}, Height: atmos.Geometric(s[2])})
	}
	return p
}

// Each case is a path through one volume over latitude 50 to 51, longitude 9 to
// 10, from 1,000 m to 1,040 m: thinner than a layer of flight's.
func TestVolumesThatAPathMeets(t *testing.T) {
	volume := volumes(t, square(9, 50, 10, 51, `"name":"Z","floor_m":1000,"ceiling_m":1040`))
	for _, c := range []struct {
		name    string
		path    []flight.Step
		crossed bool
	}{
		{"no path", nil, false},
		{"a point inside", path([3]float64{50.5, 9.5, 1020}), true},
		{"a point at the floor", path([3]float64{50.5, 9.5, 1000}), true},
		{"a point at the ceiling", path([3]float64{50.5, 9.5, 1040}), true},
		{"just below the floor", path([3]float64{50.5, 9.5, 999.999}), false},
		{"just above the ceiling", path([3]float64{50.5, 9.5, 1040.001}), false},
		{"the same height beside it", path([3]float64{50.5, 10.5, 1020}), false},
		{"from below to above, no point inside", path([3]float64{50.5, 9.5, 995}, [3]float64{50.5, 9.5, 1045}), true},
		{"from above to below, no point inside", path([3]float64{50.5, 9.5, 1045}, [3]float64{50.5, 9.5, 995}), true},
		{"from below to above beside it", path([3]float64{50.5, 10.5, 995}, [3]float64{50.5, 10.5, 1045}), false},
		{"in over the floor, out through the side", path([3]float64{50.5, 9.99, 990}, [3]float64{50.5, 10.01, 1011}), true},
		{"over the floor's edge, outside", path([3]float64{50.5, 9.99, 990}, [3]float64{50.5, 10.01, 1009}), false},
		{"level flight below", path([3]float64{50.5, 9.5, 990}, [3]float64{50.5, 9.6, 990}), false},
		{"later in the path", path([3]float64{50.5, 8, 500}, [3]float64{50.5, 8.5, 800}, [3]float64{50.5, 9.5, 1010}), true},
	} {
		got := Meet(&ground.Map{Volumes: volume}, flight.Flight{End: flight.OffGrid, Path: c.path}, Sky{})
		want := Met{}
		if c.crossed {
			want.Crossed = up(1)
		}
		got.Crossed = anyWay(got.Crossed)
		assert.Equal(t, want, got, "%s: Meet(%v)", c.name, c.path)
	}
}

// The place where a path goes through a height lies between its two points,
// across the date line as anywhere.
func TestVolumeAtTheDateLine(t *testing.T) {
	east := volumes(t, square(-180, 50, -179.99, 51, `"floor_m":1000,"ceiling_m":1040`))
	west := volumes(t, square(179.99, 50, 180, 51, `"floor_m":1000,"ceiling_m":1040`))
	over := flight.Flight{Path: path([3]float64{50.5, 179.996, 990}, [3]float64{50.5, -179.996, 1050})}
	// Through the floor at 179.996° + 0.008°/6 = 179.997°, the ceiling at
	// 179.996° + 0.008°·5/6 = -179.997°.
	assert.Equal(t, up(1), Meet(&ground.Map{Volumes: west}, over, Sky{}).Crossed, "west of the line, at the floor")
	assert.Equal(t, up(1), Meet(&ground.Map{Volumes: east}, over, Sky{}).Crossed, "east of the line, at the ceiling")
}

// Each of as many volumes as a map may have is told from the others.
func TestEveryVolumeHasANumber(t *testing.T) {
	features := make([]string, ground.MaxVolumes)
	for i := range features {
		features[i] = square(float64(i%360-180), float64(i/360), float64(i%360-179), float64(i/360+1), fmt.Sprintf(`"name":"Z%d","floor_m":0,"ceiling_m":100`, i))
	}
	all := volumes(t, features...)
	for i := range all {
		f := flight.Flight{Path: path([3]float64{float64(i/360) + 0.5, float64(i%360) - 179.5, 50})}
		got := Meet(&ground.Map{Volumes: all}, f, Sky{}).Crossed
		require.Equal(t, 1, len(slices.Collect(maps.Keys(maps.Collect(got.All())))), "volume %d", i)
		require.Equal(t, Up, across(got, i), "volume %d", i)
	}
	more := slices.Concat(all, all[:1])
	assert.PanicsWithValue(t, "hazard: 4097 closed volumes: want at most 4096", func() { Meet(&ground.Map{Volumes: more}, flight.Flight{}, Sky{}) })
	assert.PanicsWithValue(t, "hazard: 4097 closed volumes: want at most 4096", func() { Assess(nil, 1, Severity{}, &ground.Map{Volumes: more}) })
	assert.PanicsWithValue(t, "hazard: a flight crossed a volume that is not given", func() {
		Assess([]Met{{Landed: true, Crossed: up(1 << 63)}}, 1, Severity{}, &ground.Map{Volumes: all[:63]})
	})
	assert.NotPanics(t, func() {
		Assess([]Met{{Landed: true, Crossed: up(1 << 63)}}, 1, Severity{}, &ground.Map{Volumes: all[:64]})
	})
}

// anyWay is the same volumes, crossed on the way up.
func anyWay(c Crossed) Crossed {
	var marks []byte
	for v := range c.All() {
		marks = mark(marks, v, Up)
	}
	return Crossed{string(marks)}
}

// Ground counts where a flight landed, at the last point of its path, and
// nowhere else.
func TestGroundUnderALanding(t *testing.T) {
	m := &ground.Map{Layers: []*ground.Layer{
		layer(t, ground.Water, []geo.Box{{South: 40, North: 60, West: 0, East: 20}}, square(9, 50, 10, 51, "")),
		layer(t, ground.Forest, nil, square(9.5, 50, 11, 51, "")),
	}}
	for _, c := range []struct {
		name            string
		lon             float64
		under, assessed ground.Set
		layers          ground.LayerSet
	}{
		{"water, forest not looked at", 9.2, set(ground.Water), set(ground.Water), ground.LayerSet{1}},
		{"both", 9.7, set(ground.Water, ground.Forest), set(ground.Water, ground.Forest), ground.LayerSet{3}},
		{"forest, known to be no water", 10.5, set(ground.Forest), set(ground.Water, ground.Forest), ground.LayerSet{2}},
		{"neither", 15, 0, set(ground.Water), ground.LayerSet{}},
		{"outside all layers", 30, 0, 0, ground.LayerSet{}},
	} {
		landed := flight.Flight{End: flight.Landed, Path: path([3]float64{50.5, 9.7, 3000}, [3]float64{50.5, c.lon, 0})}
		assert.Equal(t, Met{Landed: true, Under: c.under, Assessed: c.assessed, Layers: c.layers}, Meet(m, landed, Sky{}), c.name)
		landed.End = flight.AfterLast
		assert.Equal(t, Met{}, Meet(m, landed, Sky{}), "%s, still aloft", c.name)
	}
	assert.Equal(t, Met{Landed: true}, Meet(m, flight.Flight{End: flight.Landed}, Sky{}), "no path: nothing assessed")
}

// A path of points far apart is looked at in between: through a corner of the
// volume, in by one side and out by another.
func TestVolumesBetweenFarPoints(t *testing.T) {
	volume := volumes(t, square(9, 50, 10, 51, `"floor_m":1000,"ceiling_m":3000`))
	for _, c := range []struct {
		name    string
		path    []flight.Step
		crossed bool
	}{
		{"in and out by the sides", path([3]float64{50.5, 8, 1400}, [3]float64{50.5, 10.1, 1700}), true},
		{"falling", path([3]float64{50.5, 8, 1700}, [3]float64{50.5, 10.8, 1400}), true},
		{"beside it", path([3]float64{49.5, 8.9, 1400}, [3]float64{49.5, 10.1, 1700}), false},
		{"above it", path([3]float64{50.5, 8.9, 3100}, [3]float64{50.5, 10.1, 3600}), false},
		{"below it", path([3]float64{50.5, 8.9, 500}, [3]float64{50.5, 10.1, 900}), false},
	} {
		got := Meet(&ground.Map{Volumes: volume}, flight.Flight{End: flight.OffGrid, Path: c.path}, Sky{})
		assert.Equal(t, c.crossed, got.Crossed != Crossed{}, c.name)
	}
}
