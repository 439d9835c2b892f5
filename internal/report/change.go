package report

import (
	"fmt"
	"io"
	"strings"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
)

// WriteTrainChange writes what a changed plan does to a train, before and after.
func WriteTrainChange(w io.Writer, before, after Train, units quantity.System) error {
	t := text{units: units, slim: true}
	label := "Changed"
	t.trainChange(&label, before, after)
	t.rulesChange(&label, before.Rules, after.Rules)
	if label != "" {
		t.row(label, "nothing of what is shown here")
	}
	t.gap()
	_, err := io.WriteString(w, t.b.String())
	return err
}

// WriteChange writes what a changed plan does to a launch, before and after.
func WriteChange(w io.Writer, before, after Launch, units quantity.System) error {
	t := text{units: units, zone: after.Zone}
	label := "Changed"
	change := t.changer(&label)
	if !before.Time.Equal(after.Time) {
		change("launch", t.when(before.Time), t.when(after.Time))
	}
	if before.Train != nil && after.Train != nil {
		t.trainChange(&label, *before.Train, *after.Train)
	} else {
		change("rises at", t.units.VerticalSpeed(before.Ascent.Centre), t.units.VerticalSpeed(after.Ascent.Centre))
		change("bursts at", t.units.Altitude(before.Burst.Centre), t.units.Altitude(after.Burst.Centre))
		change("falls at", t.units.VerticalSpeed(before.Fall.Centre), t.units.VerticalSpeed(after.Fall.Centre))
	}
	t.landingChange(&label, before, after)
	t.rulesChange(&label, before.Rules, after.Rules)
	if before.Verdict != launch.Unlimited && after.Verdict != launch.Unlimited {
		change("verdict", before.Verdict.String(), after.Verdict.String())
	}
	if label != "" {
		t.row(label, "nothing of what is shown here")
	}
	t.gap()
	_, err := io.WriteString(w, t.b.String())
	return err
}

// changer writes a row for what differs, under one label.
func (t *text) changer(label *string) func(what, before, after string) {
	return func(what, before, after string) {
		if before != after {
			t.row(*label, "%s %s → %s", what, keep(before), keep(after))
			*label = ""
		}
	}
}

// trainChange is every consequence for a train that differs.
func (t *text) trainChange(label *string, before, after Train) {
	change := t.changer(label)
	number := func(what string, before, after float64, print func(float64) string) {
		change(what, print(before), print(after))
	}
	u := t.units
	number("hangs below", before.Load.Mass, after.Load.Mass, u.Mass)
	number("envelope", before.Envelope.Mass, after.Envelope.Mass, u.Mass)
	number("burst diameter", before.Envelope.Burst, after.Envelope.Burst, t.length)
	number("gas", before.Gas.Volume, after.Gas.Volume, u.Volume)
	number("neck pulls", before.Release.Pull, after.Release.Pull, u.Mass)
	number("lift left over", before.Release.Free, after.Release.Free, u.Mass)
	number("rises at", before.Ascent.Centre, after.Ascent.Centre, u.VerticalSpeed)
	change("ends its climb", climbEnd(before, u), climbEnd(after, u))
	number("falls at", before.Fall.Centre, after.Fall.Centre, u.VerticalSpeed)
	if len(before.Landings) > 0 && len(after.Landings) > 0 {
		number("lands with", before.Landings[0].Energy, after.Landings[0].Energy, u.Energy)
	}
	change("aloft in still air", aloft(before, u), aloft(after, u))
	if before.Bill != nil && after.Bill != nil {
		change("the cylinders give", enough(*before.Bill), enough(*after.Bill))
		change("cylinders opened", fmt.Sprint(before.Bill.Opened), fmt.Sprint(after.Bill.Opened))
		number("last gauge then", before.Bill.Last, after.Bill.Last, u.Pressure)
	}
}

// climbEnd is how a climb ends, in words.
func climbEnd(r Train, u quantity.System) string {
	how := "bursting at "
	if r.Ending == balloon.Floats {
		how = "floating at "
	}
	return how + u.Altitude(r.Burst.Centre)
}

// enough is how much of the gas that the fill takes the cylinders give.
func enough(b Bill) string {
	if b.Short > 0 {
		return fmt.Sprintf("%.0f %% of the gas", 100*b.Usable/(b.Usable+b.Short))
	}
	return "all of the gas"
}

// aloft is how long a train is up and down, which leaves out how long it floats.
func aloft(r Train, u quantity.System) string {
	if r.Ending == balloon.Floats {
		return "open"
	}
	return u.Duration(r.Up + r.Down)
}

// landingChange is what becomes of the landing.
func (t *text) landingChange(label *string, before, after Launch) {
	if before.Landing == nil || after.Landing == nil {
		landed := func(l Launch) string {
			if l.Landing == nil {
				return "no flight lands in the forecast"
			}
			return "flights land"
		}
		t.changer(label)("outcome", landed(before), landed(after))
		return
	}
	a, b := before.Landing, after.Landing
	change := t.changer(label)
	// What follows is of these flights only: where they grow few it says little.
	change("flights that land in the forecast", landedShare(before), landedShare(after))
	change("aloft", t.units.Duration(a.Aloft), t.units.Duration(b.Aloft))
	change("lands about", t.clock(a.Middle, before.Time), t.clock(b.Middle, after.Time))
	change("from the site", t.units.Distance(a.Distance)+" toward "+bearing(a.Bearing), t.units.Distance(b.Distance)+" toward "+bearing(b.Bearing))
	for i, r := range b.Regions {
		if r.Share == 0.8 && i < len(a.Regions) {
			change("80 % of landings within", t.units.Area(a.Regions[i].Area), t.units.Area(r.Area))
		}
	}
	if moved, toward, _ := geo.Inverse(a.MostLikely, b.MostLikely); moved > 0 {
		t.row(*label, "the most likely place moves by %s toward %s; 95 %% of landings are within %s of it",
			keep(t.units.Distance(moved)), bearing(toward), keep(t.units.Distance(b.Radius95)))
		*label = ""
	}
	if before.Hazard != nil && after.Hazard != nil {
		change("hazard", fmt.Sprintf("%.1f", before.Hazard.Value), fmt.Sprintf("%.1f", after.Hazard.Value))
	}
}

// landedShare is how many of the flights landed, in whole per cent.
func landedShare(l Launch) string {
	for _, e := range l.Endings {
		if e.End == flight.Landed {
			return fmt.Sprintf("%.0f %%", 100*e.Share.Value)
		}
	}
	return "none"
}

// WriteNoBefore says, where a change is shown, why there is nothing before it: the
// faults of the plan as it stands, a line each.
func WriteNoBefore(w io.Writer, faults string, units quantity.System) error {
	t := text{units: units}
	label := "Before"
	for line := range strings.SplitSeq(faults, "\n") {
		t.row(label, "without what was set: %s", line)
		label = ""
	}
	t.gap()
	_, err := io.WriteString(w, t.b.String())
	return err
}
