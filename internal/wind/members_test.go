package wind_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// as is the real fields of one step, tagged as a member's. drop says which of
// them are left out.
func as(t *testing.T, b *fields, step int, m grib.Member, drop func(*grib.Field) bool) {
	t.Helper()
	for _, f := range build(t, b.box, realwind.Files(t)[step:step+1], every).kept {
		if drop == nil || !drop(f) {
			f.Member = m
			b.Add(f)
		}
	}
}

func member(n int) grib.Member { return grib.Member{Kind: grib.Positive, Number: n} }

func heights(f *grib.Field) bool { return f.Parameter() == grib.GeopotentialHeight }

func noHeights(f *grib.Field) bool { return !heights(f) }

// Who belongs to an ensemble, whatever the fields are tagged as.
func TestMembers(t *testing.T) {
	control, single := grib.Member{Kind: grib.ControlLow}, grib.Member{}
	for _, c := range []struct {
		name    string
		fill    func(*fields)
		members []string
		lacks   []string
	}{
		{"in any order", func(b *fields) {
			as(t, b, 1, member(2), nil)
			as(t, b, 1, control, nil)
			as(t, b, 1, member(1), nil)
		}, []string{"control", "member 1", "member 2"}, nil},
		{"signs are members apart", func(b *fields) {
			as(t, b, 1, member(1), nil)
			as(t, b, 1, grib.Member{Kind: grib.Negative, Number: 1}, nil)
		}, []string{"member 1, negative", "member 1"}, nil},
		{"a single forecast as the control", func(b *fields) {
			as(t, b, 1, single, nil)
			as(t, b, 1, member(1), nil)
		}, []string{"control", "member 1"}, []string{"Taken as the ensemble's control: fields tagged as a single forecast."}},
		{"a single forecast beside a control", func(b *fields) {
			as(t, b, 1, single, nil)
			as(t, b, 1, control, nil)
		}, []string{"control"}, []string{"Left out: a single forecast beside an ensemble with a control of its own."}},
		{"heights tagged as another kind", func(b *fields) {
			as(t, b, 1, member(3), heights)
			as(t, b, 1, grib.Member{Kind: grib.Negative, Number: 3}, noHeights)
		}, []string{"member 3"}, []string{
			"Fields tagged as member 3, negative and as member 3 are taken as one member, member 3, since neither has winds and heights alone.",
		}},
		{"terrain tagged as single", func(b *fields) {
			as(t, b, 1, member(1), func(f *grib.Field) bool { return heights(f) && f.Level.Surface == grib.Ground })
			as(t, b, 1, single, func(f *grib.Field) bool { return !heights(f) || f.Level.Surface != grib.Ground })
		}, []string{"member 1"}, []string{"Fields tagged as a single forecast are taken for every member that lacks them."}},
		{"one that lacks a level", func(b *fields) {
			as(t, b, 1, member(1), nil)
			as(t, b, 1, member(2), nil)
			as(t, b, 1, member(3), func(f *grib.Field) bool { return isobaric(f, grib.EastwardWind, 50000) })
		}, []string{"member 1", "member 2"}, []string{"Left out, for want of a level that most have: member 3."}},
		{"one that lacks a step", func(b *fields) {
			for step := range 2 {
				as(t, b, step, member(1), nil)
				as(t, b, step, member(2), nil)
			}
			as(t, b, 0, member(3), nil)
		}, []string{"member 1", "member 2"}, []string{"Left out, for want of a step that most have: member 3."}},
		{"a step that only one has", func(b *fields) {
			for n := range 3 {
				as(t, b, 0, member(n+1), nil)
			}
			as(t, b, 1, member(2), nil)
		}, []string{"member 1", "member 2", "member 3"}, []string{"Not used, since most members lack them: the steps 6 h."}},
	} {
		b := &fields{box: europe()}
		c.fill(b)
		forecasts, fetch, err := b.index()
		require.NoError(t, err, c.name)
		require.Len(t, forecasts, 1, c.name)
		contents, err := forecasts[0].Contents()
		require.NoError(t, err, c.name)
		var members []string
		for _, m := range contents.Members {
			members = append(members, m.String())
		}
		assert.Equal(t, c.members, members, c.name)
		assert.Equal(t, c.lacks, contents.Lacks, c.name)
		built, _, err := forecasts[0].Fields(wind.Part{Box: b.box}, fetch)
		require.NoError(t, err, c.name)
		require.Len(t, built, len(members), c.name)
		for i, f := range built {
			assert.Equal(t, members[i], f.Member().String(), c.name)
			assert.NotNil(t, f.Terrain(), c.name)
		}
	}
}

