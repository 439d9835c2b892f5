package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
)

// WriteVaried writes for reading which plans no other beats: what each does otherwise
// than the plan as it stands, and what that gives.
func WriteVaried(w io.Writer, v Varied, units quantity.System) error {
	t := text{units: units, zone: v.Zone}
	if t.zone == nil {
		t.zone = time.UTC
	}
	t.b.WriteString(v.Plan + "\n\n")
	t.varied(v)
	t.minded(v.AsItStands.Launch.Warnings)
	t.paragraphs("Always", v.Cautions)
	_, err := io.WriteString(w, strings.ReplaceAll(t.b.String(), "\u00a0", " "))
	return err
}

// varied is which plans no other beats.
func (t *text) varied(v Varied) {
	base := v.AsItStands
	t.row("Launch", "%s from %s", t.when(base.Time), base.Site)
	t.row("Looked at", "%s, all with the same draws, %d of them with all %d flights", plans(v.Looked), v.Fully, v.Flights)
	for _, out := range v.LeftOut {
		t.row("", "%s left out: %s", plans(out.Plans), out.Why)
	}
	t.gap()
	t.row("As it is", "score %s; bursts at %s; %s", scored(base.Score), keep(t.units.Altitude(base.Height)), t.filled(base))
	t.row("", "%s", t.comesTo(base))
	t.row("", "%s", restate(judged(*base.Launch), t.units))
	switch {
	case base.LeftOut != "":
		t.row("", "as it stands it would itself be left out: %s", base.LeftOut)
	case base.Unbeaten:
		t.row("", "no other plan beats it")
	default:
		t.row("", "other plans beat it")
	}
	for i, c := range v.Told {
		t.gap()
		t.told(fmt.Sprintf("Plan %d", i+1), base, c)
	}
	if len(v.Told) == 0 {
		t.gap()
		t.row("Otherwise", "none of the other plans that are looked at gives more")
	}
	others := len(v.Unbeaten) - len(v.Told)
	if base.Unbeaten {
		others--
	}
	if others > 0 {
		t.gap()
		t.row("Besides", "%s that no other beats either, between these or as good as one of them", plans(others))
	}
	t.gap()
	t.row("Better is", "a lower hazard score, a higher burst, less gas; no plan that is told is worse in one of these than another that is as good in the others. What a launch is held to besides is for you to look at: fly the plan that you choose.")
}

// scored is a score, which is not known where nothing landed.
func scored(v float64) string {
	if math.IsNaN(v) {
		return "not known"
	}
	return fmt.Sprintf("%.1f", v)
}

func plans(n int) string {
	if n == 1 {
		return "1 plan"
	}
	return fmt.Sprintf("%d plans", n)
}

// told is one plan beside the plan as it stands.
func (t *text) told(label string, base, c Choice) {
	t.row(label, "%s", strings.Join(t.changed(base, c), "; "))
	gives := []string{t.higher(c.Height - base.Height)}
	gives[0] = fmt.Sprintf("bursts at %s%s", keep(t.units.Altitude(c.Height)), gives[0])
	if less := c.Gas/base.Gas - 1; math.Abs(less) >= 0.005 {
		gives = append(gives, fmt.Sprintf("%.0f\u00a0%% %s gas", 100*math.Abs(less), moreOrLess(less)))
	}
	if math.Abs(c.Falls-base.Falls) >= 0.1 {
		gives = append(gives, fmt.Sprintf("comes down at %s rather than %s", keep(t.units.VerticalSpeed(c.Falls)), keep(t.units.VerticalSpeed(base.Falls))))
	}
	t.row("  gives", "%s; %s", strings.Join(gives, "; "), t.comesTo(c))
	t.row("  score", "%s rather than %s in the flights of the search; %s", scored(c.Score), scored(base.Score), gain(c))
	rather := ""
	if c.Launch.Verdict != base.Launch.Verdict {
		rather = fmt.Sprintf(" (as it is: %v)", base.Launch.Verdict)
	}
	t.row("  verdict", "%v%s", c.Launch.Verdict, rather)
	for _, r := range c.Launch.Worse(*base.Launch) {
		t.row("", "%v, which the plan as it stands is not: %s", r.Verdict, t.reason(r))
	}
}

// Changes is what a plan does otherwise than the one as it stands, in words, by its
// site's clock.
func (v Varied) Changes(c Choice, units quantity.System) []string {
	t := text{units: units, zone: v.Zone}
	if t.zone == nil {
		t.zone = time.UTC
	}
	all := t.changed(v.AsItStands, c)
	for i := range all {
		all[i] = strings.ReplaceAll(all[i], "\u00a0", " ")
	}
	return all
}

