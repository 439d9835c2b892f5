package grib

import (
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"github.com/nilsmagnus/grib/griblib"
)

// describe reads section 4.
//
//	octets  field
//	6–7     number of vertical coordinate values behind the template
//	8–9     product definition template number
//	10      parameter category
//	11      parameter number
//	12–17   generating process, cut-off
//	18      unit of time, code table 4.4
//	19–22   forecast time in that unit
//	23      type of first fixed surface, code table 4.5
//	24      its scale factor
//	25–28   its scaled value
//	29–34   the same for the second fixed surface
//
// Octets 10 and 11 are so in every template, the others in templates 4.0 to 4.15.
// Templates 4.1 and 4.11 go on with the member, 4.8 and 4.11 with the interval.
// What makes the product one that is not supported goes to blame.
func (f *Field) describe(b []byte, blame *error) error {
	f.Product = binary.BigEndian.Uint16(b[7:])
	f.Category, f.Number = b[9], b[10]
	f.Level = Level{NoSurface, math.NaN(), NoSurface, 0}
	f.StepStart, f.Step, f.Valid, f.Statistic = 0, 0, f.Reference, Instant
	f.Member, f.process = Member{}, 0
	if f.Product > 15 {
		*blame = refuse("product 4.", f.Product, productName(f.Product))
		return nil
	}
	var p griblib.Product0
	if err := decode(b, 9, &p); err != nil {
		return err
	}
	f.process = p.ProcessType
	f.Process = p.AnalysisProcess
	f.Level = level(p.FirstSurface, p.SecondSurface)
	step, err := span(p.TimeUnitIndicator, signed32(p.ForecastTime))
	if err != nil {
		*blame = err
		return nil
	}
	f.StepStart = step
	*blame = f.end(f.Reference.Add(step))
	switch f.Product {
	case 0:
		return nil
	case 1:
		return f.member(b)
	case 8:
		return f.interval(b, instantOctets, blame)
	case 11:
		if err := f.member(b); err != nil {
			return err
		}
		return f.interval(b, instantOctets+memberOctets, blame)
	}
	*blame = refuse("product 4.", f.Product, productName(f.Product))
	return nil
}

const (
	instantOctets = 34 // octets of section 4 up to the end of template 4.0
	memberOctets  = 3  // what 4.1 has behind them
)

// member reads the rest of template 4.1, with which that of 4.11 begins.
//
//	octets  field
//	35      type of ensemble forecast, code table 4.6
//	36      perturbation number
//	37      number of forecasts in the ensemble
func (f *Field) member(b []byte) error {
	var tail struct{ Kind, Number, Of uint8 }
	if err := decode(b, instantOctets, &tail); err != nil {
		return err
	}
	f.Member = Member{Kind: MemberKind(tail.Kind) + 1, Number: int(tail.Number), Of: int(tail.Of)}
	return nil
}

// interval reads the rest of templates 4.8 and 4.11, skip octets into the
// section; the octets below are those of 4.8.
//
//	octets  field
//	35–41   end of the interval: year (2 octets), month, day, hour, minute, second
//	42      number of time ranges
//	43–46   number of values missing in the process
//	47      statistical process, code table 4.10
//	48–58   how it was made up
func (f *Field) interval(b []byte, skip int, blame *error) error {
	var tail struct {
		End     griblib.Time
		Ranges  uint8
		Missing uint32
		First   griblib.TimeRangeSpecification
	}
	if err := decode(b, skip, &tail); err != nil {
		return err
	}
	f.Statistic = Statistic(tail.First.StatisticalFieldCalculationProcess)
	end, err := instant(tail.End)
	if err != nil {
		return fmt.Errorf("end of the interval %w", err)
	}
	if *blame != nil {
		return nil
	}
	if *blame = f.end(end); *blame != nil {
		return nil
	}
	if f.Step < f.StepStart {
		return fmt.Errorf("interval from %v to %v after the reference time: want it to end after it begins", f.StepStart, f.Step)
	}
	if tail.Ranges != 1 {
		*blame = fmt.Errorf("product 4.%d with %d time ranges not supported: want 1", f.Product, tail.Ranges)
	}
	return nil
}

// end sets when the field holds, or returns why that is out of range.
func (f *Field) end(t time.Time) error {
	step := t.Sub(f.Reference)
	if step < -maxStep || step > maxStep || t.Year() < 0 || t.Year() > 9999 {
		return fmt.Errorf("forecast for %s from %s: want at most 250 years between and years 0 to 9999", t.Format(time.DateTime), f.Reference.Format(time.DateTime))
	}
	f.Step, f.Valid = step, t
	return nil
}

// span is n units of code table 4.4.
func span(unit uint8, n int32) (time.Duration, error) {
	const day = 24 * time.Hour
	var u time.Duration
	switch unit {
	case 0:
		u = time.Minute
	case 1:
		u = time.Hour
	case 2:
		u = day
	case 10:
		u = 3 * time.Hour
	case 11:
		u = 6 * time.Hour
	case 12:
		u = 12 * time.Hour
	case 13:
		u = time.Second
	default:
		return 0, fmt.Errorf("time unit %d of code table 4.4 not supported: want minutes, hours, days or seconds", unit)
	}
	if limit := int64(maxStep / u); int64(n) < -limit || int64(n) > limit {
		return 0, fmt.Errorf("forecast time %d × %v: want at most 250 years", n, u)
	}
	return time.Duration(n) * u, nil
}

// level converts the two fixed surfaces of a product.
func level(first, second griblib.Surface) Level {
	l := Level{
		Surface:  Surface(first.Type),
		Value:    surfaceValue(first),
		Surface2: Surface(second.Type),
	}
	if l.Surface2 != NoSurface {
		l.Value2 = surfaceValue(second)
	}
	return l
}

// surfaceValue is the scaled value times 10 to the minus scale factor, NaN if
// either is missing.
func surfaceValue(s griblib.Surface) float64 {
	if s.Scale == math.MaxUint8 || s.Value == math.MaxUint32 {
		return math.NaN()
	}
	v, scale := float64(signed32(s.Value)), signed8(s.Scale)
	if scale > 0 {
		return v / math.Pow10(scale) // nearer than by 10^-scale, which is not exact
	}
	return v * math.Pow10(-scale)
}

// refuse is the error for a template that is not supported.
func refuse(what string, template uint16, name string) error {
	if name == "" {
		return fmt.Errorf("%s%d not supported", what, template)
	}
	return fmt.Errorf("%s%d (%s) not supported", what, template, name)
}
