package mission

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// The ground abroad is put together once for a country, and is another's for another.
func TestAbroadIsKept(t *testing.T) {
	b, err := BuiltIn(geo.Box{South: 45, North: 62, West: -5, East: 25})
	require.NoError(t, err)
	sweden, norway, sea := geo.Point{Lat: 58.2, Lon: 13}, geo.Point{Lat: 60, Lon: 10}, geo.Point{Lat: 56, Lon: 3}
	first, err := b.outside(sweden)
	require.NoError(t, err)
	again, err := b.outside(geo.Point{Lat: 57.7, Lon: 14})
	require.NoError(t, err)
	assert.Same(t, first, again)
	other, err := b.outside(norway)
	require.NoError(t, err)
	assert.NotSame(t, first, other)
	assert.Equal(t, "outside Norway", other.Source().Name)
	_, err = b.outside(sea)
	require.Error(t, err)
	for _, at := range []geo.Point{{Lat: 52, Lon: 20}, {Lat: 48, Lon: 2}, {Lat: 50.5, Lon: 10}} { // pushes the first out
		_, err = b.outside(at)
		require.NoError(t, err)
	}
	assert.Len(t, b.abroad, maxAbroad)
}
