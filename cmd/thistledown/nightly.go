package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/nightly"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
)

// maxSitesFile bounds a list of sites, octets.
const maxSitesFile = 1 << 20

// night is the command nightly.
type night struct {
	Sites    string   `arg:"" placeholder:"SITES" help:"The list of sites, a YAML file; README.md says what is in it."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"Fly on these files, folder or cube, whatever the list says. May be given again."`
	DryRun   bool     `help:"Say for each site what would be done, and do nothing."`
	Again    bool     `help:"Fly what was looked at before, too."`
	Wait     bool     `help:"Wait while another night of the same folder is under way; else this one leaves."`
	Gate     bool     `help:"Leave with status 1 where no site has a launch time that is go."`
}

// Help says what comes of it.
func (k *night) Help() string {
	return `Ranks the week of each site as week does, and writes pages that a web server can serve as they are, with what each cycle of the forecast said. What is done already is not done again: it can be started as often as one likes.`
}

// Run does it.
func (k *night) Run(ctx context.Context, s *streams) error {
	text, err := archive.ReadFile(k.Sites, maxSitesFile)
	if err != nil {
		return fmt.Errorf("%s: %w", k.Sites, err)
	}
	sites, err := nightly.Read(k.Sites, text)
	if err != nil {
		return err
	}
	if len(k.Forecast) > 0 {
		sites.Forecast = nightly.Forecast{Files: k.Forecast}
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }} // a signed body goes to nobody else
	outcome, err := nightly.Run(ctx, sites, k.look(s, sites), nightly.Options{
		Version: version, Dry: k.DryRun, Again: k.Again, Wait: k.Wait, Out: s.out, Post: client.Do,
	})
	switch {
	case err != nil:
		return err
	case outcome.History != nil:
		return historyError{outcome.History}
	case outcome.Failed > 0:
		return fmt.Errorf("%s: nothing new of %d of %d sites: their lines say why", k.Sites, outcome.Failed, len(sites.Sites))
	case k.Gate && !outcome.Good && !outcome.Busy && !k.DryRun:
		return errNoGo
	}
	return nil
}

// historyError is one of the history alone: all else was done.
type historyError struct{ error }

func (h historyError) Unwrap() error      { return h.error }
func (historyError) Is(target error) bool { return target == errInternal }

// look is how weeks are flown: as the command week does.
func (k *night) look(s *streams, sites nightly.Sites) nightly.Look {
	return nightly.Look{
		Bring: func(ctx context.Context, site nightly.Site) ([]string, []string, error) {
			if len(sites.Forecast.Files) > 0 {
				return sites.Forecast.Files, nil, nil
			}
			return bring(ctx, sites.Forecast, site)
		},
		Glance: func(ctx context.Context, site nightly.Site, files []string) (nightly.Glance, error) {
			return glance(ctx, s, site, files, sites.Units)
		},
	}
}

// glance reads a site's plan and which launch times of it the forecast covers.
func glance(ctx context.Context, s *streams, site nightly.Site, files []string, units quantity.System) (nightly.Glance, error) {
	text, err := archive.ReadFile(site.Plan, maxPlanFile)
	if err != nil {
		return nightly.Glance{}, fmt.Errorf("%s: %w", site.Plan, err)
	}
	w := &week{Plan: site.Plan, Forecast: files}
	p, err := w.input().flown()
	if err != nil {
		return nightly.Glance{}, err
	}
	launches, cycle, err := w.covered(ctx, p)
	if err != nil {
		return nightly.Glance{}, err
	}
	sum := sha256.Sum256(text)
	return nightly.Glance{
		Cycle: cycle, Plan: hex.EncodeToString(sum[:]), Zone: p.Site.Zone, Launches: len(launches),
		Fly: func(ctx context.Context) (report.Week, error) {
			bar := newBar(s.err, "flying launch times of "+site.Name, len(launches))
			defer bar.clear()
			return mission.Week(ctx, w.worlds, launches, mission.WeekOptions{Version: version, Each: func(done int, _ report.Window) { bar.show(done) }})
		},
		Files: func(ctx context.Context, found report.Week) ([]nightly.File, error) {
			text, err := weekText(found, units)
			if err != nil {
				return nil, err
			}
			outputs, err := w.outputs(ctx, s, launches, found, text, units)
			if err != nil {
				return nil, err
			}
			all := []nightly.File{{Name: "week.json", Write: func(to io.Writer) error { return writeWeekJSON(to, found) }}}
			for _, o := range outputs {
				all = append(all, nightly.File{Name: o.name, Write: o.write})
			}
			return all, nil
		},
	}, nil
}

// weekText is a week for reading.
func weekText(found report.Week, units quantity.System) ([]byte, error) {
	var b bytes.Buffer
	told := printer{to: &b, units: units, bar: newBar(io.Discard, "", 0)}
	told.begin(found)
	for i, w := range found.Windows {
		told.each(i+1, w)
	}
	if told.err == nil {
		told.err = report.WriteWeekEnd(&b, found, units)
	}
	return b.Bytes(), told.err
}

// writeWeekJSON writes the messages of RankWindows, a line each.
func writeWeekJSON(to io.Writer, found report.Week) error {
	for i, w := range found.Windows {
		if err := writeJSON(to, rpc.WindowResponse(w, i+1, len(found.Windows)), false); err != nil {
			return err
		}
	}
	return writeJSON(to, rpc.RankingResponse(found), false)
}

// bring pulls a site's forecast into a folder of its own. Where nothing new comes, what
// is kept there is flown on, which is noted.
func bring(ctx context.Context, f nightly.Forecast, site nightly.Site) (files, notes []string, err error) {
	sources, err := fetch.BuiltIn()
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errInternal, err)
	}
	keep, err := sizeOf(f.Keep)
	if err != nil {
		return nil, nil, err
	}
	p := windsPull{Plan: site.Plan, Source: f.Source, Hours: f.Hours, Members: f.Members, To: filepath.Join(f.Folder, site.Name)}
	return bringWith(ctx, fetch.NewClient(), sources, p, keep)
}

// bringWith does it, by a client and sources.
func bringWith(ctx context.Context, c fetch.Client, sources fetch.Sources, p windsPull, keep int64) (files, notes []string, err error) {
	order, err := p.order()
	if err != nil {
		return nil, nil, err
	}
	order.From, order.To = time.Time{}, time.Time{} // of a whole week, whenever the plan's own launch is
	got, err := c.Pull(ctx, sources, order, nil)
	if err == nil {
		if keep > 0 {
			_, err = fetch.Evict(order.Folder, keep)
		}
		return []string{got.Link}, nil, err
	}
	link := filepath.Join(order.Folder, p.Source+".cube")
	if _, missing := os.Stat(link); missing != nil || ctx.Err() != nil || !errors.Is(err, fetch.ErrNothingNew) {
		return nil, nil, err
	}
	why, _, _ := strings.Cut(err.Error(), "\n")
	return []string{link}, []string{"No new cycle could be brought, so the one that is kept was taken: " + why + "."}, nil
}
