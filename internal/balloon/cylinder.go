package balloon

import (
	"errors"
	"fmt"
	"math"
)

// Limits of a cylinder of compressed gas.
const (
	MinWaterVolume = 1e-4 // m³
	MaxWaterVolume = 5    // m³, a tube on a trailer
	MinPurity      = 0.5  // share by amount of substance
	MaxCylinders   = 1000 // in one rack

	minGasTemperature = 233.15 // K, −40 °C
	maxGasTemperature = 333.15 // K, +60 °C
)

// universalR is the molar gas constant, J/(mol K) (exact since 2019). The
// standard atmosphere keeps its own of 1976, 1.7e-5 smaller.
const universalR = 8.314462618

// GaugePressure is a pressure above that of the air around the gauge, Pa.
type GaugePressure float64

// AbsolutePressure is a pressure above vacuum, Pa.
type AbsolutePressure float64

// Absolute is the absolute pressure behind a gauge that stands in air of the
// given pressure.
func (g GaugePressure) Absolute(around AbsolutePressure) AbsolutePressure {
	return AbsolutePressure(g) + around
}

// Gauge is what a gauge in air of the given pressure reads.
func (a AbsolutePressure) Gauge(around AbsolutePressure) GaugePressure {
	return GaugePressure(a - around)
}

// CylinderGas is what a cylinder is sold as. A mixture of the two comes from two
// cylinders, never out of one.
type CylinderGas uint8

// The gases of cylinders.
const (
	CylinderHelium CylinderGas = iota + 1
	CylinderHydrogen
)

// String is the gas in words.
func (g CylinderGas) String() string {
	switch g {
	case CylinderHelium:
		return "helium"
	case CylinderHydrogen:
		return "hydrogen"
	}
	return fmt.Sprintf("gas %d", uint8(g))
}

// Molar masses, kg/mol: helium and hydrogen as [Lemmon2008] and the usual tables
// have them, dry air of [US76] for what is not the light gas.
const (
	heliumMolar   = 4.002602e-3
	hydrogenMolar = 2.01588e-3
	restMolar     = 28.9644e-3
)

// molarMass is the molar mass in kg/mol; NaN for no gas.
func (g CylinderGas) molarMass() float64 {
	switch g {
	case CylinderHelium:
		return heliumMolar
	case CylinderHydrogen:
		return hydrogenMolar
	}
	return math.NaN()
}

// MaxPressure is the greatest absolute pressure for which Compressibility is
// offered, 0 for no gas.
func (g CylinderGas) MaxPressure() AbsolutePressure {
	switch g {
	case CylinderHelium:
		return 30e6
	case CylinderHydrogen:
		return 70e6
	}
	return 0
}

// Compressibility is Z = p·V/(n·R·T) at an absolute pressure from 0 to
// MaxPressure and a temperature from 233.15 to 333.15 K; NaN elsewhere.
//
// Hydrogen is the equation of [Lemmon2008], within 0.01 % of measurements there
// by its authors' word (from memory). Helium is 1 + B·x + (C − B²)·x², x =
// p/(R·T), with B = 11.71 − 0.0050·(T − 300 K) cm³/mol and C = 113 cm⁶/mol²
// fitted by least squares to 17 values of a published table at 15 °C and 50 °C
// from 1 to 200 bar, which it meets to 6e-5, the table's rounding. Below 15 °C
// and above 200 bar it is extrapolated; 0.2 % is a fair guess there.
func (g CylinderGas) Compressibility(p AbsolutePressure, temperature float64) float64 {
	if !(p >= 0 && p <= g.MaxPressure() && g.MaxPressure() > 0 && temperature >= minGasTemperature && temperature <= maxGasTemperature) {
		return math.NaN()
	}
	if g == CylinderHelium {
		b := (11.71 - 0.0050*(temperature-300)) * 1e-6 // m³/mol
		const c = 113e-12                              // m⁶/mol²
		x := float64(p) / (universalR * temperature)   // mol/m³
		return 1 + b*x + (c-b*b)*x*x
	}
	return hydrogenZ(float64(p)/1e6, temperature)
}

// virial is a term of [Lemmon2008], a·(100 K/T)^b·(p/1 MPa)^c.
type virial struct{ a, b, c float64 }

// hydrogenTerms are the nine terms of [Lemmon2008].
var hydrogenTerms = [...]virial{
	{0.05888460, 1.325, 1},
	{-0.06136111, 1.87, 1},
	{-0.002650473, 2.5, 2},
	{0.002731125, 2.8, 2},
	{0.001802374, 2.938, 2.42},
	{-0.001150707, 3.14, 2.63},
	{0.9588528e-4, 3.37, 3},
	{-0.1109040e-6, 3.75, 4},
	{0.1264403e-9, 4, 5},
}

// hydrogenZ is the equation of [Lemmon2008] at a pressure in MPa and a
// temperature in K.
func hydrogenZ(megapascal, temperature float64) float64 {
	z := 1.0
	for _, t := range hydrogenTerms {
		z += t.a * math.Pow(100/temperature, t.b) * math.Pow(megapascal, t.c)
	}
	return z
}

