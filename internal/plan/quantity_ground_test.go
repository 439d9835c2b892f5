package plan_test

import "google.golang.org/protobuf/reflect/protoreflect"

// groundQuantities are those of the ground and of limits.
func groundQuantities() []bounded {
	all := []bounded{
		{
			"thistledown.v1.Layer.buffer", "ground.layers[0].buffer",
			[]string{"0 m to 10 km", "Default 0 m"},
			[]string{"0 m", "10 km", "150 ft"},
			[]string{"-1 m", "10.01 km"},
			nil, nil,
			[]string{"m", "km", "ft"},
		},
		{
			"thistledown.v1.People.in_the_open", "ground.people.in_the_open",
			[]string{"0 to 100,000 /km²"},
			[]string{"0 /km2", "100000 /km2", "50 /mi²"},
			[]string{"100001 /km2"},
			nil, nil,
			[]string{"/km2", "/km²", "/mi2"},
		},
		{
			"thistledown.v1.People.built_up", "ground.people.built_up",
			[]string{"0 to 100,000 /km²", "as many as in the open"},
			[]string{"0 /km2", "100000 /km2"},
			[]string{"100001 /km2"},
			nil, nil,
			[]string{"/km2", "/mi2"},
		},
		{
			"thistledown.v1.People.payload_width", "ground.people.payload_width",
			[]string{"1 cm to 10 m", "Default 0.5 m"},
			[]string{"1 cm", "10 m", "1 ft"},
			[]string{"9 mm", "10.01 m", "0 m"},
			nil, nil,
			[]string{"m", "cm", "in"},
		},
		{
			"thistledown.v1.Limits.distance", "limits.distance",
			[]string{"0 km to 2,000 km"},
			[]string{"0 km", "2000 km", "100 mi"},
			[]string{"2000.1 km", "-1 km"},
			nil, nil,
			[]string{"km", "mi", "nmi"},
		},
	}
	all = append(all, weatherQuantities()...)
	for _, name := range [...]protoreflect.Name{"cloud", "water", "forest", "built_up", "closed", "airfield", "abroad", "airspace", "not_landed"} {
		all = append(all, bounded{
			"thistledown.v1.Limits." + protoreflect.FullName(name), "limits." + string(name),
			[]string{"0 % to 100 %"},
			[]string{"0 %", "100 %", "2.5%"},
			[]string{"100.1 %", "-1 %"},
			nil, nil,
			[]string{"%"},
		})
	}
	return all
}

// weatherQuantities are the limits of weather and light, and the schedule's.
func weatherQuantities() []bounded {
	limit := func(name string, say, in, out []string, units ...string) bounded {
		return bounded{"thistledown.v1.Limits." + protoreflect.FullName(name), "limits." + name, say, in, out, nil, nil, units}
	}
	return []bounded{
		limit("wind", []string{"0 m/s to 50 m/s"}, []string{"0 m/s", "50 m/s", "10 kn"}, []string{"50.1 m/s", "-1 m/s"}, "m/s", "km/h", "kn"),
		limit("gust", []string{"0 m/s to 80 m/s"}, []string{"0 m/s", "80 m/s", "20 kn"}, []string{"80.1 m/s", "-1 m/s"}, "m/s", "km/h", "kn"),
		limit("visibility", []string{"0 km to 100 km"}, []string{"0 km", "100 km", "5 mi"}, []string{"100.1 km", "-1 m"}, "km", "mi"),
		limit("rain_in_an_hour", []string{"0 mm to 200 mm"}, []string{"0 mm", "200 mm", "0.1 in"}, []string{"201 mm", "-1 mm"}, "mm", "in"),
		limit("down_before_sunset", []string{"0 h to 12 h"}, []string{"0 min", "12 h"}, []string{"12.1 h", "-1 min"}, "h", "min"),
		limit("there_before_dark", []string{"0 h to 12 h"}, []string{"0 min", "12 h"}, []string{"12.1 h", "-1 min"}, "h", "min"),
		limit("driving", []string{"10 km/h to 150 km/h", "Default 60 km/h"}, []string{"10 km/h", "150 km/h", "40 mph"}, []string{"9.9 km/h", "151 km/h"}, "km/h", "mph"),
		{
			"thistledown.v1.Schedule.step", "schedule.step",
			[]string{"5 min to 24 h", "Default 1 h"},
			[]string{"5 min", "24 h", "90 min"},
			[]string{"4.9 min", "24.1 h", "0 min"},
			nil, nil,
			[]string{"min", "h"},
		},
	}
}
