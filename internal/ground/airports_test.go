package ground

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// Reference points by the aeronautical publications of Sweden and Fiji, to a minute
// or so (from memory), and their location indicators: Gothenburg Landvetter, ESGG,
// 57°40' N 12°17' E; Nadi, NFFN, 17°45' S 177°27' E. Trollhättan, ESGT, has letters
// that are not of ASCII. The sizes are the source's own word.
func TestAirports(t *testing.T) {
	for _, test := range []struct {
		code, name string
		box        geo.Box
		at         geo.Point
		large      bool
	}{
		{"ESGG", "Landvetter", geo.Box{South: 57.5, North: 57.8, West: 12.1, East: 12.5}, geo.Point{Lat: 57 + 40.0/60, Lon: 12 + 17.0/60}, true},
		{"NFFN", "Nadi", geo.Box{South: -18, North: -17.5, West: 177, East: -179}, geo.Point{Lat: -17.75, Lon: 177.45}, false},
		{"ESGT", "Trollhättan", geo.Box{South: 58, North: 59, West: 12, East: 13}, geo.Point{Lat: 58 + 19.0/60, Lon: 12 + 21.0/60}, false},
	} {
		all, err := Airports(test.box)
		require.NoError(t, err, test.name)
		found := false
		for _, a := range all {
			assert.True(t, test.box.Contains(a.At), "%s: %v is outside of the box", test.name, a.At)
			if a.Code != test.code {
				continue
			}
			found = true
			away, _, _ := geo.Inverse(a.At, test.at)
			assert.Less(t, away, 3000.0, test.name)
			assert.Equal(t, test.large, a.Large, test.name)
			assert.Contains(t, a.Name, test.name)
		}
		assert.True(t, found, "%s: %v", test.name, all)
	}
	whole, err := Airports(geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(t, err)
	assert.Len(t, whole, 463+4747, "large and medium ones, as the README of the data counts them")
	codes := map[string]bool{}
	for _, a := range whole {
		assert.False(t, codes[a.Code], "%s twice", a.Code)
		codes[a.Code] = true
		assert.Equal(t, strings.TrimSpace(a.Name), a.Name)
	}
	_, err = Airports(geo.Box{South: 1, North: 0})
	require.Error(t, err)
}

// Names that are not of these airports are refused.
func TestAirportNamesFit(t *testing.T) {
	everywhere := geo.Box{South: -90, North: 90, West: -180, East: 180}
	_, err := airportsIn(everywhere, airportsFile, airportNames+"X\tOne too many\n")
	require.EqualError(t, err, "airports: 5211 names: want 5210, as many as there are airports")
	_, err = airportsIn(everywhere, airportsFile, strings.Replace(airportNames, "\t", " ", 1))
	require.EqualError(t, err, "airports: line 1 of the names: want a code, a tab and a name")
	_, err = airportsIn(everywhere, airportsFile[:100], airportNames)
	require.Error(t, err)
}
