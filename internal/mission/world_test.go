package mission_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
)

const square = `{"type":"Polygon","coordinates":[[[1,1],[2,1],[2,2],[1,2],[1,1]]]}`

func TestGround(t *testing.T) {
	folder := t.TempDir()
	write := func(name, content string) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(content), 0o600))
	}
	write("woods.geojson", square)
	write("air.geojson", `{"type":"Feature","properties":{"name":"A","floor_m":0,"ceiling_m":1000},"geometry":`+square+`}`)
	write("bad.geojson", "<html>")
	built, err := mission.BuiltIn(geo.Box{South: -5, North: 10, West: -5, East: 10})
	require.NoError(t, err)
	p := plan.Plan{
		Layers: []plan.Layer{{File: "woods.geojson", LayerSource: ground.LayerSource{
			Name: "woods", Class: ground.Forest, Covers: []geo.Box{{South: 0, North: 3, West: 0, East: 3}},
		}}},
		Airspace: []plan.Airspace{{Name: "air", File: "air.geojson", Severity: math.NaN()}},
	}
	for name, find := range map[string]mission.Finder{"beside": mission.Beside(folder), "within": mission.Within(folder)} {
		m, err := mission.ReadGround(t.Context(), p, built, nil, find)
		require.NoError(t, err, name)
		found := m.Map.At(geo.Point{Lat: 1.5, Lon: 1.5}, time.Time{})
		assert.True(t, found.Under.Has(ground.Forest) && found.Assessed.Has(ground.Forest))
		found = m.Map.At(geo.Point{Lat: 2.5, Lon: 2.5}, time.Time{})
		assert.True(t, !found.Under.Has(ground.Forest) && found.Assessed.Has(ground.Forest))
		found = m.Map.At(geo.Point{Lat: 5, Lon: 5}, time.Time{})
		assert.False(t, found.Assessed.Has(ground.Forest))
		require.Len(t, m.Map.Volumes, 1)
		assert.True(t, m.Map.Volumes[0].Over(geo.Point{Lat: 1.5, Lon: 1.5}))
	}

	// Every fault at once, by field and name, without the folder's path.
	p.Layers[0].File, p.Airspace[0].File = "bad.geojson", "none.geojson"
	_, err = mission.ReadGround(t.Context(), p, built, nil, mission.Beside(folder))
	var faults plan.Faults
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, 2)
	assert.Equal(t, "ground.layers[0].file", faults[0].Field)
	assert.Contains(t, faults[0].Value, `"bad.geojson": layer "woods"`)
	assert.Equal(t, "ground.airspace[0].file", faults[1].Field)
	assert.Equal(t, `"none.geojson": no such file or directory`, faults[1].Value)
	assert.NotContains(t, err.Error(), folder)

	// Airspace in the other form: each of its lines is a fault of its own.
	p.Layers = nil
	p.Airspace[0].File = "air.txt"
	write("air.txt", "AC R\nAN Zone\nAL GND\nAH FL 95\nV X=1:30 N 1:30 E\nDC 5\n")
	m, err := mission.ReadGround(t.Context(), p, built, nil, mission.Beside(folder))
	require.NoError(t, err)
	require.Len(t, m.Map.Volumes, 1)
	assert.True(t, m.Map.Volumes[0].Over(geo.Point{Lat: 1.5, Lon: 1.55}))
	write("air.txt", "AC R\nAN Zone\nAL GND\nAH FL\nV X=1:30 N 1:30 E\nDC 0\n")
	_, err = mission.ReadGround(t.Context(), p, built, nil, mission.Beside(folder))
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, 2)
	assert.Equal(t, "ground.airspace[0].file", faults[1].Field)
	assert.Contains(t, faults[0].Value, `"air.txt": airspace "air": line 4: AH`)
	assert.Contains(t, faults[1].Value, "line 6: DC")

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = mission.ReadGround(ctx, p, built, nil, mission.Beside(folder))
	assert.ErrorIs(t, err, context.Canceled)
}

// A name in a service's folder that leads out of it is not followed.
func TestWithinFollowsNoLink(t *testing.T) {
	folder, outside := t.TempDir(), filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(outside, []byte(square), 0o600))
	require.NoError(t, os.Symlink(outside, filepath.Join(folder, "link.geojson")))
	_, err := mission.Within(folder)("link.geojson")
	assert.Error(t, err)
}
