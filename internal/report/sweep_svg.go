package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"example.org/thistledown/internal/quantity"
)

// The drawing of a sweep, in its own units: one panel over another.
const (
	panelWidth, panelHeight = 640.0, 150.0
	panelLeft, panelTop     = 96.0, 34.0
	sweepWidth              = panelLeft + panelWidth + 30
	noteHeight              = 18.0
)

// What is drawn of a sweep, and in which colour.
const (
	inkBursts = "#5b3f8c"
	inkDoubt  = "#c8742b" // what floats, or is too full
	inkPlan   = "#2f6b4f"
)

// sweepPanel is one quantity against the fill.
type sweepPanel struct {
	name  string
	of    func(SweepPoint) float64
	print func(float64) string
	burst bool // what floats has none
}

// WriteSweepSVG draws a sweep: rate of ascent, burst, gas and time aloft against
// what the neck pulls with.
func WriteSweepSVG(w io.Writer, points []SweepPoint, units quantity.System) error {
	if len(points) < 2 {
		return fmt.Errorf("sweep of %d fills: want two or more to draw", len(points))
	}
	panels := []sweepPanel{
		{"rate of ascent", func(p SweepPoint) float64 { return p.Ascent }, units.VerticalSpeed, false},
		{"height at which it bursts, or floats", func(p SweepPoint) float64 { return p.Top }, units.Altitude, false},
		{"gas", func(p SweepPoint) float64 { return p.Gas }, units.Volume, false},
		{"time aloft", func(p SweepPoint) float64 { return p.Aloft }, units.Duration, true},
	}
	notes := sweepNotes(points)
	var b strings.Builder
	base := float64(len(panels))*(panelHeight+panelTop) + 20
	height := base + noteHeight*float64(len(notes)+1)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" font-family="sans-serif" font-size="13">`+"\n",
		sweepWidth, height, sweepWidth, height)
	b.WriteString("<title>What another fill does</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n")
	from, to := points[0].Neck, points[len(points)-1].Neck
	x := func(p SweepPoint) float64 { return panelLeft + panelWidth*(p.Neck-from)/(to-from) }
	for i, panel := range panels {
		panel.draw(&b, points, x, float64(i)*(panelHeight+panelTop)+panelTop)
	}
	for _, p := range [...]SweepPoint{points[0], points[len(points)/2], points[len(points)-1]} {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%s</text>`+"\n", x(p), base, units.Mass(p.Neck))
	}
	for i, note := range notes {
		fmt.Fprintf(&b, `<text x="%g" y="%g" fill="%s">%s</text>`+"\n", panelLeft, base+noteHeight*float64(i+1), note.ink, note.text)
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// sweepNote is a line below the drawing, in the colour of what it speaks of.
type sweepNote struct{ ink, text string }

// sweepNotes are of what the drawing has, and no more.
func sweepNotes(points []SweepPoint) []sweepNote {
	notes := []sweepNote{{"#2b2b2b", "across: what the neck pulls with"}}
	var planned, floats, full bool
	for _, p := range points {
		planned, floats, full = planned || p.Planned, floats || p.Floats, full || p.TooFull
	}
	for _, n := range [...]struct {
		holds bool
		note  sweepNote
	}{
		{planned, sweepNote{inkPlan, "upright line: the plan's fill"}},
		{floats, sweepNote{inkDoubt, "rings: it floats there and does not burst, for a time that nobody can tell"}},
		{full, sweepNote{inkDoubt, "crosses: fuller at the release than the envelope's papers want"}},
	} {
		if n.holds {
			notes = append(notes, n.note)
		}
	}
	return notes
}

// draw draws a panel at a distance from the top: a line through what bursts, a
// ring for each that floats, a cross on each that is too full.
func (l sweepPanel) draw(b *strings.Builder, points []SweepPoint, x func(SweepPoint) float64, top float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		if !l.burst || !p.Floats {
			low, high = min(low, l.of(p)), max(high, l.of(p))
		}
	}
	fmt.Fprintf(b, `<text x="%g" y="%g" fill="#2b2b2b">%s</text>`+"\n", panelLeft, top-8, l.name)
	fmt.Fprintf(b, `<rect x="%g" y="%g" width="%g" height="%g" fill="#f4f1ea" stroke="#b9b2a3"/>`+"\n", panelLeft, top, panelWidth, panelHeight)
	if low > high {
		fmt.Fprintf(b, `<text x="%g" y="%g">open: it floats with each fill</text>`+"\n", panelLeft+10, top+panelHeight/2)
		return
	}
	fmt.Fprintf(b, `<text x="%g" y="%g" text-anchor="end">%s</text><text x="%g" y="%g" text-anchor="end">%s</text>`+"\n",
		panelLeft-6, top+10, l.print(high), panelLeft-6, top+panelHeight, l.print(low))
	if high == low {
		high++
	}
	y := func(p SweepPoint) float64 { return top + panelHeight*(high-l.of(p))/(high-low) }
	var line, marks []string
	for _, p := range points {
		if p.Planned {
			marks = append(marks, fmt.Sprintf(`<path d="M%.1f %g v%g" stroke="%s" stroke-dasharray="2 4"/>`, x(p), top, panelHeight, inkPlan))
		}
		if p.Floats && l.burst {
			continue
		}
		if p.Floats {
			marks = append(marks, fmt.Sprintf(`<circle cx="%.1f" cy="%.1f" r="4" fill="none" stroke="%s" stroke-width="2"/>`, x(p), y(p), inkDoubt))
		} else {
			line = append(line, fmt.Sprintf("%.1f,%.1f", x(p), y(p)))
		}
		if p.TooFull {
			marks = append(marks, fmt.Sprintf(`<path d="M%.1f %.1f l8 8 m0 -8 l-8 8" stroke="%s" stroke-width="2"/>`, x(p)-4, y(p)-4, inkDoubt))
		}
	}
	if len(line) > 0 {
		fmt.Fprintf(b, `<polyline points="%s" fill="none" stroke="%s" stroke-width="2"/>`+"\n", strings.Join(line, " "), inkBursts)
	}
	b.WriteString(strings.Join(marks, "\n") + "\n")
}
