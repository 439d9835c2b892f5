package ground_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Reference points by the aeronautical publications of Sweden and Fiji, to a minute
// or so (from memory): Gothenburg Landvetter 57°40' N 12°17' E, Nadi 17°45' S 177°27' E. The size is the source's own word.
func TestAirports(t *testing.T) {
	for _, test := range []struct {
		name  string
		box   geo.Box
		at    geo.Point
		large bool
	}{
		{"Landvetter", geo.Box{South: 57.5, North: 57.8, West: 12.1, East: 12.5}, geo.Point{Lat: 57 + 40.0/60, Lon: 12 + 17.0/60}, true},
		{"Nadi, across the date line", geo.Box{South: -18, North: -17.5, West: 177, East: -179}, geo.Point{Lat: -17.75, Lon: 177.45}, false},
	} {
		all, err := ground.Airports(test.box)
		require.NoError(t, err, test.name)
		found := false
		for _, a := range all {
			assert.True(t, test.box.Contains(a.At), "%s: %v is outside of the box", test.name, a.At)
			away, _, _ := geo.Inverse(a.At, test.at)
			found = found || away < 3000 && a.Large == test.large
		}
		assert.True(t, found, "%s: %v", test.name, all)
	}
	whole, err := ground.Airports(geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(t, err)
	assert.Len(t, whole, 463+4747, "large and medium ones, as the README of the data counts them")
	_, err = ground.Airports(geo.Box{South: 1, North: 0})
	require.Error(t, err)
}
