package plan

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// What holds of a train where a plan says nothing. Each is documented with its
// source at its field in train.proto.
const (
	DefaultPartSpread     = 0.01 // of the mass
	DefaultEnvelopeSpread = 0.03 // of the mass
	DefaultBurstAtSpread  = 0.07 // of the diameter
	DefaultHangsOn        = 0.30 // of the envelope
	DefaultHangsOnSpread  = 0.20 // of the envelope
	DefaultGasSpread      = 0.03 // of the gas
	DefaultDragSpread     = 0.10 // of the envelope's drag coefficient
	DefaultCanopySpread   = 0.20 // of a canopy's drag coefficient
	DefaultLeftInEach     = 2e5  // Pa
	DefaultWaiting        = 1800.0
	DefaultSearching      = 6 * hour
)

// Train is what is known of a train besides how it was measured to move.
type Train struct {
	Parts []balloon.Part // of which none need be known where it was measured
	// Weighed is the rest of a train that was weighed and not measured; nil for
	// one that was measured.
	Weighed   *Weighed
	Batteries []Battery
	Trackers  []Tracker
	Waiting   float64 // s that everything is on before the release, 0 to a day
	Searching float64 // s that it is to report after the landing, 0 to 30 days
}

// Weighed is envelope, gas and canopies of a train.
type Weighed struct {
	Envelope balloon.Envelope // none where Find is not nil
	Find     *Find            // what the envelope is looked for by; nil where it is given
	Filling  balloon.Filling  // but for its amount
	Fill     Fill
	Drag     balloon.Drag
	// DragSpread is one standard deviation of the drag coefficient, a share of it.
	DragSpread float64
	// Temperature, K, and Pressure, Pa, absolute, at which a volume of gas is
	// measured; NaN: those of the air at the release.
	Temperature, Pressure float64
	Cylinders             []Cylinder
	LeftInEach            balloon.AbsolutePressure
	Canopies              []Canopy
}

// FillBy is in what way a plan says how much gas there is.
type FillBy uint8

// The ways.
const (
	ByVolume     FillBy = iota + 1 // m³
	ByNeckLift                     // kg
	ByFreeLift                     // kg
	ByAscentRate                   // m/s, mean
	ByBurst                        // m above mean sea level
	ByWholeRack                    // all that the cylinders give
)

// Fill is how much gas there is.
type Fill struct {
	By FillBy
	// Amount is that in the unit of By; nothing for ByWholeRack. Its spread is NaN
	// where Spread holds instead.
	Amount quantity.Uncertain
	// Spread is one standard deviation of the gas, as a share of it.
	Spread float64
}

// Canopy is a canopy and how far its drag may be off.
type Canopy struct {
	balloon.Canopy
	// Spread is one standard deviation of the drag coefficient, a share of it.
	Spread float64
}

// Cylinder is a kind of cylinder as it stands there.
type Cylinder struct {
	Water       float64 // m³
	Gauge       balloon.GaugePressure
	Temperature float64 // K; NaN: that of the air at the release
	Count       int
	Price       balloon.Price // of one; the zero Price if none is given
}

// DefaultAntenna is how high a receiver's antenna is, m above the ground (assumed).
const DefaultAntenna = 2.0

// Tracker is a tracker and, of one by radio, who listens to it.
type Tracker struct {
	balloon.Tracker
	Antenna float64 // m above the ground at the site
}

// Battery is a battery with its name.
type Battery struct {
	Name string
	balloon.Battery
	Warmer     float64 // K by which it is warmer than the air around it
	UntilFound bool    // it is to last until the payload is found, not until the landing alone
}

// train fills in the train.
func (d *draft) train(p *Plan, m *thistledownv1.Train) {
	const path = "train"
	t := Train{
		Parts: d.parts(m.GetParts()), Batteries: d.batteries(m.GetBatteries()),
		Waiting: DefaultWaiting, Searching: DefaultSearching,
	}
	if text := m.GetWaiting(); text != "" {
		t.Waiting = d.quantity(path+".waiting", text, waitingSpec).Centre
	}
	if text := m.GetSearching(); text != "" {
		t.Searching = d.quantity(path+".searching", text, searchingSpec).Centre
	}
	for i, tracker := range m.GetTrackers() {
		at := item(path+".trackers", i)
		antenna := DefaultAntenna
		if text := tracker.GetAntenna(); text != "" {
			antenna = d.quantity(at+".antenna", text, antennaSpec).Centre
		}
		t.Trackers = append(t.Trackers, Tracker{Antenna: antenna, Tracker: balloon.Tracker{
			Kind: trackerKinds[tracker.GetBy()], WorksAbove: tracker.GetWorksAbove_18Km(),
			Interval: d.quantity(at+".every", tracker.GetEvery(), everySpec).Centre,
		}})
	}
	if m.GetMeasured() == nil {
		t.Weighed = d.weighed(m)
	} else {
		d.measured(p, m.GetMeasured())
	}
	p.Train = t
}

