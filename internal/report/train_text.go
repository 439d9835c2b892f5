package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
)

// WriteTrain writes what follows from a train's weighed parts, for reading.
func WriteTrain(w io.Writer, r Train, units quantity.System) error {
	t := text{units: units, slim: true}
	t.b.WriteString(r.Plan + "\n\n")
	t.train(r)
	t.rules(r.Rules)
	t.minded(r.Warnings)
	t.paragraphs("Always", append(r.Cautions, Cautions()...))
	_, err := io.WriteString(w, t.b.String())
	return err
}

// train is what follows from a train, but for what is minded of it.
func (t *text) train(r Train) {
	t.scale(r)
	t.gas(r)
	t.climb(r)
	t.fall(r)
	t.trainCauses(r)
	t.bill(r)
	t.electronics(r)
}

// scale is what was weighed, and its sums.
func (t *text) scale(r Train) {
	var parts []string
	for _, p := range r.Parts {
		name := p.Name
		if p.Count > 1 {
			name = fmt.Sprintf("%d × %s", p.Count, p.Name)
		}
		words := name + " " + keep(t.units.Mass(float64(p.Count)*p.Mass))
		switch p.Fate {
		case balloon.LeavesAtBurst:
			words += " (gone at the burst)"
		case balloon.LeavesFalling:
			words += " (let go on the way down)"
		}
		parts = append(parts, words)
	}
	t.row("Weighed", "%s", strings.Join(parts, ", "))
	t.row("", "%s hang below an envelope of %s: %s to lift", t.weight(r.Load),
		keep(t.units.Mass(r.Envelope.Mass)), t.weight(r.Lifted))
	t.found(r)
}

// found is why this envelope, where it was looked for.
func (t *text) found(r Train) {
	f := r.Found
	if f == nil {
		return
	}
	which, reach := fmt.Sprintf("is the smallest of all from %s to %s", keep(t.units.Mass(balloon.RememberedFrom)), keep(t.units.Mass(balloon.RememberedTo))), "to"
	switch {
	case f.Owned == 1:
		which, reach = "is the one at hand", "to at least"
	case f.Owned > 1:
		which, reach = fmt.Sprintf("is the smallest of the %d at hand", f.Owned), "to at least"
	}
	does := []string{"that carries " + keep(t.units.Mass(r.Load.Mass))}
	if f.Burst > 0 {
		does = append(does, reach+" "+keep(t.units.Altitude(f.Burst)))
	}
	if f.Rate > 0 {
		does = append(does, "at "+keep(t.units.VerticalSpeed(f.Rate)))
	}
	if f.Free > 0 {
		does = append(does, "with "+keep(t.units.Mass(f.Free))+" more lift than hangs on it")
	}
	if f.Gas > 0 {
		does = append(does, "on "+keep(t.units.Volume(f.Gas))+" of gas")
	}
	needs := ""
	if f.Gas == 0 {
		needs = ", and needs " + keep(t.units.Volume(r.Gas.Volume))
	}
	t.row("Envelope", "of %s %s %s%s", keep(t.units.Mass(r.Envelope.Mass)), which, strings.Join(does, " "), needs)
}

// weight is a mass with its spread.
func (t *text) weight(w balloon.Weighed) string {
	if w.Spread == 0 {
		return keep(t.units.Mass(w.Mass))
	}
	return keep(t.units.Mass(w.Mass) + " ± " + t.units.Mass(w.Spread))
}

// gas is what fills the envelope.
func (t *text) gas(r Train) {
	g := r.Gas
	t.row("Gas", "%s ± %s of %s, measured at %s and %s: %s across, it lifts %s, so that the neck pulls with %s, %s more than hangs on it",
		keep(t.units.Volume(g.Volume)), keep(fmt.Sprintf("%.0f %%", 100*g.Spread)), gasWords(g.Gas), keep(t.units.Temperature(g.At.Temperature)),
		keep(t.units.Pressure(float64(g.At.Pressure))), t.length(r.Release.Diameter), keep(t.units.Mass(r.Release.Gross)),
		keep(t.units.Mass(r.Release.Pull)), keep(t.units.Mass(r.Release.Free)))
}

