package rpc

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// maxReport bounds the files of one answer together, octets.
const maxReport = 16 << 20

// formatted is how one of the files is written.
type formatted struct {
	name, media string
	week        bool // it is of every launch time
	write       func(w io.Writer, r reported) error
}

// reported is what files are written of: of the one launch or of the week.
type reported struct {
	launch report.Launch
	page   report.Page
	units  quantity.System
}

// formats are the kinds of file by their number in the schema.
func formats() map[thistledownv1.ReportFormat]formatted {
	return map[thistledownv1.ReportFormat]formatted{
		thistledownv1.ReportFormat_REPORT_FORMAT_PAGE: {"index.html", "text/html; charset=utf-8", true, func(w io.Writer, r reported) error {
			return report.WritePage(w, r.page, r.units)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_WEEK_CSV: {"week.csv", "text/csv; charset=utf-8", true, func(w io.Writer, r reported) error {
			return report.WriteWeekCSV(w, r.page.Week)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_TEXT: {"summary.txt", "text/plain; charset=utf-8", false, func(w io.Writer, r reported) error {
			return report.WriteText(w, r.launch, r.units)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_GEOJSON: {"landing.geojson", "application/geo+json", false, func(w io.Writer, r reported) error {
			return report.WriteGeoJSON(w, r.launch)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_KML: {"landing.kml", "application/vnd.google-earth.kml+xml", false, func(w io.Writer, r reported) error {
			return report.WriteKML(w, r.launch)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_GPX: {"landing.gpx", "application/gpx+xml", false, func(w io.Writer, r reported) error {
			return report.WriteGPX(w, r.launch)
		}},
		thistledownv1.ReportFormat_REPORT_FORMAT_CSV: {"landings.csv", "text/csv; charset=utf-8", false, func(w io.Writer, r reported) error {
			return report.WriteCSV(w, r.launch)
		}},
	}
}

// WriteReport flies a plan and writes files of the answer.
func (s *service) WriteReport(ctx context.Context, request *thistledownv1.WriteReportRequest) (*thistledownv1.WriteReportResponse, error) {
	wanted, err := wantedFiles(request.GetFormats())
	if err != nil {
		return nil, err
	}
	of := reported{}
	if request.Units != nil {
		if of.units, err = quantity.ParseSystem(request.GetUnits()); err != nil {
			return nil, refused("units", err.Error())
		}
	}
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(wanted, func(f formatted) bool { return !f.week }) {
		if of.launch, err = s.fly(ctx, p, mission.Options{Version: s.planner.Version}); err != nil {
			return nil, err
		}
	}
	if slices.ContainsFunc(wanted, func(f formatted) bool { return f.week }) {
		if of.page, err = s.page(ctx, p); err != nil {
			return nil, err
		}
	}
	m := &thistledownv1.WriteReportResponse{}
	room := &room{left: maxReport}
	for _, f := range wanted {
		room.Reset()
		if err := f.write(room, of); errors.Is(err, errFull) {
			return nil, refused("formats", fmt.Sprintf("formats: %s: more than %d octets with the files before it: want fewer files, or a plan of fewer flights or launch times", f.name, maxReport))
		} else if err != nil {
			return nil, err
		}
		m.Files = append(m.Files, &thistledownv1.ReportFile{Name: f.name, MediaType: f.media, Content: bytes.Clone(room.Bytes())})
	}
	return m, nil
}

// wantedFiles are the kinds of file that a request asks for.
func wantedFiles(asked []thistledownv1.ReportFormat) ([]formatted, error) {
	all := formats()
	if len(asked) == 0 || len(asked) > len(all) {
		return nil, refused("formats", fmt.Sprintf("formats: %d of them: want 1 to %d", len(asked), len(all)))
	}
	var wanted []formatted
	for i, one := range asked {
		f, ok := all[one]
		field := fmt.Sprintf("formats[%d]", i)
		switch {
		case !ok:
			return nil, refused(field, field+": "+one.String()+": want one of the schema's ReportFormat")
		case slices.Contains(asked[:i], one):
			return nil, refused(field, field+": "+one.String()+": want each once")
		}
		wanted = append(wanted, f)
	}
	return wanted, nil
}

// page flies every launch time of a plan and is what the week's page shows of them.
func (s *service) page(ctx context.Context, p plan.Plan) (report.Page, error) {
	launches, err := s.launches(ctx, p)
	if err != nil {
		return report.Page{}, err
	}
	leave, err := s.admit(ctx, flightsOf(p, len(launches), mission.Options{}))
	if err != nil {
		return report.Page{}, err
	}
	defer leave()
	found, err := mission.Week(ctx, s.worlds, launches, mission.WeekOptions{Version: s.planner.Version})
	if err != nil {
		return report.Page{}, err
	}
	shown := report.Page{Week: found}
	best, ok := found.Best()
	if !ok {
		return shown, nil
	}
	i := slices.IndexFunc(launches, func(p plan.Plan) bool { return p.Launch.Equal(best.Time) && p.Site.Name == best.Site })
	worlds, err := s.worlds(ctx, launches[i:i+1])
	if err != nil {
		return report.Page{}, err
	}
	shown.Map = worlds[launches[i].Site.At].Ground.Map
	if label, err := mission.Label(launches[i]); err == nil { // else the plan does not say whom to call
		shown.Label = &label
	}
	return shown, nil
}

// errFull is that of a room that is full.
var errFull = errors.New("too large")

// room is a buffer that holds no more than what is left, over all that it held.
type room struct {
	bytes.Buffer
	left int
}

// Write adds to it, or fails with errFull.
func (r *room) Write(b []byte) (int, error) {
	if len(b) > r.left {
		return 0, errFull
	}
	r.left -= len(b)
	return r.Buffer.Write(b)
}
