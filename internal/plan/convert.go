package plan

import (
	"fmt"
	"math"
	"strings"
	"time"
	_ "time/tzdata" // the machine may have no time zones of its own
	"unicode"
	"unicode/utf8"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// convert turns a message into values and holds it to the rules that the
// schema cannot write. What it returns is whole only if the draft has no
// faults then.
func (d *draft) convert(m *thistledownv1.Plan) Plan {
	d.texts(m)
	p := Plan{
		Name:          m.GetName(),
		Site:          d.site("site", m.GetSite()),
		Launch:        d.launch(m),
		Severity:      severity(m.GetGround().GetSeverities()),
		ForecastFiles: append([]string(nil), m.GetForecast().GetFiles()...),
		ForecastName:  m.GetForecast().GetName(),
		ForecastAbove: append([]string(nil), m.GetForecast().GetAbove()...),
		HoldAboveTop:  m.GetForecast().GetHoldAboveTop(),
	}
	d.ground(&p, m.GetGround())
	p.Limits = d.limits(m.GetLimits())
	p.Schedule = d.schedule(m.GetSchedule(), &p)
	d.train(&p, m.GetTrain())
	p.Vary = d.vary(m.GetVary())
	d.uncertainty(&p, m.GetUncertainty())
	p.Rules = d.regulated(&p, m.GetRules())
	s := m.GetSampling()
	if s == nil {
		s = &thistledownv1.Sampling{}
	}
	p.Scrambles = int(or(s.Scrambles, DefaultScrambles))
	p.PerScramble = int(or(s.FlightsPerScramble, DefaultPerScramble))
	p.Seed = or(s.Seed, DefaultSeed)
	p.Draws, _ = ensemble.ParseDraws(s.GetDraws()) // the schema allows no other names; none is the first
	return p
}

// or is what v points to, or a default where it is nil.
func or[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

// texts refuses texts that would not print as one visible line.
func (d *draft) texts(m proto.Message) {
	walk(m.ProtoReflect(), "", func(path string, v protoreflect.Value, fd protoreflect.FieldDescriptor) {
		s, ok := v.Interface().(string)
		switch {
		case !ok || s == "": // whether it may be empty the schema's rules say
		case !utf8.ValidString(s): // possible only in a --set
			d.refuse(path, d.value(path, v, fd), "text in UTF-8")
		case strings.ContainsFunc(s, unprintable):
			d.refuse(path, d.value(path, v, fd), "text on one line")
		case strings.TrimSpace(s) == "":
			d.refuse(path, d.value(path, v, fd), "text that can be seen")
		}
	})
}

// unprintable is a character that ends a line or steers a terminal.
func unprintable(r rune) bool {
	return unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp)
}

// launch is the launch time.
func (d *draft) launch(m *thistledownv1.Plan) time.Time {
	const path = "launch"
	if m.GetLaunch() == nil || !d.sound(path) {
		return time.Time{}
	}
	if m.GetLaunch().CheckValid() != nil {
		d.refuse(path, shownTime(m.GetLaunch()), describe(m.ProtoReflect().Descriptor().Fields().ByName(path)))
		return time.Time{}
	}
	return m.GetLaunch().AsTime()
}

// site is the place to launch from.
func (d *draft) site(at string, m *thistledownv1.Site) Site {
	s := Site{
		Name:      m.GetName(),
		At:        geo.Point{Lat: m.GetLatitude(), Lon: m.GetLongitude()},
		Elevation: math.NaN(),
	}
	if m.GetElevation() != "" {
		s.Elevation = d.quantity(at+".elevation", m.GetElevation(), elevationSpec).Centre
	}
	path := at + ".time_zone"
	if name := m.GetTimeZone(); name != "" && d.sound(path) {
		zone, err := time.LoadLocation(name)
		if err != nil || name == "Local" { // which would depend on the machine
			d.refuse(path, quote(name), `an IANA time zone, such as "Europe/Stockholm"`)
		}
		s.Zone = zone
	}
	return s
}

// measured fills in how a train moves that was measured.
func (d *draft) measured(p *Plan, m *thistledownv1.MeasuredTrain) {
	const path = "train.measured."
	p.Ascent = d.quantity(path+"ascent_rate", m.GetAscentRate(), ascentSpec)
	p.Burst = d.quantity(path+"burst_altitude", m.GetBurstAltitude(), burstSpec)
	p.Landing = d.quantity(path+"landing_speed", m.GetLandingSpeed(), landingSpec)
	if m.GetBurstAltitude() == "" || !d.sound(path+"burst_altitude") {
		return
	}
	above := func(elevation string, s Site) {
		if d.sound(elevation) && p.Burst.Centre <= s.Elevation { // never true of an unknown elevation
			d.refuse(path+"burst_altitude", quote(m.GetBurstAltitude()), fmt.Sprintf("more than %s, %g m", elevation, s.Elevation))
		}
	}
	above("site.elevation", p.Site)
	for i, s := range p.Schedule.Sites {
		above(item("schedule.sites", i)+".elevation", s)
	}
}

// uncertainty fills in launch delay, wind error and what may break.
func (d *draft) uncertainty(p *Plan, m *thistledownv1.Uncertainty) {
	const path = "uncertainty."
	p.Delay = quantity.Uncertain{Centre: DefaultDelay, Spread: DefaultDelaySpread}
	p.WindError, p.WindDoubt, p.WindScale = math.NaN(), ensemble.DefaultWindDoubt, math.NaN()
	if text := m.GetLaunchDelay(); text != "" {
		p.Delay = d.quantity(path+"launch_delay", text, delaySpec)
	}
	if text := m.GetWindError(); text != "" {
		u := d.quantity(path+"wind_error", text, windErrorSpec)
		if p.WindError = u.Centre; u.Centre > 0 {
			p.WindDoubt = u.Spread / u.Centre
		}
	}
	if text := m.GetWindErrorHeightScale(); text != "" {
		p.WindScale = d.quantity(path+"wind_error_height_scale", text, windScaleSpec).Centre
	}
	p.OffNominal = d.offNominal(path+"off_nominal", m.GetOffNominal())
}

// offNominal is how often something breaks.
func (d *draft) offNominal(path string, m *thistledownv1.OffNominal) ensemble.Chances {
	c := DefaultOffNominal()
	for _, f := range []struct {
		text, name string
		spec       spec
		chance     *float64
	}{
		{m.GetEarlyBurst(), "early_burst", earlyBurstSpec, &c.EarlyBurst},
		{m.GetCanopyFails(), "canopy_fails", canopyFailsSpec, &c.CanopyFails},
		{m.GetCanopyFouled(), "canopy_fouled", canopyFouledSpec, &c.CanopyFouled},
		{m.GetSlowLeak(), "slow_leak", slowLeakSpec, &c.SlowLeak},
		{m.GetFloat(), "float", floatSpec, &c.Float},
	} {
		if f.text != "" {
			*f.chance = d.quantity(join(path, f.name), f.text, f.spec).Centre
		}
	}
	return c
}
