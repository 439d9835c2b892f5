package nightly

import (
	_ "embed" // the templates
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/logbook"
	"example.org/thistledown/internal/page"
	"example.org/thistledown/internal/report"
)

//go:embed pages.html
var pagesText string

// columns is how many cycles a site's page has side by side.
const columns = 14

// frame is what every page has.
type frame struct {
	Head   page.Head
	Always []string
	Title  string
}

func newFrame(title string) frame {
	return frame{page.NewHead(title), report.Cautions(), title}
}

// render writes one of the pages.
func render(w io.Writer, name string, data any) error {
	t, err := page.Template(pagesText)
	if err != nil {
		return err
	}
	return t.ExecuteTemplate(w, name, data)
}

// siteView is a line of the page over all sites.
type siteView struct {
	Name, Link, Page         string
	Class, Verdict, When     string
	Score, Size, Cycle, Note string
}

// index writes the page over all sites, and of each whether this night has anything new.
func (n *night) index() error {
	view := struct {
		frame
		Sites []siteView
	}{frame: newFrame("Standing sites")}
	for _, p := range n.pieces {
		view.Sites = append(view.Sites, n.siteView(p))
	}
	return replace(filepath.Join(n.sites.Folder, "index.html"), func(w io.Writer) error { return render(w, "all", view) })
}

func (n *night) siteView(p piece) siteView {
	v := siteView{Name: p.site.Name, Class: "none", Verdict: "no answer", Note: strings.Join(p.notes, " ")}
	if p.err != nil {
		v.Note = "Not renewed this time: " + p.err.Error()
	}
	if there(filepath.Join(n.sites.Folder, p.site.Name, "index.html")) || p.run.Windows != nil {
		v.Link = p.site.Name + "/index.html"
	}
	if p.run.Windows == nil {
		return v
	}
	v.Cycle = hour(p.run.Cycle)
	if p.run.Page != "" && there(filepath.Join(n.sites.Folder, p.run.Page)) {
		v.Page = filepath.ToSlash(p.run.Page) + "/index.html"
	}
	w, ok := best(p.run)
	if !ok {
		v.Verdict = "not covered"
		return v
	}
	v.Class, v.Verdict = classOf(w), w.Verdict
	v.When, v.Score = p.when(w.Launch)+" from "+w.From, scored(w.Score)
	v.Size = n.sites.Units.Area(w.Area80)
	return v
}

func scored(v float64) string {
	if math.IsNaN(v) {
		return "not known"
	}
	return fmt.Sprintf("%.0f", v)
}

// classOf is how a verdict is drawn.
func classOf(w logbook.Window) string {
	switch {
	case w.NotCovered != "":
		return "none"
	case w.Verdict == launch.Unlimited.String():
		return "open"
	}
	return w.Verdict
}

// cycleView heads a column.
type cycleView struct{ Name, Page string }

// lineView is a launch time on a site's page.
type lineView struct {
	Launch, From string
	Cells        []cellView
}

// cellView is what one cycle said of it.
type cellView struct{ Class, Verdict, Score string }

// writeHistory writes what each of some cycles, the newest first, said of each launch
// time that the newest has.
func (n *night) writeHistory(w io.Writer, p *piece, kept []logbook.Run) error {
	view := struct {
		frame
		Cycles  []cycleView
		Lines   []lineView
		Older   []cycleView
		Several bool
		Zone    string
	}{frame: newFrame(p.site.Name), Zone: p.zone.String()}
	for i, r := range kept {
		c := cycleView{hour(r.Cycle), filepath.ToSlash(filepath.Base(r.Page)) + "/index.html"}
		if i < columns {
			view.Cycles = append(view.Cycles, c)
		} else {
			view.Older = append(view.Older, c)
		}
	}
	if len(kept) > 0 {
		for _, one := range kept[0].Windows {
			view.Several = view.Several || one.From != kept[0].Windows[0].From
			view.Lines = append(view.Lines, lineOf(p, one, kept[:min(len(kept), columns)]))
		}
	}
	return render(w, "one", view)
}

// lineOf is what some cycles said of one launch time.
func lineOf(p *piece, one logbook.Window, runs []logbook.Run) lineView {
	l := lineView{Launch: one.Launch.In(p.zone).Format("Mon 2 Jan 15:04"), From: one.From}
	for _, r := range runs {
		k := slices.IndexFunc(r.Windows, func(w logbook.Window) bool { return w.Launch.Equal(one.Launch) && w.From == one.From })
		switch {
		case k < 0:
			l.Cells = append(l.Cells, cellView{})
		case r.Windows[k].NotCovered != "":
			l.Cells = append(l.Cells, cellView{"none", "not covered", ""})
		default:
			w := r.Windows[k]
			l.Cells = append(l.Cells, cellView{classOf(w), w.Verdict, scored(w.Score)})
		}
	}
	return l
}
