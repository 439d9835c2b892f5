package fetch

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// memberFile makes a member of an ensemble of a real file: its isobaric fields, of
// the levels that are picked, u stronger by one metre a second for each member.
// size 0 makes a single forecast.
func memberFile(t *testing.T, file []byte, number, size int, pick func(hPa float64) bool) []byte {
	t.Helper()
	var out []byte
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		p := f.Parameter()
		if f.Level.Surface != grib.Isobaric || !pick(f.Level.Value/100) ||
			p != grib.EastwardWind && p != grib.NorthwardWind && p != grib.GeopotentialHeight && p != grib.Temperature {
			continue
		}
		values, err := f.Values(nil)
		require.NoError(t, err)
		if p == grib.EastwardWind {
			for i := range values {
				values[i] += float32(number)
			}
		}
		g, ok := f.Grid.LatLon()
		require.True(t, ok)
		h := grib.Header{
			Centre: 7, Process: 4, Reference: f.Reference, Parameter: p, Level: f.Level, Step: f.Step, Statistic: grib.Instant,
			NX: g.NX, NY: g.NY, South: g.Lat0, West: g.Lon0, DLat: g.DLat, DLon: g.DLon, Precision: 0.01,
		}
		if size > 0 {
			h.Ensemble.Size, h.Ensemble.Kind, h.Ensemble.Number = uint8(size), 3, uint8(number)
			if number == 0 {
				h.Ensemble.Kind = 1
			}
		}
		out, err = h.Append(out, values)
		require.NoError(t, err)
	}
	return out
}

// ensembleEast is the wind toward east of each member at a place, in the order of
// their numbers.
func ensembleEast(t *testing.T, file string, wantMembers int) []float64 {
	t.Helper()
	s, err := archive.Open(t.Context(), []string{file}, archive.Choice{})
	require.NoError(t, err)
	defer s.Close()
	fields, _, err := s.Fields(t.Context(), wind.Part{Box: southSweden})
	require.NoError(t, err)
	require.Len(t, fields, wantMembers)
	var east []float64
	for _, f := range fields {
		at, out := f.At(geo.Point{Lat: 58.2, Lon: 12.8}, atmos.Geometric(9000), 6*3600)
		require.Equal(t, wind.Inside, out)
		east = append(east, at.East)
	}
	return east
}

// steppedUp tells that each member's wind is one metre a second above the one before.
func steppedUp(t *testing.T, east []float64) {
	t.Helper()
	for i := range east {
		// Half a hundredth from packing, twice, and the cube's 0.05 m/s at most.
		assert.InDelta(t, east[0]+float64(i), east[i], 0.12, "member %d", i)
	}
}

// The layout of the GEFS: levels in two files for each of the members.
func TestPullOfTwoFilesForAMember(t *testing.T) {
	s := newSite(t)
	a := func(hPa float64) bool { return hPa == 1000 || hPa == 850 || hPa == 500 || hPa == 250 || hPa == 10 }
	b := func(hPa float64) bool { return !a(hPa) }
	for step, file := range realFiles(t) {
		for n, name := range []string{"c00", "p01", "p02", "p03"} {
			s.put(t, fmt.Sprintf("/gefs.20170322/00/atmos/pgrb2ap5/ge%s.t00z.pgrb2a.0p50.f%03d", name, step), memberFile(t, file, n, 4, a))
			s.put(t, fmt.Sprintf("/gefs.20170322/00/atmos/pgrb2bp5/ge%s.t00z.pgrb2b.0p50.f%03d", name, step), memberFile(t, file, n, 4, b))
		}
	}
	// The built-in source, with the steps and members that there are here.
	text := strings.NewReplacer("p01-p30", "p01-p03", "to: 240, every: 3", "to: 12, every: 6", "from: 246, to: 384", "from: 0, to: 12").Replace(BuiltInText())
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	o.Source = "gefs"
	got, err := c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.NoError(t, err)
	assert.Equal(t, []string{wind.NoTerrain}, got.Holding.Warnings)
	assert.Len(t, got.Holding.Members, 4)
	for _, hPa := range []float64{1000, 975, 10, 7} { // of either file
		assert.Contains(t, got.Holding.Levels, hPa*100)
	}
	assert.NotContains(t, got.Holding.Levels, 200.0, "above the top of 3 hPa")
	steppedUp(t, ensembleEast(t, got.Link, 4))

	// Of two members only two are fetched.
	o.Folder, o.Members = t.TempDir(), 2
	before := s.asked("gep02.t00z.pgrb2a.0p50.f006")
	got, err = c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.NoError(t, err)
	assert.Len(t, got.Holding.Members, 2)
	assert.Equal(t, before, s.asked("gep02.t00z.pgrb2a.0p50.f006"))

	// One file of one member is missing at one step: the cycle is not complete.
	delete(s.files, "/gefs.20170322/00/atmos/pgrb2bp5/gep02.t00z.pgrb2b.0p50.f006.idx")
	o.Folder, o.Members = t.TempDir(), 0
	_, err = c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.ErrorContains(t, err, "gep02.t00z.pgrb2b.0p50.f006.idx")
}

