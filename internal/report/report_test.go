package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/quantity"
)

func TestPercent(t *testing.T) {
	for _, c := range []struct {
		p    hazard.Probability
		want string
	}{
		{hazard.Probability{Value: 0.214, Low: 0.185, High: 0.2449, Hits: 219, Of: 1024}, "21 % (18 to 24)"},
		{hazard.Probability{Value: 0.0312, Low: 0.02, High: 0.0424, Hits: 32, Of: 1024}, "3.1 % (2.0 to 4.2)"},
		{hazard.Probability{Value: 0.2814, Low: 0.2771, High: 0.2857, Hits: 4610, Of: 16384}, "28.1 % (27.7 to 28.6)"},
		{hazard.Probability{Value: 0.9941, Low: 0.99, High: 0.998, Hits: 1018, Of: 1024}, "99.4 % (99.0 to 99.8)"},
		// Of 1,024, none: the rule of three, 3/1024 = 0.29 %, is under 0.3 %.
		{hazard.Probability{High: 0.002921, Of: 1024}, "under 0.3 %"},
		{hazard.Probability{Value: 1, Low: 1 - 0.002921, High: 1, Hits: 1024, Of: 1024}, "over 99.7 %"},
		{hazard.Probability{High: 0.0000457, Of: 65536}, "under 0.005 %"},
		{hazard.Probability{High: 0.0584, Of: 50}, "under 5.9 %"},
		{hazard.Probability{High: 1}, "an unknown share"},
	} {
		got := strings.ReplaceAll(percent(c.p), "\u00a0", " ")
		assert.Equal(t, c.want, got, "percent(%+v)", c.p)
	}
}

func TestBearing(t *testing.T) {
	for _, c := range []struct {
		degrees float64
		want    string
	}{{0, "360°"}, {359.6, "360°"}, {0.6, "001°"}, {84.5, "085°"}, {180, "180°"}, {-90, "270°"}} {
		assert.Equal(t, c.want, bearing(c.degrees), "bearing(%g)", c.degrees)
	}
}

// answer is a launch with everything in it.
func answer(t *testing.T) Launch {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Stockholm")
	require.NoError(t, err)
	at := time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)
	shape := orb.MultiPolygon{{{{14, 58}, {15, 58}, {15, 59}, {14, 59}, {14, 58}}}}
	share := hazard.Probability{Value: 0.2, Low: 0.15, High: 0.25, Hits: 200, Of: 1000}
	return Launch{
		Plan: "A plan with a name", Site: "Field", Zone: zone, Time: at,
		At: geo.Point{Lat: -58.2, Lon: -13}, Elevation: 95,
		Forecast: Forecast{Centre: 7, Cycle: at.Add(-7 * time.Hour), First: at, Last: at.Add(5 * time.Hour)},
		Weather:  []Reading{{Kind: WindSpeed, Value: 4, Known: true}, {Kind: WindFrom, Value: 246, Known: true}, {Kind: Visibility}},
		Ascent:   Spread{5.2, 0.4}, Burst: Spread{27000, 1500}, Fall: Spread{5, 0.5}, Delay: Spread{300, 600},
		Flights: 1024, Scrambles: 16, Seed: 1, Version: "test", WindError: 1.4, WindErrorGreatest: 1.8,
		Courses: []Course{
			{ensemble.Nominal, hazard.Probability{Value: 0.95, Hits: 973, Of: 1024}},
			{ensemble.EarlyBurst, hazard.Probability{Hits: 31, Of: 1024}},
			{ensemble.Float, hazard.Probability{Hits: 20, Of: 1024}},
		},
		Endings: []Ending{{flight.Landed, share}, {flight.AboveTop, share}},
		Landing: &Landing{
			Distribution: landing.Distribution{
				MostLikely: geo.Point{Lat: 58.3, Lon: 14.2}, Radius95: 21000,
				Regions: []landing.Region{{Share: 0.5, Shape: shape, Area: 1e8}, {Share: 0.8, Shape: shape, Area: 2e8}},
			},
			Distance: 84700, Bearing: 84, Early: at.Add(110 * time.Minute), Middle: at.Add(130 * time.Minute), Late: at.Add(150 * time.Minute),
			Aloft: 7800, Burst: 27000, Speed: 5,
		},
		Hazard: &hazard.Score{
			Value: 20, Low: 15, High: 25, Worst: 100, Greatest: "coming down in water: 20.0 of 20.0 points",
			OffNominal: hazard.Probability{Value: 0.051, Hits: 51, Of: 1000}, OffNominalPoints: 2.5,
			Classes: []hazard.ClassShare{
				{Class: ground.Water, Severity: 1, Landing: share, NotAssessed: hazard.Probability{Of: 1000, High: 0.003}, Points: 20},
				{Class: ground.Forest, Severity: 0.5, Landing: share, NotAssessed: share},
				{Class: ground.BuiltUp, Severity: 0.8, NotAssessed: hazard.Probability{Value: 1, Low: 0.997, High: 1, Hits: 1000, Of: 1000}},
			},
			Crossings: []hazard.Crossing{{Name: "Range", Probability: share, Points: 1}},
			Layers: []hazard.LayerShare{
				{Name: "Lake", Class: ground.Water, Severity: 0.9, Landing: share, Points: 18},
				{Name: "Wood", Class: ground.Forest, Severity: 0.5},
				{Name: "Farms", Landing: share},
			},
			Parcels:      []hazard.ParcelShare{{Owner: "Brook Farm", Layer: "Farms", Landing: share}},
			OtherParcels: 3,
		},
		Warnings: []string{"A warning that is long enough to go over the end of one line and on to the next one of the page."},
		Cautions: Cautions(),
	}
}

