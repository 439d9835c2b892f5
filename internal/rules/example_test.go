package rules_test

import (
	"fmt"

	"example.org/thistledown/internal/rules"
)

// A box of 5 lb (2.268 kg) of 6 by 4 by 8 inches, of which neither the line nor
// anything else was said.
func ExampleAssess() {
	f := rules.Unstated()
	f.Packages = []rules.Package{{Name: "box", Mass: 2.268, Least: 2.268, Faces: rules.Box(0.1524, 0.1016, 0.2032)}}
	a, err := rules.Assess(rules.UnitedStates, f)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Classes[0])
	fmt.Println(a.Tests[0].Verdict, "by", a.Tests[0].Source)
	fmt.Println(a.Tests[0].Value)
	fmt.Println(a.Tests[3].Verdict, "by", a.Tests[3].Source.Paragraph)
	fmt.Println(a.Tests[3].Change)
	// Output:
	// unmanned free balloon under 14 CFR part 101, subpart D
	// not met by 14 CFR 101.1(a)(4)(i) (edition of 1 January 2024; seen)
	// 5.0001 lb (2.268 kg), 3.3334 oz/in² (14.65 g/cm²) of "box"
	// cannot tell by 14 CFR 101.1(a)(4)(iv)
	// give the force at which the suspension parts
}
