package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/quantity"
)

// width is how many columns the text keeps to, a phone held sideways.
const width = 78

// narrow is how many a train's page keeps to: a phone held upright, at the filling.
const narrow = 60

// WriteText writes the answer for reading, in the given units and the site's
// time zone.
func WriteText(w io.Writer, l Launch, units quantity.System) error {
	t := text{units: units, zone: l.Zone}
	t.title(l)
	t.verdict(l)
	t.landing(l)
	t.members(l.Members)
	t.explanation(l.Explanation)
	t.hazard(l)
	t.endings(l)
	t.flown(l)
	t.rules(l.Rules)
	t.minded(l.Warnings)
	t.paragraphs("Always", l.Cautions)
	_, err := io.WriteString(w, t.b.String())
	return err
}

// text is a page under way: a column of labels and one of what they label.
type text struct {
	b     strings.Builder
	units quantity.System
	zone  *time.Location
	slim  bool        // keeps to narrow
	rows  *[]labelled // if not nil, rows go there and not on the page
}

// columns is how many the text keeps to.
func (t *text) columns() int {
	if t.slim {
		return narrow
	}
	return width
}

const labelWidth = 12

// row writes a label and what belongs to it, wrapped.
func (t *text) row(label, format string, args ...any) {
	if t.rows != nil {
		t.keepRow(strings.TrimSpace(label), fmt.Sprintf(format, args...))
		return
	}
	line := fmt.Sprintf("%-*s", labelWidth, label)
	column := len([]rune(label))
	column = max(column, labelWidth)
	start := true
	// Not strings.Fields: to it a no-break space is a break.
	for _, word := range strings.FieldsFunc(fmt.Sprintf(format, args...), func(r rune) bool { return r == ' ' || r == '\n' }) {
		word = strings.ReplaceAll(word, "\u00a0", " ")
		n := len([]rune(word))
		if !start && column+1+n > t.columns() {
			t.b.WriteString(strings.TrimRight(line, " ") + "\n")
			line, column, start = strings.Repeat(" ", labelWidth), labelWidth, true
		}
		if !start {
			line, column = line+" ", column+1
		}
		line, column, start = line+word, column+n, false
	}
	t.b.WriteString(strings.TrimRight(line, " ") + "\n")
}

func (t *text) gap() { t.b.WriteString("\n") }

