package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// aTrack is one fix and one place where it was looked for.
func aTrack() *thistledownv1.Track {
	return &thistledownv1.Track{
		Fixes: []*thistledownv1.Fix{{
			Time: &timestamppb.Timestamp{Seconds: 1490169600}, Latitude: proto.Float64(58.5), Longitude: proto.Float64(13.5), Height: "40000 ft", Error: "30 m",
		}},
		Searched: []*thistledownv1.Searched{{Latitude: proto.Float64(58), Longitude: proto.Float64(14), Radius: "0.1 mi", Detection: "80 %"}},
	}
}

func TestTrack(t *testing.T) {
	got, err := plan.CheckTrack(aTrack())
	require.NoError(t, err)
	require.Len(t, got.Fixes, 1)
	assert.InDelta(t, 12192, got.Fixes[0].Height, 1e-9, "40,000 international feet of 0.3048 m")
	assert.InDelta(t, 30, got.Fixes[0].Error, 1e-9)
	assert.Equal(t, "2017-03-22T08:00:00Z", got.Fixes[0].Time.Format("2006-01-02T15:04:05Z07:00"))
	assert.InDelta(t, 160.9344, got.Searched[0].Radius, 1e-9, "an international mile of 1609.344 m")
	assert.InDelta(t, 0.8, got.Searched[0].Detection, 1e-12)
	_, err = plan.CheckTrack(nil)
	assert.ErrorContains(t, err, "want a track")
}

// Each fault names its field, the value and what was wanted, all at once.
func TestTrackFaults(t *testing.T) {
	for _, c := range []struct {
		edit func(m *thistledownv1.Track)
		says string
	}{
		{func(m *thistledownv1.Track) { m.Fixes[0].Height = "12000" }, `fixes[0].height: "12000": want a length with its unit, such as "12340 m"`},
		{func(m *thistledownv1.Track) { m.Fixes[0].Height = "60 km" }, `fixes[0].height: "60 km": want -0.5 km to 50 km`},
		{func(m *thistledownv1.Track) { m.Fixes[0].Height = "" }, "fixes[0].height: missing: want "},
		{func(m *thistledownv1.Track) { m.Fixes[0].Error = "10 km" }, `fixes[0].error: "10 km": want 0.001 km to 5 km`},
		{func(m *thistledownv1.Track) { m.Fixes[0].Latitude = proto.Float64(math.NaN()) }, "fixes[0].latitude: NaN: want -90 to 90"},
		{func(m *thistledownv1.Track) { m.Fixes[0].Latitude = nil }, "fixes[0].latitude: missing"},
		{func(m *thistledownv1.Track) { m.Fixes[0].Longitude = proto.Float64(181) }, "fixes[0].longitude: 181: want -180 to 180"},
		{func(m *thistledownv1.Track) { m.Fixes[0].Time = nil }, "fixes[0].time: missing"},
		{func(m *thistledownv1.Track) { m.Fixes[0].Time.Seconds = math.MaxInt64 }, "fixes[0].time: "},
		{func(m *thistledownv1.Track) { m.Fixes = nil }, "fixes: "},
		{func(m *thistledownv1.Track) { m.Fixes = make([]*thistledownv1.Fix, plan.MaxFixes+1) }, "fixes: 10801 items: want "},
		{func(m *thistledownv1.Track) { m.Fixes[0] = nil }, "fixes[0]"},
		{func(m *thistledownv1.Track) { m.Searched[0].Radius = "0 m" }, `searched[0].radius: "0 m": want 1 m to 20000 m`},
		{func(m *thistledownv1.Track) { m.Searched[0].Detection = "120 %" }, `searched[0].detection: "120 %": want 0 % to 100 %`},
	} {
		m := aTrack()
		c.edit(m)
		_, err := plan.CheckTrack(m)
		assert.ErrorContains(t, err, c.says)
	}
	side, err := plan.CheckCell("300 ft")
	require.NoError(t, err)
	assert.InDelta(t, 91.44, side, 1e-9)
	side, err = plan.CheckCell("")
	require.NoError(t, err)
	assert.Zero(t, side)
	_, err = plan.CheckCell("1 m")
	assert.ErrorContains(t, err, `cell: "1 m": want 10 m to 5000 m`)
}
