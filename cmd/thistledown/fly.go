package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
)

// fly is the command of that name.
type fly struct {
	Plan     string   `arg:"" help:"The plan, a YAML file." placeholder:"PLAN"`
	Set      []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as train.measured.ascent_rate='4.5 m/s'. May be given again."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast, instead of the plan's. May be given again."`
	Out      string   `placeholder:"DIR" help:"Also write summary.txt, answer.json, landing.geojson, landing.kml, landing.gpx and landings.csv there."`
	JSON     bool     `name:"json" help:"Print the answer's message as JSON and nothing else."`
	Until    string   `placeholder:"PERCENT" help:"Fly on until no probability is less sure than this, such as 1% (0.1% to 50%), or 262,144 flights are flown."`
	Explain  bool     `help:"Fly more, to say what makes the landings scatter."`
	Gate     bool     `help:"Leave with status 1 where the plan's limits make it no-go."`
	Units    string   `default:"si" enum:"si,us" help:"Units of the summary: si or us."`
}

// Run does it.
func (f *fly) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(f.Units)
	if err != nil {
		return err
	}
	until, err := parseUntil(f.Until)
	if err != nil {
		return err
	}
	l, err := f.launch(ctx, s, until)
	if err != nil {
		return inUnits(err, units)
	}
	message, err := written(rpc.Response(l))
	if err != nil {
		return err
	}
	summary, err := f.summary(ctx, s, until, l, units)
	if err != nil {
		return err
	}
	if f.Out != "" {
		if err := writeAll(f.Out, launchFiles(l, summary, message)); err != nil {
			return err
		}
	}
	if f.JSON {
		summary = message
	}
	if _, err = s.out.Write(summary); err == nil && f.Gate && l.Verdict == launch.NoGo {
		err = errNoGo
	}
	return err
}

// launchFiles are the files of one launch.
func launchFiles(l report.Launch, summary, message []byte) []output {
	return []output{
		{"summary.txt", func(w io.Writer) error { _, err := w.Write(summary); return err }},
		{"landing.geojson", func(w io.Writer) error { return report.WriteGeoJSON(w, l) }},
		{"landing.kml", func(w io.Writer) error { return report.WriteKML(w, l) }},
		{"landing.gpx", func(w io.Writer) error { return report.WriteGPX(w, l) }},
		{"landings.csv", func(w io.Writer) error { return report.WriteCSV(w, l) }},
		{"answer.json", func(w io.Writer) error { _, err := w.Write(message); return err }},
	}
}

// written is a message as JSON.
func written(m proto.Message) ([]byte, error) { return asJSON(m, true) }

// writeJSON writes an answer as JSON, over several lines or in one.
func writeJSON(to io.Writer, m proto.Message, several bool) error {
	text, err := asJSON(m, several)
	if err == nil {
		_, err = to.Write(text)
	}
	return err
}

func asJSON(m proto.Message, several bool) ([]byte, error) {
	text, err := protojson.MarshalOptions{Multiline: several, UseProtoNames: true, EmitDefaultValues: true}.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errInternal, err)
	}
	return append(text, '\n'), nil
}

// summary is the answer for reading, after what the --set have changed; nothing
// where it is not asked for.
func (f *fly) summary(ctx context.Context, s *streams, until float64, l report.Launch, units quantity.System) ([]byte, error) {
	if f.JSON && f.Out == "" {
		return nil, nil
	}
	var b bytes.Buffer
	if len(f.Set) > 0 {
		before := *f
		before.Set, before.Explain = nil, false
		if was, err := before.launch(ctx, s, until); err == nil {
			err = report.WriteChange(&b, was, l, units)
			if err != nil {
				return nil, err
			}
		} else if ctx.Err() != nil {
			return nil, err
		} else if err := report.WriteNoBefore(&b, inUnits(err, units).Error(), units); err != nil {
			return nil, err
		}
	}
	err := report.WriteText(&b, l, units)
	return b.Bytes(), err
}

// launch flies the plan.
func (f *fly) launch(ctx context.Context, s *streams, until float64) (report.Launch, error) {
	p, err := f.input().flown()
	if err != nil {
		return report.Launch{}, err
	}
	world, err := f.input().world(ctx, p)
	if err != nil {
		return report.Launch{}, err
	}
	what, flights := "flying", p.Scrambles*p.PerScramble
	if until > 0 {
		what, flights = "flying, at most", mission.MaxFlights
	}
	if f.Explain {
		what, flights = "flying, at most", flights+mission.MaxExplain
	}
	bar := newBar(s.err, what, flights)
	l, err := mission.Fly(ctx, world, p, mission.Options{Version: version, Progress: bar.show, Until: until, Explain: f.Explain})
	bar.clear()
	return l, err
}

// parseUntil reads per cent, "1%" or "0.5 %", as a share; nothing is 0.
func parseUntil(text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	number, ok := strings.CutSuffix(strings.TrimSpace(text), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if !ok || err != nil || mission.CheckUntil(v/100) != nil {
		return 0, fmt.Errorf("--until: %q: want a percentage from %g%% to %g%%", text, 100*mission.MinUntil, 100*mission.MaxUntil)
	}
	return v / 100, nil
}

// input is what the command reads.
func (f *fly) input() input { return input{plan: f.Plan, sets: f.Set, files: f.Forecast} }

// barAfter is how long flying goes on before a bar is shown.
const barAfter = 500 * time.Millisecond

// bar shows progress on a terminal, once it takes long.
type bar struct {
	to    io.Writer // nil if it is no terminal
	what  string
	total int
	start time.Time
	mutex sync.Mutex
	shown *progressbar.ProgressBar
}

func newBar(to io.Writer, what string, total int) *bar {
	b := &bar{what: what, total: total, start: time.Now()}
	if file, ok := to.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		b.to = to
	}
	return b
}

// show says how many flights are done; it may be called from many goroutines.
func (b *bar) show(done int) {
	if b.to == nil || time.Since(b.start) < barAfter {
		return
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if b.shown == nil {
		b.shown = progressbar.NewOptions(b.total, progressbar.OptionSetWriter(b.to),
			progressbar.OptionSetDescription(b.what), progressbar.OptionSetWidth(40),
			progressbar.OptionClearOnFinish(), progressbar.OptionShowCount())
	}
	_ = b.shown.Set(done) // a bar that cannot be drawn is no reason to stop
}

func (b *bar) clear() {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if b.shown != nil {
		_ = b.shown.Clear()
	}
}

// output is one file of a result.
type output struct {
	name  string
	write func(w io.Writer) error
}

// writeAll writes files into a folder, which it makes. Each is written whole
// beside its place and put there at the end, so that no reader ever sees half
// of one, and none is replaced if one of them cannot be written.
func writeAll(folder string, outputs []output) (err error) {
	if err := os.MkdirAll(folder, 0o755); err != nil { //nolint:gosec // results are for everybody to read
		return fmt.Errorf("--out %s: %w", folder, err)
	}
	// A rename that fails half-way through would leave some files new and some
	// old: find out before.
	for _, o := range outputs {
		if info, err := os.Lstat(filepath.Join(folder, o.name)); err == nil && info.IsDir() {
			return fmt.Errorf("--out %s: %s is a folder: want a file there, or nothing", folder, o.name)
		}
	}
	var written []string
	defer func() {
		for _, name := range written {
			err = errors.Join(err, os.Remove(name))
		}
	}()
	for _, o := range outputs {
		name, err := writeBeside(folder, o)
		if name != "" {
			written = append(written, name)
		}
		if err != nil {
			return fmt.Errorf("--out %s: %s: %w", folder, o.name, err)
		}
	}
	for _, o := range outputs {
		if err := os.Rename(written[0], filepath.Join(folder, o.name)); err != nil {
			return fmt.Errorf("--out %s: %w", folder, err)
		}
		written = written[1:]
	}
	return nil
}

// writeBeside writes an output under a name of its own; the name is empty if
// there is no such file.
func writeBeside(folder string, o output) (string, error) {
	file, err := os.CreateTemp(folder, "."+o.name+".*")
	if err != nil {
		return "", err
	}
	err = errors.Join(file.Chmod(0o644), o.write(file), file.Close())
	return file.Name(), err
}
