package plan_test

import "google.golang.org/protobuf/reflect/protoreflect"

// besides is what must be set besides a quantity of a weighed train: of the ways
// to say how much gas there is only one holds, and what follows from two fields
// has limits of its own.
var besides = map[protoreflect.Name][]string{
	"neck_lift":   {"train.gas.volume="},
	"free_lift":   {"train.gas.volume="},
	"ascent_rate": {"train.gas.volume="},
	"bursts_near": {"train.gas.volume="},
	"helium":      {"train.gas.hydrogen=50 %", "train.gas.cylinders="},
	"hydrogen":    {"train.gas.helium=50 %", "train.gas.cylinders="},
	"gauge":       {"train.gas.helium=", "train.gas.hydrogen=99 %"},
	"charge":      {"train.batteries[1].voltage=1 V"},
	"current":     {"train.batteries[1].voltage=1 V"},
	"voltage":     {"train.batteries[1].charge=10 Ah"},
}

// trainQuantities are those of a weighed train. Of parts, cylinders, canopies and
// trackers the first is taken; the second battery has a charge and a current.
var trainQuantities = [...]bounded{
	{
		"thistledown.v1.Part.mass", "train.parts[0].mass",
		[]string{"0.1 g to 50 kg", "Default spread 1 %"},
		[]string{"0.1 g", "50 kg", "110.23 lb", "1 lb 7 oz"}, // 50 ÷ 0.45359237 is 110.231
		[]string{"0.0999 g", "50.001 kg", "110.24 lb", "0 g", "0 kg", "900 lb"},
		[]string{"640 g ± 50 %", "640 g ± 0 g"},
		[]string{"640 g ± 50.1 %", "640 g ± 321 g"},
		[]string{"g", "kg", "lb", "oz"},
	},
	{
		"thistledown.v1.Envelope.mass", "train.envelope.mass",
		[]string{"5 g to 50 kg", "Default spread 3 %"},
		[]string{"5 g", "50 kg"},
		[]string{"4.99 g", "50.001 kg", "0 g"},
		[]string{"600 g ± 50 %"},
		[]string{"600 g ± 50.1 %"},
		[]string{"g", "kg", "lb", "oz"},
	},
	{
		"thistledown.v1.Envelope.bursts_at", "train.envelope.bursts_at",
		[]string{"0.2 m to 60 m", "Default spread 7 %"},
		[]string{"20 cm", "60 m", "196.8 ft"}, // 60 ÷ 0.3048 is 196.85
		[]string{"19.9 cm", "60.01 m", "196.9 ft", "0 m", "-6 m"},
		[]string{"6 m ± 50 %"},
		[]string{"6 m ± 50.1 %", "6 m ± 3.01 m"},
		[]string{"m", "cm", "ft", "in"},
	},
	{
		"thistledown.v1.Envelope.fullest", "train.envelope.fullest",
		[]string{"1 L to 1,000 m³"},
		[]string{"1 L", "1000 m3", "1000 m³"},
		[]string{"0.999 L", "1000.1 m3", "0 m3"},
		nil, nil,
		[]string{"m³", "m3", "L", "ft³", "ft3"},
	},
	{
		"thistledown.v1.Envelope.hangs_on", "train.envelope.hangs_on",
		[]string{"0 to 100 %", `"30 % ± 20 %"`},
		[]string{"0 %", "100 %"},
		[]string{"100.1 %"},
		[]string{"50 % ± 50 %", "50 % ± 0 %"},
		[]string{"50 % ± 50.1 %"},
		[]string{"%"},
	},
	{
		"thistledown.v1.Gas.helium", "train.gas.helium",
		[]string{"a percentage", "50 % to 100 %"},
		[]string{"0 %", "50 %", "50.00%"}, // beside 50 % of hydrogen
		[]string{"100.1 %", "150 %"},
		nil, nil,
		nil, // which depend on the other gas
	},
	{
		"thistledown.v1.Gas.hydrogen", "train.gas.hydrogen",
		[]string{"a percentage"},
		[]string{"0 %", "50 %"},
		[]string{"100.1 %", "150 %"},
		nil, nil,
		nil,
	},
	{
		"thistledown.v1.Gas.volume", "train.gas.volume",
		[]string{"1 L to 20,000 m³", "3 % of the gas"},
		[]string{"1 L", "20000 m3", "92 cu ft"},
		[]string{"0.99 L", "20000.1 m³", "0 m3"},
		[]string{"2 m3 ± 50 %", "2 m3 ± 0 L"},
		[]string{"2 m3 ± 50.1 %", "2 m3 ± 1001 L"},
		[]string{"m³", "m3", "L", "ft3"},
	},
	{
		"thistledown.v1.Gas.neck_lift", "train.gas.neck_lift",
		[]string{"1 g to 200 kg"},
		[]string{"1 g", "200 kg"},
		[]string{"0.99 g", "200.1 kg", "0 g"},
		[]string{"2 kg ± 50 %"},
		[]string{"2 kg ± 50.1 %"},
		[]string{"g", "kg", "lb"},
	},
	{
		"thistledown.v1.Gas.free_lift", "train.gas.free_lift",
		[]string{"1 g to 200 kg"},
		[]string{"1 g", "200 kg"},
		[]string{"0.99 g", "200.1 kg", "0 g"},
		[]string{"900 g ± 50 %"},
		[]string{"900 g ± 50.1 %"},
		[]string{"g", "kg", "lb"},
	},
	{
		"thistledown.v1.Gas.ascent_rate", "train.gas.ascent_rate",
		[]string{"0.5 m/s to 15 m/s"},
		[]string{"0.5 m/s", "15 m/s"},
		[]string{"0.499 m/s", "15.01 m/s", "0 m/s"},
		nil, nil,
		[]string{"m/s", "ft/min", "km/h"},
	},
	{
		"thistledown.v1.Gas.bursts_near", "train.gas.bursts_near",
		[]string{"1 km to 45 km"},
		[]string{"1 km", "45 km", "100000 ft"},
		[]string{"999 m", "45.01 km", "200000 ft"},
		nil, nil,
		[]string{"km", "m", "ft"},
	},
	{
		"thistledown.v1.Gas.temperature", "train.gas.temperature",
		[]string{"−40 °C to 60 °C"},
		[]string{"-40 °C", "60 °C", "-40 °F", "140 °F", "288.15 K", "0 °C"}, // −40 is −40 in both
		[]string{"-40.1 °C", "60.1 °C", "-41 °F", "141 °F"},
		nil, nil,
		[]string{"°C", "°F", "K"},
	},
	{
		"thistledown.v1.Gas.pressure", "train.gas.pressure",
		[]string{"100 Pa to 2 bar"},
		[]string{"100 Pa", "2 bar", "29.92 inHg"},
		[]string{"99 Pa", "2.01 bar", "1013 bar"},
		nil, nil,
		[]string{"bar", "hPa", "kPa", "inHg", "psi"},
	},
	{
		"thistledown.v1.Gas.superheat", "train.gas.superheat",
		[]string{"−60 K to 80 K", "Default 0 K"},
		[]string{"-60 K", "80 K", "144 °F", "0 K"}, // 80 × 9 ÷ 5
		[]string{"-60.1 K", "80.1 K", "145 °F"},
		nil, nil,
		[]string{"K", "°C", "°F"},
	},
	{
		"thistledown.v1.Gas.skin_pressure", "train.gas.skin_pressure",
		[]string{"0 Pa to 50 hPa", "Default 0 Pa"},
		[]string{"0 Pa", "50 hPa"},
		[]string{"50.1 hPa", "1 bar"},
		nil, nil,
		[]string{"hPa", "Pa", "psi"},
	},
	{
		"thistledown.v1.Gas.leak", "train.gas.leak",
		[]string{"0 %/h to 100 %/h", "Default 0 %/h"},
		[]string{"0 %/h", "100 %/h", "2400 %/d"},
		[]string{"100.1 %/h", "2401 %/d"},
		nil, nil,
		[]string{"%/h", "%/d"},
	},
	{
		"thistledown.v1.Gas.left_in_each", "train.gas.left_in_each",
		[]string{"0.5 bar to 100 bar", "Default 2 bar"},
		[]string{"0.5 bar", "100 bar", "1450 psi"}, // 1e7 Pa ÷ 6894.757 Pa is 1450.4
		[]string{"0.49 bar", "100.1 bar", "1451 psi"},
		nil, nil,
		[]string{"bar", "psi", "kPa"},
	},
	{
		"thistledown.v1.Gas.drag_spread", "train.gas.drag_spread",
		[]string{"0 to 50 %", "10 % of the drag coefficient"},
		[]string{"0 %", "50 %"},
		[]string{"50.1 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.Cylinder.size", "train.gas.cylinders[0].size",
		[]string{"0.1 L to 5 m³"},
		[]string{"0.1 L", "5 m3", "50 litres"},
		[]string{"0.09 L", "5.01 m3", "0 L"},
		nil, nil,
		[]string{"L", "m³", "ft3"},
	},
	{
		"thistledown.v1.Cylinder.gauge", "train.gas.cylinders[0].gauge",
		[]string{"0 to 400 bar", "298 bar"},
		[]string{"0 bar", "400 bar", "5801 psi"}, // of hydrogen; 4e7 ÷ 6894.757 is 5801.5
		[]string{"400.1 bar", "5802 psi"},
		nil, nil,
		[]string{"bar", "psi", "MPa"},
	},
	{
		"thistledown.v1.Cylinder.temperature", "train.gas.cylinders[0].temperature",
		[]string{"−40 °C to 60 °C"},
		[]string{"-40 °C", "60 °C"},
		[]string{"-40.1 °C", "60.1 °C"},
		nil, nil,
		[]string{"°C", "°F", "K"},
	},
	{
		"thistledown.v1.Canopy.size", "train.canopies[0].size",
		[]string{"10 cm to 60 m"},
		[]string{"10 cm", "60 m", "3 ft 6 in"},
		[]string{"9.9 cm", "60.1 m", "0 m", "-1 m"},
		nil, nil,
		[]string{"m", "cm", "ft", "in"},
	},
	{
		"thistledown.v1.Canopy.drag_spread", "train.canopies[0].drag_spread",
		[]string{"0 to 50 %", "Default 20 %"},
		[]string{"0 %", "50 %"},
		[]string{"50.1 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.Battery.energy", "train.batteries[0].energy",
		[]string{"1 J to 10 kWh"},
		[]string{"1 J", "10 kWh"},
		[]string{"0.99 J", "10.01 kWh", "0 Wh"},
		nil, nil,
		[]string{"Wh", "J", "kWh", "MJ"},
	},
	{
		"thistledown.v1.Battery.charge", "train.batteries[1].charge",
		[]string{"1 mAh to 10,000 Ah"},
		[]string{"1 mAh", "10000 Ah"}, // at 1 V
		[]string{"0.99 mAh", "10001 Ah", "0 mAh"},
		nil, nil,
		[]string{"mAh", "Ah"},
	},
	{
		"thistledown.v1.Battery.voltage", "train.batteries[1].voltage",
		[]string{"0.5 V to 1,000 V"},
		[]string{"0.5 V", "1000 V"}, // of 10 Ah
		[]string{"0.49 V", "1001 V", "0 V"},
		nil, nil,
		[]string{"V", "mV"},
	},
	{
		"thistledown.v1.Battery.power", "train.batteries[0].power",
		[]string{"0.001 mW to 10 kW"},
		[]string{"0.001 mW", "10 kW"},
		[]string{"0.0009 mW", "10.1 kW", "0 W"},
		nil, nil,
		[]string{"W", "mW", "kW"},
	},
	{
		"thistledown.v1.Battery.current", "train.batteries[1].current",
		[]string{"0.001 mA to 10,000 A"},
		[]string{"0.001 mA", "10000 A"}, // at 1 V
		[]string{"0.0009 mA", "10001 A", "0 mA"},
		nil, nil,
		[]string{"mA", "A"},
	},
	{
		"thistledown.v1.Battery.warmer", "train.batteries[0].warmer",
		[]string{"0 K to 60 K", "Default 0 K"},
		[]string{"0 K", "60 K", "108 °F"}, // 60 × 9 ÷ 5
		[]string{"-1 K", "60.1 K", "109 °F"},
		nil, nil,
		[]string{"K", "°F"},
	},
	{
		"thistledown.v1.Tracker.every", "train.trackers[0].every",
		[]string{"0.1 s to 1 day"},
		[]string{"0.1 s", "1 d", "24 h"},
		[]string{"0.09 s", "24.1 h", "0 s", "-1 min"},
		nil, nil,
		[]string{"s", "min", "h"},
	},
	{
		"thistledown.v1.Tracker.antenna", "train.trackers[0].antenna",
		[]string{"0 m to 5 km", "Default 2 m"},
		[]string{"0 m", "5 km"},
		[]string{"-1 m", "5.001 km"},
		nil, nil,
		[]string{"m", "ft"},
	},
	{
		"thistledown.v1.Train.waiting", "train.waiting",
		[]string{"0 to 24 h", "Default 30 min"},
		[]string{"0 min", "24 h", "1 h 30 min"},
		[]string{"-1 min", "24.1 h"},
		nil, nil,
		[]string{"min", "h"},
	},
	{
		"thistledown.v1.Train.searching", "train.searching",
		[]string{"0 to 30 days", "Default 6 h"},
		[]string{"0 h", "30 d", "720 h"},
		[]string{"-1 h", "30.1 d"},
		nil, nil,
		[]string{"h", "d"},
	},
}