// jsonIndexOf writes a .index for a file.
func jsonIndexOf(t *testing.T, file []byte) []byte {
	t.Helper()
	names := map[grib.Parameter]string{grib.EastwardWind: "u", grib.NorthwardWind: "v", grib.Temperature: "t", grib.GeopotentialHeight: "gh"}
	var out bytes.Buffer
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		line := map[string]any{
			"date": f.Reference.Format("20060102"), "time": f.Reference.Format("1504"), "type": "fc", "step": fmt.Sprint(f.Step.Hours()),
			"levtype": "pl", "levelist": fmt.Sprint(f.Level.Value / 100), "param": names[f.Parameter()],
			"_offset": f.Offset, "_length": messageLength(file[f.Offset:]),
		}
		if m := wind.MemberOf(f); m.Kind == wind.Perturbed {
			line["type"], line["number"] = "pf", fmt.Sprint(m.Number)
		}
		b, err := json.Marshal(line)
		require.NoError(t, err)
		out.Write(append(b, '\n'))
	}
	return out.Bytes()
}

// The layout of the ECMWF's open data since May 2026: 50 members in one file, here
// three, and the control in that of the single forecast.
func TestPullOfAControlElsewhere(t *testing.T) {
	s := newSite(t)
	all := func(float64) bool { return true }
	for step, file := range realFiles(t) {
		single := memberFile(t, file, 0, 0, all)
		var members []byte
		for n := 3; n >= 1; n-- {
			members = append(members, memberFile(t, file, n, 3, all)...)
		}
		for path, content := range map[string][]byte{
			fmt.Sprintf("/20170322/00z/ifs/0p25/oper/20170322000000-%dh-oper-fc", step): single,
			fmt.Sprintf("/20170322/00z/ifs/0p25/enfo/20170322000000-%dh-enfo-ef", step): members,
		} {
			s.files[path+".grib2"], s.files[path+".index"] = content, jsonIndexOf(t, content)
		}
	}
	text := strings.NewReplacer("numbers: 50", "numbers: 3", "to: 144, every: 3", "to: 12, every: 6", "from: 150, to: 360", "from: 0, to: 12").Replace(BuiltInText())
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	o.Source = "ecmwf-ens"
	got, err := c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.NoError(t, err)
	require.Len(t, got.Holding.Members, 4)
	assert.Equal(t, wind.Control, got.Holding.Members[0].Kind)
	assert.Equal(t, []string{wind.NoTerrain}, got.Holding.Warnings, "the control is tagged as one, and need not be guessed")
	steppedUp(t, ensembleEast(t, got.Link, 4))

	o.Folder, o.Source = t.TempDir(), "ecmwf"
	got, err = c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.NoError(t, err)
	assert.Equal(t, []wind.Member{{}}, got.Holding.Members)
}

