package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// DefaultPayloadWidth is how wide a payload is where the plan does not say, m
// (assumed).
const DefaultPayloadWidth = 0.5

// ground fills in what is looked at.
func (d *draft) ground(p *Plan, m *thistledownv1.Ground) {
	p.Layers = d.layers(m.GetLayers(), p)
	p.Airspace = d.airspace(m.GetAirspace(), p)
	p.Cover = d.landCover(m.GetLandCover())
	for _, h := range m.GetHeights() {
		p.Heights = append(p.Heights, h.GetFile())
	}
	first := map[string]int{}
	for i, w := range m.GetWays() {
		d.once(first, w.GetName(), "ground.ways", i)
		p.Ways = append(p.Ways, Ways{Name: w.GetName(), File: w.GetFile()})
	}
	if people := m.GetPeople(); people != nil {
		const path = "ground.people."
		p.People = &People{Width: DefaultPayloadWidth}
		p.People.Open = d.quantity(path+"in_the_open", people.GetInTheOpen(), inTheOpenSpec).Centre
		p.People.BuiltUp = p.People.Open
		if text := people.GetBuiltUp(); text != "" {
			p.People.BuiltUp = d.quantity(path+"built_up", text, builtUpPeopleSpec).Centre
		}
		if text := people.GetPayloadWidth(); text != "" {
			p.People.Width = d.quantity(path+"payload_width", text, payloadWidthSpec).Centre
		}
	}
}

// severity is what the plan says, and the defaults for the rest.
func severity(m *thistledownv1.Severities) Severity {
	s := DefaultSeverity()
	if m == nil {
		return s
	}
	return Severity{
		Water:    or(m.Water, s.Water),
		Forest:   or(m.Forest, s.Forest),
		BuiltUp:  or(m.BuiltUp, s.BuiltUp),
		Closed:   or(m.Closed, s.Closed),
		Airfield: or(m.Airfield, s.Airfield),
		Abroad:   or(m.Abroad, s.Abroad),
		Airspace: or(m.Airspace, s.Airspace),
	}
}

// layers is the ground from files.
func (d *draft) layers(all []*thistledownv1.Layer, p *Plan) []Layer {
	const path = "ground.layers"
	var layers []Layer
	first := map[string]int{}
	for i, m := range all {
		at := item(path, i)
		d.once(first, m.GetName(), path, i)
		l := Layer{File: m.GetFile(), LayerSource: ground.LayerSource{
			Name: m.GetName(), Severity: own(m.Severity), Parcels: m.GetParcels(), Credit: m.GetSource(),
			Active: d.active(at+".active", m.GetActive(), p),
		}}
		if m.Class != nil {
			// The schema's rules let no word pass but those that ground knows too.
			class, err := ground.ParseClass(m.GetClass())
			if err != nil {
				continue
			}
			l.Class = class
		}
		if text := m.GetBuffer(); text != "" {
			l.Buffer = d.quantity(at+".buffer", text, bufferSpec).Centre
		}
		for k, b := range m.GetCovers() {
			l.Covers = append(l.Covers, d.box(item(at+".covers", k), b))
		}
		layers = append(layers, l)
	}
	return layers
}

// own is a copy of what v points to, so that a plan does not change with the
// message that it was made of.
func own[T any](v *T) *T {
	if v == nil {
		return nil
	}
	c := *v
	return &c
}

// active is when something is active, by the clock at the site.
func (d *draft) active(path string, all []string, p *Plan) []ground.Hours {
	var hours []ground.Hours
	for i, text := range all {
		if !d.sound(item(path, i)) {
			continue
		}
		h, err := ground.ParseHours(text)
		if err != nil {
			d.refuse(item(path, i), quote(text), `days and hours, such as "Mon-Fri 07:00-16:00"`)
			continue
		}
		h.Zone = p.Site.Zone
		hours = append(hours, h)
	}
	return hours
}

// landCover is the rasters.
func (d *draft) landCover(all []*thistledownv1.LandCover) []LandCover {
	const path = "ground.land_cover"
	var covers []LandCover
	first := map[string]int{}
	for i, m := range all {
		d.once(first, m.GetName(), path, i)
		c := LandCover{File: m.GetFile(), CoverSource: ground.CoverSource{Name: m.GetName(), Credit: m.GetSource()}}
		if m.Legend != nil && d.sound(item(path, i)+".legend") {
			legend, err := ground.NamedLegend(m.GetLegend())
			if err != nil {
				d.refuse(item(path, i)+".legend", quote(m.GetLegend()), "the name of a legend")
			}
			c.Legend = legend
		}
		if len(m.GetCodes()) > 0 {
			c.Legend = d.codes(item(path, i)+".codes", m.GetCodes())
		}
		covers = append(covers, c)
	}
	return covers
}

// codes is a legend written out: "41 forest".
func (d *draft) codes(path string, all []string) ground.Legend {
	legend := ground.Legend{}
	var told ground.Set
	for i, text := range all {
		if !d.sound(item(path, i)) {
			continue
		}
		number, word, _ := strings.Cut(strings.TrimSpace(text), " ")
		code, err := strconv.ParseUint(number, 10, 16)
		var set ground.Set
		if word = strings.TrimSpace(word); word != "open" && err == nil {
			var class ground.Class
			class, err = ground.ParseClass(word)
			if class > ground.BuiltUp {
				err = fmt.Errorf("no raster of %v", class)
			}
			set = set.With(class)
		}
		if err != nil {
			d.refuse(item(path, i), quote(text), `a number from 0 to 65535 and water, forest, built_up or open, such as "41 forest"`)
			continue
		}
		if _, twice := legend[uint16(code)]; twice {
			d.refuse(item(path, i), quote(text), "a number that is not listed before")
		}
		legend[uint16(code)] = set
		told |= set
	}
	if told == 0 && d.sound(path) && d.intact(path) {
		d.refuse(path, "nothing but open", "at least one number that is water, forest or built_up")
	}
	return legend
}

