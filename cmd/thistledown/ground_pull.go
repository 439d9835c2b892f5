package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
)

// groundCommands are the commands on ground data.
type groundCommands struct {
	Pull groundPull `cmd:"" help:"Bring open land cover and heights of where a plan's flights may come down."`
}

// groundPull is the command of that name.
type groundPull struct {
	Plan     string   `arg:"" optional:"" placeholder:"PLAN" help:"Bring what lies where the flights of this plan may come down, and around its site."`
	Forecast []string `placeholder:"FILE" help:"The forecast that they are flown on for that, instead of the plan's forecast.files."`
	Box      string   `placeholder:"BOX" help:"Or bring this box, in degrees: south=58,north=59,west=12,east=14."`
	Source   []string `default:"worldcover,elevation-30m" placeholder:"NAME" help:"Which data: worldcover, elevation-30m, elevation-90m, or one of --sources (${default})."`
	Pixel    float64  `default:"30" placeholder:"METRES" help:"The coarsest pixels that will do; overviews coarser than that are not taken (${default})."`
	To       string   `placeholder:"DIR" help:"Where they are kept: the folder ground beside the plan, or here with --box."`
	From     string   `placeholder:"URL" help:"Another address that holds the same files under the same paths, with one --source."`
	Sources  string   `placeholder:"FILE" help:"Your own addresses, in the form that winds pull --list-sources prints."`
}

// Run does it.
func (g *groundPull) Run(ctx context.Context, s *streams) error {
	sources, err := sourcesOf(g.Sources)
	if err != nil {
		return err
	}
	if g.From != "" && len(g.Source) > 1 {
		return errors.New("--from: with several sources: want one --source")
	}
	box, err := g.box(ctx)
	if err != nil {
		return err
	}
	folder := g.To
	if folder == "" {
		folder = filepath.Join(filepath.Dir(g.Plan), "ground")
	}
	if _, err := fmt.Fprintf(s.out, "Box         %s\n", boxText(box)); err != nil {
		return err
	}
	var cover, heights []string
	for _, name := range g.Source {
		line := newPullLine(s.err)
		got, err := fetch.NewClient().Ground(ctx, sources, fetch.GroundOrder{
			Source: name, Root: g.From, Folder: folder, Box: box, Pixel: g.Pixel,
		}, func(p fetch.GroundProgress) { line.show(groundText(name, p, time.Since(line.start))) })
		line.clear()
		if err != nil {
			return err
		}
		if err := tellGround(s, name, got); err != nil {
			return err
		}
		for _, q := range got.Squares {
			file := g.beside(q.File)
			if got.Legend == "" {
				heights = append(heights, fmt.Sprintf("    - {file: %q}\n", file))
				continue
			}
			cover = append(cover, fmt.Sprintf("    - {name: %q, file: %q, legend: %s}\n", name+" "+filepath.Base(file), file, got.Legend))
		}
	}
	text := "In the plan\n  ground:\n"
	if len(cover) > 0 {
		text += "    land_cover:\n" + indent(cover)
	}
	if len(heights) > 0 {
		text += "    heights:\n" + indent(heights)
	}
	_, err = fmt.Fprint(s.out, text)
	return err
}

func indent(lines []string) string { return "  " + strings.Join(lines, "  ") }

// beside is a file as the plan names it: from the plan's own folder.
func (g *groundPull) beside(file string) string {
	if rel, err := filepath.Rel(filepath.Dir(g.Plan), file); err == nil && g.Plan != "" {
		return filepath.ToSlash(rel)
	}
	return file
}

// groundText is how far a pull of ground data is, in words, and how long the rest of
// the square takes if it goes on so.
func groundText(name string, p fetch.GroundProgress, took time.Duration) string {
	text := fmt.Sprintf("%s, square %d of %d: %.1f", name, p.Square, p.Of, float64(p.Done)/1e6)
	if p.Total == 0 {
		return text + " MB"
	}
	text += fmt.Sprintf(" of %.1f MB", float64(p.Total)/1e6)
	if took > time.Second && p.Done > 0 && p.Square == 1 {
		text += ", some " + time.Duration(float64(took)*float64(p.Total-p.Done)/float64(p.Done)).Round(time.Second).String() + " left"
	}
	return text
}

// tellGround says what came of a pull.
func tellGround(s *streams, name string, got fetch.PulledGround) error {
	text := fmt.Sprintf("%s\n  %s\n  terms: %s\n", name, got.Title, got.Terms)
	for _, q := range got.Squares {
		how := fmt.Sprintf("fetched %.1f MB", float64(q.Fetched)/1e6)
		if q.Already {
			how = "there already, and unchanged where it is from"
		}
		text += fmt.Sprintf("  %s, %.1f MB, pixels of %.0f m, %s\n", q.File, float64(q.Octets)/1e6, q.Pixel, how)
	}
	if got.Absent > 0 {
		text += fmt.Sprintf("  squares without a file, as at sea: %d\n", got.Absent)
	}
	_, err := fmt.Fprint(s.out, text)
	return err
}

// box is where ground data are wanted.
func (g *groundPull) box(ctx context.Context) (geo.Box, error) {
	switch {
	case (g.Plan == "") == (g.Box == ""):
		return geo.Box{}, errors.New("PLAN, --box: want one of them, to say what to bring")
	case g.Box != "":
		box, err := parseBox(g.Box)
		if err != nil {
			return box, fmt.Errorf("--box %s: %w", g.Box, err)
		}
		return box, nil
	}
	read, err := input{plan: g.Plan}.read()
	if err != nil {
		return geo.Box{}, err
	}
	in := input{plan: g.Plan, files: g.Forecast}
	winds, _, err := in.forecast(ctx, read, mission.Needs(read))
	if err != nil {
		return geo.Box{}, err
	}
	box, err := mission.LandingBox(ctx, read, winds)
	if err != nil {
		return geo.Box{}, err
	}
	return withSite(box, read.Site.At), nil
}

// withSite widens a box to the site, whose own height is wanted too, unless that
// would make it much larger.
func withSite(b geo.Box, site geo.Point) geo.Box {
	const around, most = 0.005, 2.0 // degrees
	lon := b.West + geo.WrapLon(site.Lon-b.West)
	wide := geo.Box{
		South: min(b.South, site.Lat-around), North: max(b.North, site.Lat+around),
		West: min(b.West, lon-around), East: max(b.East, lon+around),
	}
	if wide.North-wide.South > most || wide.East-wide.West > 2*most || wide.West < -180 || wide.East > 180 {
		return b
	}
	return wide
}
