package ensemble_test

import (
	"math"
	"math/rand/v2"
	"time"

	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/synth"
	"example.org/thistledown/internal/wind"
)

// trial is one launch of which the truth is known: what the ensemble is told, and
// where the payload came down.
type trial struct {
	scenes []flight.Scene
	spec   ensemble.Spec
	truth  geo.Point
	lead   float64        // s
	fixes  []ensemble.Fix // of a flight under way; none: before the launch
}

// occasion is a launch of its own week of invented weather, drawn from a number alone:
// anywhere between 30 and 60 degrees north or south, at any time of the year, with a
// forecast 6 to 120 hours old.
type occasion struct {
	week  *synth.Week
	start time.Time
	site  geo.Point
	lead  float64 // s, of the planned launch
	r     *rand.Rand
}

func newOccasion(world, n uint64, longest float64) occasion {
	r := rand.New(rand.NewPCG(world, n))
	start := time.Date(2026, 1, 1, 6*r.IntN(4), 0, 0, 0, time.UTC).AddDate(0, 0, r.IntN(365))
	site := geo.Point{Lat: 30 + 30*r.Float64(), Lon: 360*r.Float64() - 180}
	if r.IntN(2) == 0 {
		site.Lat = -site.Lat
	}
	lead := 3600 * (6 + (longest-6)*r.Float64())
	return occasion{synth.New(world<<32|n, start), start, site, lead, r}
}

// The forecast's axes: 1.25° by 2°, levels a kilometre apart and closer near the ground,
// steps of three hours; wide, high and long enough for every flight of spec.
const (
	stepHours = 3.0
	cellsEach = 4 // nodes on each side of the site
	latStep   = 1.25
	lonStep   = 2.0
	highest   = 36 // km
)

func heights() []float64 {
	h := []float64{-500, 0, 500, 1000, 1500}
	for km := 2; km <= highest; km++ {
		h = append(h, 1000*float64(km))
	}
	return h
}

// first is the time of the forecast's step before the launch, s since the week's start.
func (o occasion) first() float64 { return math.Floor(o.lead/(stepHours*3600)) * stepHours * 3600 }

// scene is a sky as a forecast has it: at nodes, over the invented ground.
func (o occasion) scene(sky *synth.Sky) flight.Scene {
	grid := geo.Grid{
		NX: 2*cellsEach + 1, NY: 2*cellsEach + 1, DLat: latStep, DLon: lonStep,
		Lat0: o.site.Lat - cellsEach*latStep, Lon0: geo.WrapLon(o.site.Lon - cellsEach*lonStep),
	}
	var column synth.Column
	var at geo.Point
	var when float64
	f, err := wind.New(wind.Axes{
		Grid: grid, Start: o.start.Add(time.Duration(o.first()) * time.Second),
		Times: []float64{0, stepHours * 3600, 2 * stepHours * 3600}, Heights: heights(),
	}, func(p geo.Point, z, t float64) wind.Sample {
		if p != at || t != when || z == heights()[0] {
			column, at, when = sky.Column(p, o.first()+t), p, t
		}
		a := column.AtHeight(atmos.Geometric(z))
		return wind.Sample{East: a.East, North: a.North, Temperature: a.Temperature, Pressure: a.Pressure}
	})
	if err != nil {
		panic(err)
	}
	terrain := ground.Terrain{Grid: grid, Height: make([]float32, grid.NX*grid.NY)}
	for i := range terrain.Height {
		c := sky.Column(grid.Node(i), o.first())
		terrain.Height[i] = float32(c.Surface().Terrain)
	}
	return flight.Scene{Wind: f, Terrain: terrain, Layer: calibrationLayer}
}

// calibrationLayer is the step of the ensemble's flights, m. Its numerical error is some
// 20 m, where landings scatter by kilometres; it is four times as fast as the default.
const calibrationLayer = 200.0

// spec is what the ensemble is told of the launch: the quantities of a common sounding
// balloon with the spreads that someone would state (assumed), 16 × 64 flights.
func (o occasion) spec(scene flight.Scene, windError, scale float64) ensemble.Spec {
	height, ok := scene.Terrain.At(o.site)
	if !ok {
		panic("calibrate: no ground under the site")
	}
	return ensemble.Spec{
		Launch:  flight.Release{At: o.site, Height: atmos.Geometric(height), Time: o.lead - o.first()},
		Ascent:  ensemble.Normal{Centre: 5.2, Spread: 0.4},
		Burst:   ensemble.Normal{Centre: 27e3, Spread: 1500},
		Landing: ensemble.Normal{Centre: 5.5, Spread: 0.5},
		Delay:   ensemble.Normal{Centre: 600, Spread: 300},

		WindError: windError, WindDoubt: ensemble.DefaultWindDoubt, WindScale: scale,
		Scrambles: 16, PerScramble: 64, Seed: o.r.Uint64(), Workers: 1,
	}
}

// released is a launch as it really happens: delay and train from the normal laws of a spec.
func released(s ensemble.Spec, r *rand.Rand) flight.Release {
	draw := func(n ensemble.Normal) float64 { return n.Centre + n.Spread*r.NormFloat64() }
	out := s.Launch
	out.Time += draw(s.Delay)
	out.Train = balloon.Train{Ascent: draw(s.Ascent), Burst: atmos.Geometric(draw(s.Burst)), Landing: draw(s.Landing)}
	return out
}

// planned is the launch at the centres of all laws.
func planned(s ensemble.Spec) flight.Release {
	out := s.Launch
	out.Time += s.Delay.Centre
	out.Train = balloon.Train{Ascent: s.Ascent.Centre, Burst: atmos.Geometric(s.Burst.Centre), Landing: s.Landing.Centre}
	return out
}

