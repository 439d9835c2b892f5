package quantity

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestMain fixes the seed of the property tests, so that a failure comes back;
// -rapid.seed=0 on the command line draws another each time.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.seed", "1"); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// A number written with all its digits and any unit of its dimension reads as
// the product, and its negative as the opposite.
func TestReadsWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(dimensions[:]).Draw(t, "dimension")
		u := rapid.SampledFrom(d.units).Draw(t, "unit")
		name := rapid.SampledFrom(u.names).Draw(t, "name")
		n := rapid.Float64Range(1e-6, 1e9).Draw(t, "number")
		got, err := read(fmt.Sprintf("%v %s", n, name), d)
		require.NoError(t, err)
		// Two roundings, of the product and of the quotient.
		zero := d.zeros[u.names[0]]
		require.InEpsilon(t, (n*u.scale+zero)/u.per, got, 0x1p-51)
		opposite, err := read(fmt.Sprintf("-%v%s", n, name), d)
		switch {
		case !d.signed:
			require.ErrorContains(t, err, "never negative")
			return
		case d.zeros != nil && n*u.scale > zero:
			require.ErrorContains(t, err, "absolute zero")
			return
		}
		require.NoError(t, err)
		if d.zeros != nil {
			require.InDelta(t, 2*zero/u.per, got+opposite, 1e-12)
			return
		}
		require.Equal(t, -got, opposite)
	})
}

// Grouping the digits changes nothing, whichever space parts them.
func TestReadsGroups(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 1e12).Draw(t, "number")
		space := rapid.SampledFrom([]string{" ", "\u00a0", "\u2009", "\u202f"}).Draw(t, "space")
		text := strings.ReplaceAll(grouped(fmt.Sprint(n)), " ", space) + " m"
		got, err := Length(text)
		require.NoError(t, err)
		require.Equal(t, float64(n), got, text)
	})
}

// What is printed reads back to within half of the step that it was rounded to.
func TestReadsWhatIsPrinted(t *testing.T) {
	type pair struct {
		print func(System, float64) string
		read  func(string) (float64, error)
		// half is the greatest difference in SI: half of the documented step.
		half func(s System, v float64) float64
	}
	unit := func(s System, si, us float64) float64 {
		if s == US {
			return us
		}
		return si
	}
	// fine is half a step of 0.01 below 10, 0.1 below 100, 1 from there.
	fine := func(v float64) float64 {
		switch {
		case v < 9.9:
			return 0.005
		case v < 99:
			return 0.05
		}
		return 0.5
	}
	pairs := map[string]pair{
		"Distance": {System.Distance, Length, func(s System, v float64) float64 {
			short, long := unit(s, 1, foot), unit(s, 1000, mile)
			switch {
			case v < 99*short:
				return 0.5 * short
			case v < 0.99*long:
				return 5 * short
			case v < 99*long:
				return 0.05 * long
			}
			return 0.5 * long
		}},
		"Altitude": {System.Altitude, Length, func(s System, v float64) float64 {
			switch u := unit(s, 1, foot); {
			case v < 999*u:
				return 0.5 * u
			case v < 9990*u:
				return 5 * u
			default:
				return 50 * u
			}
		}},
		"VerticalSpeed": {System.VerticalSpeed, Speed, func(s System, _ float64) float64 {
			return unit(s, 0.05, 5*foot/60)
		}},
		"WindSpeed": {System.WindSpeed, Speed, func(s System, v float64) float64 {
			if s == SI && v < 9.9 {
				return 0.05
			}
			return unit(s, 0.5, 0.5*mile/3600)
		}},
		"Duration": {System.Duration, Duration, func(_ System, v float64) float64 {
			switch {
			case v < 59:
				return 0.5
			case v < 47*3600:
				return 30
			}
			return 1800
		}},
		"Mass": {System.Mass, Mass, func(s System, v float64) float64 {
			if s == US && v < 0.99*pound {
				return 0.05 * pound / 16
			}
			if s == SI && v < 9.9 {
				return 0.0005
			}
			return max(fine(v/unit(s, 1, pound)), unit(s, 0.05, 0)) * unit(s, 1, pound)
		}},
		"Volume": {System.Volume, Volume, func(s System, v float64) float64 {
			return max(fine(v/unit(s, 1, cubicFoot)), unit(s, 0, 0.05)) * unit(s, 1, cubicFoot)
		}},
		"Pressure": {System.Pressure, Pressure, func(s System, v float64) float64 {
			switch {
			case s == SI:
				return fine(v/bar) * bar
			case v < 99*psi:
				return 0.05 * psi
			case v < 990*psi:
				return 0.5 * psi
			}
			return 5 * psi
		}},
		"Temperature": {System.Temperature, Temperature, func(s System, _ float64) float64 {
			return unit(s, 0.5, 0.5*5/9)
		}},
		"TemperatureDifference": {System.TemperatureDifference, TemperatureDifference, func(s System, v float64) float64 {
			degree := unit(s, 1, 5.0/9)
			if v < 9.9*degree {
				return 0.05 * degree
			}
			return 0.5 * degree
		}},
		"Energy": {System.Energy, Energy, func(s System, v float64) float64 {
			switch u := unit(s, 1, footPound); {
			case v < 9.9*u:
				return 0.05 * u
			case v < 990*u:
				return 0.5 * u
			default: // of three digits, the first of them 1
				return 0.005 * v
			}
		}},
	}
	for name, p := range pairs {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				s := rapid.SampledFrom([]System{SI, US}).Draw(t, "system")
				v := math.Pow(10, rapid.Float64Range(-2, 7).Draw(t, "magnitude"))
				if name == "Temperature" {
					v++ // nearer to absolute zero, whole degrees may fall below it
				}
				text := p.print(s, v)
				got, err := p.read(text)
				require.NoError(t, err)
				// The first value of a coarser step may still be printed finely:
				// half holds for the coarser one too.
				require.LessOrEqual(t, math.Abs(got-v), p.half(s, v*1.02)*(1+1e-9), "%g is printed %s", v, text)
			})
		})
	}
}