// gasWords is a lifting gas in words.
func gasWords(g balloon.LiftingGas) string {
	var words []string
	if g.Helium > 0 {
		words = append(words, keep(fmt.Sprintf("%.4g %% helium", 100*g.Helium)))
	}
	if g.Hydrogen > 0 {
		words = append(words, keep(fmt.Sprintf("%.4g %% hydrogen", 100*g.Hydrogen)))
	}
	return strings.Join(words, " with ")
}

// length is a size across, m or ft.
func (t *text) length(metres float64) string {
	if t.units == quantity.US {
		return keep(fmt.Sprintf("%.1f ft", metres/0.3048))
	}
	return keep(fmt.Sprintf("%.2f m", metres))
}

// climb is the way up and how it ends.
func (t *text) climb(r Train) {
	var by []string
	for _, p := range r.Heights[:len(r.Heights)-1] {
		by = append(by, keep(t.units.Altitude(float64(p.Height)))+" after "+keep(t.units.Duration(p.Time)))
	}
	more := ""
	if len(by) > 0 {
		more = "; " + strings.Join(by, ", ")
	}
	t.row("Rises", "at %s, %s near the ground%s", spread(r.Ascent, t.units.VerticalSpeed), keep(t.units.VerticalSpeed(r.NearGround)), more)
	switch r.Ending {
	case balloon.Floats:
		t.row("Floats", "at %s, %s across, %s after the release, and does not burst", keep(t.units.Altitude(r.Burst.Centre)), t.length(r.BurstAt), keep(t.units.Duration(r.Up)))
	case balloon.Bursts:
		t.row("Bursts", "at %s, %s across, %s after the release", spread(r.Burst, t.units.Altitude), t.length(r.BurstAt), keep(t.units.Duration(r.Up)))
	default:
		t.row("Ends", "%s, at %s", r.Ending, keep(t.units.Altitude(r.Burst.Centre)))
	}
}

// fall is the way down and its end.
func (t *text) fall(r Train) {
	aloft := fmt.Sprintf("aloft %s in all", keep(t.units.Duration(r.Up+r.Down)))
	if r.Ending == balloon.Floats {
		aloft = fmt.Sprintf("when that will be nobody can tell: besides these %s it is aloft for as long as it floats, hours or days, which batteries and reports below leave out", keep(t.units.Duration(r.Up+r.Down)))
	}
	t.row("Falls", "%s for %s; %s", t.weight(r.Falling), keep(t.units.Duration(r.Down)), aloft)
	var ways []string
	for i, l := range r.Landings {
		name := l.Name + ": "
		if i == 0 {
			name = ""
		}
		ways = append(ways, name+keep(t.units.VerticalSpeed(l.Speed))+" and "+keep(t.units.Energy(l.Energy)))
	}
	t.row("Lands", "%s comes down at %s", t.weight(r.Landing), strings.Join(ways, "; "))
	t.row("", "(no rule for balloons, but to compare: %s and %s bound what small unmanned aircraft may hit people with, United States, categories 2 and 3)",
		keep(t.units.Energy(balloon.Yardsticks()[0].Energy)), keep(t.units.Energy(balloon.Yardsticks()[1].Energy)))
	if r.Opening.Greatest > 0 {
		t.row("", "a canopy that sticks until low down opens with %s, %.0f times the weight", t.force(r.Opening.Greatest), r.Opening.Greatest/r.Opening.Steady)
	}
}

// force is a pull, N or lbf.
func (t *text) force(newtons float64) string {
	if t.units == quantity.US {
		return keep(fmt.Sprintf("%.0f lbf", newtons/(0.45359237*9.80665)))
	}
	return keep(fmt.Sprintf("%.0f N", newtons))
}

