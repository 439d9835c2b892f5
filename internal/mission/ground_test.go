package mission_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// lakeland is a place in the real winds with water to leeward.
var lakeland = geo.Point{Lat: 58.22, Lon: 12.8}

// readGround reads the ground of a plan whose files are given by name.
func readGround(t *testing.T, p plan.Plan, files map[string]string) (*mission.Ground, error) {
	t.Helper()
	find := onDisk(t, files)
	built, err := mission.BuiltIn(mission.Reach(p))
	require.NoError(t, err)
	return mission.ReadGround(t.Context(), p, built, []*wind.Field{realwind.Field(t)}, find)
}

// onDisk finds files of some contents in a folder of their own.
func onDisk(t *testing.T, files map[string]string) mission.Finder {
	t.Helper()
	folder := t.TempDir()
	for name, content := range files {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(content), 0o600))
	}
	return mission.Beside(folder)
}

// around is a GeoJSON geometry of a rectangle.
func around(west, south, east, north string) string {
	return `{"type":"Polygon","coordinates":[[[` + west + `,` + south + `],[` + east + `,` + south + `],[` + east + `,` + north + `],[` +
		west + `,` + north + `],[` + west + `,` + south + `]]]}`
}

// A launch over ground from files: what the layers say is in the score, their
// owners are named, the roads are measured, limits and people are answered.
func TestFlyOverGroundFromFiles(t *testing.T) {
	p := planAt(lakeland)
	p.Limits = launch.None()
	p.Limits.Ground = map[ground.Class]float64{ground.Forest: 0.5, ground.Closed: 0.01}
	severity := 0.2
	p.Layers = []plan.Layer{
		{File: "woods.geojson", LayerSource: ground.LayerSource{
			Name: "woods", Class: ground.Forest, Severity: &severity, Covers: []geo.Box{{South: 50, North: 65, West: 5, East: 25}},
		}},
		{File: "fields.geojson", LayerSource: ground.LayerSource{Name: "fields", Parcels: true}},
	}
	p.Ways = []plan.Ways{{Name: "roads", File: "roads.geojson"}}
	p.People = &plan.People{Open: 20e-6, BuiltUp: 2000e-6, Width: 0.4}
	whole := around("10", "55", "20", "62")
	g, err := readGround(t, p, map[string]string{
		"woods.geojson":  whole,
		"fields.geojson": `{"type":"Feature","properties":{"owner":"Brook Farm"},"geometry":` + whole + `}`,
		"roads.geojson":  `{"type":"LineString","coordinates":[[10,58.3],[20,58.3]]}`,
	})
	require.NoError(t, err)
	assert.Empty(t, g.Warnings)
	w := mission.World{Winds: []*wind.Field{realwind.Field(t)}, Ground: g}
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	share := func(name string) hazard.LayerShare {
		for _, s := range l.Hazard.Layers {
			if s.Name == name {
				return s
			}
		}
		t.Fatalf("no layer %q in %v", name, l.Hazard.Layers)
		return hazard.LayerShare{}
	}
	assert.InDelta(t, 1, share("woods").Landing.Value, 1e-9)
	assert.InDelta(t, 0.2, share("woods").Severity, 1e-9)
	require.Len(t, l.Hazard.Parcels, 1)
	assert.Equal(t, "Brook Farm", l.Hazard.Parcels[0].Owner)
	require.Len(t, l.Access.Roads, 1)
	road := l.Access.Roads[0]
	// Due north or south of a line along a parallel, but for the 15 m or so that
	// an edge straight in longitude and latitude differs from the shortest way.
	metres, _, _ := geo.Inverse(l.Landing.MostLikely, geo.Point{Lat: 58.3, Lon: l.Landing.MostLikely.Lon})
	assert.InDelta(t, metres, road.Nearest, 30)
	assert.LessOrEqual(t, road.Median, road.Ninety)
	assert.Less(t, road.Beyond, 0.01, "a flight or two come down farther than a road is looked for")
	assert.InDelta(t, 1.3*l.Landing.Distance, l.Access.Drive, 1e-6)
	require.NotNil(t, l.PeopleHit)
	assert.InDelta(t, 20e-6*math.Pi*0.5*0.5, *l.PeopleHit, 20e-6, "nearly all of them in the open or in water")
	assert.Equal(t, launch.NoGo, l.Verdict)
	require.Len(t, l.Reasons, 2)
	assert.Equal(t, "landings in forest", l.Reasons[0].What)
	assert.Equal(t, launch.Marginal, l.Reasons[1].Verdict, "nobody looked for closed ground")
}

// Airspace: only the kinds that the plan wants, with its own severity and hours.
func TestAirspaceOfAPlan(t *testing.T) {
	p := planAt(lakeland)
	hours, err := ground.ParseHours("Sat 08:00-10:00")
	require.NoError(t, err)
	text := "AC R\nAN One\nAL GND\nAH FL 95\nV X=58:15 N 13:00 E\nDC 20\n\nAC D\nAN Two\nAL 500 ft AGL\nAH 3000 ft MSL\nV X=58:15 N 14:00 E\nDC 20\n"
	p.Airspace = []plan.Airspace{{Name: "air", File: "air.txt", Severity: 0.25, Kinds: []string{"D"}, Active: []ground.Hours{hours}}}
	g, err := readGround(t, p, map[string]string{"air.txt": text})
	require.NoError(t, err)
	require.Len(t, g.Map.Volumes, 1)
	v := g.Map.Volumes[0]
	assert.Equal(t, "Two", v.Name)
	assert.InDelta(t, 0.25, v.Severity, 0)
	assert.Equal(t, []ground.Hours{hours}, v.Hours)
	assert.Empty(t, g.Warnings)

	p.Airspace[0].Kinds = []string{"d", "R"}
	g, err = readGround(t, p, map[string]string{"air.txt": text})
	require.NoError(t, err)
	assert.Equal(t, []string{`Airspace "air" has nothing of kind "d": it has D, R.`}, g.Warnings)
}

