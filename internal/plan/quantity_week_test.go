package plan_test

// weekQuantities are those of the limits of weather and light, and of the schedule.
var weekQuantities = [...]bounded{
	{
		"thistledown.v1.Limits.wind", "limits.wind",
		[]string{"0 m/s to 50 m/s", "10 m above the ground"},
		[]string{"0 m/s", "50 m/s", "180 km/h"},
		[]string{"50.001 m/s", "-0.1 m/s", "180.01 km/h"},
		nil, nil,
		[]string{"m/s", "km/h", "kn", "mph"},
	},
	{
		"thistledown.v1.Limits.gust", "limits.gust",
		[]string{"0 m/s to 80 m/s"},
		[]string{"0 m/s", "80 m/s", "288 km/h"},
		[]string{"80.001 m/s", "-0.1 m/s", "288.01 km/h"},
		nil, nil,
		[]string{"m/s", "km/h", "kn", "mph"},
	},
	{
		"thistledown.v1.Limits.cloud", "limits.cloud",
		[]string{"0 % to 100 %"},
		[]string{"0 %", "100 %", "37.5%"}, // three eighths
		[]string{"100.1 %", "-1 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.Limits.visibility", "limits.visibility",
		[]string{"0 km to 100 km"},
		[]string{"0 km", "100 km", "800 m", "5 mi"},
		[]string{"100.01 km", "-1 m", "63 mi"}, // 100 ÷ 1.609344 is 62.1
		nil, nil,
		[]string{"m", "km", "mi"},
	},
	{
		"thistledown.v1.Limits.rain_in_an_hour", "limits.rain_in_an_hour",
		[]string{"0 mm to 200 mm"},
		[]string{"0 mm", "200 mm", "7.8 in"},
		[]string{"200.1 mm", "-0.1 mm", "7.9 in"}, // 200 ÷ 25.4 is 7.87
		nil, nil,
		[]string{"mm", "in"},
	},
	{
		"thistledown.v1.Limits.down_before_sunset", "limits.down_before_sunset",
		[]string{"0 h to 12 h"},
		[]string{"0 min", "12 h", "720 min"},
		[]string{"12.01 h", "-1 min", "721 min"},
		nil, nil,
		[]string{"min", "h"},
	},
	{
		"thistledown.v1.Limits.there_before_dark", "limits.there_before_dark",
		[]string{"0 h to 12 h"},
		[]string{"0 min", "12 h", "720 min"},
		[]string{"12.01 h", "-1 min", "721 min"},
		nil, nil,
		[]string{"min", "h"},
	},
	{
		"thistledown.v1.Limits.driving", "limits.driving",
		[]string{"10 km/h to 150 km/h", "Default 60 km/h"},
		[]string{"10 km/h", "150 km/h", "93 mph"},
		[]string{"9.99 km/h", "150.01 km/h", "94 mph", "0 km/h"}, // 150 ÷ 1.609344 is 93.2
		nil, nil,
		[]string{"km/h", "mph", "m/s"},
	},
	{
		"thistledown.v1.Schedule.step", "schedule.step",
		[]string{"5 min to 24 h", "Default 1 h"},
		[]string{"5 min", "24 h", "300 s", "1 d"},
		[]string{"299 s", "24.01 h", "0 min", "-1 h"},
		nil, nil,
		[]string{"min", "h", "d"},
	},
}