// Each member has its own winds: those of another step stand in for them here.
func TestMembersHaveTheirOwnWinds(t *testing.T) {
	b := &fields{box: europe()}
	as(t, b, 0, member(1), nil)
	as(t, b, 2, member(2), nil)
	for _, f := range b.kept {
		f.Step, f.StepStart, f.Valid = 0, 0, f.Reference
	}
	members, _, err := b.Members()
	require.NoError(t, err)
	at := geo.Point{Lat: 50, Lon: 10}
	whole := realwind.Field(t)
	for i, seconds := range []float64{0, 12 * 3600} {
		got, out := members[i].At(at, 9000, 0)
		require.Equal(t, wind.Inside, out)
		want, _ := whole.At(at, 9000, seconds)
		assert.Equal(t, want, got)
	}
}

// A part in time has the steps around it and no others, and the same air.
func TestPartInTime(t *testing.T) {
	whole := realwind.Field(t)
	b := build(t, europe(), realwind.Files(t), every)
	forecasts, fetch, err := b.index()
	require.NoError(t, err)
	hour := func(h float64) time.Time { return whole.Cycle().Add(time.Duration(h * float64(time.Hour))) }
	for _, c := range []struct {
		from, to    time.Time
		start, last time.Time
		steps       int
	}{
		{hour(7), hour(9), hour(6), hour(12), 2},
		{hour(6), hour(12), hour(6), hour(12), 2},
		{hour(6), hour(6), hour(6), hour(6), 1},
		{hour(1), hour(7), hour(0), hour(12), 3},
		{hour(0.5), hour(6), hour(0), hour(6), 2},
		{time.Time{}, hour(5), hour(0), hour(6), 2},
		{hour(5), time.Time{}, hour(0), hour(12), 3},
		{hour(-9), hour(-5), hour(0), hour(0), 1},
		{hour(20), hour(25), hour(12), hour(12), 1},
	} {
		got, _, err := forecasts[0].Fields(wind.Part{Box: europe(), From: c.from, To: c.to}, fetch)
		require.NoError(t, err)
		f := got[0]
		name := c.from.Format(time.RFC3339) + " to " + c.to.Format(time.RFC3339)
		assert.Equal(t, c.start, f.Start(), name)
		assert.Equal(t, c.last, f.End(), name)
		assert.Equal(t, c.steps, f.Steps(), name)
		first, last := f.Covers()
		assert.Equal(t, [2]time.Time{hour(0), hour(12)}, [2]time.Time{first, last}, name)
		at := geo.Point{Lat: 51.25, Lon: 8.125} // which both grids count without rounding
		for t0 := c.start; !t0.After(c.last); t0 = t0.Add(time.Hour) {
			g, out := f.At(at, 12345, t0.Sub(f.Start()).Seconds())
			require.Equal(t, wind.Inside, out, name)
			w, _ := whole.At(at, 12345, t0.Sub(whole.Start()).Seconds())
			assert.Equal(t, w, g, name)
		}
	}
}

// asGeopotential is a field of height written again as geopotential, m²/s²:
// standard gravity, 9.80665 m/s², times as much.
func asGeopotential(t *testing.T, f *grib.Field) *grib.Field {
	t.Helper()
	values, err := f.Values(nil)
	require.NoError(t, err)
	for k := range values {
		values[k] *= 9.80665
	}
	g := f.Grid
	message, err := grib.Header{
		Centre: f.Centre, Process: 255, Reference: f.Reference, Parameter: grib.Geopotential, Level: f.Level, Step: f.Step, Statistic: grib.Instant,
		NX: g.NX, NY: g.NY, South: g.Lat0, West: g.Lon0, DLat: g.DLat, DLon: g.DLon, Precision: 0.01,
	}.Append(nil, values)
	require.NoError(t, err)
	for written, err := range grib.Scan(bytes.NewReader(message), int64(len(message))) {
		require.NoError(t, err)
		require.Equal(t, grib.Geopotential, written.Parameter())
		written.Subcentre, written.Process = f.Subcentre, f.Process
		return written
	}
	return nil
}

