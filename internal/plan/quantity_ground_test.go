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
	for _, name := range [...]protoreflect.Name{"water", "forest", "built_up", "closed", "airfield", "abroad", "airspace", "not_landed"} {
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
