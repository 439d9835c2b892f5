package plan_test

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
)

// abcHash is the SHA-256 of "abc", of the examples in FIPS 180-2, B.1.
const abcHash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

// fullSettings says everything that there is to say.
const fullSettings = `listen: 0.0.0.0:7420
gateway: "[::1]:7421"
metrics: localhost:7422
forecasts:
  - name: gfs
    kept: /var/winds
    source: gfs
  - name: fine
    files: [a.grib2, b.grib2]
    above: [c.grib2]
area: {south: 50, north: 65, west: 170, east: -170}
oldest: 18 h
layers: /etc/layers
tls: {certificate: cert.pem, key: key.pem, callers: ca.pem}
tokens:
  - {name: page, scope: read, sha256: ` + abcHash + `}
  - {name: lead, scope: full, sha256: ` + "%064X" + `}
open_to_everyone: true
origins: ["https://club.example"]
waiting: 10
per_caller: 3
flights: 4096
drain: 90 s
traces: http://127.0.0.1:4317
`

func TestReadSettings(t *testing.T) {
	got, err := plan.ReadSettings("s.yaml", fmt.Appendf(nil, fullSettings, 1))
	require.NoError(t, err)
	assert.Equal(t, plan.Settings{
		Listen: "0.0.0.0:7420", Gateway: "[::1]:7421", Metrics: "localhost:7422",
		Forecasts: []plan.KeptForecast{
			{Name: "gfs", Kept: "/var/winds", Source: "gfs"},
			{Name: "fine", Files: []string{"a.grib2", "b.grib2"}, Above: []string{"c.grib2"}},
		},
		Area: geo.Box{South: 50, North: 65, West: 170, East: -170}, Oldest: 18 * time.Hour, Layers: "/etc/layers",
		Certificate: "cert.pem", Key: "key.pem", Callers: "ca.pem",
		Tokens: []plan.AccessToken{
			{Name: "page", Scope: "read", Hash: sha256.Sum256([]byte("abc"))},
			{Name: "lead", Scope: "full", Hash: [sha256.Size]byte{31: 1}},
		},
		OpenToEveryone: true, Origins: []string{"https://club.example"},
		Waiting: 10, PerCaller: 3, Flights: 4096, Drain: 90 * time.Second, Traces: "http://127.0.0.1:4317",
	}, got)
}

// The least that is said; the rest is as README and the schema promise.
func TestReadSettingsDefaults(t *testing.T) {
	got, err := plan.ReadSettings("s.yaml", []byte("forecasts: [{name: x, files: [y]}]\n"))
	require.NoError(t, err)
	assert.Equal(t, plan.Settings{
		Listen: "127.0.0.1:7420", Forecasts: []plan.KeptForecast{{Name: "x", Files: []string{"y"}}},
		Area: geo.Box{South: -90, North: 90, West: -180, East: 180}, Drain: 10 * time.Second,
	}, got)
	got, err = plan.ReadSettings("s.yaml", []byte("forecasts: [{name: x, files: [y]}]\ndrain: 0 s\n"))
	require.NoError(t, err)
	assert.Zero(t, got.Drain, "none is not the default")
}