func FuzzUncertain(f *testing.F) {
	for _, seed := range []string{
		"5.2 m/s ± 8 %", "30 km ± 1.5 km", "5 m/s +- 0.4 m/s", "+45 min", "1 h 30 min +/- 90 s", "92,000 ft",
		"27\u202f000 m", "1e400 m", "NaN m", "-0 m ± 0 m", "\xff", "± ± ±", "1e-12 in", ".5 nm ± 1e3 %",
		"640 g ± 2 g", "2.6 m3 ± 3 %", "0.78 ± 0.03", "0.78 ± 5 %", "1 m3 3 m3", "92 cu ft",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for si, read := range map[string]func(string) (Uncertain, error){
			"m": UncertainLength, "m/s": UncertainSpeed, "s": UncertainDuration,
			"kg": UncertainMass, "m3": UncertainVolume, "": UncertainNumber,
		} {
			u, err := read(s)
			if err != nil {
				if text := err.Error(); strings.ContainsAny(text, "\n\r") || len(text) > 1000 {
					t.Fatalf("%q: error %q, want one short line", s, text)
				}
				continue
			}
			// Text of 120 bytes holds few numbers, each of at most 1e12 of the
			// largest unit, and as spread at most 1e12 per cent of it.
			if !(math.Abs(u.Centre) < 1e20) || u.Spread < 0 || u.Spread > 1e30 {
				t.Fatalf("%q reads as %+v", s, u)
			}
			if math.Abs(u.Centre) > 1e12 || (u.Centre != 0 && math.Abs(u.Centre) < 1e-12) {
				continue
			}
			// The same in SI, with all digits, reads as the same.
			again, err := read(fmt.Sprintf("%g %s", u.Centre, si))
			if err != nil || again.Centre != u.Centre {
				t.Fatalf("%q reads as %g %s, and that as %g (%v)", s, u.Centre, si, again.Centre, err)
			}
			if !(u.Spread <= 1e12) || (u.Spread != 0 && u.Spread < 1e-12) {
				continue
			}
			again, err = read(fmt.Sprintf("%g %s ± %g %s", u.Centre, si, u.Spread, si))
			if err != nil || again != u {
				t.Fatalf("%q reads as %+v, which reads as %+v (%v)", s, u, again, err)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"2.6 m3", "2.6 m33", "92 cu ft", "200 bar", "2900 psig", "29.92 inHg", "-273.15 °C", "-459.67 F", "0 K", "-5 K",
		"1 %/h", "10 Wh", "7 ft·lbf", "3000 mAh", "1 A s 2 A s", "120 mA", "3.7 V", "1e12 MPa", "-0 C", "30 %", "\xff°C",
	} {
		f.Add(seed)
	}
	// The unit of SI in which what was read is written again.
	si := map[string]string{
		"Length": "m", "Mass": "kg", "Speed": "m/s", "Duration": "s", "Volume": "m³", "Pressure": "Pa",
		"Temperature": "K", "TemperatureDifference": "K", "Energy": "J", "Power": "W", "Charge": "A s",
		"Current": "A", "Voltage": "V",
	}
	f.Fuzz(func(t *testing.T, s string) {
		for name, read := range readers {
			v, err := read(s)
			if err != nil {
				if text := err.Error(); strings.ContainsAny(text, "\n\r") || len(text) > 1000 {
					t.Fatalf("%s(%q): error %q, want one short line", name, s, text)
				}
				continue
			}
			signed := name == "Length" || name == "Duration" || name == "TemperatureDifference"
			if !(math.Abs(v) < 1e20) || (v < 0 && !signed) {
				t.Fatalf("%s(%q) = %g", name, s, v)
			}
			if si[name] == "" || math.Abs(v) > 1e12 || (v != 0 && math.Abs(v) < 1e-12) {
				continue
			}
			again, err := read(fmt.Sprintf("%g %s", v, si[name]))
			if err != nil || again != v {
				t.Fatalf("%s(%q) = %g, which reads as %g (%v)", name, s, v, again, err)
			}
		}
	})
}
