package report

import (
	"encoding/csv"
	"fmt"
	"io"
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
	Planned bool // the plan's own fill
}

// WriteSweep writes a sweep as a table for reading, and below it what its marks
// mean.
func WriteSweep(w io.Writer, points []SweepPoint, units quantity.System) error {
	var b strings.Builder
	b.WriteString("With another fill\n\n")
	const row = "%-3s%7s %7s %7s %10s %10s %10s\n"
	fmt.Fprintf(&b, row, "", "gas", "neck", "over", "rises", "top", "aloft")
	var planned, floats, full bool
	for _, p := range points {
		mark, aloft := "", units.Duration(p.Aloft)
		if p.Planned {
			mark, planned = "*", true
		}
		if p.Floats {
			mark, floats = mark+"~", true
			aloft = "open" // the time up and down leaves out how long it hangs there
		}
		if p.TooFull {
			mark, full = mark+"!", true
		}
		fmt.Fprintf(&b, row, mark, units.Volume(p.Gas), units.Mass(p.Neck), units.Mass(p.Free),
			units.VerticalSpeed(p.Ascent), units.Altitude(p.Top), aloft)
	}
	b.WriteString("\n")
	for _, note := range [...]struct {
		holds bool
		text  string
	}{
		{true, "neck: what it pulls with; over: more than hangs on it"},
		{planned, "*  the plan's fill"},
		{floats, "~  floats at its top, and does not burst"},
		{full, "!  fuller at the release than the envelope's papers want"},
	} {
		if note.holds {
			b.WriteString(note.text + "\n")
		}
	}
	b.WriteString("\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteSweepCSV writes a sweep as RFC 4180 has it, in SI. What floats has no time
// aloft.
func WriteSweepCSV(w io.Writer, points []SweepPoint) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	rows := [][]string{{"gas_m3", "neck_lift_kg", "free_lift_kg", "ascent_rate_m_s", "top_m", "time_aloft_s", "floats", "past_fullest"}}
	number := func(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
	for _, p := range points {
		aloft := number(p.Aloft, 0)
		if p.Floats {
			aloft = ""
		}
		rows = append(rows, []string{
			number(p.Gas, 4), number(p.Neck, 4), number(p.Free, 4), number(p.Ascent, 3), number(p.Top, 0), aloft,
			strconv.FormatBool(p.Floats), strconv.FormatBool(p.TooFull),
		})
	}
	return c.WriteAll(rows)
}
