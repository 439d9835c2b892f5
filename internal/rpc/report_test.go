package rpc_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// everyFormat is all kinds of file that the schema has.
func everyFormat() []thistledownv1.ReportFormat {
	var all []thistledownv1.ReportFormat
	for n := range int32(len(thistledownv1.ReportFormat_name)) { //nolint:gosec // a handful
		if n > 0 {
			all = append(all, thistledownv1.ReportFormat(n))
		}
	}
	return all
}

// Each file is of its kind, and says what Fly and RankWindows say.
func TestWriteReportAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	got, err := client.WriteReport(t.Context(), &thistledownv1.WriteReportRequest{Plan: weekly(), Formats: everyFormat(), Units: proto.String("us")})
	require.NoError(t, err)
	flown, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: weekly()})
	require.NoError(t, err)
	files := map[string][]byte{}
	var names []string
	for _, f := range got.GetFiles() {
		names = append(names, f.GetName())
		files[f.GetName()] = f.GetContent()
		assert.NotEmpty(t, f.GetMediaType())
	}
	assert.Equal(t, []string{"index.html", "week.csv", "summary.txt", "landing.geojson", "landing.kml", "landing.gpx", "landings.csv"}, names)
	rows := func(name string) int {
		all, err := csv.NewReader(bytes.NewReader(files[name])).ReadAll()
		require.NoError(t, err, name)
		return len(all) - 1
	}
	assert.Equal(t, 13, rows("week.csv"), "0 to 12 UTC")
	assert.EqualValues(t, flown.GetFlown().GetFlights(), rows("landings.csv"))
	assert.True(t, json.Valid(files["landing.geojson"]))
	for name, root := range map[string]string{"landing.kml": "kml", "landing.gpx": "gpx"} {
		d := xml.NewDecoder(bytes.NewReader(files[name]))
		first := ""
		for {
			token, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, name)
			if e, ok := token.(xml.StartElement); ok && first == "" {
				first = e.Name.Local
			}
		}
		assert.Equal(t, root, first)
	}
	assert.Contains(t, string(files["index.html"]), "<svg", "with its map")
	assert.Contains(t, string(files["summary.txt"]), "mph", "in the units that were asked for")
	si, err := client.WriteReport(t.Context(), &thistledownv1.WriteReportRequest{
		Plan: weekly(), Formats: []thistledownv1.ReportFormat{thistledownv1.ReportFormat_REPORT_FORMAT_TEXT},
	})
	require.NoError(t, err)
	assert.NotContains(t, string(si.GetFiles()[0].GetContent()), "mph")
}

func TestWriteReportRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	text := thistledownv1.ReportFormat_REPORT_FORMAT_TEXT
	for _, c := range []struct {
		name, field string
		change      func(r *thistledownv1.WriteReportRequest)
	}{
		{"no files", "formats", func(r *thistledownv1.WriteReportRequest) { r.Formats = nil }},
		{"unset", "formats[1]", func(r *thistledownv1.WriteReportRequest) { r.Formats = []thistledownv1.ReportFormat{text, 0} }},
		{"unknown", "formats[0]", func(r *thistledownv1.WriteReportRequest) { r.Formats = []thistledownv1.ReportFormat{-1} }},
		{"twice", "formats[1]", func(r *thistledownv1.WriteReportRequest) { r.Formats = []thistledownv1.ReportFormat{text, text} }},
		{"many", "formats", func(r *thistledownv1.WriteReportRequest) { r.Formats = make([]thistledownv1.ReportFormat, 1000) }},
		{"units", "units", func(r *thistledownv1.WriteReportRequest) { r.Units = proto.String("cubits") }},
		{"no units", "units", func(r *thistledownv1.WriteReportRequest) { r.Units = proto.String("") }},
		{"no plan", "plan", func(r *thistledownv1.WriteReportRequest) { r.Plan = nil }},
		{"too large", "formats", func(r *thistledownv1.WriteReportRequest) {
			r.Plan.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(4), FlightsPerScramble: proto.Uint32(65536)}
			r.Formats = []thistledownv1.ReportFormat{thistledownv1.ReportFormat_REPORT_FORMAT_CSV}
		}},
	} {
		r := &thistledownv1.WriteReportRequest{Plan: weekly(), Formats: []thistledownv1.ReportFormat{text}}
		c.change(r)
		_, err := client.WriteReport(t.Context(), r)
		assert.Equal(t, []string{c.field}, violated(t, err), c.name)
	}
}

func TestListForecastsAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	got, err := client.ListForecasts(t.Context(), &thistledownv1.ListForecastsRequest{})
	require.NoError(t, err)
	require.Len(t, got.GetForecasts(), 1)
	f := got.GetForecasts()[0]
	// The forecast of 22 March 2017: GFS, 2.5°, 00, 06 and 12 h, whole Earth, to 1 hPa.
	cycle := time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC)
	assert.EqualValues(t, 7, f.GetCentre())
	assert.Equal(t, cycle, f.GetCycle().AsTime())
	require.Len(t, f.GetSteps(), 3)
	for i, step := range f.GetSteps() {
		assert.Equal(t, cycle.Add(time.Duration(i)*6*time.Hour), step.AsTime())
	}
	assert.EqualValues(t, 1, f.GetMembers())
	assert.True(t, proto.Equal(&thistledownv1.Area{South: -90, North: 90, West: -180, East: 180}, f.GetBox()))
	assert.Equal(t, 2.5, f.GetGridLongitudeDeg())
	assert.InDelta(t, 47.8e3, f.GetTopM(), 3e3, "1 hPa lies at 47.8 km in the standard atmosphere (US76), and lower where it is winter")
	assert.InDelta(t, time.Since(cycle).Seconds(), f.GetAgeS(), 60)
}
