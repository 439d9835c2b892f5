package report

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/landing"
)

// hostile is a name that no format may take for its own; \x01 and \xff are no
// characters of XML.
const hostile = "</name><script>alert(\"1\")</script>]]>&amp;'\x01\xff, \r\n=1+1"

// launchAt is a launch at a place with landings some way to the east of it, spread by
// so many metres, in one cluster or several, and everything that maps are given.
func launchAt(t *testing.T, at geo.Point, east, spread float64, clusters int) Launch {
	t.Helper()
	l := answer(t)
	l.At = at
	r := rand.New(rand.NewPCG(7, 7))
	var points []landing.Weighted
	for i := range 600 {
		centre := geo.Direct(at, 90, east+float64(i%clusters)*10*spread)
		f := Flown{
			Member: i % 3, Course: ensemble.Course(i % ensemble.Courses), Time: l.Time.Add(time.Duration(i) * time.Second),
			At:     geo.Direct(centre, 360*r.Float64(), spread*math.Abs(r.NormFloat64())),
			Height: 100.04, Aloft: 7000.5, Burst: 27000, Speed: 5.125,
		}
		if i%6 == 5 {
			f.End, f.Height, f.Speed = flight.AfterLast, 0, 0
		} else {
			points = append(points, landing.Weighted{At: f.At, Weight: 1})
		}
		l.Flown = append(l.Flown, f)
	}
	d, err := landing.Estimate(points, []float64{0.5, 0.8, 0.95})
	require.NoError(t, err)
	l.Landing.Distribution = d
	l.Path = &Path{Burst: 60, Within: 9.5}
	for i := range 121 {
		l.Path.Points = append(l.Path.Points, PathPoint{
			Time: l.Time.Add(time.Duration(i) * 65 * time.Second), At: geo.Direct(at, 90, east*float64(i)/120),
			Height: 27000 - 450*math.Abs(float64(60-i)),
		})
	}
	return l
}

// everywhere calls back with launches of tiny and huge spreads, of one cluster and
// several, on either side of the date line and over it, and near a pole.
func everywhere(t *testing.T, each func(t *testing.T, l Launch)) {
	t.Helper()
	for _, at := range []geo.Point{{Lat: 58.2, Lon: 12.8}, {Lat: -17, Lon: 179.5}, {Lat: 52, Lon: -179.99}, {Lat: 0.1, Lon: -180}, {Lat: 85, Lon: 170}, {Lat: -89, Lon: 30}} {
		for _, spread := range []float64{0, 1, 8e3, 200e3} {
			for _, clusters := range []int{1, 3} {
				t.Run(fmt.Sprintf("%v, %g m, %d clusters", at, spread, clusters), func(t *testing.T) {
					each(t, launchAt(t, at, 90e3, spread, clusters))
				})
			}
		}
	}
}

func written(t *testing.T, write func(io.Writer, Launch) error, l Launch) string {
	t.Helper()
	var a, b bytes.Buffer
	require.NoError(t, write(&a, l))
	require.NoError(t, write(&b, l))
	require.Equal(t, a.String(), b.String(), "written twice it differs")
	return a.String()
}

// gpxSchema is what GPX 1.1's schema (Topografix 2004,
// http://www.topografix.com/GPX/1/1/gpx.xsd; its sequences and ranges from memory) says
// of the elements that are written here, and of those that may stand between them.
var gpxSchema = map[string]kind{
	"gpx":      {attrs: "version creator", sequence: []part{{"metadata", 0, 1}, {"wpt", 0, 0}, {"rte", 0, 0}, {"trk", 0, 0}, {"extensions", 0, 1}}},
	"metadata": {sequence: []part{{"name", 0, 1}, {"desc", 0, 1}, {"author", 0, 1}, {"copyright", 0, 1}, {"link", 0, 0}, {"time", 0, 1}, {"keywords", 0, 1}, {"bounds", 0, 1}, {"extensions", 0, 1}}},
	"wpt":      gpxPointKind, "trkpt": gpxPointKind,
	"trk":    {sequence: []part{{"name", 0, 1}, {"cmt", 0, 1}, {"desc", 0, 1}, {"src", 0, 1}, {"link", 0, 0}, {"number", 0, 1}, {"type", 0, 1}, {"extensions", 0, 1}, {"trkseg", 0, 0}}},
	"trkseg": {sequence: []part{{"trkpt", 0, 0}, {"extensions", 0, 1}}},
	"ele":    {text: between(-12000, 60000, false)}, "time": {text: utcTime}, "name": {text: anyText}, "desc": {text: anyText},
}

var gpxPointKind = kind{attrs: "lat lon", sequence: []part{
	{"ele", 0, 1}, {"time", 0, 1}, {"magvar", 0, 1}, {"geoidheight", 0, 1}, {"name", 0, 1}, {"cmt", 0, 1}, {"desc", 0, 1}, {"src", 0, 1},
}}

// requireGPX reads GPX and holds it to the schema.
func requireGPX(t *testing.T, document string) *element {
	t.Helper()
	e, err := parse(document)
	require.NoError(t, err)
	delete(e.attrs, "xmlns")
	require.NoError(t, obeys(e, "http://www.topografix.com/GPX/1/1", gpxSchema))
	require.Equal(t, "1.1", e.attrs["version"])
	for _, p := range append(e.all("wpt"), e.all("trkpt")...) {
		require.NoError(t, between(-90, 90, false)(p.attrs["lat"]))
		require.NoError(t, between(-180, 180, true)(p.attrs["lon"]), "GPX has no longitude of 180")
	}
	return e
}