// Octets that curl brings by the ranges of a real index are whole messages.
func TestRangesAsCurlSeesThem(t *testing.T) {
	if _, err := exec.LookPath("curl"); err != nil {
		t.Skip("left out: the check against curl, which is not there")
	}
	s := newSite(t)
	file := reference(t, "idx", "gfswave_2023082318_f001.grib2")
	s.files["/wave"] = file
	entries, err := readIdx(reference(t, "idx", "gfswave_2023082318_f001.grib2.idx"))
	require.NoError(t, err)
	r := &remote{address: s.URL + "/wave"}
	c, _ := still(march)
	w := &web{c: c, pace: func(string) int { return 6000 }}
	for _, e := range entries[:len(entries)-1] {
		ours, err := w.slice(t.Context(), r, e.offset, int(e.length))
		require.NoError(t, err)
		theirs, err := exec.Command("curl", "-s", "-r", fmt.Sprintf("%d-%d", e.offset, e.offset+e.length-1), s.URL+"/wave").Output()
		require.NoError(t, err)
		require.Equal(t, theirs, ours)
		require.Equal(t, "GRIB", string(ours[:4]))
		require.Equal(t, "7777", string(ours[len(ours)-4:]))
	}
}

// The built-in sources are in order, and their steps are those that were seen:
// 209 of the GFS, 0 to 384 h (reference: its published files of 2025).
func TestBuiltIn(t *testing.T) {
	s, err := BuiltIn()
	require.NoError(t, err)
	assert.Equal(t, []string{"gfs", "gfs-cut", "gefs", "ecmwf", "ecmwf-ens"}, s.Winds())
	gfs, err := s.wind("gfs")
	require.NoError(t, err)
	assert.Len(t, gfs.steps(march.Truncate(6*time.Hour)), 209)
	gefs, err := s.wind("gefs")
	require.NoError(t, err)
	names, err := gefs.Files[0].members()
	require.NoError(t, err)
	assert.Len(t, names, 31)
	assert.Equal(t, "gefs.20250801/00/atmos/pgrb2bp5/gep07.t00z.pgrb2b.0p50.f003",
		fill(gefs.Files[1].Path, time.Date(2025, 8, 1, 0, 0, 0, 0, time.UTC), 3, names[7]))
	ecmwf, err := s.wind("ecmwf")
	require.NoError(t, err)
	assert.Len(t, ecmwf.steps(time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)), 49)
	assert.Equal(t, time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), gfs.cycleAt(march))
}

// A file of sources that cannot serve is refused with all that is wrong with it.
func TestSourcesFaults(t *testing.T) {
	for _, test := range []struct{ text, says string }{
		{"winds: [{name: GFS}]", `name: want small letters`},
		{"winds: [{name: a, roots: [ftp://x.example.org]}]", `root "ftp://x.example.org"`},
		{"winds: [{name: a, parallel: 99}]", "parallel 99: want 1 to 16"},
		{"winds: [{name: a, index: xml}]", `index "xml"`},
		{"winds: [{name: a, steps: [{from: 3, to: 1, every: 0}]}]", "steps from 3 to 1 by 0"},
		{"winds: [{name: a, files: [{path: '{YYYY}/{HH}/{FFF}'}]}]", "{YYYY}: want"},
		{"winds: [{name: a, files: [{path: '{HH}/{FFF}/{MEM}'}]}]", "want {MEM} in it if there are members"},
		{"winds: [{name: a, files: [{path: '{HH}/{FFF}/{MEM}', members: [p9-p01]}]}]", "p01-p30"},
		{"winds: [{name: a, files: [{path: '{HH}/{FFF}/{MEM}', members: [../x]}]}]", `member "../x"`},
		{"winds: [{nome: a}]", "nome"},
		{"ground: [{name: a, degrees: 0, path: x}]", "degrees 0: want 1 to 30"},
		{"ground: [{name: a, degrees: 1, legend: mine, path: x}]", `legend "mine"`},
	} {
		_, err := Sources{}.With([]byte(test.text))
		assert.ErrorContains(t, err, test.says, test.text)
	}
}