// Geopotential stands in for geopotential height where there is no other: of
// air and of the ground.
func TestGeopotentialForHeight(t *testing.T) {
	b := build(t, europe(), realwind.Files(t)[:1], every)
	want, _ := fieldOf(t, b)
	instead := &fields{box: b.box}
	for _, f := range b.kept {
		if heights(f) && wind.Wanted(f) {
			f = asGeopotential(t, f)
		}
		instead.Add(f)
	}
	got, warnings := fieldOf(t, instead)
	assert.Empty(t, warnings)
	at := geo.Point{Lat: 50, Lon: 10}
	for z := atmos.Geometric(1000); z < 40000; z += 1000 {
		w, out := want.At(at, z, 0)
		require.Equal(t, wind.Inside, out)
		g, out := got.At(at, z, 0)
		require.Equal(t, wind.Inside, out)
		assert.InDelta(t, w.East, g.East, 0.001, "at %g m", float64(z))
		assert.InEpsilon(t, w.Pressure, g.Pressure, 1e-5, "at %g m", float64(z))
	}
	for k, z := range want.Terrain() {
		assert.InDelta(t, z, got.Terrain()[k], 0.01)
	}
	for _, f := range b.kept { // where both are there, the height is taken
		if heights(f) {
			instead.Add(f)
		}
	}
	got, _ = fieldOf(t, instead)
	assert.Equal(t, want, got)
}

// Heights that no weather has are refused: here geopotentials that are tagged as
// heights, nearly ten times too great.
func TestHeightsThatNoWeatherHas(t *testing.T) {
	b := &fields{box: europe()}
	for _, f := range build(t, b.box, realwind.Files(t)[:1], every).kept {
		if isobaric(f, grib.GeopotentialHeight, 1000) {
			f = asGeopotential(t, f)
			f.Number = 5
			require.Equal(t, grib.GeopotentialHeight, f.Parameter())
		}
		b.Add(f)
	}
	_, _, err := b.Members()
	assert.ErrorContains(t, err, "HGT at 1000 Pa")
	assert.ErrorContains(t, err, "the file is damaged")
}

// What belongs together may be tagged in three ways; nothing of it is lost.
func TestThreeTagsOfOneMember(t *testing.T) {
	b := &fields{box: europe()}
	for _, f := range build(t, b.box, realwind.Files(t)[:1], every).kept {
		f.Member = member(1)
		switch f.Parameter() {
		case grib.GeopotentialHeight:
			f.Member.Kind = grib.ControlLow
		case grib.Temperature:
			f.Member.Kind = grib.Negative
		}
		b.Add(f)
	}
	members, warnings, err := b.Members()
	require.NoError(t, err)
	require.Len(t, members, 1)
	assert.Len(t, warnings, 2)
	whole := realwind.Field(t)
	at := geo.Point{Lat: 50, Lon: 10}
	got, out := members[0].At(at, 9000, 0)
	require.Equal(t, wind.Inside, out)
	want, _ := whole.At(at, 9000, 0)
	assert.Equal(t, want, got)
}

// Files of two models mixed, and steps that are missing, are said.
func TestMixedAndMissing(t *testing.T) {
	b := build(t, europe(), realwind.Files(t)[:1], every)
	for _, f := range b.kept {
		if f.Level.Surface == grib.Isobaric && f.Level.Value < 10000 {
			f.Process, f.Subcentre = 11, 2
		}
	}
	_, warnings := fieldOf(t, b)
	require.Len(t, warnings, 1)
	assert.Contains(t, warnings[0], "of different generating processes (")

	b = build(t, europe(), realwind.Files(t), func(f *grib.Field) bool { return f.Step.Hours() != 6 || !heights(f) })
	_, warnings = fieldOf(t, b)
	assert.Contains(t, warnings, "Not used, since no level has wind and height there: the steps 6 h.")

	b = &fields{box: europe()}
	for i, hours := range []int{0, 9, 12} {
		for _, f := range build(t, b.box, realwind.Files(t)[i:i+1], every).kept {
			f.Step = time.Duration(hours) * time.Hour
			f.StepStart = f.Step
			b.Add(f)
		}
	}
	_, warnings = fieldOf(t, b)
	assert.Contains(t, warnings, "A step seems to be missing, since later ones are closer together, between 0 and 9 h: winds are interpolated across.")
}

// What is no operational forecast, or tagged in two ways at once, is said.
func TestTagsThatAreDoubtful(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*grib.Field)
		says   string
	}{
		{"no centre", func(f *grib.Field) { f.Centre = 65535 }, "names no centre that issued it: it may be invented"},
		{"re-analysis", func(f *grib.Field) { f.Status = 3 }, "a re-analysis, of weather that is past"},
		{"research", func(f *grib.Field) { f.Status = 2 }, "a test or research product"},
		{"data of a perturbed member in a single forecast", func(f *grib.Field) { f.DataType = 4 }, "tagged in two ways, such as "},
	} {
		b := build(t, europe(), realwind.Files(t)[:1], every)
		for _, f := range b.kept {
			c.change(f)
		}
		_, warnings := fieldOf(t, b)
		require.Len(t, warnings, 1, c.name)
		assert.Contains(t, warnings[0], c.says, c.name)
	}
}