// Cylinder is a cylinder of compressed gas as it stands.
type Cylinder struct {
	Gas CylinderGas
	// Purity is the share of the light gas by amount of substance, MinPurity to
	// 1; the rest is taken as air. What the trade calls 4.6 is 0.99996 (common
	// practice).
	Purity float64
	// Water is the volume inside, m³ (0.050 for the usual 50 L).
	Water float64
	// Pressure is that of the gas; for a gauge's reading see
	// GaugePressure.Absolute.
	Pressure AbsolutePressure
	// Temperature is that of the gas, K, 233.15 to 333.15: of the steel after
	// some hours at rest, not while gas is drawn.
	Temperature float64
}

// Check reports every quantity of the cylinder that is outside its limits.
func (c Cylinder) Check() error {
	var w wants
	top := c.Gas.MaxPressure()
	if top == 0 {
		w = append(w, fmt.Errorf("cylinder of %s: want helium or hydrogen", c.Gas))
		top = CylinderHydrogen.MaxPressure()
	}
	w.between("purity", c.Purity, MinPurity, 1, "(share)")
	w.between("cylinder's water volume", c.Water, MinWaterVolume, MaxWaterVolume, "m³")
	w.between("cylinder's absolute pressure", float64(c.Pressure), 0, float64(top), "Pa")
	w.between("cylinder's temperature", c.Temperature, minGasTemperature, maxGasTemperature, "K")
	return w.err()
}

// Moles is the amount of gas inside, mol, impurities included. Its
// compressibility is taken as that of the pure gas.
func (c Cylinder) Moles() float64 {
	z := c.Gas.Compressibility(c.Pressure, c.Temperature)
	return float64(c.Pressure) * c.Water / (z * universalR * c.Temperature)
}

// Holding is the cylinder with another amount of gas in it, mol, at its own
// temperature: what the gauge settles at.
func (c Cylinder) Holding(moles float64) (Cylinder, error) {
	if err := c.Check(); err != nil {
		return Cylinder{}, err
	}
	full := c
	full.Pressure = c.Gas.MaxPressure()
	if !(moles >= 0 && moles <= full.Moles()) {
		return Cylinder{}, fmt.Errorf("cylinder with %g mol at %g K: want 0 to %g mol, which is at %g Pa",
			moles, c.Temperature, full.Moles(), float64(full.Pressure))
	}
	// The amount grows with the pressure; halving a range below 2^27 Pa leaves
	// less than 1e-9 Pa after 60 times.
	low, high := AbsolutePressure(0), full.Pressure
	for range 60 {
		c.Pressure = (low + high) / 2
		if c.Moles() < moles {
			low = c.Pressure
		} else {
			high = c.Pressure
		}
	}
	return c, nil
}

// At is the same gas at another temperature in K: what the gauge of a cylinder
// that was filled warm reads on a cold morning.
func (c Cylinder) At(temperature float64) (Cylinder, error) {
	if err := c.Check(); err != nil {
		return Cylinder{}, err
	}
	moles := c.Moles()
	c.Temperature = temperature
	return c.Holding(moles)
}

// Conditions are those at which a volume of gas is stated.
type Conditions struct {
	Pressure    AbsolutePressure // 100 Pa to 200 kPa
	Temperature float64          // K, 233.15 to 333.15
}

// Check reports every quantity of the conditions that is outside its limits.
func (c Conditions) Check() error {
	var w wants
	w.between("pressure at which the gas is measured", float64(c.Pressure), 100, 200e3, "Pa")
	w.between("temperature at which the gas is measured", c.Temperature, minGasTemperature, maxGasTemperature, "K")
	return w.err()
}

// Moles is the amount in mol that fills a volume in m³ at the conditions, of a
// gas whose impurities count like the gas.
func (c Conditions) Moles(gas CylinderGas, volume float64) float64 {
	z := gas.Compressibility(c.Pressure, c.Temperature)
	return volume * float64(c.Pressure) / (z * universalR * c.Temperature)
}

// Amount is some gas, impurities included.
type Amount struct {
	Moles  float64 // mol
	Mass   float64 // kg
	Volume float64 // m³ at the conditions asked for
}

// amount is so many moles of the cylinder's gas at conditions.
func (c Cylinder) amount(moles float64, at Conditions) Amount {
	molar := c.Purity*c.Gas.molarMass() + (1-c.Purity)*restMolar
	z := c.Gas.Compressibility(at.Pressure, at.Temperature)
	return Amount{moles, moles * molar, moles * z * universalR * at.Temperature / float64(at.Pressure)}
}

// UsableMoles is the amount that comes out before the cylinder is down to a
// residual pressure, mol; 0 if it is there already. At the least the pressure
// of the air outside stays in.
func (c Cylinder) UsableMoles(residual AbsolutePressure) float64 {
	left := c
	left.Pressure = min(residual, c.Pressure)
	return max(0, c.Moles()-left.Moles())
}