// Each case changes one text in the full settings; the lines are counted in those.
func TestReadSettingsFaults(t *testing.T) {
	for _, c := range []struct{ name, from, to, want string }{
		{"no such field", "layers: /etc", "layer: /etc", `s.yaml:13: layer: no such field: want `},
		{"a port in words", "listen: 0.0.0.0:7420", "listen: 0.0.0.0:http", `s.yaml:1: listen: "0.0.0.0:http": want HOST:PORT, such as 127.0.0.1:7420`},
		{"no port", "listen: 0.0.0.0:7420", "listen: 0.0.0.0", `s.yaml:1: listen: "0.0.0.0": want HOST:PORT`},
		{"a port too large", "listen: 0.0.0.0:7420", "listen: 0.0.0.0:65536", `s.yaml:1: listen: "0.0.0.0:65536": want HOST:PORT`},
		{"two on one address", "localhost:7422", "0.0.0.0:7420", `s.yaml:3: metrics: "0.0.0.0:7420": want another address than that of listen`},
		{"twice the same name", "name: fine", "name: gfs", `s.yaml:8: forecasts[1].name: "gfs": want a name other than that of forecasts[0]`},
		{"neither files nor kept", "files: [a.grib2, b.grib2]", "files: []", "s.yaml:8: forecasts[1]: neither files nor kept: want one of them"},
		{"files and kept", "source: gfs", "source: gfs\n    files: [x]", "s.yaml:5: forecasts[0]: files and kept: want one of them"},
		{"kept alone", "    source: gfs\n", "", "s.yaml:5: forecasts[0]: kept or source alone: want both"},
		{"south of north", "south: 50", "south: 66", "s.yaml:11: area.south: 66: want less than north, 65"},
		{"beyond the pole", "north: 65", "north: 95", "s.yaml:11: area.north: 95: want -90 to 90"},
		{"a bare age", "18 h", "18", `s.yaml:12: oldest: "18": want a duration with its unit, such as "12 h"`},
		{"too old", "18 h", "241 h", `s.yaml:12: oldest: "241 h": want 1 h to 240 h`},
		{"a key alone", "certificate: cert.pem, ", "", "s.yaml:14: tls.certificate: missing: want "},
		{"a short hash", abcHash, abcHash[1:], "s.yaml:16: tokens[0].sha256: 63 characters: want the 64 hexadecimal digits"},
		{"a hash of fewer octets", abcHash, abcHash[2:], "s.yaml:16: tokens[0].sha256: 62 characters: want the 64 hexadecimal digits"},
		{"no hexadecimal hash", abcHash, "g" + abcHash[1:], "s.yaml:16: tokens[0].sha256: 64 characters: want the 64 hexadecimal digits"},
		{"no hash", abcHash, `""`, `s.yaml:16: tokens[0].sha256: "": want `},
		{"no such scope", "scope: read", "scope: write", `s.yaml:16: tokens[0].scope: "write": want read or full`},
		{"twice the same holder", "name: lead", "name: page", `s.yaml:17: tokens[1].name: "page": want a name other than that of tokens[0]`},
		{"none may wait", "waiting: 10", "waiting: 0", "s.yaml:20: waiting: 0: want 1 to 10000"},
		{"too few flights", "flights: 4096", "flights: 1023", "s.yaml:22: flights: 1023: want "},
		{"a long drain", "90 s", "61 min", `s.yaml:23: drain: "61 min": want 0 min to 60 min`},
		{"a drain with a spread", "90 s", "90 s ± 1 s", `s.yaml:23: drain: "90 s ± 1 s": no spread is taken here`},
		{"no URL", "http://127", "127", `s.yaml:24: traces: "127.0.0.1:4317": want a URL such as http://127.0.0.1:4317`},
		{"no host", "http://127.0.0.1:4317", "http:///v1", `s.yaml:24: traces: "http:///v1": want a URL`},
		{"another scheme", "http://127", "ftp://127", `s.yaml:24: traces: "ftp://127.0.0.1:4317": want a URL`},
	} {
		text := fmt.Sprintf(fullSettings, 1)
		require.Equal(t, 1, strings.Count(text, c.from), c.name)
		_, err := plan.ReadSettings("s.yaml", []byte(strings.Replace(text, c.from, c.to, 1)))
		require.Error(t, err, c.name)
		assert.Contains(t, err.Error(), c.want, c.name)
		assert.NotContains(t, err.Error(), "\n", "%s: one fault, one line", c.name)
		assert.NotContains(t, err.Error(), abcHash[2:], "%s: a hash is not repeated", c.name)
	}
	_, err := plan.ReadSettings("s.yaml", nil)
	require.ErrorContains(t, err, "forecasts")
	_, err = plan.ReadSettings("s.yaml", []byte("forecasts: ["))
	require.ErrorContains(t, err, "s.yaml:1")
	_, err = plan.ReadSettings("s.yaml", []byte("listen: x\nforecasts: [{name: a}]\noldest: 1\n"))
	require.Error(t, err)
	assert.Len(t, strings.Split(err.Error(), "\n"), 3, "all faults at once: %v", err)
}