// The words of the schema.
var (
	trackerKinds = map[string]balloon.TrackerKind{
		"radio": balloon.RadioTracker, "satellite": balloon.SatelliteTracker, "phone": balloon.PhoneTracker,
	}
	places = map[string]balloon.Place{
		"": balloon.AtBottom, "bottom": balloon.AtBottom, "line": balloon.OnTrain, "neck": balloon.AtNeck,
	}
	fates = map[string]balloon.Fate{
		"": balloon.Returns, "at_burst": balloon.LeavesAtBurst, "falling": balloon.LeavesFalling,
	}
	outlines = map[string]balloon.Outline{
		"": balloon.Circle, "circle": balloon.Circle, "square": balloon.Square, "hexagon": balloon.Hexagon,
	}
	chemistries = map[string]balloon.Chemistry{
		"lithium_primary": balloon.LithiumPrimary, "lithium_ion": balloon.LithiumIon,
		"nickel_metal_hydride": balloon.NickelMetalHydride, "alkaline": balloon.Alkaline,
	}
)

// parts is what was weighed.
func (d *draft) parts(all []*thistledownv1.Part) []balloon.Part {
	const path = "train.parts"
	var parts []balloon.Part
	first := map[string]int{}
	load := 0.0
	for i, m := range all {
		d.once(first, m.GetName(), path, i)
		mass := d.quantity(item(path, i)+".mass", m.GetMass(), partMassSpec)
		parts = append(parts, balloon.Part{
			Name: m.GetName(), Mass: mass.Centre, Spread: mass.Spread, Count: int(or(m.Count, 1)),
			Place: places[m.GetHangs()], Fate: fates[m.GetLeaves()],
		})
		load += mass.Centre * float64(or(m.Count, 1))
	}
	if load > balloon.MaxLoad && d.intact(path) {
		d.refuse(path, fmt.Sprintf("%.4g kg together", load), fmt.Sprintf("at most %d kg", balloon.MaxLoad))
	}
	return parts
}

// weighed is envelope, gas and canopies.
func (d *draft) weighed(m *thistledownv1.Train) *Weighed {
	if m.GetEnvelope() == nil && m.GetFindEnvelope() == nil || m.GetGas() == nil { // the schema's rules say so
		return nil
	}
	w := &Weighed{}
	if find := m.GetFindEnvelope(); find != nil {
		w.Find = d.find(find)
	} else {
		w.Envelope = d.envelope("train.envelope", m.GetEnvelope())
	}
	d.gas(w, m.GetGas())
	for i, c := range m.GetCanopies() {
		w.Canopies = append(w.Canopies, d.canopy(item("train.canopies", i), c))
	}
	return w
}

// envelope is the balloon without its gas.
func (d *draft) envelope(path string, m *thistledownv1.Envelope) balloon.Envelope {
	mass := d.quantity(path+".mass", m.GetMass(), envelopeMassSpec)
	e := balloon.Envelope{
		Mass: mass.Centre, MassSpread: mass.Spread, Remains: DefaultHangsOn, RemainsSpread: DefaultHangsOnSpread,
	}
	if text := m.GetHangsOn(); text != "" {
		u := d.quantity(path+".hangs_on", text, hangsOnSpec)
		e.Remains, e.RemainsSpread = u.Centre, u.Spread
	}
	if text := m.GetFullest(); text != "" {
		e.Fullest = d.quantity(path+".fullest", text, fullestSpec).Centre
	}
	if text := m.GetBurstsAt(); text != "" {
		u := d.quantity(path+".bursts_at", text, burstsAtSpec)
		e.Burst, e.BurstSpread = u.Centre, u.Spread
	} else if m.GetMass() != "" && d.sound(path+".mass") {
		remembered, err := balloon.RememberedEnvelope(e.Mass)
		if err != nil {
			d.refuse(path+".bursts_at", missing, fmt.Sprintf("the burst diameter of the envelope's papers: none is remembered outside %g g to %g kg",
				1000*balloon.RememberedFrom, balloon.RememberedTo))
		}
		e.Burst, e.BurstSpread, e.FromMemory = remembered.Burst, remembered.BurstSpread, true
	}
	return e
}

