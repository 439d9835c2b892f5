package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net"
	"net/url"
	"strconv"
	"time"

	"example.org/thistledown/internal/geo"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Settings are how the service is run.
type Settings struct {
	Listen, Gateway, Metrics string // HOST:PORT; none: it is not served there
	Forecasts                []KeptForecast
	Area                     geo.Box       // kept of them
	Oldest                   time.Duration // cycle; 0: any
	Layers                   string
	Certificate, Key         string // PEM files; none: in the clear
	Callers                  string // PEM file of authorities
	Tokens                   []AccessToken
	OpenToEveryone           bool
	Origins                  []string
	Waiting, PerCaller       int // 0: the service's own
	Flights                  int
	Drain                    time.Duration
	Traces                   string // URL; none: nowhere
}

// KeptForecast is one forecast of the service: of files, or the newest of a source in a
// folder.
type KeptForecast struct {
	Name         string
	Files, Above []string
	Kept, Source string
}

// AccessToken is a bearer token by its hash.
type AccessToken struct {
	Name, Scope string
	Hash        [sha256.Size]byte
}

// Defaults of Settings.
const (
	DefaultListen = "127.0.0.1:7420"
	DefaultDrain  = 10 * time.Second
)

var (
	oldestSpec = spec{field: "thistledown.v1.Settings.oldest", kind: plainDuration, example: "12 h", low: hour, high: 240 * hour}
	drainSpec  = spec{field: "thistledown.v1.Settings.drain", kind: plainDuration, example: "30 s", low: 0, high: hour}
)

// settingsSpecs is all quantities of settings.
var settingsSpecs = [...]spec{oldestSpec, drainSpec}

// ReadSettings reads settings written in YAML, and finds fault with them as Read does
// with a plan. What files they name it does not look at.
func ReadSettings(file string, yaml []byte) (Settings, error) {
	d := newDraft(file, nil)
	m := &thistledownv1.Settings{}
	root := d.parse(yaml, m.ProtoReflect().Descriptor())
	if root != nil {
		d.prune(root)
		d.places[""] = place{line: root.Line}
		d.message(root, m.ProtoReflect(), "")
	}
	if d.stopped {
		return Settings{}, d.done()
	}
	if d.lists(m); d.stopped {
		return Settings{}, d.done()
	}
	if err := d.rules(m); err != nil {
		return Settings{}, fmt.Errorf("settings: the schema's rules cannot be checked: %w", err)
	}
	s := d.settings(m)
	if err := d.done(); err != nil {
		return Settings{}, err
	}
	return s, nil
}

// settings turns a message into values.
func (d *draft) settings(m *thistledownv1.Settings) Settings {
	d.texts(m)
	s := Settings{
		Listen: m.GetListen(), Gateway: m.GetGateway(), Metrics: m.GetMetrics(), Layers: m.GetLayers(),
		Area:        geo.Box{South: -90, North: 90, West: -180, East: 180},
		Certificate: m.GetTls().GetCertificate(), Key: m.GetTls().GetKey(), Callers: m.GetTls().GetCallers(),
		OpenToEveryone: m.GetOpenToEveryone(), Origins: append([]string(nil), m.GetOrigins()...),
		Waiting: int(m.GetWaiting()), PerCaller: int(m.GetPerCaller()), Flights: int(m.GetFlights()),
		Oldest: d.duration("oldest", m.GetOldest(), oldestSpec), Drain: DefaultDrain, Traces: m.GetTraces(),
	}
	if s.Listen == "" {
		s.Listen = DefaultListen
	}
	if m.GetDrain() != "" {
		s.Drain = d.duration("drain", m.GetDrain(), drainSpec)
	}
	if m.Area != nil {
		s.Area = d.box("area", m.GetArea())
	}
	d.addresses(s)
	if u, err := url.Parse(s.Traces); s.Traces != "" && (err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https") {
		d.refuse("traces", quote(s.Traces), "a URL such as http://127.0.0.1:4317")
	}
	names := map[string]int{}
	for i, f := range m.GetForecasts() {
		at := item("forecasts", i)
		d.once(names, f.GetName(), "forecasts", i)
		switch {
		case len(f.GetFiles()) == 0 && f.GetKept() == "":
			d.refuse(at, "neither files nor kept", "one of them")
		case len(f.GetFiles()) > 0 && f.GetKept() != "":
			d.refuse(at, "files and kept", "one of them")
		case (f.GetKept() == "") != (f.GetSource() == ""):
			d.refuse(at, "kept or source alone", "both: the folder, and whose cubes in it")
		}
		s.Forecasts = append(s.Forecasts, KeptForecast{
			Name: f.GetName(), Kept: f.GetKept(), Source: f.GetSource(),
			Files: append([]string(nil), f.GetFiles()...), Above: append([]string(nil), f.GetAbove()...),
		})
	}
	names = map[string]int{}
	for i, t := range m.GetTokens() {
		d.once(names, t.GetName(), "tokens", i)
		kept := AccessToken{Name: t.GetName(), Scope: t.GetScope()}
		hash, err := hex.DecodeString(t.GetSha256())
		if at := join(item("tokens", i), "sha256"); d.sound(at) && (err != nil || len(hash) != len(kept.Hash)) {
			d.refuse(at, fmt.Sprintf("%d characters", len(t.GetSha256())), fmt.Sprintf("the %d hexadecimal digits that serve --new-token prints", 2*len(kept.Hash)))
		}
		copy(kept.Hash[:], hash)
		s.Tokens = append(s.Tokens, kept)
	}
	return s
}

// duration is a quantity of time.
func (d *draft) duration(path, text string, s spec) time.Duration {
	return time.Duration(d.quantity(path, text, s).Centre * float64(time.Second))
}

// addresses refuses what nobody can listen on.
func (d *draft) addresses(s Settings) {
	seen := map[string]string{}
	for _, at := range [...]struct{ path, value string }{{"listen", s.Listen}, {"gateway", s.Gateway}, {"metrics", s.Metrics}} {
		if at.value == "" {
			continue
		}
		_, port, err := net.SplitHostPort(at.value)
		n, bad := strconv.ParseUint(port, 10, 16)
		if err != nil || bad != nil {
			d.refuse(at.path, quote(at.value), "HOST:PORT, such as 127.0.0.1:7420")
			continue
		}
		if first, ok := seen[at.value]; ok && n != 0 { // port 0 is any that is free
			d.refuse(at.path, quote(at.value), "another address than that of "+first)
		}
		seen[at.value] = at.path
	}
}
