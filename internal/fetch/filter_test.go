package fetch

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// filtering is a site that publishes the real forecast and cuts it, too: it sends the
// fields of a file that have one of the parameters and one of the levels asked for, on the
// nodes within the box asked for. edit may change an answer.
func filtering(t *testing.T, edit func(step, before int, body []byte) (status int, changed []byte)) *site {
	s := realSite(t)
	s.fault = func(w http.ResponseWriter, r *http.Request, before int) bool {
		if r.URL.Path != "/cgi-bin/cut.pl" {
			if r.Header.Get("Range") != "" {
				http.Error(w, "no ranges here", http.StatusForbidden)
				return true
			}
			return false
		}
		q := r.URL.Query()
		var step int
		if _, err := fmt.Sscanf(q.Get("file"), "gfs.t00z.pgrb2.0p25.f%d", &step); err != nil || q.Get("dir") != "/gfs.20170322/00/atmos" {
			http.NotFound(w, r)
			return true
		}
		status, body := edit(step, before, cutTo(t, realFiles(t)[step], q))
		w.Header().Set("Content-Length", strconv.Itoa(len(body)))
		w.WriteHeader(status)
		_, _ = w.Write(body)
		return true
	}
	return s
}

// cutTo is what a filter sends of a file.
func cutTo(t *testing.T, file []byte, q url.Values) []byte {
	number := func(name string) float64 {
		v, err := strconv.ParseFloat(q.Get(name), 64)
		require.NoError(t, err, name)
		return v
	}
	north, south, west, east := number("toplat"), number("bottomlat"), number("leftlon"), number("rightlon")
	var out []byte
	var unpack grib.Unpacker
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		level := map[grib.Surface]string{
			grib.Isobaric: fmt.Sprintf("%g_mb", f.Level.Value/100), grib.Ground: "surface",
			grib.HeightAboveGround: fmt.Sprintf("%g_m_above_ground", f.Level.Value), grib.Atmosphere: "entire_atmosphere",
		}[f.Level.Surface]
		if f.Level.Surface2 != grib.NoSurface || !q.Has("var_"+f.Parameter().String()) || !q.Has("lev_"+level) {
			continue
		}
		values, err := unpack.Values(f, nil)
		require.NoError(t, err)
		g, ok := f.Grid.LatLon()
		require.True(t, ok)
		var kept []float32
		h := grib.Header{
			Centre: f.Centre, Reference: f.Reference, Process: 2, Parameter: f.Parameter(), Level: f.Level, Statistic: f.Statistic,
			Step: f.Step, StepStart: f.StepStart, DLat: g.DLat, DLon: g.DLon, Precision: 1e-4,
		}
		for j := range g.NY {
			if lat := g.Lat0 + float64(j)*g.DLat; lat < south || lat > north {
				continue
			} else if h.NY++; h.NY == 1 {
				h.South = lat
			}
			h.NX = 0
			for lon := g.DLon * float64(int(west/g.DLon)-1); lon <= east; lon += g.DLon {
				if lon < west {
					continue
				}
				if h.NX++; h.NX == 1 {
					h.West = geo.WrapLon(lon)
				}
				i := int((lon-g.Lon0)/g.DLon+float64(2*g.NX)+0.5) % g.NX
				kept = append(kept, values[j*g.NX+i])
			}
		}
		out, err = h.Append(out, kept)
		require.NoError(t, err)
	}
	return out
}

func filterSources(t *testing.T, s *site) Sources {
	text := strings.NewReplacer(
		"https://forecasts.example.org", s.URL,
		`f{FFF}"}`, `f{FFF}", filter: "`+s.URL+`/cgi-bin/cut.pl?dir=%2Fgfs.{YYYYMMDD}%2F{HH}%2Fatmos&file=gfs.t{HH}z.pgrb2.0p25.f{FFF}{FIELDS}&toplat={NORTH}&bottomlat={SOUTH}&leftlon={WEST}&rightlon={EAST}"}`,
	).Replace(small)
	return sourcesOf(t, text)
}