// reality is the air that a truth flies through: a sky, not cut into a grid, and what is
// added to its wind.
type reality struct {
	occasion
	sky   *synth.Sky
	extra *process // may be nil
	// rough is how much faster than the train's rate it rises and falls by height; nil:
	// nowhere.
	rough func(z float64, falling bool) float64
	// seen is told of every step; may be nil.
	seen func(at geo.Point, z, t float64)
}

// air is the motion of something that rises at a rate, or falls under its canopy: m/s.
func (w reality) air(p geo.Point, z, t float64, train balloon.Train, falling bool) (east, north, up float64) {
	c := w.sky.Column(p, t)
	a := c.AtHeight(atmos.Geometric(z))
	east, north, up = a.East, a.North, train.Ascent
	if w.extra != nil {
		away, _, _ := geo.Inverse(w.site, p)
		e, n := w.extra.at(z, t-w.first()+w.extra.lag*away)
		east, north = east+e, north+n
	}
	if falling {
		up = -train.Fall(atmos.Density(a.Pressure, a.Temperature))
	}
	if w.rough != nil {
		up *= w.rough(z, falling)
	}
	return east, north, up
}

// fly follows a release to the ground: Heun's method in time, 20 s a step, on the
// ellipsoid at height. It shares no code with package flight but the laws of the train.
func (w reality) fly(r flight.Release, terrain ground.Terrain) geo.Point {
	const dt = 20.0
	type state struct{ lat, lon, z, t float64 }
	falling := false
	rate := func(s state) (d state) {
		east, north, up := w.air(geo.Point{Lat: s.lat, Lon: geo.WrapLon(s.lon)}, s.z, s.t, r.Train, falling)
		meridian, normal := geo.Radii(s.lat)
		const deg = 180 / math.Pi
		return state{north / (meridian + s.z) * deg, east / ((normal + s.z) * math.Cos(s.lat/deg)) * deg, up, 1}
	}
	add := func(s, d state, dt float64) state {
		return state{s.lat + d.lat*dt, s.lon + d.lon*dt, s.z + d.z*dt, s.t + d.t*dt}
	}
	step := func(s state, dt float64) state {
		a := rate(s)
		b := rate(add(s, a, dt))
		return add(add(s, a, dt/2), b, dt/2)
	}
	s := state{r.At.Lat, r.At.Lon, float64(r.Height), r.Time + w.first()}
	note := func() {
		if w.seen != nil {
			w.seen(geo.Point{Lat: s.lat, Lon: geo.WrapLon(s.lon)}, s.z, s.t-w.first())
		}
	}
	burst := float64(r.Train.Burst)
	for note(); s.z+dt*rate(s).z < burst; note() {
		s = step(s, dt)
	}
	s = step(s, (burst-s.z)/rate(s).z)
	falling = true
	note()
	above := func(s state) float64 {
		ground, ok := terrain.At(geo.Point{Lat: s.lat, Lon: geo.WrapLon(s.lon)})
		if !ok {
			panic("calibrate: a truth left the map: make it larger")
		}
		return s.z - ground
	}
	for {
		next := step(s, dt)
		if high, low := above(s), above(next); low <= 0 {
			s = add(s, state{next.lat - s.lat, next.lon - s.lon, next.z - s.z, next.t - s.t}, high/(high-low))
			return geo.Point{Lat: s.lat, Lon: geo.WrapLon(s.lon)}
		}
		s = next
		note()
	}
}

// process is a wind error that is not the ensemble's: correlated between heights as
// (1 + 2r/L)·exp(−2r/L), smooth where the ensemble's is rough, and changing in the course
// of the flight, as exp(−Δt/τ), where the ensemble's is frozen. Its integral scale is L, as
// that of exp(−r/L).
type process struct {
	east, north [][]float64 // m/s, [hour][height]
	// lag is how many seconds of its life a metre away from the site is worth.
	lag float64
}

const (
	processStep  = 200.0 // m
	processCount = 41e3/processStep + 1
	processHours = 48
)

func newProcess(sigma, scale, life float64, r *rand.Rand) *process {
	n := int(processCount)
	covariance := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			x := 2 * processStep * float64(j-i) / scale
			covariance.SetSym(i, j, (1+x)*math.Exp(-x))
		}
		covariance.SetSym(i, i, 1+1e-9) // so that it factorises in float64
	}
	var c mat.Cholesky
	if !c.Factorize(covariance) {
		panic("calibrate: the covariance does not factorise")
	}
	var root mat.TriDense
	c.LTo(&root)
	profile := func() []float64 {
		white := mat.NewVecDense(n, nil)
		for i := range n {
			white.SetVec(i, sigma*r.NormFloat64())
		}
		out := mat.NewVecDense(n, nil)
		out.MulVec(&root, white)
		return out.RawVector().Data
	}
	keep := math.Exp(-3600 / life)
	hours := func() [][]float64 {
		out := [][]float64{profile()}
		for len(out) < processHours {
			next, last := profile(), out[len(out)-1]
			for i := range next {
				next[i] = keep*last[i] + math.Sqrt(1-keep*keep)*next[i]
			}
			out = append(out, next)
		}
		return out
	}
	return &process{east: hours(), north: hours()}
}

// at is the error at a height, m, and a time since the forecast's first, s; bilinear.
func (p *process) at(z, t float64) (east, north float64) {
	x, y := max(z, 0)/processStep, min(t/3600, processHours-1.001)
	i, j := int(x), int(y)
	u, v := x-float64(i), y-float64(j)
	of := func(a [][]float64) float64 {
		return (1-v)*((1-u)*a[j][i]+u*a[j][i+1]) + v*((1-u)*a[j+1][i]+u*a[j+1][i+1])
	}
	return of(p.east), of(p.north)
}
