package nightly

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/quantity"
)

const fullList = `folder: public
history: /var/h.db
forecast: {source: gefs, hours: 120, members: 5, folder: winds, keep: 5GB}
keep: {cycles: 10, days: 20}
webhook: {url: "https://club.example.org/wind", secret_file: hook.key}
units: us
sites:
  - {name: long-meadow, plan: meadow.yaml}
  - name: north
    plan: /plans/north.yaml
`

// Names of files are as seen from the list's own folder.
func TestRead(t *testing.T) {
	s, err := Read("lists/sites.yaml", []byte(fullList))
	require.NoError(t, err)
	assert.Equal(t, Sites{
		Folder: "lists/public", History: "/var/h.db",
		Forecast: Forecast{Source: "gefs", Hours: 120, Members: 5, Folder: "lists/winds", Keep: "5GB"},
		Keep:     Keep{10, 20 * 24 * time.Hour}, Webhook: &Webhook{"https://club.example.org/wind", "lists/hook.key"}, Units: quantity.US,
		Sites: []Site{{"long-meadow", "lists/meadow.yaml"}, {"north", "/plans/north.yaml"}},
	}, s)
	s, err = Read("s.yaml", []byte("folder: p\nforecast: {files: [a.cube]}\nsites: [{name: a, plan: a.yaml}]\n"))
	require.NoError(t, err)
	assert.Equal(t, Sites{
		Folder: "p", History: "history.db", Forecast: Forecast{Files: []string{"a.cube"}},
		Keep: Keep{28, 60 * 24 * time.Hour}, Sites: []Site{{"a", "a.yaml"}},
	}, s)
}

// Every fault has a line of its own, with the file and what was wanted.
func TestReadFaults(t *testing.T) {
	for _, test := range []struct{ name, from, to, want string }{
		{"two of a name", "name: north", "name: long-meadow", `s.yaml:9: sites: name "long-meadow": given to a site on line 8 already: want another`},
		{"a name that leads elsewhere", "name: north", "name: ../north", `s.yaml:9: sites: name "../north": want small letters, digits and hyphens, at most 63`},
		{"no plan", "    plan: /plans/north.yaml\n", "", `s.yaml:9: sites: north: plan: missing: want a plan's file`},
		{"no folder", "folder: public\n", "", "s.yaml: folder: missing: want where the pages are written"},
		{"files and a source", "{source: gefs,", "{source: gefs, files: [a],", `s.yaml: forecast: 1 files and source "gefs": want files, or a source that is pulled`},
		{"hours", "hours: 120", "hours: 1000", "s.yaml: forecast.hours: 1000: want 1 to 384"},
		{"cycles", "cycles: 10", "cycles: 0", "s.yaml: keep.cycles: 0: want 1 to 1000"},
		{"days", "days: 20", "days: -1", "s.yaml: keep.days: -1: want 1 to 10000"},
		{"address", "https://club", "ftp://club", `s.yaml: webhook.url: "ftp://club.example.org/wind": want https:// or http://, a host and a path, and no password in it`},
		{"password", "https://club", "https://a:b@club", `s.yaml: webhook.url: "https://a:b@club.example.org/wind": want https:// or http://, a host and a path, and no password in it`},
		{"no key", ", secret_file: hook.key", "", "s.yaml: webhook.secret_file: missing: want a file with the key that bodies are signed with"},
		{"units", "units: us", "units: feet", "s.yaml: units: "},
		{"unknown", "units: us", "unit: us", "s.yaml:6: field unit not found"},
		{"unknown of a site", "    plan: /plans", "    map: /plans", `s.yaml:10: "map": want name and plan, each with a text`},
		{"not YAML", "keep: {cycles", "keep: {{cycles", "s.yaml:3: did not find"},
		{"no sites", "sites:" + strings.SplitAfter(fullList, "sites:")[1], "sites: []\n", "s.yaml: sites: 0 of them: want 1 to 500"},
		{"two documents", "units: us\n", "units: us\n---\n", "s.yaml: a second document: want one"},
		{"alias bomb", "units: us", "units: &a [*a, *a]", "s.yaml:6: "},
	} {
		t.Run(test.name, func(t *testing.T) {
			text := strings.Replace(fullList, test.from, test.to, 1)
			require.NotEqual(t, fullList, text)
			_, err := Read("s.yaml", []byte(text))
			require.Error(t, err)
			assert.True(t, strings.Contains("\n"+err.Error(), "\n"+test.want), "%v\nwant %s", err, test.want)
		})
	}
	_, err := Read("s.yaml", nil)
	require.ErrorContains(t, err, "folder: missing")
	require.ErrorContains(t, err, "sites: 0 of them")
}

// FuzzRead: whatever the octets, there is an answer or an error.
func FuzzRead(f *testing.F) {
	f.Add([]byte(fullList))
	f.Fuzz(func(t *testing.T, text []byte) {
		if len(text) > 1<<16 {
			return
		}
		if s, err := Read("s.yaml", text); err == nil && len(s.Sites) == 0 {
			t.Errorf("no sites and no error")
		}
	})
}

// What is written over a file that is being read is another file: readers see one whole.
func TestReplaceIsWhole(t *testing.T) {
	name := filepath.Join(t.TempDir(), "index.html")
	require.NoError(t, replace(name, whole("old")))
	reader, err := os.Open(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, reader.Close()) }()
	require.NoError(t, replace(name, whole("new")))
	old := make([]byte, 1000)
	n, _ := reader.Read(old)
	assert.Contains(t, string(old[:n]), "the end of old")
	assert.Contains(t, content(t, name), "the end of new")
}
