package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// WriteRow writes one field as a JSON object on a line of its own. level is in
// hectopascals for isobaric levels and in metres for heights, as level_unit
// says; member is null for a forecast that is no ensemble, and 0 for a control
// that has no number of its own; min, max and mean are null where all is missing.
// What is broken or unsupported carries error.
func WriteRow(w io.Writer, r archive.Row) error {
	type row struct {
		File      string   `json:"file"`
		Message   int      `json:"message,omitempty"`
		Field     int      `json:"field,omitempty"`
		Centre    string   `json:"centre,omitempty"`
		Cycle     string   `json:"cycle,omitempty"`
		Parameter string   `json:"parameter,omitempty"`
		LevelType string   `json:"level_type,omitempty"`
		Level     *float64 `json:"level"`
		LevelUnit string   `json:"level_unit,omitempty"`
		StepHours *float64 `json:"step_hours,omitempty"`
		Member    *int     `json:"member"`
		Grid      string   `json:"grid,omitempty"`
		Packing   string   `json:"packing,omitempty"`
		Points    int      `json:"points,omitempty"`
		Missing   *int     `json:"missing,omitempty"`
		Min       *number  `json:"min,omitempty"`
		Max       *number  `json:"max,omitempty"`
		Mean      *number  `json:"mean,omitempty"`
		Error     string   `json:"error,omitempty"`
	}
	o := row{File: r.File, Message: r.Message, Field: r.Field}
	if r.Parameter != "" {
		o.Centre, o.Cycle = centre(r.Centre), r.Cycle.Format(time.RFC3339)
		o.Parameter, o.Grid, o.Packing, o.Points = r.Parameter, r.Grid, r.Packing, r.Points
		o.LevelType = surfaceName(r.Surface)
		if v, unit := levelValue(r); !math.IsNaN(v) {
			o.Level, o.LevelUnit = &v, unit
		}
		hours := r.Step.Hours()
		o.StepHours = &hours
		if r.Member.Kind != wind.Single {
			o.Member = &r.Member.Number
		}
	}
	if s := r.Stats; s != nil {
		o.Missing, o.Min, o.Max, o.Mean = &s.Missing, (*number)(&s.Min), (*number)(&s.Max), (*number)(&s.Mean)
	}
	for _, err := range []error{r.Broken, r.Unsupported} {
		if err != nil {
			o.Error = err.Error()
			break
		}
	}
	line, err := json.Marshal(o)
	if err != nil {
		return err
	}
	_, err = w.Write(append(line, '\n'))
	return err
}

// number is a JSON number, null if it is NaN.
type number float64

// MarshalJSON writes it.
func (n number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(n)) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

func centre(number uint16) string {
	const ecmwf = 98 // its terms ask for being named, and for saying that the data were changed
	if name := CentreName(number); name != "" {
		if number == ecmwf {
			name += " (open data under CC-BY-4.0, changed)"
		}
		return name
	}
	if number == math.MaxUint16 { // which Common Code Table C-11 has for a missing value
		return "a centre that is not named"
	}
	return fmt.Sprintf("centre %d", number)
}

// surfaceName is a kind of level in words, after code table 4.5.
func surfaceName(s grib.Surface) string {
	switch s {
	case grib.Ground:
		return "ground"
	case grib.TopOfAtmosphere:
		return "top of the atmosphere"
	case grib.Atmosphere:
		return "entire atmosphere"
	case grib.Isobaric:
		return "isobaric"
	case grib.MeanSeaLevel:
		return "mean sea level"
	case grib.HeightAboveSea:
		return "height above sea"
	case grib.HeightAboveGround:
		return "height above ground"
	case grib.Sigma:
		return "sigma"
	}
	return fmt.Sprintf("surface %d", uint8(s))
}

// levelValue is a level in the unit that is usual for its kind.
func levelValue(r archive.Row) (value float64, unit string) {
	switch r.Surface {
	case grib.Isobaric:
		return r.Level / 100, "hPa"
	case grib.HeightAboveSea, grib.HeightAboveGround:
		return r.Level, "m"
	}
	return r.Level, ""
}

// Inventory sums up the fields of any number of files. The zero value is ready.
type Inventory struct {
	groups map[group]*groupSum
	broken []string
	lost   int // broken places beyond those listed
	others int // fields that no flight is flown on
}

