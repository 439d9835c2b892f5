package report

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/launch"
)

// Varied is what was found on looking for better plans than one.
type Varied struct {
	Plan string
	Zone *time.Location // of the plan's own site

	Looked  int       // plans, with the plan as it stands
	LeftOut []LeftOut // of these, by reason
	Fully   int       // plans that were flown with all their flights; the others were beaten, or out, before
	Flights int       // which are so many each

	AsItStands Choice
	Unbeaten   []Choice // all plans that no other beats, in the order of the search; without Launch and Gain
	Told       []Choice // the few of them that are told, by score

	Version  string
	Cautions []string // whole sentences
}

// LeftOut is how many plans are left out for a reason.
type LeftOut struct {
	Why   string // a clause, as in "of these 3 would float"
	Plans int
}

// Choice is one plan, and what it gives.
type Choice struct {
	Site     string
	Time     time.Time // of the launch, UTC
	Parts    []balloon.Part
	Envelope balloon.Envelope
	Canopies []balloon.Canopy

	Gas    float64 // m³, as the plan measures volumes
	Pull   float64 // kg, what the neck pulls with
	Height float64 // of the burst as planned, m above mean sea level
	Falls  float64 // m/s, at the ground
	Score  float64 // hazard score, 0 to 100
	// Gain is by how much the score is lower than that of the plan as it stands, in
	// points and in flights that the search has not seen, and GainHalfWidth half its
	// 95 % interval.
	Gain, GainHalfWidth float64

	LeftOut  string // why it is none to be told; of the plan as it stands alone
	Unbeaten bool   // of the plan as it stands alone
	Launch   *Launch
}

// Worse are the reasons of a launch that speak against it more than the same reason
// speaks against another.
func (l Launch) Worse(other Launch) []launch.Reason {
	var all []launch.Reason
	for _, r := range l.Reasons {
		as := func(o launch.Reason) bool { return o.What == r.What && o.Verdict >= r.Verdict }
		if r.Verdict > launch.Go && !slices.ContainsFunc(other.Reasons, as) {
			all = append(all, r)
		}
	}
	return all
}

// varyHead heads the table of plans; units stand in the names.
var varyHead = []string{
	"told", "score", "burst_m", "gas_m3", "neck_pulls_kg", "lands_at_m_s", "launch_utc", "site",
	"envelope_kg", "envelope_bursts_at_m", "canopies", "parts", "gain", "gain_half_width", "verdict",
}

// WriteVariedCSV writes a line for the plan as it stands, and one for each plan that
// no other beats, as RFC 4180 has it. Those that are told are numbered as there, the
// plan as it stands with 0.
func WriteVariedCSV(w io.Writer, v Varied) error {
	table := csv.NewWriter(w)
	table.UseCRLF = true
	if err := table.Write(varyHead); err != nil {
		return err
	}
	if err := table.Write(v.AsItStands.line("0")); err != nil {
		return err
	}
	for _, c := range v.Unbeaten {
		if c.sameAs(v.AsItStands) {
			continue
		}
		number := ""
		for i, told := range v.Told {
			if told.sameAs(c) {
				number, c = strconv.Itoa(i+1), told
			}
		}
		if err := table.Write(c.line(number)); err != nil {
			return err
		}
	}
	table.Flush()
	return table.Error()
}

// line is a plan as the table has it.
func (c Choice) line(number string) []string {
	gain, half, verdict := "", "", ""
	if c.Launch != nil {
		verdict = c.Launch.Verdict.String()
		if number != "0" {
			gain, half = decimal(c.Gain, 2), decimal(c.GainHalfWidth, 2)
		}
	}
	return []string{
		number, decimal(c.Score, 2), decimal(c.Height, 0), decimal(c.Gas, 3), decimal(c.Pull, 3), decimal(c.Falls, 2), stamp(c.Time), c.Site,
		decimal(c.Envelope.Mass, 3), decimal(c.Envelope.Burst, 2), strings.Join(c.Worn(), "; "), strings.Join(c.Carried(), "; "), gain, half, verdict,
	}
}

// Worn are a plan's canopies, in words.
func (c Choice) Worn() []string {
	var all []string
	for _, canopy := range c.Canopies {
		all = append(all, canopy.Shape.Name+" "+canopy.Outline.String()+" "+decimal(canopy.Size, 2)+" m")
	}
	return all
}

// Carried are the names of its parts.
func (c Choice) Carried() []string {
	var all []string
	for _, part := range c.Parts {
		all = append(all, part.Name)
	}
	return all
}

// sameAs reports whether two choices are the same plan.
func (c Choice) sameAs(o Choice) bool {
	if c.Site != o.Site || !c.Time.Equal(o.Time) || c.Envelope != o.Envelope || c.Gas != o.Gas || len(c.Canopies) != len(o.Canopies) || len(c.Parts) != len(o.Parts) {
		return false
	}
	for i := range c.Canopies {
		if c.Canopies[i] != o.Canopies[i] {
			return false
		}
	}
	for i := range c.Parts {
		if c.Parts[i] != o.Parts[i] {
			return false
		}
	}
	return true
}