func TestTextSaysEverything(t *testing.T) {
	for _, units := range []quantity.System{quantity.SI, quantity.US} {
		var b bytes.Buffer
		require.NoError(t, WriteText(&b, answer(t), units))
		text := b.String()
		flat := strings.Join(strings.Fields(text), " ")
		for _, want := range []string{
			"Wed 22 Mar 2017, 08:00 CET (07:00 UTC) from Field, 58.200° S 13.000° W", // the site's zone, then UTC
			"from 246°", "not in this forecast: visibility",
			"toward 084°", "about 10:10 CET, nine times in ten from 09:50 CET to 10:30 CET",
			"20.0 of 100 (15.0 to 25.0); 100.0 if all ground that no layer covers were at its worst",
			"water 20 % (15 to 25) of landings",
			"forest 20.0 % of landings known to be on it; another 20 % (15 to 25) where no layer says",
			"built-up not assessed: no layer covers any landing",
			"airspace Range crossed by 20 % (15 to 25) of flights",
			"200 of 1000 landed", "left the forecast: above the forecast's highest level",
			"on each axis, something breaking on 51 of 1024 flights (31 burst early, 20 floated)",
			"the 5.1 % of landings after something broke make 2.5 of 20.0 points",
			"let go 5 min ± 10 min late", "16 scrambles of 64, seed 1", "the local aviation authority decides",
		} {
			assert.Contains(t, flat, want)
		}
		for _, line := range strings.Split(text, "\n") {
			assert.LessOrEqual(t, len([]rune(line)), width, "line %q", line)
			assert.Equal(t, strings.TrimRight(line, " "), line, "a line ends in blanks")
			assert.NotRegexp(t, "^ +([NSEW%]|km|m/s|ft|mi|points|UTC|CET)\\b", line, "a quantity is broken")
		}
		assert.NotContains(t, text, "\u00a0")
	}
}

func TestTextWithoutLandings(t *testing.T) {
	l := answer(t)
	l.Landing, l.Hazard = nil, nil
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, l, quantity.SI))
	assert.Contains(t, b.String(), "not one flight landed within the forecast")
	assert.NotContains(t, b.String(), "Hazard")
	assert.NotContains(t, b.String(), "of the flights that landed")
}

// Where flights were lost that stands before what the others did, and a time of
// another day says which.
func TestTextSaysFirstThatFlightsAreMissing(t *testing.T) {
	l := answer(t)
	l.Hazard.NotLanded = hazard.Probability{Hits: 24, Of: 1024}
	l.Landing.Late = l.Time.Add(18 * time.Hour)
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, l, quantity.SI))
	flat := strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, flat, "Comes down only 1000 of 1024 flights are behind what follows")
	assert.Contains(t, flat, "from 09:50 CET to Thu 02:00 CET")
}

// What is written is a FeatureCollection as RFC 7946 has it, section 3, with
// positions in the order longitude, latitude.
func TestGeoJSON(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteGeoJSON(&b, answer(t)))
	var got struct {
		Type     string
		Features []struct {
			Type     string
			Geometry *struct {
				Type        string
				Coordinates json.RawMessage
			}
			Properties map[string]any
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	assert.Equal(t, "FeatureCollection", got.Type)
	require.Len(t, got.Features, 5)
	var parts, kinds []string
	for _, f := range got.Features {
		assert.Equal(t, "Feature", f.Type)
		parts = append(parts, f.Properties["part"].(string)) //nolint:errcheck // a panic fails the test as well
		if f.Geometry != nil {
			kinds = append(kinds, f.Geometry.Type)
		}
	}
	assert.Equal(t, []string{"landing region", "landing region", "most likely landing", "site", "ground and airspace"}, parts)
	assert.Equal(t, []string{"MultiPolygon", "MultiPolygon", "Point", "Point"}, kinds)
	assert.Equal(t, 0.8, got.Features[0].Properties["share"], "the larger region comes first")
	assert.JSONEq(t, "[14.2, 58.3]", string(got.Features[2].Geometry.Coordinates))
	assert.JSONEq(t, "[[[[14,58],[15,58],[15,59],[14,59],[14,58]]]]", string(got.Features[0].Geometry.Coordinates))
	assert.Equal(t, "2017-03-22T09:10:00Z", got.Features[2].Properties["time_p50"])
	assert.Equal(t, 20.0, got.Features[2].Properties["score"])
	met := got.Features[4].Properties
	assert.Equal(t, 20.0, met["score"])
	assert.JSONEq(t, `[{"name":"Range","probability":0.2,"low":0.15,"high":0.25,"hits":200,"of":1000,"points":1}]`, marshal(t, met["airspace"]))
	const chance = `"probability":0.2,"low":0.15,"high":0.25,"hits":200,"of":1000`
	assert.JSONEq(t, `[{"name":"Lake","class":"water","severity":0.9,"points":18,`+chance+`},{"name":"Farms","points":0,`+chance+`}]`, marshal(t, met["layers"]), "those that some flight came down on")
	assert.JSONEq(t, `[{"owner":"Brook Farm","layer":"Farms",`+chance+`}]`, marshal(t, met["owners"]))
	assert.Equal(t, 3.0, met["owners_besides"])
	water := met["classes"].([]any)[0] //nolint:errcheck // a panic fails the test as well
	assert.JSONEq(t, `{"class":"water","severity":1,"probability":0.2,"low":0.15,"high":0.25,"hits":200,"of":1000,"not_assessed":0,"points":20}`, marshal(t, water))
}

func marshal(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}