// group is what fields are listed together by.
type group struct {
	centre    uint16
	cycle     time.Time
	parameter string
	surface   grib.Surface
	grid      string
	packing   string
	refusal   bool
}

type groupSum struct {
	fields  int
	levels  map[float64]bool
	steps   map[time.Duration]bool
	members map[wind.Member]bool
	why     string
}

// maxGroups and maxBroken bound an inventory.
const (
	maxGroups = 4096
	maxBroken = 20
)

// Add takes in one field or fault; all is set for fields that no flight is flown
// on too.
func (v *Inventory) Add(r archive.Row, all bool) {
	if r.Broken != nil {
		if len(v.broken) < maxBroken {
			v.broken = append(v.broken, fmt.Sprintf("%s: %v", r.File, r.Broken))
		} else {
			v.lost++
		}
		return
	}
	g := group{r.Centre, r.Cycle, r.Parameter, r.Surface, r.Grid, r.Packing, r.Unsupported != nil}
	s := v.groups[g]
	if (!r.Flown && !all) || (s == nil && len(v.groups) == maxGroups) {
		v.others++
		return
	}
	if s == nil {
		if v.groups == nil {
			v.groups = map[group]*groupSum{}
		}
		s = &groupSum{levels: map[float64]bool{}, steps: map[time.Duration]bool{}, members: map[wind.Member]bool{}}
		v.groups[g] = s
	}
	s.fields++
	if !math.IsNaN(r.Level) {
		value, _ := levelValue(r)
		s.levels[value] = true
	}
	s.steps[r.Step], s.members[r.Member] = true, true
	if r.Unsupported != nil && s.why == "" {
		s.why = r.Unsupported.Error()
	}
}