// What a filter cuts flies as the whole files do, and no range is asked for. Its octets are
// those that came.
func TestPullThroughAFilter(t *testing.T) {
	sent := int64(0)
	s := filtering(t, func(_, _ int, body []byte) (int, []byte) {
		sent += int64(len(body)) // one file at a time, see parallel
		return http.StatusOK, body
	})
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	o.Root = ""
	sources := filterSources(t, s)
	sources.winds[0].Parallel = 1
	var last Progress
	got, err := c.Pull(t.Context(), sources, o, func(p Progress) { last = p })
	require.NoError(t, err)
	assert.Empty(t, got.Holding.Warnings)
	assert.True(t, got.Holding.Terrain)
	assert.Equal(t, sent, got.Octets)
	assert.Equal(t, last.Total, last.Done)
	plain := orderOf(s, t.TempDir())
	whole, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(realSite(t), plain.Folder), nil)
	require.NoError(t, err)
	assert.Equal(t, whole.Holding.Levels, got.Holding.Levels)
	want, have := fieldOf(t, whole.Link), fieldOf(t, got.Link)
	for _, p := range []geo.Point{{Lat: 55, Lon: 8}, {Lat: 58.2, Lon: 12.8}, {Lat: 62, Lon: 20}} {
		for _, at := range []float64{0, 4 * 3600, 11 * 3600} {
			for _, z := range []atmos.Geometric{500, 9000, 31000} {
				a, out := want.At(p, z, at)
				b, out2 := have.At(p, z, at)
				require.Equal(t, wind.Inside, out)
				require.Equal(t, out, out2)
				assert.InDelta(t, a.East, b.East, 0.1) // each cube's own rounding is 0.05 at most
				assert.InDelta(t, a.North, b.North, 0.1)
				assert.InDelta(t, a.Temperature, b.Temperature, 0.1)
			}
		}
	}
}

// A filter that answers with a page, too little or broken off, at first or always.
func TestPullThroughABrokenFilter(t *testing.T) {
	page := []byte("<html>busy</html>")
	for _, c := range []struct {
		name string
		edit func(step, before int, body []byte) (int, []byte)
		want string // "": it gets over it
	}{
		{"a page at first", func(_, before int, body []byte) (int, []byte) {
			if before < 2 {
				return http.StatusOK, page
			}
			return http.StatusOK, body
		}, ""},
		{"busy at first", func(_, before int, body []byte) (int, []byte) {
			if before < 2 {
				return http.StatusServiceUnavailable, page
			}
			return http.StatusOK, body
		}, ""},
		{"always a page", func(int, int, []byte) (int, []byte) { return http.StatusOK, page }, "is a web page or empty: want the data"},
		{"half a message", func(_, _ int, body []byte) (int, []byte) { return http.StatusOK, body[:len(body)-7] }, "that do not end with a message"},
		{"one message short at first", func(_, _ int, body []byte) (int, []byte) {
			if n := messageLength(body); n < uint64(len(body)) {
				body = body[n:]
			}
			return http.StatusOK, body
		}, ""},
		{"another message instead of one", func(_, _ int, body []byte) (int, []byte) {
			other := realFiles(t)[0]
			return http.StatusOK, append(bytes.Clone(body[messageLength(body):]), other[:messageLength(other)]...)
		}, "is not in what the filter sent"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := filtering(t, c.edit)
			client, _ := still(march)
			o := orderOf(s, t.TempDir())
			o.Root = ""
			_, err := client.Pull(t.Context(), filterSources(t, s), o, nil)
			if c.want == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
			kept, err := Kept(o.Folder)
			require.NoError(t, err)
			assert.Empty(t, kept)
		})
	}
}

// What is asked of a filter across the date line and at a pole.
func TestFilterAddress(t *testing.T) {
	want := []message{
		{fields: []ident{{parameter: grib.EastwardWind, surface: grib.Isobaric, value: 40 * 1000}, {parameter: grib.NorthwardWind, surface: grib.Isobaric, value: 40 * 1000}}},
		{fields: []ident{{parameter: grib.EastwardWind, surface: grib.HeightAboveGround, value: 10 * 1000}}},
		{fields: []ident{{parameter: grib.GeopotentialHeight, surface: grib.Ground}}},
		{fields: []ident{{parameter: grib.CloudCover, surface: grib.Atmosphere}}},
	}
	const fields = "&lev_0.4_mb=on&lev_10_m_above_ground=on&lev_entire_atmosphere=on&lev_surface=on&var_HGT=on&var_TCDC=on&var_UGRD=on&var_VGRD=on"
	got := filterAddress("?a{FIELDS}&{NORTH}&{SOUTH}&{WEST}&{EAST}", geo.Box{South: 70, North: 89, West: 175, East: -175}, want)
	assert.Equal(t, "?a"+fields+"&90&67.5&172.5&187.5", got)
	_, err := Sources{}.With([]byte(strings.Replace(small, `f{FFF}"}`, `f{FFF}", filter: "ftp://x/{FIELDS}{NORTH}{SOUTH}{WEST}{UP}"}`, 1)))
	require.ErrorContains(t, err, "want https:// or http://")
	require.ErrorContains(t, err, "want {EAST} in it")
	require.ErrorContains(t, err, "{UP}: want one of {FIELDS}")
}