// gas fills in what fills the envelope, and how much.
func (d *draft) gas(w *Weighed, m *thistledownv1.Gas) {
	const path = "train.gas."
	plain := func(name, text string, s spec, otherwise float64) float64 {
		if text == "" {
			return otherwise
		}
		return d.quantity(path+name, text, s).Centre
	}
	f := &w.Filling
	f.Gas.Helium = plain("helium", m.GetHelium(), heliumSpec, 0)
	f.Gas.Hydrogen = plain("hydrogen", m.GetHydrogen(), hydrogenSpec, 0)
	if m.GetHelium()+m.GetHydrogen() != "" && d.sound(path+"helium") && d.sound(path+"hydrogen") {
		if light := f.Gas.Helium + f.Gas.Hydrogen; !(light >= balloon.MinPurity && light <= 1+rounding) {
			d.refuse("train.gas", fmt.Sprintf("%.4g %% helium and %.4g %% hydrogen", 100*f.Gas.Helium, 100*f.Gas.Hydrogen),
				fmt.Sprintf("%g %% to 100 %% together, the rest being air", 100*balloon.MinPurity))
		}
	}
	f.Superheat = plain("superheat", m.GetSuperheat(), superheatSpec, 0)
	f.Overpressure = plain("skin_pressure", m.GetSkinPressure(), skinPressureSpec, 0)
	f.Leak = plain("leak", m.GetLeak(), leakSpec, 0)
	w.Temperature = plain("temperature", m.GetTemperature(), gasTemperatureSpec, math.NaN())
	w.Pressure = plain("pressure", m.GetPressure(), gasPressureSpec, math.NaN())
	w.LeftInEach = balloon.AbsolutePressure(plain("left_in_each", m.GetLeftInEach(), leftInEachSpec, DefaultLeftInEach))
	w.DragSpread = plain("drag_spread", m.GetDragSpread(), dragSpreadSpec, DefaultDragSpread)
	w.Drag = balloon.SoundingDrag()
	if m.DragCoefficient != nil {
		w.Drag = balloon.ConstantDrag(m.GetDragCoefficient())
	}
	w.Fill = d.fill(m)
	w.Cylinders = d.cylinders(m, f.Gas)
}

// fill is how much gas there is.
func (d *draft) fill(m *thistledownv1.Gas) Fill {
	for _, by := range []struct {
		by         FillBy
		name, text string
		spec       spec
	}{
		{ByVolume, "volume", m.GetVolume(), volumeSpec},
		{ByNeckLift, "neck_lift", m.GetNeckLift(), neckLiftSpec},
		{ByFreeLift, "free_lift", m.GetFreeLift(), freeLiftSpec},
		{ByAscentRate, "ascent_rate", m.GetAscentRate(), wantedRateSpec},
		{ByBurst, "bursts_near", m.GetBurstsNear(), wantedBurstSpec},
	} {
		if by.text == "" {
			continue
		}
		path := "train.gas." + by.name
		if by.by == ByFreeLift && d.sinks(path, by.text) {
			continue
		}
		f := Fill{By: by.by, Amount: d.quantity(path, by.text, by.spec), Spread: DefaultGasSpread}
		if !by.spec.stated(by.text) {
			f.Amount.Spread = math.NaN()
		}
		return f
	}
	return Fill{By: ByWholeRack, Spread: DefaultGasSpread}
}

// canopy is what brakes the fall.
func (d *draft) canopy(path string, m *thistledownv1.Canopy) Canopy {
	c := Canopy{
		Canopy: balloon.Canopy{
			Outline: outlines[m.GetOutline()], Size: d.quantity(path+".size", m.GetSize(), canopySizeSpec).Centre,
			Count: int(or(m.Count, 1)),
		},
		Spread: DefaultCanopySpread,
	}
	// The schema's rules let no name pass but those that balloon knows too.
	c.Shape, _ = balloon.ShapeNamed(m.GetShape())
	c.Cd = or(m.DragCoefficient, c.Shape.MiddleCd())
	if text := m.GetDragSpread(); text != "" {
		c.Spread = d.quantity(path+".drag_spread", text, canopySpreadSpec).Centre
	}
	return c
}

// batteries is what feeds the electronics.
func (d *draft) batteries(all []*thistledownv1.Battery) []Battery {
	const path = "train.batteries"
	var batteries []Battery
	first := map[string]int{}
	for i, m := range all {
		d.once(first, m.GetName(), path, i)
		at := item(path, i)
		read := func(name, text string, s spec) float64 { return d.quantity(at+"."+name, text, s).Centre }
		volts := read("voltage", m.GetVoltage(), voltageSpec)
		b := Battery{
			Name:       m.GetName(),
			Battery:    balloon.Battery{Chemistry: chemistries[m.GetChemistry()], Count: int(or(m.Count, 1))},
			UntilFound: m.GetUntilFound(),
			Warmer:     read("warmer", m.GetWarmer(), warmerSpec),
		}
		b.Energy = read("energy", m.GetEnergy(), energySpec) + volts*read("charge", m.GetCharge(), chargeSpec)
		b.Draw = read("power", m.GetPower(), powerSpec) + volts*read("current", m.GetCurrent(), currentSpec)
		if m.GetEnergy() == "" {
			d.product(at, "charge × voltage", b.Energy, energySpec)
		}
		if m.GetPower() == "" {
			d.product(at, "current × voltage", b.Draw, powerSpec)
		}
		batteries = append(batteries, b)
	}
	return batteries
}

// product holds what follows from two fields of the message at path, if nothing
// is wrong there, to the limits of the field that could be given instead.
func (d *draft) product(path, what string, v float64, s spec) {
	unit := s.kind.si
	want := "at least " + s.tell(s.low, unit, math.Ceil)
	if v > s.high {
		want = "at most " + s.tell(s.high, unit, math.Floor)
	}
	if d.intact(path) && !(v >= s.low && v <= s.high) {
		d.refuse(path, what+" is "+s.tell(v, unit, math.Round), want)
	}
}