// A layer whose positions are the wrong way round lies far away, and is warned of.
func TestLayerWithSwappedCoordinates(t *testing.T) {
	p := planAt(lakeland)
	p.Layers = []plan.Layer{{File: "a.geojson", LayerSource: ground.LayerSource{Name: "a", Class: ground.Forest}}}
	g, err := readGround(t, p, map[string]string{"a.geojson": around("58", "12", "59", "14")})
	require.NoError(t, err)
	require.NotEmpty(t, g.Warnings)
	assert.Contains(t, strings.Join(g.Warnings, "\n"), "are its latitudes and longitudes swapped?")
	g, err = readGround(t, p, map[string]string{"a.geojson": around("12", "58", "14", "59")})
	require.NoError(t, err)
	assert.Empty(t, g.Warnings)
}

// Rasters are read around the landings, and a raster with nothing there is told.
func TestRastersAroundTheLandings(t *testing.T) {
	square := "../ground/testdata/rasters/"
	content, err := os.ReadFile(filepath.Clean(square + "globe_u8.tif"))
	require.NoError(t, err)
	p := planAt(lakeland)
	open := ground.Legend{}
	for code := range uint16(256) {
		open[code] = ground.Set(0)
	}
	open[255] = open[255].With(ground.Forest)
	p.Cover = []plan.LandCover{{File: "globe.tif", CoverSource: ground.CoverSource{Name: "globe", Legend: open}}}
	g, err := readGround(t, p, map[string]string{"globe.tif": string(content)})
	require.NoError(t, err)
	require.Len(t, g.Map.Covers, 1)
	assert.Positive(t, g.Map.Covers[0].Count().Assessed)
	l, err := mission.Fly(t.Context(), mission.World{Winds: []*wind.Field{realwind.Field(t)}, Ground: g}, p, mission.Options{})
	require.NoError(t, err)
	for _, c := range l.Hazard.Classes {
		if c.Class == ground.Forest {
			assert.Less(t, c.NotAssessed.Value, 0.05, "all but the outermost landings are assessed")
		}
	}
	_, err = readGround(t, p, map[string]string{"globe.tif": "II*\x00 no more"})
	var faults plan.Faults
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, "ground.land_cover[0].file", faults[0].Field)
	assert.Contains(t, faults[0].Value, `"globe.tif"`)
}

// The site stands on the plan's own heights, even where flights come down beyond
// them: tile N58E012 ends at 13° E and they come down about 14° E.
func TestHeightsAtTheSite(t *testing.T) {
	tile := bytes.Repeat([]byte{400 >> 8, 400 & 0xff}, 1201*1201)
	p := planAt(lakeland)
	p.Site.Elevation = math.NaN()
	p.Heights = []string{"N58E012.hgt"}
	g, err := readGround(t, p, map[string]string{"N58E012.hgt": string(tile)})
	require.NoError(t, err)
	w := mission.World{Winds: []*wind.Field{realwind.Field(t)}, Ground: g}
	l, err := mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.InDelta(t, 400, l.Elevation, 1e-9)
	assert.False(t, l.ElevationFromForecast)
	assert.NotContains(t, strings.Join(l.Warnings, " "), "The plan puts the site")

	weighed := weighedAt(t, lakeland)
	weighed.Site.Elevation, weighed.Heights = math.NaN(), p.Heights
	found, err := mission.Sited(t.Context(), weighed, onDisk(t, map[string]string{"N58E012.hgt": string(tile)}))
	require.NoError(t, err)
	assert.InDelta(t, 400, found.Site.Elevation, 1e-9)
	assert.InDelta(t, 400, float64(sized(t, found).Ground.Height), 1e-9, "and so is it sized")
	weighed.Site.Elevation = 95
	found, err = mission.Sited(t.Context(), weighed, onDisk(t, nil))
	require.NoError(t, err, "the plan's own needs no file")
	assert.InDelta(t, 95, found.Site.Elevation, 0)
	weighed.Site.Elevation = math.NaN()
	_, err = mission.Sited(t.Context(), weighed, onDisk(t, nil))
	var faults plan.Faults
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, "ground.heights[0].file", faults[0].Field)
	assert.Contains(t, strings.Join(sized(t, weighed).Warnings, " "), "taken to be at sea level")

	p.Site.Elevation = 520
	l, err = mission.Fly(t.Context(), w, p, mission.Options{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(l.Warnings, " "), "The plan puts the site at 520 m; the ground of the plan's heights is at 400 m there")
}

// What is wrong with the plan's own files is read before what holds of every launch.
func TestOwnFaultsComeFirst(t *testing.T) {
	g, err := readGround(t, planAt(lakeland), nil)
	require.NoError(t, err)
	g.Warnings = []string{"Layer far away."}
	w := mission.World{Winds: []*wind.Field{realwind.Field(t)}, Warnings: []string{"The forecast is invented."}, Ground: g}
	l, err := mission.Fly(t.Context(), w, planAt(lakeland), mission.Options{})
	require.NoError(t, err)
	require.Greater(t, len(l.Warnings), 2)
	assert.Equal(t, []string{"The forecast is invented.", "Layer far away."}, l.Warnings[:2])
}
