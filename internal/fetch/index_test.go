package fetch

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// reference reads a file of the folder that THISTLEDOWN_REFERENCE names.
func reference(t *testing.T, name ...string) []byte {
	t.Helper()
	folder := os.Getenv("THISTLEDOWN_REFERENCE")
	if folder == "" {
		t.Skip("left out: real index files, as THISTLEDOWN_REFERENCE is not set")
	}
	b, err := os.ReadFile(filepath.Join(append([]string{folder}, name...)...))
	require.NoError(t, err)
	return b
}

// What is wanted of real index files is what counts of their lines by grep say.
func TestWantedOfRealIndexes(t *testing.T) {
	august := time.Date(2025, 8, 1, 0, 0, 0, 0, time.UTC)
	for _, test := range []struct {
		file, form string
		cycle      time.Time
		top        float64
		// grep -cE ':(UGRD|VGRD|HGT|TMP):[0-9.]+ mb:', those below 3 mb left out, and so on
		messages, levels int
		octets           int64 // 0: not reckoned by other means
		member           wind.Member
	}{
		// reference/forecast_sources.md of the project's own notes reckoned 120 messages
		// and 96.4 MB for U, V, HGT and TMP at 5 hPa and below.
		{"gfs.t00z.pgrb2.0p25.f007.idx", "idx", august, 5, 120, 30, 96_400_000, wind.Member{}},
		{"gec00.t00z.pgrb2a.0p50.f432.idx", "idx", august, 1, 12 + 12 + 11 + 10, 12, 0, wind.Member{Kind: wind.Control}},
		{"gec00.t00z.pgrb2b.0p50.f003.idx", "idx", august, 1, 19 + 19 + 20 + 21, 21, 0, wind.Member{Kind: wind.Control}},
		{"ecmwf_aifs_single_2025030100_0h.index", "index", time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 0, 52, 13, 37_900_000, wind.Member{}},
	} {
		t.Run(test.file, func(t *testing.T) {
			entries, err := readIndex(test.form, reference(t, "idx", test.file))
			require.NoError(t, err)
			got, err := wanted(entries, test.cycle, test.top)
			require.NoError(t, err)
			levels, messages, octets := map[int64]bool{}, 0, int64(0)
			for _, m := range got {
				for _, i := range m.fields {
					assert.Equal(t, test.member, i.member)
					if i.surface == grib.Isobaric {
						levels[i.value] = true
						messages++
						octets += m.length
					}
				}
			}
			assert.Equal(t, test.messages, messages)
			assert.Len(t, levels, test.levels)
			if test.octets > 0 {
				assert.InEpsilon(t, test.octets, octets, 0.001)
			}
		})
	}
}

// The lengths that follow from a real index are those that the messages of its
// file have, the last to the file's end.
func TestLengthsOfARealPair(t *testing.T) {
	entries, err := readIdx(reference(t, "idx", "gfswave_2023082318_f001.grib2.idx"))
	require.NoError(t, err)
	file := reference(t, "idx", "gfswave_2023082318_f001.grib2")
	require.Len(t, entries, 19)
	for i, e := range entries {
		require.Equal(t, "GRIB", string(file[e.offset:e.offset+4]))
		length := int64(messageLength(file[e.offset:]))
		if i+1 == len(entries) {
			assert.Zero(t, e.length)
			assert.Equal(t, int64(len(file)), e.offset+length)
			continue
		}
		assert.Equal(t, length, e.length, "message %d", i+1)
	}
}

// Lines that look alike are told apart. The lines are of the index of 1 August
// 2025, of fields that a prefix would confuse.
func TestIdxLevels(t *testing.T) {
	for _, test := range []struct {
		level   string
		surface grib.Surface
		value   int64 // thousandths of Pa, m
		ok      bool
	}{
		{"10 mb", grib.Isobaric, 1_000_000, true},
		{"0.4 mb", grib.Isobaric, 40_000, true},
		{"10 m above ground", grib.HeightAboveGround, 10_000, true},
		{"30-0 mb above ground", 0, 0, false},
		{"surface", grib.Ground, 0, true},
		{"180-0 mb above ground", 0, 0, false},
		{"entire atmosphere", grib.Atmosphere, 0, true},
		{"entire atmosphere (considered as a single layer)", 0, 0, false},
		{"mean sea level", 0, 0, false},
		{"PV=2e-06 (Km^2/kg/s) surface", 0, 0, false},
	} {
		surface, value, ok := idxLevel(test.level)
		assert.Equal(t, test.ok, ok, test.level)
		if ok {
			assert.Equal(t, test.surface, surface, test.level)
			assert.Equal(t, test.value, value, test.level)
		}
	}
	for when, want := range map[string]struct {
		s           grib.Statistic
		start, step time.Duration
		ok          bool
	}{
		"anl":                {grib.Instant, 0, 0, true},
		"7 hour fcst":        {grib.Instant, 7 * time.Hour, 7 * time.Hour, true},
		"6-7 hour ave fcst":  {grib.Average, 6 * time.Hour, 7 * time.Hour, true},
		"0-7 hour acc fcst":  {grib.Accumulation, 0, 7 * time.Hour, true},
		"0-16 day acc fcst":  {grib.Accumulation, 0, 384 * time.Hour, true},
		"7-6 hour ave fcst":  {},
		"6 hour ave fcst":    {},
		"6-7 hour fcst":      {},
		"6-7 hour ave anl":   {},
		"seven hour fcst":    {},
		"-7 hour fcst":       {},
		"999999999 day fcst": {},
	} {
		s, start, step, ok := idxTime(when)
		assert.Equal(t, want.ok, ok, when)
		if ok {
			assert.Equal(t, want.s, s, when)
			assert.Equal(t, [2]time.Duration{want.start, want.step}, [2]time.Duration{start, step}, when)
		}
	}
}

