package atmos_test

import (
	"fmt"

	"example.org/thistledown/internal/atmos"
)

func ExampleStandard() {
	s, ok := atmos.Standard(30000)
	fmt.Printf("%.2f K, %.1f Pa, %.5f kg/m³, %v\n", s.Temperature, s.Pressure, s.Density, ok)
	_, ok = atmos.Standard(90000)
	fmt.Println("90 km:", ok)
	// Output:
	// 226.51 K, 1197.0 Pa, 0.01841 kg/m³, true
	// 90 km: false
}

func ExampleGeopotential_Geometric() {
	level := atmos.Geopotential(30000) // as a forecast gives it
	fmt.Printf("equator %.0f m, pole %.0f m\n", level.Geometric(0), level.Geometric(90))
	// Output: equator 30224 m, pole 30063 m
}

func ExampleGeometric_Geopotential() {
	burst := atmos.Geometric(30000)
	fmt.Printf("%.0f geopotential metres at 47°\n", burst.Geopotential(47))
	// Output: 29863 geopotential metres at 47°
}

func ExampleDensity() {
	fmt.Printf("%.4f kg/m³\n", atmos.Density(101325, 288.15)) // Pa, K
	// Output: 1.2250 kg/m³
}