// airspace is the volumes from files.
func (d *draft) airspace(all []*thistledownv1.Airspace, p *Plan) []Airspace {
	const path = "ground.airspace"
	var spaces []Airspace
	first := map[string]int{}
	for i, m := range all {
		d.once(first, m.GetName(), path, i)
		spaces = append(spaces, Airspace{
			Name: m.GetName(), File: m.GetFile(), Severity: or(m.Severity, math.NaN()),
			Active: d.active(item(path, i)+".active", m.GetActive(), p), Kinds: append([]string(nil), m.GetKinds()...),
		})
	}
	return spaces
}

// schedule is when and where from a launch is possible.
func (d *draft) schedule(m *thistledownv1.Schedule, p *Plan) Schedule {
	s := Schedule{Step: DefaultStep, Hours: d.active("schedule.hours", m.GetHours(), p)}
	if text := m.GetStep(); text != "" {
		s.Step = time.Duration(d.quantity("schedule.step", text, stepSpec).Centre * float64(time.Second))
	}
	const path = "schedule.sites"
	first := map[string]int{}
	for i, m := range m.GetSites() {
		d.once(first, m.GetName(), path, i)
		if at := item(path, i) + ".name"; m.GetName() == p.Site.Name && d.sound(at) {
			d.refuse(at, quote(m.GetName()), "a name other than that of site")
		}
		site := d.site(item(path, i), m)
		if m.GetTimeZone() == "" {
			site.Zone = p.Site.Zone
		}
		s.Sites = append(s.Sites, site)
	}
	return s
}

// limits is what may not be.
func (d *draft) limits(m *thistledownv1.Limits) launch.Limits {
	l := launch.None()
	if m == nil {
		return l
	}
	if m.Score != nil {
		l.Score = m.GetScore()
	}
	read := func(name, text string, s spec) float64 {
		if text == "" {
			return math.NaN()
		}
		return d.quantity("limits."+name, text, s).Centre
	}
	for _, c := range []struct {
		class      ground.Class
		name, text string
		spec       spec
	}{
		{ground.Water, "water", m.GetWater(), waterLimitSpec},
		{ground.Forest, "forest", m.GetForest(), forestLimitSpec},
		{ground.BuiltUp, "built_up", m.GetBuiltUp(), builtUpLimitSpec},
		{ground.Closed, "closed", m.GetClosed(), closedLimitSpec},
		{ground.Airfield, "airfield", m.GetAirfield(), airfieldLimitSpec},
		{ground.Abroad, "abroad", m.GetAbroad(), abroadLimitSpec},
	} {
		if c.text != "" {
			if l.Ground == nil {
				l.Ground = map[ground.Class]float64{}
			}
			l.Ground[c.class] = read(c.name, c.text, c.spec)
		}
	}
	l.Airspace = read("airspace", m.GetAirspace(), airspaceLimitSpec)
	l.NotLanded = read("not_landed", m.GetNotLanded(), notLandedLimitSpec)
	l.Distance = read("distance", m.GetDistance(), distanceLimitSpec)
	l.Weather.Wind = read("wind", m.GetWind(), windLimitSpec)
	l.Weather.Gust = read("gust", m.GetGust(), gustLimitSpec)
	l.Weather.Cloud = read("cloud", m.GetCloud(), cloudLimitSpec)
	l.Weather.Visibility = read("visibility", m.GetVisibility(), visibilityLimitSpec)
	const water = 1000 / hour // kg/m² a second for a metre in an hour
	l.Weather.Precipitation = water * read("rain_in_an_hour", m.GetRainInAnHour(), rainLimitSpec)
	if m.CapeJKg != nil {
		l.Weather.CAPE = m.GetCapeJKg()
	}
	l.Sunset = read("down_before_sunset", m.GetDownBeforeSunset(), sunsetLimitSpec)
	l.Dark = read("there_before_dark", m.GetThereBeforeDark(), darkLimitSpec)
	if text := m.GetDriving(); text != "" {
		l.Driving = read("driving", text, drivingSpec)
	}
	if m.GetUsual() {
		return l.OrUsual()
	}
	return l
}

// once refuses a name that an earlier item of the list at path has.
func (d *draft) once(first map[string]int, name, path string, i int) {
	if name == "" {
		return
	}
	if k, ok := first[name]; ok {
		d.refuse(item(path, i)+".name", quote(name), "a name other than that of "+item(path, k))
		return
	}
	first[name] = i
}

// box is where a layer was looked at.
func (d *draft) box(path string, m *thistledownv1.Box) geo.Box {
	b := geo.Box{South: m.GetSouth(), North: m.GetNorth(), West: m.GetWest(), East: m.GetEast()}
	sound := func(names ...string) bool {
		for _, name := range names {
			if !d.sound(join(path, name)) || d.broken[path] {
				return false
			}
		}
		return true
	}
	if sound("south", "north") && !(b.South < b.North) {
		d.refuse(path+".south", fmt.Sprintf("%g", b.South), fmt.Sprintf("less than north, %g", b.North))
	}
	if sound("west", "east") && (b.West == b.East || b.West == 180 && b.East == -180) {
		d.refuse(path+".west", fmt.Sprintf("%g", b.West), fmt.Sprintf("a meridian other than east, %g", b.East))
	}
	return b
}
