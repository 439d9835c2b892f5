package report

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
)

func TestMembersInText(t *testing.T) {
	write := func(m *Members) string {
		l := answer(t)
		l.Members = m
		var b bytes.Buffer
		require.NoError(t, WriteText(&b, l, quantity.SI))
		return strings.Join(strings.Fields(b.String()), " ")
	}
	assert.NotContains(t, write(nil), "Members")
	m := &Members{Members: ensemble.Members{
		All: make([]ensemble.Member, 12), Error: []float64{0.042, math.NaN(), 0, 0}, Spread: 30e3,
	}}
	got := write(m)
	assert.Contains(t, got, "Members the mean landings of the 12 members lie 30.0 km about their own mean")
	assert.Contains(t, got, "of landings, ± 4.2 % for so few members; severity 1, 20.0 points", "water")
	assert.NotContains(t, got, "NaN")
	assert.NotContains(t, got, "groups")
	m.Split = []Group{
		{Numbers: []int{0, 1, 3}, MostLikely: geo.Point{Lat: 58, Lon: 14}, Distance: 80e3, Bearing: 90},
		{Numbers: []int{2, 4}, MostLikely: geo.Point{Lat: 59, Lon: 14}, Distance: 120e3, Bearing: 30},
	}
	got = write(m)
	assert.Contains(t, got, "two groups")
	assert.Contains(t, got, "3 of them most likely near 58.000° N 14.000° E, 80.0 km from the site toward 090° (members 1, 2, 4 in order)")
	assert.Contains(t, got, "2 of them most likely near 59.000° N 14.000° E, 120 km from the site toward 030° (members 3, 5 in order)")
}
