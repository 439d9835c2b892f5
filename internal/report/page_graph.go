package report

import (
	"fmt"
	"math"
	"strings"

	"example.org/thistledown/internal/quantity"
)

// The drawing of a graph, in units of its viewBox, one of which is a pixel of a phone.
const (
	graphWide, graphHigh = 360, 290
	plotLeft, plotTop    = 46, 14
	plotBottom           = 248
	plotRight            = 346
	windPlotRight        = 280 // with a column of directions beside it
)

// graphView is a graph.
type graphView struct {
	Wide, High            int
	Left, Top, Right, Low int
	Name, Spoken          string
	Across, Up            string // what the axes are
	XTicks, YTicks        []tickView
	Line                  string
	Notes                 []noteView
}

// tickView is a mark of an axis.
type tickView struct {
	At   float64
	Text string
}

// noteView is words beside a point of a graph; Dot: with a mark there.
type noteView struct {
	X, Y   float64
	Dx, Dy float64
	Anchor string
	Text   string
	Dot    bool
}

// scale is how values become places on a drawing.
type scale struct{ from, to, low, high float64 }

func (s scale) at(v float64) float64 {
	return math.Round((s.low+(v-s.from)/(s.to-s.from)*(s.high-s.low))*10) / 10
}

// axis is a scale from 0 or below to a round value over the greatest, with its
// marks.
func axis(least, greatest, low, high float64) (scale, []tickView) {
	const most = 6.0
	wide := max(greatest-min(least, 0), 1e-9)
	step := math.Pow10(int(math.Floor(math.Log10(wide / most))))
	for _, times := range [...]float64{1, 2, 5, 10} {
		if wide/(times*step) <= most {
			step *= times
			break
		}
	}
	s := scale{step * math.Floor(min(least, 0)/step), step * math.Ceil(greatest/step), low, high}
	s.to = max(s.to, s.from+step)
	var ticks []tickView
	for i := 0.0; s.from+i*step <= s.to+step/2; i++ {
		v := s.from + i*step
		ticks = append(ticks, tickView{s.at(v), fmt.Sprintf("%.4g", v)})
	}
	return s, ticks
}

// height is a height in the unit of a graph's axis, kilometres or thousands of feet.
func (t *text) height(metres float64) float64 {
	if t.units == quantity.US {
		return metres / 0.3048 / 1000
	}
	return metres / 1000
}

func (t *text) heightAxis() string {
	if t.units == quantity.US {
		return "height above the sea, 1000 ft"
	}
	return "height above the sea, km"
}

// heights draws a central path's height against time; nil where there is none.
func (t *text) heights(l Launch) *graphView {
	p := l.Path
	if p == nil || len(p.Points) < 2 {
		return nil
	}
	g := &graphView{
		Wide: graphWide, High: graphHigh, Left: plotLeft, Top: plotTop, Right: plotRight, Low: plotBottom,
		Name: "Height", Across: "minutes after the release", Up: t.heightAxis(),
	}
	start, last := p.Points[0], p.Points[len(p.Points)-1]
	least, top := math.Inf(1), math.Inf(-1)
	for _, q := range p.Points {
		least, top = min(least, t.height(q.Height)), max(top, t.height(q.Height))
	}
	var x, y scale
	x, g.XTicks = axis(0, last.Time.Sub(start.Time).Minutes(), plotLeft, plotRight)
	y, g.YTicks = axis(least, top*1.08, plotBottom, plotTop)
	var line strings.Builder
	for i, q := range p.Points {
		fmt.Fprintf(&line, "%c%g %g", "ML"[min(i, 1)], x.at(q.Time.Sub(start.Time).Minutes()), y.at(t.height(q.Height)))
	}
	g.Line = line.String()
	after := func(q PathPoint) string { return t.units.Duration(q.Time.Sub(start.Time).Seconds()) }
	g.Spoken = fmt.Sprintf("From %s at the release", t.units.Altitude(start.Height))
	if b := p.Burst; b >= 0 && b < len(p.Points) {
		q := p.Points[b]
		words := fmt.Sprintf("burst at %s after %s", t.units.Altitude(q.Height), after(q))
		g.Notes = append(g.Notes, noteOn(x.at(q.Time.Sub(start.Time).Minutes()), y.at(t.height(q.Height)), words))
		g.Spoken += " to the " + words
	}
	words := fmt.Sprintf("%s, after %s", p.End, after(last))
	g.Spoken += fmt.Sprintf(", then %s, at %s.", words, t.units.Altitude(last.Height))
	return g
}

// noteOn is words above a point, kept inside the plot.
func noteOn(x, y float64, words string) noteView {
	n := noteView{X: x, Y: y, Dy: -7, Anchor: "middle", Text: words, Dot: true}
	half := 3.4 * float64(len([]rune(words))) // half the width of its letters
	n.Dx = max(0, plotLeft+2+half-x) + min(0, plotRight+10-half-x)
	return n
}

// windLine is a line of the table of winds.
type windLine struct{ Height, Speed, From string }

// windGraph draws the wind over the site against height, with where it blows from
// beside it; nil where the forecast says nothing.
func (t *text) windGraph(l Launch) (*graphView, []windLine) {
	if len(l.Winds) < 2 {
		return nil, nil
	}
	speed := func(v float64) float64 { return v }
	g := &graphView{
		Wide: graphWide, High: graphHigh, Left: plotLeft, Top: plotTop, Right: windPlotRight, Low: plotBottom,
		Name: "Wind over the site at the launch", Across: "wind, m/s", Up: t.heightAxis(),
	}
	if t.units == quantity.US {
		speed, g.Across = func(v float64) float64 { return v / 0.44704 }, "wind, mph"
	}
	most, strongest := 0.0, l.Winds[0]
	for _, w := range l.Winds {
		if w.Speed > strongest.Speed {
			strongest = w
		}
		most = max(most, speed(w.Speed))
	}
	top := l.Winds[len(l.Winds)-1]
	var x, y scale
	x, g.XTicks = axis(0, most, plotLeft, windPlotRight)
	y, g.YTicks = axis(t.height(l.Winds[0].Height), t.height(top.Height), plotBottom, plotTop)
	var line strings.Builder
	var table []windLine
	apart, lastY := 22.0, math.Inf(1)
	for i, w := range l.Winds {
		px, py := x.at(speed(w.Speed)), y.at(t.height(w.Height))
		fmt.Fprintf(&line, "%c%g %g", "ML"[min(i, 1)], px, py)
		if lastY-py >= apart || i == 0 {
			lastY = py
			g.Notes = append(g.Notes, noteView{X: windPlotRight, Y: py, Dx: 8, Dy: 4, Anchor: "start", Text: "from " + bearing(w.From)})
			from := bearing(w.From)
			if w.Held {
				from += ", as at the forecast's top"
			}
			table = append(table, windLine{t.units.Altitude(w.Height), t.units.WindSpeed(w.Speed), from})
		}
	}
	g.Line = line.String()
	g.Spoken = fmt.Sprintf("%s from %s at the ground; strongest at %s: %s from %s; %s from %s at %s, the highest drawn.",
		t.units.WindSpeed(l.Winds[0].Speed), bearing(l.Winds[0].From), t.units.Altitude(strongest.Height),
		t.units.WindSpeed(strongest.Speed), bearing(strongest.From), t.units.WindSpeed(top.Speed), bearing(top.From), t.units.Altitude(top.Height))
	return g, table
}