// keep ties the words of a quantity together, so that no line breaks in it.
func keep(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") }

func (t *text) title(l Launch) {
	t.b.WriteString(l.Plan + "\n\n")
	ground := keep(t.units.Altitude(l.Elevation))
	if l.ElevationFromForecast {
		ground += " (the forecast model's ground)"
	}
	t.row("Launch", "%s from %s, %s, ground at %s", t.when(l.Time), l.Site, position(l.At), ground)
	f := l.Forecast
	members := ""
	if f.Members > 1 {
		members = fmt.Sprintf("; %d members, the weather is the first's", f.Members)
	}
	t.row("Forecast", "%s, cycle of %s, %s old at launch; winds up to %s%s", centre(f.Centre), utc(f.Cycle),
		keep(t.units.Duration(l.Time.Sub(f.Cycle).Seconds())), utc(f.Last), members)
	t.row("Weather", "%s", t.weather(l.Weather))
	top := "burst"
	if l.Train != nil && l.Train.Ending == balloon.Floats {
		top = "floating"
	}
	t.row("Flown with", "up at %s, %s at %s, down at %s in the standard atmosphere at sea level, let go %s late; wind error ±\u00a0%s, %s",
		spread(l.Ascent, t.units.VerticalSpeed), top, spread(l.Burst, t.units.Altitude), spread(l.Fall, t.units.VerticalSpeed),
		spread(l.Delay, t.units.Duration), t.windError(l), offNominal(l))
}

// windError is the wind error's standard deviation on each axis, a range where it
// depends on height, and how far it is in doubt.
func (t *text) windError(l Launch) string {
	least, greatest := t.units.WindSpeed(l.WindError), t.units.WindSpeed(l.WindErrorGreatest)
	size := keep(least)
	if least != greatest {
		size += " to " + keep(greatest) + " by height"
	}
	size += " on each axis"
	if l.WindErrorDoubt > 0 && l.WindErrorGreatest > 0 {
		size += fmt.Sprintf(", a size in doubt by %.0f\u00a0%%", 100*l.WindErrorDoubt)
	}
	return size
}

// offNominal says how many flights did not go as planned, and how.
func offNominal(l Launch) string {
	var parts []string
	n := 0
	for _, c := range l.Courses {
		if c.Course != ensemble.Nominal {
			n += c.Share.Hits
			parts = append(parts, keep(fmt.Sprintf("%d %s", c.Share.Hits, courseWords[c.Course])))
		}
	}
	if n == 0 {
		return "nothing breaking"
	}
	return fmt.Sprintf("something breaking on %s flights (%s)", keep(fmt.Sprintf("%d of %d", n, l.Flights)), strings.Join(parts, ", "))
}

// courseWords are courses as the text counts them.
var courseWords = [ensemble.Courses]string{
	ensemble.Nominal: "as planned", ensemble.EarlyBurst: "burst early", ensemble.CanopyFails: "canopy failed",
	ensemble.CanopyFouled: "canopy fouled", ensemble.SlowLeak: "leaked", ensemble.Float: "floated",
}

// spread prints a centre and its standard deviation.
func spread(s Spread, print func(float64) string) string {
	return keep(print(s.Centre) + " ± " + print(s.Spread))
}

// weather tells the readings, and those that are missing by name.
func (t *text) weather(readings []Reading) string {
	var known, unknown []string
	for _, r := range readings {
		name, value := t.reading(r)
		if r.Known {
			known = append(known, name+" "+keep(value))
		} else {
			unknown = append(unknown, name)
		}
	}
	line := strings.Join(known, ", ")
	if len(unknown) > 0 {
		if line != "" {
			line += "; "
		}
		line += "not in this forecast: " + strings.Join(unknown, ", ")
	}
	if line == "" {
		return "not in this forecast"
	}
	return line
}

func (t *text) reading(r Reading) (name, value string) {
	switch r.Kind {
	case WindSpeed:
		return "wind", t.units.WindSpeed(r.Value)
	case WindFrom:
		return "from", bearing(r.Value)
	case Gust:
		return "gusts", t.units.WindSpeed(r.Value)
	case Cloud:
		return "cloud", fmt.Sprintf("%.0f %%", r.Value)
	case Precipitation:
		return "precipitation", t.rain(r.Value)
	case Visibility:
		return "visibility", t.units.Distance(r.Value)
	case CAPE:
		return "energy for thunderstorms (CAPE)", fmt.Sprintf("%.0f J/kg", r.Value)
	}
	return "?", "?"
}

// rain prints a precipitation rate in kg m⁻² s⁻¹.
func (t *text) rain(rate float64) string {
	if t.units == quantity.US {
		return inches(rate*3600/25.4) + " in/h"
	}
	return fmt.Sprintf("%.1f mm/h", rate*3600)
}

func (t *text) landing(l Launch) {
	t.gap()
	if l.Landing == nil {
		t.row("Comes down", "not one flight landed within the forecast")
		return
	}
	d := l.Landing
	label := "Comes down"
	if h := l.Hazard; h != nil && h.NotLanded.Hits > 0 {
		t.row(label, "only %d of %d flights are behind what follows: the others left the forecast",
			h.NotLanded.Of-h.NotLanded.Hits, h.NotLanded.Of)
		label = ""
	}
	t.row(label, "most likely near %s, %s from the site toward %s", position(d.MostLikely),
		keep(t.units.Distance(d.Distance)), bearing(d.Bearing))
	t.row("", "about %s, nine times in ten from %s to %s",
		t.clock(d.Middle, l.Time), t.clock(d.Early, l.Time), t.clock(d.Late, l.Time))
	t.row("", "after %s in the air and a burst at %s, falling at %s at the ground (means)",
		keep(t.units.Duration(d.Aloft)), keep(t.units.Altitude(d.Burst)), keep(t.units.VerticalSpeed(d.Speed)))
	t.row("How sure", "%s", t.regions(l))
	t.row("", "95 %% of landings are within %s of the most likely place", keep(t.units.Distance(d.Radius95)))
}

func (t *text) regions(l Launch) string {
	var parts []string
	for _, r := range l.Landing.Regions {
		parts = append(parts, fmt.Sprintf("%.0f\u00a0%% within %s", 100*r.Share, keep(t.units.Area(r.Area))))
	}
	return strings.Join(parts, ", ")
}

func (t *text) hazard(l Launch) {
	if l.Hazard == nil {
		return
	}
	h := l.Hazard
	t.gap()
	t.row("Hazard", "%.1f of 100 (%.1f to %.1f); %.1f if all ground that no layer covers were at its worst",
		h.Value, h.Low, h.High, h.Worst)
	if h.Greatest != "" {
		t.row("", "greatest part: %s", h.Greatest)
	}
	if off := h.OffNominal; off.Hits > 0 {
		t.row("", "the %.1f\u00a0%% of landings after something broke make %.1f of %.1f\u00a0points", 100*off.Value, h.OffNominalPoints, h.Value)
	}
	for i, c := range h.Classes {
		name := strings.ReplaceAll(c.Class.String(), "_", "-")
		t.row("  "+name, "%s%s; severity %.2g, %.1f\u00a0points", classShare(c), memberError(l.Members, i, c), c.Severity, c.Points)
	}
	for _, line := range airspace(h.Crossings) {
		t.row("  airspace", "%s", line)
	}
	t.layers(h)
	t.access(l)
	t.contacts(l)
	t.people(l)
}

// classShare says how many landings are on a class, as far as is known.
func classShare(c hazard.ClassShare) string {
	switch c.NotAssessed.Hits {
	case 0:
		return percent(c.Landing) + " of landings"
	case c.NotAssessed.Of:
		return "not assessed: no layer covers any landing"
	}
	known := "none"
	if c.Landing.Hits > 0 {
		known = fmt.Sprintf("%.1f\u00a0%%", 100*c.Landing.Value)
	}
	return known + " of landings known to be on it; another " + percent(c.NotAssessed) + " where no layer says"
}

func (t *text) endings(l Launch) {
	t.gap()
	for i, e := range l.Endings {
		label := ""
		if i == 0 {
			label = "Flights"
		}
		t.row(label, "%d of %d %s (%s)", e.Share.Hits, e.Share.Of, e.End, percent(e.Share))
	}
	if l.Landing == nil || len(l.Endings) == 1 && l.Endings[0].End == flight.Landed {
		return
	}
	t.row("", "shares and regions above are of the flights that landed")
}

func (t *text) flown(l Launch) {
	kind := "scrambles"
	if l.Draws == ensemble.Random {
		kind = "groups of plain random draws, each"
	}
	t.row("", "drawn as %d %s of %d, seed %d, thistledown %s",
		l.Scrambles, kind, l.Flights/l.Scrambles, l.Seed, l.Version)
	if u := l.Until; u != nil {
		asked, widest := keep(fmt.Sprintf("±\u00a0%.4g %%", 100*u.HalfWidth)), keep(fmt.Sprintf("±\u00a0%.3g %%", 100*u.Widest))
		if u.Reached {
			t.row("", "it took %d flights until no probability was less sure than %s (widest: %s)", l.Flights, asked, widest)
		} else {
			t.row("", "stopped at the bound of %d flights: the widest probability is %s, and not %s as asked", l.Flights, widest, asked)
		}
	}
}

func (t *text) paragraphs(label string, sentences []string) {
	if len(sentences) == 0 {
		return
	}
	t.gap()
	for i, s := range sentences {
		if i == 0 {
			t.row(label, "%s", s)
		} else {
			t.row("", "%s", s)
		}
	}
}

// minded are warnings, with what they say in the text's units.
func (t *text) minded(warnings []string) {
	sentences := make([]string, len(warnings))
	for i, s := range warnings {
		sentences[i] = restate(s, t.units)
	}
	t.paragraphs("Mind", sentences)
}

// when is a time in the site's zone and in UTC.
func (t *text) when(at time.Time) string {
	here, utc := clock(at, t.zone), keep(at.UTC().Format("15:04 UTC"))
	if here != utc {
		here += " (" + utc + ")"
	}
	return keep(at.In(t.zone).Format("Mon 2 Jan 2006")) + ", " + here
}

// clock is a time of day in the site's zone, with the day where it is not that
// of the launch.
func (t *text) clock(at, launch time.Time) string {
	if at.In(t.zone).Format(time.DateOnly) != launch.In(t.zone).Format(time.DateOnly) {
		return keep(at.In(t.zone).Format("Mon 15:04 MST"))
	}
	return clock(at, t.zone)
}

func clock(at time.Time, zone *time.Location) string { return keep(at.In(zone).Format("15:04 MST")) }

func utc(at time.Time) string { return keep(at.UTC().Format("2 Jan 2006 15:04 UTC")) }

// position is a place to a hundred metres or so: what is drawn is no surer.
func position(p geo.Point) string { return coordinates(p, 3) }

// coordinates are those of a place, with so many decimals of a degree.
func coordinates(p geo.Point, decimals int) string {
	ns, ew := "N", "E"
	if p.Lat < 0 {
		ns = "S"
	}
	if p.Lon < 0 {
		ew = "W"
	}
	return keep(fmt.Sprintf("%.*f° %s", decimals, math.Abs(p.Lat), ns)) + " " + keep(fmt.Sprintf("%.*f° %s", decimals, math.Abs(p.Lon), ew))
}

// bearing is degrees clockwise from north in three figures, 001° to 360°.
func bearing(degrees float64) string {
	d := int(math.Round(degrees))
	d = (d%360 + 360) % 360
	if d == 0 {
		d = 360
	}
	return fmt.Sprintf("%03d°", d)
}

// percent is a probability with its interval: "12.1 % (10.9 to 13.3)", or a
// bound where nothing or everything was hit: "under 0.3 %", "over 99.7 %".
func percent(p hazard.Probability) string {
	narrow := p.High-p.Low < 0.02
	digits := func(v float64) string {
		if narrow || v < 0.0995 || v > 0.9005 {
			return fmt.Sprintf("%.1f", 100*v)
		}
		return fmt.Sprintf("%.0f", 100*v)
	}
	switch {
	case p.Of == 0:
		return "an unknown share"
	case p.Hits == 0:
		tenths, decimals := boundary(p.High)
		return keep(fmt.Sprintf("under %.*f %%", decimals, tenths))
	case p.Hits == p.Of:
		tenths, decimals := boundary(1 - p.Low)
		return keep(fmt.Sprintf("over %.*f %%", decimals, 100-tenths))
	}
	return keep(fmt.Sprintf("%s %% (%s to %s)", digits(p.Value), digits(p.Low), digits(p.High)))
}

// boundary is a small share in per cent, rounded up to a tenth or, below that, to
// its first digit, so that what it bounds stays bounded.
func boundary(share float64) (percent float64, decimals int) {
	decimals = 1
	for scale := 10.0; decimals < 6 && 100*share*scale < 1; scale *= 10 {
		decimals++
	}
	scale := math.Pow(10, float64(decimals))
	return math.Ceil(100*share*scale-1e-9) / scale, decimals
}