// Write writes the inventory as tables, one for each forecast.
func (v *Inventory) Write(w io.Writer) error {
	var b strings.Builder
	keys := make([]group, 0, len(v.groups))
	for g := range v.groups {
		keys = append(keys, g)
	}
	slices.SortFunc(keys, func(a, b group) int {
		return cmp.Or(b.cycle.Compare(a.cycle), cmp.Compare(a.centre, b.centre), -cmp.Compare(a.surface, b.surface),
			cmp.Compare(a.parameter, b.parameter), cmp.Compare(a.grid, b.grid), cmp.Compare(a.packing, b.packing), cmp.Compare(refused(a), refused(b)))
	})
	for len(keys) > 0 {
		n := 1
		for n < len(keys) && keys[n].centre == keys[0].centre && keys[n].cycle.Equal(keys[0].cycle) {
			n++
		}
		fmt.Fprintf(&b, "%s, cycle of %s UTC\n\n", centre(keys[0].centre), keys[0].cycle.Format("2 Jan 2006 15:04"))
		if err := v.table(&b, keys[:n]); err != nil {
			return err
		}
		b.WriteString("\n")
		keys = keys[n:]
	}
	if v.others > 0 {
		fmt.Fprintf(&b, "Fields of other kinds, which no flight is flown on: %d\n", v.others)
	}
	for _, line := range v.broken {
		fmt.Fprintf(&b, "Broken: %s\n", line)
	}
	if v.lost > 0 {
		fmt.Fprintf(&b, "Broken: %d more\n", v.lost)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func refused(g group) int {
	if g.refusal {
		return 1
	}
	return 0
}

func (v *Inventory) table(b *strings.Builder, keys []group) error {
	t := tabwriter.NewWriter(b, 0, 1, 2, ' ', 0)
	_, _ = fmt.Fprintln(t, "FIELD\tLEVELS\tSTEPS\tMEMBERS\tGRID\tPACKING\tFIELDS")
	for _, g := range keys {
		s := v.groups[g]
		packing := g.packing
		if g.refusal {
			packing += " (not read)"
		}
		_, _ = fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%d\n", g.parameter, levels(g.surface, s), steps(s), members(s), g.grid, packing, s.fields)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, g := range keys {
		if s := v.groups[g]; s.why != "" {
			fmt.Fprintf(b, "Not read: %s: %s\n", g.parameter, s.why)
		}
	}
	return nil
}

// levels is such as "31 from 1000 to 1 hPa" or "10 m above ground".
func levels(surface grib.Surface, s *groupSum) string {
	values := make([]float64, 0, len(s.levels))
	for v := range s.levels {
		values = append(values, v)
	}
	slices.Sort(values)
	unit, name := "", surfaceName(surface)
	switch surface {
	case grib.Isobaric:
		slices.Reverse(values)
		unit, name = " hPa", ""
	case grib.HeightAboveGround:
		unit, name = " m", " above ground"
	case grib.HeightAboveSea:
		unit, name = " m", " above sea"
	case grib.Ground, grib.MeanSeaLevel, grib.Atmosphere, grib.TopOfAtmosphere:
		return name // their value says nothing
	}
	switch len(values) {
	case 0:
		return strings.TrimSpace(name)
	case 1:
		return fmt.Sprintf("%g%s%s", values[0], unit, name)
	}
	return fmt.Sprintf("%d from %g to %g%s%s", len(values), values[0], values[len(values)-1], unit, name)
}

// steps is such as "6 h" or "3 from 0 to 12 h".
func steps(s *groupSum) string {
	all := make([]time.Duration, 0, len(s.steps))
	for d := range s.steps {
		all = append(all, d)
	}
	slices.Sort(all)
	if len(all) == 1 {
		return fmt.Sprintf("%g h", all[0].Hours())
	}
	return fmt.Sprintf("%d from %g to %g h", len(all), all[0].Hours(), all[len(all)-1].Hours())
}

// members is such as "control and 30 more".
func members(s *groupSum) string {
	if len(s.members) == 1 {
		for m := range s.members {
			if m.Kind == wind.Single {
				return "–"
			}
			return m.String()
		}
	}
	return fmt.Sprint(len(s.members))
}

// WriteContents writes what of a forecast can be flown on and what is missing.
func WriteContents(w io.Writer, h archive.Holding) error {
	t := text{}
	t.row("Forecast", "%s, cycle of %s UTC", centre(h.Centre), h.Cycle.Format("2 Jan 2006 15:04"))
	t.row("Grid", "%s", h.Grid)
	t.row("Levels", "%d, from %g to %g hPa", len(h.Levels), h.Levels[0]/100, h.Levels[len(h.Levels)-1]/100)
	first, last := h.Steps[0], h.Steps[len(h.Steps)-1]
	t.row("Steps", "%d, from %s to %s UTC (%g to %g h)", len(h.Steps), h.Cycle.Add(first).Format("2 Jan 15:04"),
		h.Cycle.Add(last).Format("2 Jan 15:04"), first.Hours(), last.Hours())
	names := make([]string, len(h.Members))
	for i, m := range h.Members {
		names[i] = m.String()
	}
	if len(names) > 4 {
		names = append(names[:3], fmt.Sprintf("… %v", h.Members[len(h.Members)-1]))
	}
	t.row("Members", "%d: %s", len(h.Members), strings.Join(names, ", "))
	var carried, missing []string
	for q := range wind.Quantities {
		if slices.Contains(h.Surface, q) {
			carried = append(carried, q.String())
		} else {
			missing = append(missing, q.String())
		}
	}
	if h.Terrain {
		carried = append(carried, "terrain")
	}
	t.row("At ground", "%s", orNothing(carried))
	if len(missing) > 0 {
		t.row("Missing", "%s", strings.Join(missing, ", "))
	}
	t.paragraphs("Mind", h.Warnings)
	_, err := io.WriteString(w, t.b.String())
	return err
}

func orNothing(words []string) string {
	if len(words) == 0 {
		return "nothing"
	}
	return strings.Join(words, ", ")
}

// WritePacked writes what was packed.
func WritePacked(w io.Writer, p archive.Packed) error {
	g := p.Axes.Grid
	t := text{}
	t.gap()
	t.row("Packed", "%s, %.1f MB: %d × %d columns from latitude %.4g, longitude %.4g by %.4g, %.4g degrees",
		p.File, float64(p.Size)/1e6, g.NX, g.NY, g.Lat0, g.Lon0, g.DLat, g.DLon)
	t.row("", "winds to 0.05 m/s, heights to 1 m, temperatures to 0.05 K, mostly much better; each block has a checksum")
	_, err := io.WriteString(w, t.b.String())
	return err
}