// changed is what a plan does otherwise.
func (t *text) changed(base, c Choice) []string {
	var all []string
	if c.Site != base.Site {
		all = append(all, fmt.Sprintf("from %s rather than %s", c.Site, base.Site))
	}
	if d := c.Time.Sub(base.Time); d != 0 {
		how := "later"
		if d < 0 {
			how, d = "earlier", -d
		}
		all = append(all, fmt.Sprintf("%s %s, at %s", keep(t.units.Duration(d.Seconds())), how, t.when(c.Time)))
	}
	if c.Envelope != base.Envelope {
		all = append(all, fmt.Sprintf("%s rather than %s", t.envelope(c.Envelope), t.envelope(base.Envelope)))
	}
	if !slices.Equal(c.Canopies, base.Canopies) {
		all = append(all, fmt.Sprintf("%s rather than %s", t.canopies(c.Canopies), t.canopies(base.Canopies)))
	}
	var home []string
	for _, part := range base.Parts {
		if !slices.ContainsFunc(c.Parts, func(p balloon.Part) bool { return p.Name == part.Name }) {
			home = append(home, part.Name)
		}
	}
	if len(home) > 0 {
		all = append(all, "leave behind: "+strings.Join(home, ", "))
	}
	if math.Abs(c.Gas/base.Gas-1) >= 0.005 || len(all) == 0 {
		return append(all, fmt.Sprintf("fill %s rather than %s", t.amount(c), t.amount(base)))
	}
	return append(all, t.filled(c)+", as before")
}

func (t *text) amount(c Choice) string {
	return fmt.Sprintf("%s (the neck pulls with %s)", keep(t.units.Volume(c.Gas)), keep(t.units.Mass(c.Pull)))
}

func (t *text) filled(c Choice) string { return "filled with " + t.amount(c) }

func (t *text) envelope(e balloon.Envelope) string {
	return fmt.Sprintf("the envelope of %s that bursts at %s across", keep(t.units.Mass(e.Mass)), t.length(e.Burst))
}

func (t *text) canopies(all []balloon.Canopy) string {
	parts := make([]string, len(all))
	for i, c := range all {
		parts[i] = fmt.Sprintf("the %s canopy, %s of %s", c.Shape.Name, c.Outline, t.length(c.Size))
		if c.Count > 1 {
			parts[i] += fmt.Sprintf(" (%d of them)", c.Count)
		}
	}
	return strings.Join(parts, " and ")
}

// higher says by how much a burst is higher, where that is much.
func (t *text) higher(metres float64) string {
	switch {
	case metres >= 50:
		return fmt.Sprintf(", %s higher", keep(t.units.Altitude(metres)))
	case metres <= -50:
		return fmt.Sprintf(", %s lower", keep(t.units.Altitude(-metres)))
	}
	return ""
}

func moreOrLess(share float64) string {
	if share < 0 {
		return "less"
	}
	return "more"
}

// comesTo is where a plan comes down.
func (t *text) comesTo(c Choice) string {
	d := c.Launch.Landing
	if d == nil {
		return "no flight landed within the forecast"
	}
	return fmt.Sprintf("lands most likely %s away toward %s, by %s nineteen times in twenty; 80\u00a0%% within %s",
		keep(t.units.Distance(d.Distance)), bearing(d.Bearing), clock(d.Late, t.zone), keep(t.units.Area(c.Launch.Area(0.8))))
}

// gain says how sure it is that a score is lower.
func gain(c Choice) string {
	how := "lower"
	if c.Gain < 0 {
		how = "higher"
	}
	told := fmt.Sprintf("in as many fresh flights, by which nothing was chosen, it is %.1f\u00a0±\u00a0%.1f points %s", math.Abs(c.Gain), c.GainHalfWidth, how)
	if math.IsNaN(c.Gain) {
		return "how sure that is is not known"
	}
	if math.Abs(c.Gain) <= c.GainHalfWidth {
		return told + ": no difference that is sure"
	}
	return told + ": that is sure"
}

// judged is a verdict and what it rests on.
func judged(l Launch) string {
	said := l.Verdict.String()
	var whys []string
	for _, r := range l.Reasons {
		if r.Verdict == l.Verdict && r.Verdict != launch.Go {
			whys = append(whys, r.String())
		}
	}
	if len(whys) > 0 {
		said += ": " + strings.Join(whys, "; ")
	}
	return said
}