// Two fields of one message share its octet: N.1 and N.2. (The grammar is from
// memory of what wgrib2 prints.)
func TestSubmessages(t *testing.T) {
	entries, err := readIdx([]byte("1.1:0:d=2025080100:UGRD:10 mb:3 hour fcst:\n1.2:0:d=2025080100:VGRD:10 mb:3 hour fcst:\n2:900:d=2025080100:HGT:10 mb:3 hour fcst:\n"))
	require.NoError(t, err)
	got, err := wanted(entries, time.Date(2025, 8, 1, 0, 0, 0, 0, time.UTC), 0)
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, int64(900), got[0].length)
	assert.Len(t, got[0].fields, 2)
	assert.Zero(t, got[1].length)
}

// A message ends where the next in the file begins, not the next in the index.
func TestIdxOutOfOrder(t *testing.T) {
	entries, err := readIdx([]byte("1:0:d=2025080100:UGRD:10 mb:anl:\n2:900:d=2025080100:HGT:10 mb:anl:\n3:400:d=2025080100:VGRD:10 mb:anl:\n"))
	require.NoError(t, err)
	got, err := wanted(entries, time.Date(2025, 8, 1, 0, 0, 0, 0, time.UTC), 0)
	require.NoError(t, err)
	require.Len(t, got, 3)
	assert.Equal(t, [3]int64{400, 500, 0}, [3]int64{got[0].length, got[1].length, got[2].length})
	assert.Equal(t, [3]int64{0, 400, 900}, [3]int64{got[0].first, got[1].first, got[2].first})
}

// An index that is none is refused with the line and what was wanted.
func TestIndexFaults(t *testing.T) {
	for _, test := range []struct{ form, text, says string }{
		{"idx", "", "web page or empty"},
		{"idx", "\n <HTML>", "web page or empty"},
		{"idx", "1:0:d=2025080100:UGRD", "want number, octet, cycle"},
		{"idx", "1:-4:d=2025080100:UGRD:10 mb:anl:", `octet "-4"`},
		{"idx", "1:0:2025080100:UGRD:10 mb:anl:", `cycle "2025080100"`},
		{"idx", "1:0:d=2025080100:UGRD:10 mb:anl:\n2:999999999999:d=2025080100:VGRD:10 mb:anl:", "a message of 999999999999 octets"},
		{"index", `{"date":"20250301","time":"0000"}`, "_offset and _length"},
		{"index", `{"date":"20250301","time":"0000","_offset":-1,"_length":5}`, "_offset and _length"},
		{"index", `{"date":"2025","time":"0000","_offset":1,"_length":5}`, `date "2025"`},
		{"index", `1:0:d=2025080100:UGRD:10 mb:anl:`, "line 1"},
	} {
		_, err := readIndex(test.form, []byte(test.text))
		assert.ErrorContains(t, err, test.says, "%s %s", test.form, test.text)
	}
}

// FuzzIndex reads whatever is given: no panic, and lengths within the limit.
func FuzzIndex(f *testing.F) {
	f.Add(false, []byte("4:335736:d=2025080100:UGRD:10 mb:432 hour fcst:ENS=low-res ctl\n5:400000:d=2025080100:VGRD:10 mb:432 hour fcst:ENS=+3"))
	f.Add(true, []byte(`{"date":"20250301","time":"0000","type":"pf","number":"3","step":"0","levtype":"pl","levelist":"100","param":"u","_offset":1,"_length":5}`))
	f.Fuzz(func(t *testing.T, js bool, text []byte) {
		form := "idx"
		if js {
			form = "index"
		}
		entries, err := readIndex(form, text)
		if err != nil || len(entries) == 0 {
			return
		}
		messages, err := wanted(entries, entries[0].cycle, 0)
		if err != nil {
			return
		}
		end := int64(0)
		for _, m := range messages {
			if m.first < end || m.length < 0 || m.length > maxMessage || len(m.fields) == 0 {
				t.Fatalf("wanted: message at %d of %d octets behind %d", m.first, m.length, end)
			}
			end = m.first + m.length
		}
	})
}
