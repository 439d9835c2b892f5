package ground

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// closed is a feature over the square of one degree north-east of 50° N 8° E.
func closed(properties string) string {
	return fmt.Sprintf(`{"type":"Feature","properties":%s,"geometry":%s}`, properties, geometry("Polygon", wood))
}

func features(list ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(list, ",") + `]}`
}

func TestVolumeOver(t *testing.T) {
	volumes, err := ReadVolumes("ranges", []byte(features(
		closed(`{"name":"north range","floor_m":300,"ceiling_m":5000.5}`),
		closed(`{"floor_m":-10,"ceiling_m":0,"hours":"always"}`),
	)))
	require.NoError(t, err)
	require.Len(t, volumes, 2)
	v := volumes[0]
	assert.Equal(t, "north range", v.Name)
	assert.Equal(t, "ranges, feature 2", volumes[1].Name)
	assert.Equal(t, [4]Limit{{AboveSea, 300}, {AboveSea, 5000.5}, {AboveSea, -10}, {}}, [4]Limit{v.Floor, v.Ceiling, volumes[1].Floor, volumes[1].Ceiling})
	for _, tt := range []struct {
		lat, lon float64
		want     bool
	}{
		{50.2, 8.2, true},
		{50.2, 368.2, true},
		{50.5, 8.5, false}, // the hole
		{49.9, 8.2, false},
		{8.2, 50.2, false}, // swapped
		{math.NaN(), 8.2, false},
		{50.2, math.Inf(1), false},
	} {
		got := v.Over(geo.Point{Lat: tt.lat, Lon: tt.lon})
		assert.Equal(t, tt.want, got, "Over(%g, %g) = %v, want %v", tt.lat, tt.lon, got, tt.want)
	}
}

func TestReadVolumesRefuses(t *testing.T) {
	good := closed(`{"floor_m":0,"ceiling_m":1}`)
	many := make([]string, MaxVolumes+1)
	for i := range many {
		many[i] = good
	}
	_, err := ReadVolumes("ranges", []byte(features(many[:MaxVolumes]...)))
	require.NoError(t, err)
	for _, tt := range []struct{ name, text, want string }{
		{"no properties", features(good, closed("null")), "feature 2: property floor_m is missing: want metres above mean sea level"},
		{"bare geometry", geometry("Polygon", wood), "feature 1: property floor_m is missing"},
		{"no floor", features(closed(`{"ceiling_m":1}`)), "property floor_m is missing"},
		{"floor null", features(closed(`{"floor_m":null,"ceiling_m":1}`)), "property floor_m is missing"},
		{"no ceiling", features(closed(`{"floor_m":1}`)), "property ceiling_m is missing"},
		{"text", features(closed(`{"floor_m":"300 m","ceiling_m":1}`)), "want floor_m, ceiling_m and severity as numbers"},
		{"out of range", features(closed(`{"floor_m":0,"ceiling_m":1e999}`)), "cannot unmarshal number 1e999"},
		{"name is a number", features(closed(`{"floor_m":0,"ceiling_m":1,"name":3}`)), "cannot unmarshal number into Go struct field volumeProperties.name"},
		{"upside down", features(closed(`{"floor_m":500,"ceiling_m":300}`)), "floor 500 m MSL and ceiling 300 m MSL: want the floor below the ceiling"},
		{"flat", features(closed(`{"floor_m":300,"ceiling_m":300}`)), "floor 300 m MSL and ceiling 300 m MSL"},
		{"too many", features(many...), "4097 features: want at most 4096"},
		{"a line", collection(geometry("LineString", "[]")), `feature 1: geometry type "LineString"`},
		{"nothing", "", "not GeoJSON"},
	} {
		_, err := ReadVolumes("ranges", []byte(tt.text))
		if assert.ErrorContains(t, err, tt.want, tt.name) {
			assert.True(t, strings.HasPrefix(err.Error(), `airspace "ranges": `), "%s: %v does not name the file", tt.name, err)
			assert.NotContains(t, err.Error(), "\n", tt.name)
		}
	}
}

// A volume's name is printed: control characters and whole pages are refused.
func TestVolumeNameIsPrintable(t *testing.T) {
	square := `"geometry":{"type":"Polygon","coordinates":[[[1,1],[2,1],[2,2],[1,2],[1,1]]]}`
	volume := func(name string) string {
		return `{"type":"Feature","properties":{"floor_m":0,"ceiling_m":9,"name":"` + name + `"},` + square + `}`
	}
	_, err := ReadVolumes("air", []byte(volume("Zone Ö 1")))
	require.NoError(t, err)
	for _, name := range []string{`x\ny`, `\u001b[31mred`, `\u202eback`, strings.Repeat("x", 121)} {
		_, err := ReadVolumes("air", []byte(volume(name)))
		assert.ErrorContains(t, err, "want at most 120 characters, all of them printable", name)
	}
}
