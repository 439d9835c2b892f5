package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/thistledown/internal/quantity"
)

// SweepPoint is what a train does with one amount of gas.
type SweepPoint struct {
	Gas     float64 // m³ as a meter shows it
	Neck    float64 // kg that the neck pulls with
	Free    float64 // kg more than hangs on it
	Ascent  float64 // m/s, mean
	Top     float64 // m above mean sea level, of the burst, or where it floats
	Aloft   float64 // s
	Floats  bool
	TooFull bool // past the fullest volume of the envelope
	Planned bool // the nearest to the plan's own fill
}

// WriteSweep writes a sweep as a table for reading.
func WriteSweep(w io.Writer, points []SweepPoint, units quantity.System) error {
	var b strings.Builder
	b.WriteString("With another fill (* the nearest to the plan's)\n\n")
	fmt.Fprintf(&b, "  %8s %8s %9s %11s %10s %11s\n", "gas", "neck", "left over", "rises", "burst", "aloft")
	for _, p := range points {
		mark, note, aloft := " ", "", units.Duration(p.Aloft)
		if p.Planned {
			mark = "*"
		}
		switch {
		case p.Floats && p.TooFull:
			note = " floats+full"
		case p.Floats:
			note = " floats"
		case p.TooFull:
			note = " too full"
		}
		if p.Floats {
			aloft = "open" // the time up and down leaves out how long it hangs there
		}
		fmt.Fprintf(&b, "%s %8s %8s %9s %11s %10s %11s%s\n", mark, units.Volume(p.Gas), units.Mass(p.Neck), units.Mass(p.Free),
			units.VerticalSpeed(p.Ascent), units.Altitude(p.Top), aloft, note)
	}
	b.WriteString("\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteSweepCSV writes a sweep as RFC 4180 has it, in SI.
func WriteSweepCSV(w io.Writer, points []SweepPoint) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	rows := [][]string{{"gas_m3", "neck_lift_kg", "free_lift_kg", "ascent_rate_m_s", "top_m", "time_aloft_s", "floats", "past_fullest"}}
	number := func(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
	for _, p := range points {
		rows = append(rows, []string{
			number(p.Gas, 4), number(p.Neck, 4), number(p.Free, 4), number(p.Ascent, 3), number(p.Top, 0), number(p.Aloft, 0),
			strconv.FormatBool(p.Floats), strconv.FormatBool(p.TooFull),
		})
	}
	return c.WriteAll(rows)
}

// The drawing of a sweep, in its own units: one panel over another.
const (
	panelWidth, panelHeight = 640.0, 150.0
	panelLeft, panelTop     = 90.0, 34.0
	sweepWidth              = panelLeft + panelWidth + 30
)

// WriteSweepSVG draws a sweep: rate of ascent, burst, gas and time aloft against
// what the neck pulls with.
func WriteSweepSVG(w io.Writer, points []SweepPoint, units quantity.System) error {
	if len(points) < 2 {
		return fmt.Errorf("sweep of %d fills: want two or more to draw", len(points))
	}
	panels := []struct {
		name  string
		of    func(SweepPoint) float64
		print func(float64) string
	}{
		{"rate of ascent", func(p SweepPoint) float64 { return p.Ascent }, units.VerticalSpeed},
		{"height of the burst, or of the float", func(p SweepPoint) float64 { return p.Top }, units.Altitude},
		{"gas", func(p SweepPoint) float64 { return p.Gas }, units.Volume},
		{"time aloft", func(p SweepPoint) float64 { return p.Aloft }, units.Duration},
	}
	var b strings.Builder
	height := float64(len(panels))*(panelHeight+panelTop) + 50
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" font-family="sans-serif" font-size="13">`+"\n",
		sweepWidth, height, sweepWidth, height)
	b.WriteString("<title>What another fill does</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n")
	from, to := points[0].Neck, points[len(points)-1].Neck
	x := func(p SweepPoint) float64 { return panelLeft + panelWidth*(p.Neck-from)/(to-from) }
	for i, panel := range panels {
		top := float64(i)*(panelHeight+panelTop) + panelTop
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range points {
			low, high = min(low, panel.of(p)), max(high, panel.of(p))
		}
		if high == low {
			high++
		}
		y := func(p SweepPoint) float64 { return top + panelHeight*(high-panel.of(p))/(high-low) }
		fmt.Fprintf(&b, `<text x="%g" y="%g" fill="#2b2b2b">%s</text>`+"\n", panelLeft, top-8, panel.name)
		fmt.Fprintf(&b, `<rect x="%g" y="%g" width="%g" height="%g" fill="#f4f1ea" stroke="#b9b2a3"/>`+"\n", panelLeft, top, panelWidth, panelHeight)
		fmt.Fprintf(&b, `<text x="%g" y="%g" text-anchor="end">%s</text><text x="%g" y="%g" text-anchor="end">%s</text>`+"\n",
			panelLeft-6, top+10, panel.print(high), panelLeft-6, top+panelHeight, panel.print(low))
		var line []string
		for _, p := range points {
			line = append(line, fmt.Sprintf("%.1f,%.1f", x(p), y(p)))
		}
		fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#5b3f8c" stroke-width="2"/>`+"\n", strings.Join(line, " "))
		for _, p := range points {
			if p.Planned || p.Floats || p.TooFull {
				fill := "#5b3f8c"
				if p.Floats || p.TooFull {
					fill = "#c8742b"
				}
				fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="8" height="8" fill="%s"/>`+"\n", x(p)-4, y(p)-4, fill)
			}
		}
	}
	base := height - 30
	for _, p := range [...]SweepPoint{points[0], points[len(points)/2], points[len(points)-1]} {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%s</text>`+"\n", x(p), base, units.Mass(p.Neck))
	}
	fmt.Fprintf(&b, `<text x="%g" y="%g">the neck pulls with this; violet square: the plan's fill; orange: it floats, or is past its fullest</text>`+"\n", panelLeft, base+18)
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