// trainCauses are what makes the figures uncertain, each by one spread.
func (t *text) trainCauses(r Train) {
	label, ends := "Unsure by", "bursts"
	if r.Ending == balloon.Floats {
		ends = "floats"
	}
	for _, c := range r.Causes {
		var does []string
		add := func(what string, x, least float64, print func(float64) string, more, less string) {
			if x < 0 {
				more = less
			}
			if math.Abs(x) >= least {
				does = append(does, what+" "+keep(print(math.Abs(x)))+" "+more)
			}
		}
		add("rises", c.Ascent, 0.05, t.units.VerticalSpeed, "faster", "slower")
		add(ends, c.Burst, 10, t.units.Altitude, "higher", "lower")
		add("falls", c.Fall, 0.05, t.units.VerticalSpeed, "faster", "slower")
		if len(does) == 0 {
			continue
		}
		t.row(label, "%s, %s more: %s", c.Name, keep(restate(c.Spread, t.units)), strings.Join(does, ", "))
		label = ""
	}
}

// bill is what the fill takes out of the cylinders.
func (t *text) bill(r Train) {
	b := r.Bill
	if b == nil {
		return
	}
	cost := ""
	if b.Cost.Currency != "" {
		cost = fmt.Sprintf("; those opened cost %s", keep(fmt.Sprintf("%.2f %s", b.Cost.Amount, b.Cost.Currency)))
	}
	if b.Short > 0 {
		hand := "one"
		if b.Cylinders > 1 {
			hand = strconv.Itoa(b.Cylinders)
		}
		t.row("Cylinders", "too little in the %s at hand: %.0f\u00a0%% of the gas%s", hand, 100*b.Usable/(b.Usable+b.Short), cost)
		return
	}
	t.row("Cylinders", "%d of %d opened, the last down to %s on its gauge%s", b.Opened, b.Cylinders, keep(t.units.Pressure(b.Last)), cost)
}

// electronics is whether it lasts and is heard.
func (t *text) electronics(r Train) {
	label := "Batteries"
	for _, b := range r.Batteries {
		verdict := fmt.Sprintf("lasts the %s, %s of it used", keep(t.units.Duration(b.Wanted)), keep(fmt.Sprintf("%.0f %%", 100*b.Used)))
		switch {
		case math.IsInf(b.Used, 1):
			verdict = fmt.Sprintf("gives nothing at %s; dead after %s of %s", keep(t.units.Temperature(b.Coldest)), keep(t.units.Duration(b.Dies)), keep(t.units.Duration(b.Wanted)))
		case b.Used > 1:
			verdict = fmt.Sprintf("dead after %s of %s", keep(t.units.Duration(b.Dies)), keep(t.units.Duration(b.Wanted)))
		case b.Margin < 0:
			verdict += fmt.Sprintf("; were it all the time as cold as at the coldest, it would last %s", keep(t.units.Duration(b.LifeColdest)))
		}
		t.row(label, "%s: %s", b.Name, verdict)
		label = ""
	}
	label = "Reports"
	for _, s := range r.Trackers {
		blind := ""
		if s.Blind.Time > 0 {
			blind = fmt.Sprintf("; above %s it may be blind, for %s", keep(t.units.Altitude(float64(balloon.ReceiverStop))), keep(t.units.Duration(s.Blind.Time)))
		}
		t.row(label, "by %s every %s: %d while aloft, %s%s", trackerWords[s.Kind], keep(t.units.Duration(s.Interval)),
			s.Reports, fallApart(t, s.Apart, r), blind)
		label = ""
	}
}

// fallApart is how far it falls between two reports, where it falls as far at all.
func fallApart(t *text, metres float64, r Train) string {
	if metres > r.Burst.Centre {
		return "the whole fall may lie between two of them"
	}
	return keep(t.units.Altitude(metres)) + " of fall apart near the ground"
}

var trackerWords = map[balloon.TrackerKind]string{
	balloon.RadioTracker: "radio", balloon.SatelliteTracker: "satellite", balloon.PhoneTracker: "phone",
}
