package balloon

import (
	"fmt"
)

// Trouble is a kind of warning.
type Trouble uint8

// The troubles of a filled envelope.
const (
	NoLift          Trouble = iota + 1 // it does not leave the ground
	BurstsOnGround                     // more gas than the envelope holds
	Overfilled                         // at release it is already past OverfilledAt of its burst diameter
	PastFullest                        // more gas at release than Envelope.Fullest
	WillFloat                          // the net force is gone before it bursts
	MayFloat                           // it is with a little less gas and a tougher envelope
	BurstRemembered                    // Envelope.FromMemory
	Slow                               // mean ascent rate below SlowAscent
)

// What MayFloat takes off and adds, and below what rate an ascent is slow.
const (
	DoubtGas     = 0.03 // share of the gas, about what a filling scale is off (from memory)
	DoubtBurst   = 2.0  // spreads of the burst diameter
	DoubtSkin    = 100  // Pa of overpressure of the skin besides the given (from memory)
	OverfilledAt = 0.5  // of the burst diameter: it bursts below 16 km then; common is a quarter
	SlowAscent   = 2.0  // m/s; common practice is 4 to 6
)

// Warning is a trouble in words, with its numbers.
type Warning struct {
	Trouble Trouble
	Text    string
}

// Warnings is every trouble of the lifter released at the lowest level of the
// air; none does not mean that nothing can go wrong. Like Ascend it checks neither.
func (l Lifter) Warnings(air Air) []Warning {
	var out []Warning
	warn := func(t Trouble, format string, args ...any) {
		out = append(out, Warning{t, fmt.Sprintf(format, args...)})
	}
	ground := l.At(air[0].State)
	if full := l.Envelope.Fullest; full > 0 && ground.Volume > full {
		warn(PastFullest, "filled to %.3g m³ at release, %.0f %% past the fullest volume of %.3g m³ of this envelope: it may burst early", ground.Volume, 100*(ground.Volume/full-1), full)
	}
	if l.Envelope.FromMemory {
		warn(BurstRemembered, "burst diameter %.3g m from memory, not seen, perhaps %.0f %% off: give the one of the envelope's papers", l.Envelope.Burst, 100*l.Envelope.BurstSpread/l.Envelope.Burst)
	}
	c := l.Ascend(air, nil)
	switch c.Ending {
	case BurstsEarly:
		warn(BurstsOnGround, "more gas than the envelope holds: %.3g m across at release, it bursts at %.3g m: let out at least %.3g m³", ground.Diameter, l.Envelope.Burst, ground.Volume-sphereVolume(l.Envelope.Burst))
	case Grounded:
		warn(NoLift, "it will not leave the ground: add %.0f g of lift", -1000*ground.Free)
	case Floats:
		warn(WillFloat, "it floats at %.0f m, %.3g m across, before it bursts at %.3g m: it has to be filled more or carry less", float64(c.Last().Height), c.Last().Diameter, l.Envelope.Burst)
	case Bursts, AirEnds:
		if ground.Diameter > OverfilledAt*l.Envelope.Burst {
			warn(Overfilled, "already %.3g m across of the %.3g m at which it bursts: it bursts at %.0f m", ground.Diameter, l.Envelope.Burst, float64(c.Last().Height))
		}
		if c.Mean() < SlowAscent {
			warn(Slow, "mean ascent rate %.2g m/s: small errors of the scale may keep it aloft for hours", c.Mean())
		}
		switch d := l.doubted().Ascend(air, nil); d.Ending {
		case Floats:
			warn(MayFloat, "it may float: with %.0f %% less gas in a tougher skin that stretches further it hangs at %.0f m and does not burst", 100*DoubtGas, float64(d.Last().Height))
		case Grounded:
			warn(MayFloat, "it may not leave the ground: with %.0f %% less gas it does not", 100*DoubtGas)
		case Bursts, AirEnds, BurstsEarly:
		}
	}
	return out
}

// doubted is the lifter with everything that makes it float a little worse.
func (l Lifter) doubted() Lifter {
	l.Filling.Moles *= 1 - DoubtGas
	l.Filling.Overpressure += DoubtSkin
	return l.Stretching(DoubtBurst)
}

// Stretching is the lifter with an envelope whose burst diameter is a number of
// its spreads from the centre: what a draw of it changes, and with −1 and 1 the
// spread of the burst height.
func (l Lifter) Stretching(spreads float64) Lifter {
	l.Envelope.Burst += spreads * l.Envelope.BurstSpread
	return l
}
