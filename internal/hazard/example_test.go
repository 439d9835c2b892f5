package hazard_test

import (
	"fmt"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// Of 64 flights in 4 scrambles a quarter comes down in water; of forest nobody
// knows, the other classes are known not to be there.
func Example() {
	var s hazard.Severity
	s.Ground[ground.Water], s.Ground[ground.Forest] = 0.8, 0.4
	s.Ground[ground.BuiltUp], s.Ground[ground.Closed] = 1, 1
	known := ground.Set(0).With(ground.Water).With(ground.BuiltUp).With(ground.Closed).With(ground.Airfield).With(ground.Abroad)
	flights := make([]hazard.Met, 64)
	for i := range flights {
		flights[i] = hazard.Met{Landed: true, Assessed: known}
		if i%4 == 0 {
			flights[i].Under = flights[i].Under.With(ground.Water)
		}
	}
	score := hazard.Assess(flights, 4, s, &ground.Map{})
	fmt.Printf("score %.0f, %.1f to %.1f; %.0f if all that nobody looked at is at its worst\n",
		score.Value, score.Low, score.High, score.Worst)
	fmt.Println(score.Greatest)
	for _, c := range score.Classes {
		fmt.Printf("%v: %d of %d flights, interval %.3f to %.3f, not assessed for %d\n", c.Class,
			c.Landing.Hits, c.Landing.Of, c.Landing.Low, c.Landing.High, c.NotAssessed.Hits)
	}
	// Output:
	// score 20, 15.4 to 24.6; 100 if all that nobody looked at is at its worst
	// coming down in water: 20.0 of 20.0 points
	// water: 16 of 64 flights, interval 0.204 to 0.296, not assessed for 0
	// forest: 0 of 64 flights, interval 0.000 to 1.000, not assessed for 64
	// built_up: 0 of 64 flights, interval 0.000 to 0.046, not assessed for 0
	// closed: 0 of 64 flights, interval 0.000 to 0.046, not assessed for 0
	// airfield: 0 of 64 flights, interval 0.000 to 0.046, not assessed for 0
	// abroad: 0 of 64 flights, interval 0.000 to 0.046, not assessed for 0
}