func TestGPX(t *testing.T) {
	everywhere(t, func(t *testing.T, l Launch) {
		e := requireGPX(t, written(t, WriteGPX, l))
		require.Len(t, e.all("wpt"), 2)
		points := e.all("trkpt")
		require.Len(t, points, len(l.Path.Points))
		for i, p := range points {
			lat, err := strconv.ParseFloat(p.attrs["lat"], 64)
			require.NoError(t, err)
			lon, err := strconv.ParseFloat(p.attrs["lon"], 64)
			require.NoError(t, err)
			off, _, _ := geo.Inverse(geo.Point{Lat: lat, Lon: lon}, l.Path.Points[i].At)
			require.Less(t, off, 0.01, "7 decimals are 6 mm off at most each way")
		}
		assert.Equal(t, "13500.0", points[30].child("ele"))
		assert.Equal(t, "2017-03-22T07:32:30.0Z", points[30].child("time"))
	})
}

func TestGPXOfTheDateLine(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 10, Lon: 180}, 50e3, 100, 1)
	assert.Equal(t, "-180", requireGPX(t, written(t, WriteGPX, l)).all("wpt")[0].attrs["lon"])
}

func TestCSV(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	text := written(t, WriteCSV, l)
	assert.Equal(t, strings.Count(text, "\n"), strings.Count(text, "\r\n"), "lines end in CR LF (RFC 4180, section 2.1)")
	assert.True(t, strings.HasSuffix(text, "\r\n"))
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(l.Flown)+1, "all flights, and the header")
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	require.Len(t, column, 11)
	for i, row := range rows[1:] {
		f := l.Flown[i]
		at := func(name string) string { return row[column[name]] }
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(at(name), 64)
			require.NoError(t, err)
			return v
		}
		assert.Equal(t, strconv.Itoa(i+1), at("flight"))
		assert.Equal(t, strconv.Itoa(i%3+1), at("member"))
		assert.Equal(t, f.Course.String(), at("course"))
		assert.Equal(t, f.End.String(), at("end"))
		assert.InDelta(t, f.At.Lat, number("latitude_deg"), 5.1e-7)
		assert.InDelta(t, f.At.Lon, number("longitude_deg"), 5.1e-7)
		assert.Equal(t, "7000.5", at("aloft_s"))
		assert.Equal(t, "27000.0", at("burst_m"))
		require.NoError(t, utcTime(at("time_utc")))
		if f.End == flight.Landed {
			assert.Equal(t, "100.0", at("height_m"))
			assert.Equal(t, "5.12", at("speed_m_s"))
		} else {
			assert.Empty(t, at("height_m")+at("speed_m_s"), "one that did not land has no ground and no speed there")
		}
	}
}

// Names of a plan are data in every format, whatever is in them, and formats stay
// what they are.
func TestHostileNames(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	l.Plan, l.Site = hostile, hostile
	l.Hazard.Crossings[0].Name = hostile
	const said = "</name><script>alert(\"1\")</script>]]>&amp;'\ufffd\ufffd, \r\n=1+1"
	e := requireGPX(t, written(t, WriteGPX, l))
	assert.Equal(t, said, e.children[0].child("name"))
	assert.Equal(t, said, e.all("wpt")[0].child("desc"))
	e = requireKML(t, written(t, WriteKML, l))
	assert.Equal(t, said, e.children[0].child("name"))
	for _, d := range e.all("description") {
		assert.NotContains(t, d.text, "script", "viewers take descriptions for HTML")
	}
	c := requireGeoJSON(t, written(t, WriteGeoJSON, l))
	assert.Equal(t, strings.ReplaceAll(hostile, "\xff", "\ufffd"), c.part("site")[0].Properties["name"])
	assert.NotContains(t, written(t, WriteGeoJSON, l), "<script>", "it may be put into a page")
	assert.NotContains(t, written(t, WriteCSV, l), "script")
}

// Where nothing landed, or not even the release was in the forecast, all formats are
// still what they are, and say what there is to say.
func TestMapsWithoutLandings(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	l.Landing, l.Hazard = nil, nil
	for i := range l.Flown {
		l.Flown[i].End = flight.AboveTop
	}
	l.Path.Points, l.Path.Burst, l.Path.End = l.Path.Points[:50], -1, flight.AboveTop
	assert.Len(t, requireGPX(t, written(t, WriteGPX, l)).all("trkpt"), 50)
	c := requireGeoJSON(t, written(t, WriteGeoJSON, l))
	require.Len(t, c.Features, 2)
	assert.Equal(t, "left the forecast: above the forecast's highest level", c.part("central path")[0].Properties["end"])
	assert.Len(t, requireKML(t, written(t, WriteKML, l)).all("Placemark"), 2)
	assert.Equal(t, 601, strings.Count(written(t, WriteCSV, l), "\n"))

	l.Path, l.Flown = nil, nil
	assert.Empty(t, requireGPX(t, written(t, WriteGPX, l)).all("trk"))
	assert.Len(t, requireGeoJSON(t, written(t, WriteGeoJSON, l)).Features, 1)
	assert.Len(t, requireKML(t, written(t, WriteKML, l)).all("Placemark"), 1)
	assert.Equal(t, 1, strings.Count(written(t, WriteCSV, l), "\n"))
}

// full is a disk that is.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

var errFull = errors.New("no space left")

func TestWhatCannotBeWrittenIsSaid(t *testing.T) {
	l := launchAt(t, geo.Point{Lat: 58.2, Lon: 12.8}, 90e3, 8e3, 1)
	for i, write := range []func(io.Writer, Launch) error{WriteGeoJSON, WriteKML, WriteGPX, WriteCSV} {
		assert.ErrorIs(t, write(full{}, l), errFull, "format %d", i)
	}
}