// Usable is what comes out of the cylinder before it is down to a residual
// pressure, and the volume that it fills at the conditions.
func (c Cylinder) Usable(residual AbsolutePressure, at Conditions) (Amount, error) {
	var w wants
	w.add("cylinder", c.Check())
	w.add("measure", at.Check())
	w.between("residual pressure", float64(residual), minResidual, maxResidual, "Pa absolute")
	if err := w.err(); err != nil {
		return Amount{}, err
	}
	return c.amount(c.UsableMoles(residual), at), nil
}

// Limits of a residual pressure, Pa absolute: nothing flows out below the air's.
const (
	minResidual = 50e3
	maxResidual = 10e6
)

// Price is an amount of money in a currency, never converted. The zero Price
// means that none is given.
type Price struct {
	Amount   float64
	Currency string
}

// Check reports what is wrong with a price.
func (p Price) Check() error {
	if p == (Price{}) {
		return nil
	}
	var w wants
	w.between("price", p.Amount, 0, 1e9, p.Currency)
	if p.Currency == "" || len(p.Currency) > 16 {
		w = append(w, fmt.Errorf("currency %q: want 1 to 16 octets", p.Currency))
	}
	return w.err()
}

// Rack is the cylinders at hand, all of one gas and purity, in the order in
// which they are opened.
type Rack struct {
	Cylinders []Cylinder
	Residual  AbsolutePressure // left in each, Pa, 50 kPa to 10 MPa
	Price     Price            // of one cylinder, whole, as it is bought
}

// Check reports every fault of the rack.
func (r Rack) Check() error {
	var w wants
	if len(r.Cylinders) < 1 || len(r.Cylinders) > MaxCylinders {
		w = append(w, fmt.Errorf("cylinders %d: want 1 to %d", len(r.Cylinders), MaxCylinders))
	}
	for i, c := range r.Cylinders {
		w.add(fmt.Sprintf("cylinder %d", i+1), c.Check())
		if first := r.Cylinders[0]; c.Gas != first.Gas || c.Purity != first.Purity {
			w = append(w, fmt.Errorf("cylinder %d: %s of purity %g beside %s of purity %g: want one gas, of one purity",
				i+1, c.Gas, c.Purity, first.Gas, first.Purity))
		}
	}
	w.between("residual pressure", float64(r.Residual), minResidual, maxResidual, "Pa absolute")
	w.add("rack", r.Price.Check())
	return w.err()
}

// Bill is what a fill takes out of a rack.
type Bill struct {
	Opened int        // cylinders that gas is taken from
	Drawn  []float64  // mol from each, impurities included
	Left   []Cylinder // as they stand afterwards, back at their temperature
	Short  float64    // mol that the rack does not hold
	Cost   Price      // of the cylinders opened; the zero Price if none is given
}

// Draw takes an amount in mol, impurities included, out of the rack, each
// cylinder down to the residual pressure before the next is opened.
func (r Rack) Draw(moles float64) (Bill, error) {
	err := r.Check()
	if !(moles >= 0 && moles <= 1e7) {
		err = errors.Join(err, fmt.Errorf("gas wanted %g mol: want 0 to 1e7 mol", moles))
	}
	if err != nil {
		return Bill{}, err
	}
	b := Bill{Drawn: make([]float64, len(r.Cylinders)), Left: append([]Cylinder(nil), r.Cylinders...), Short: moles}
	for i, c := range r.Cylinders {
		take := min(b.Short, c.UsableMoles(r.Residual))
		if !(take > 0) {
			continue
		}
		left, err := c.Holding(c.Moles() - take)
		if err != nil {
			return Bill{}, fmt.Errorf("cylinder %d: %w", i+1, err)
		}
		left.Pressure = min(left.Pressure, c.Pressure) // a draw too small to tell leaves the gauge where it is
		b.Drawn[i], b.Left[i] = take, left
		b.Short -= take
		b.Opened++
	}
	if r.Price != (Price{}) {
		b.Cost = Price{r.Price.Amount * float64(b.Opened), r.Price.Currency}
	}
	return b, nil
}

// Needed is how many cylinders like this one hold an amount in mol above a
// residual pressure.
func (c Cylinder) Needed(moles float64, residual AbsolutePressure) (int, error) {
	var w wants
	w.add("cylinder", c.Check())
	w.between("gas wanted", moles, 0, 1e7, "mol")
	w.between("residual pressure", float64(residual), minResidual, maxResidual, "Pa absolute")
	if err := w.err(); err != nil {
		return 0, err
	}
	each := c.UsableMoles(residual)
	if n := moles / each; moles > 0 && !(n <= MaxCylinders) {
		return 0, fmt.Errorf("gas wanted %g mol from cylinders that give %g mol each: want at most %d cylinders", moles, each, MaxCylinders)
	}
	if moles == 0 {
		return 0, nil
	}
	return int(math.Ceil(moles/each - 1e-12)), nil
}
