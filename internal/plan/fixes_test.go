package plan_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
)

func TestReadFixes(t *testing.T) {
	want := []plan.Fix{
		{Time: time.Date(2017, 3, 22, 8, 30, 0, 0, time.UTC), At: geo.Point{Lat: 58.41, Lon: 13.2}, Height: 1524, Error: 30},
		{Time: time.Date(2017, 3, 22, 8, 32, 0, 0, time.UTC), At: geo.Point{Lat: 58.42, Lon: 13.25}, Height: 2133.6},
	}
	got, err := plan.ReadFixes("f.csv", []byte("\xef\xbb\xbfTime, Latitude,longitude,battery,height_ft,error_m\r\n"+
		"2017-03-22T09:30:00+01:00,58.41,13.2,full,5000,30\r\n\n2017-03-22T08:32:00Z, 58.42,13.25,,7000,\n"))
	require.NoError(t, err)
	require.Len(t, got, 2)
	for i := range want {
		assert.Equal(t, want[i].Time, got[i].Time)
		assert.Equal(t, want[i].At, got[i].At)
		assert.InDelta(t, want[i].Height, got[i].Height, 1e-9)
		assert.InDelta(t, want[i].Error, got[i].Error, 1e-9)
	}
	// GPX 1.1: a point's lat and lon are attributes, ele is in metres, time in UTC.
	const point = ` lat="58.41" lon="13.2"><ele>1524</ele><time>2017-03-22T08:30:00Z</time></`
	const gpx = `<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">`
	got, err = plan.ReadFixes("f.gpx", []byte(gpx+`<wpt lat="1" lon="2"><ele>3</ele><time>2017-03-22T08:30:00Z</time></wpt><trk><trkseg><trkpt lat="0" lon="0"/><trkpt`+point+`trkpt></trkseg></trk></gpx>`))
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, want[0].At, got[0].At)
	assert.InDelta(t, 1524, got[0].Height, 1e-9)
	got, err = plan.ReadFixes("f.gpx", []byte(gpx+`<wpt`+point+`wpt></gpx>`))
	require.NoError(t, err)
	require.Len(t, got, 1, "waypoints where there is no track")
}

func TestReadFixesFaults(t *testing.T) {
	const head = "time,latitude,longitude,height_m\n"
	for text, says := range map[string]string{
		"":                                 "f:1: no line of column names: want columns time",
		"time,latitude,longitude,height\n": "f:1: height: no column with its unit: want columns",
		"time,latitude,height_m\n":         "f:1: longitude: no such column",
		"time,time,latitude,longitude,height_m\n": `f:1: "time": twice`,
		head: "f: fixes: ",
		head + "2017-03-22T08:30:00Z,58,13,4\nyesterday,58,13,4\n":     `f:3: time: "yesterday": want RFC 3339`,
		head + "2017-03-22T08:30:00Z,58 N,13,4\n":                      `f:2: latitude: "58 N": want decimal degrees`,
		head + "2017-03-22T08:30:00Z,98,13,4\n":                        "f:2: latitude: 98: want -90 to 90",
		head + "2017-03-22T08:30:00Z,NaN,13,4\n":                       "f:2: latitude: NaN: want -90 to 90",
		head + "2017-03-22T08:30:00Z,58,13,high\n":                     `f:2: height: "high m"`,
		head + "2017-03-22T08:30:00Z,58,13,60000\n":                    `f:2: height: "60000 m": want -500 m to 50000 m`,
		head + "2017-03-22T08:30:00Z,58,13\n":                          "f:2: height: missing",
		head + "2017-03-22T08:30:00Z,58,\"13,4\n":                      "f:2: extraneous or missing",
		head + strings.Repeat("2017-03-22T08:30:00Z,58,13,4\n", 10801): "f:10802: more than 10800 fixes",
		"<gpx><trk>":  "f:1: ",
		"<gpx></gpx>": "f: no point with an elevation and a time: want GPX 1.1",
		`<gpx><wpt lat="x" lon="1"><ele>1</ele><time>2017-03-22T08:30:00Z</time></wpt></gpx>`: `f:1: lat: "x": want decimal degrees`,
	} {
		_, err := plan.ReadFixes("f", []byte(text))
		assert.ErrorContains(t, err, says, "%.60q", text)
	}
	_, err := plan.ReadFixes("f", make([]byte, plan.MaxFixesFile+1))
	assert.ErrorContains(t, err, "f: 16777217 octets: want at most 16777216")
}

func FuzzReadFixes(f *testing.F) {
	f.Add([]byte("time,latitude,longitude,height_m\n2017-03-22T08:30:00Z,58,13,4\n"))
	f.Add([]byte(`<gpx><wpt lat="1" lon="1"><ele>1</ele><time>2017-03-22T08:30:00Z</time></wpt></gpx>`))
	f.Fuzz(func(t *testing.T, content []byte) {
		fixes, err := plan.ReadFixes("f", content)
		if err == nil && (len(fixes) == 0 || len(fixes) > plan.MaxFixes) {
			t.Errorf("%d fixes without a fault", len(fixes))
		}
		for _, x := range fixes {
			if x.At.Check() != nil || !(x.Height >= -500 && x.Height <= 50000) {
				t.Errorf("%+v", x)
			}
		}
	})
}
