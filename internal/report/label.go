package report

import (
	"fmt"
	"html"
	"io"
	"strings"
	"time"
	"unicode"
)

// Label is what stands on a payload for whoever finds it.
type Label struct {
	Owner          string    // whose it is
	People         [2]Person // whom to call
	Reward         string    // what a finder is promised; may be empty
	Identification string
	Site           string
	Launch         time.Time // UTC
	Zone           *time.Location
	Weather        bool // it serves nothing but meteorology
}

// sheet is a size of paper, mm, lying.
type sheet struct {
	name          string
	width, height float64
}

// sheets are the two sizes (ISO 216).
var sheets = [...]sheet{{"A5", 210, 148}, {"A6", 148, 105}}

// Shares and sizes of a label.
const (
	labelMargin  = 0.05 // of the height, on each side
	labelLeading = 1.22 // from line to line, in sizes of the type
	labelRise    = 0.80 // of the type's size, from the top of a line to its foot
	// labelAdvance is how wide a letter is, as a share of the size of the type: 0.60
	// of the usual typefaces of one width, at most 0.602 (from memory). Each line
	// says how long it is, so that what draws it sets it to that.
	labelAdvance = 0.602
)

// block is a text of a label.
type block struct {
	text string
	size float64 // relative
	bold bool
	dark bool    // white on black
	one  bool    // on one line, however small that makes it
	gap  float64 // before it, in its size
}

// blocks are a label's texts from the top.
func (l Label) blocks() []block {
	kind := "INSTRUMENTS OF A BALLOON"
	if l.Weather {
		kind = "INSTRUMENTS OF A WEATHER BALLOON"
	}
	all := []block{
		{text: "HARMLESS", size: 2.2, bold: true, dark: true},
		{text: kind, size: 1.1, bold: true, gap: 0.3},
		{text: "They fell under a parachute. Please do not open the box, and call us:", size: 0.8, gap: 0.5},
	}
	for _, p := range l.People {
		all = append(all, block{text: p.Telephone, size: 1.9, bold: true, one: true, gap: 0.2}, block{text: p.Name, size: 0.8})
	}
	if l.Reward != "" {
		all = append(all, block{text: "Reward: " + l.Reward, size: 1, bold: true, gap: 0.5})
	}
	return append(all,
		block{text: "It belongs to " + l.Owner + ".", size: 0.8, gap: 0.5},
		block{text: "If it hangs in a tree or a wire, or lies in water or on a railway, leave it there and call.", size: 0.7, gap: 0.3},
		block{text: fmt.Sprintf("%s; let go at %s, %s", l.Identification, l.Site, l.Launch.In(l.Zone).Format("2 January 2006")), size: 0.6, gap: 0.3},
	)
}

// line is a line of a label as it is drawn, mm.
type line struct {
	text       string
	x, y       float64 // of the foot of its first letter
	size, long float64
	block      block
}

// layout sets a label's texts on a sheet, as large as they fit.
func (l Label) layout(s sheet) []line {
	margin := labelMargin * s.height
	width, height := s.width-2*margin, s.height-2*margin
	blocks := l.blocks()
	// The height does not grow evenly with the size, as lines break anew: the sizes
	// are tried from large to small.
	const smallest, step = 0.5, 0.99
	unit := s.height / 8
	for ; unit > smallest; unit *= step {
		if _, high := set(blocks, unit, width); high <= height {
			break
		}
	}
	lines, _ := set(blocks, unit, width)
	for i := range lines {
		lines[i].x += margin
		lines[i].y += margin
	}
	return lines
}

// set breaks texts into lines of a width and says how high they are, with a unit of
// the size of the type, mm.
func set(blocks []block, unit, width float64) (lines []line, high float64) {
	for i, b := range blocks {
		size := b.size * unit
		if b.one {
			size = min(size, width/(float64(cells(b.text))*labelAdvance)*(1-1e-9)) // of which as many cells fit
		}
		if i > 0 {
			high += b.gap * size
		}
		for _, text := range wrapped(b.text, int(width/(size*labelAdvance))) {
			lines = append(lines, line{
				text: text, y: high + labelRise*size*labelLeading, size: size,
				long: float64(cells(text)) * size * labelAdvance, block: b,
			})
			high += labelLeading * size
		}
	}
	return lines, high
}

// wrapped breaks a text between its words into lines of so many cells, and in a
// word that is longer.
func wrapped(text string, most int) []string {
	most = max(most, 2) // of which a wide letter takes both
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && cells(line)+1+cells(word) <= most {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		for _, r := range word {
			if cells(line+string(r)) > most {
				lines, line = append(lines, line), ""
			}
			line += string(r)
		}
	}
	return append(lines, line)
}

// cells is how many letters' width a text takes: wide letters, of East Asian scripts
// and pictures, two; marks on other letters none.
func cells(text string) int {
	n := 0
	for _, r := range text {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case unicode.In(r, unicode.Han, unicode.Hangul, unicode.Hiragana, unicode.Katakana) || r >= 0x3000 && r <= 0x303f || r >= 0xff01 && r <= 0xff60 || r >= 0x1f000:
			n += 2
		default:
			n++
		}
	}
	return n
}

// WriteLabel writes the label as one HTML page with nothing outside of it: a sheet
// of A5 and one of A6, each printed on paper of its size.
func WriteLabel(w io.Writer, l Label) error {
	var b strings.Builder
	b.WriteString("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>Label: " + html.EscapeString(l.Identification) + "</title>\n<style>\n")
	b.WriteString("body{margin:0;background:#fff;color:#000}\nsvg{display:block;break-after:page;break-inside:avoid}\nsvg:last-of-type{break-after:auto}\n@media screen{svg{margin:8mm;outline:1px solid #888}}\n")
	for _, s := range sheets {
		fmt.Fprintf(&b, "@page %s{size:%gmm %gmm;margin:0}\n.%s{page:%s}\n", s.name, s.width, s.height, s.name, s.name)
	}
	b.WriteString("</style>\n</head>\n<body>\n")
	for _, s := range sheets {
		l.draw(&b, s)
	}
	b.WriteString("</body>\n</html>\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// draw draws a label on a sheet.
func (l Label) draw(b *strings.Builder, s sheet) {
	fmt.Fprintf(b, "<svg class=\"%s\" xmlns=\"http://www.w3.org/2000/svg\" width=\"%gmm\" height=\"%gmm\" viewBox=\"0 0 %g %g\" role=\"img\" aria-label=\"label, %s\">\n",
		s.name, s.width, s.height, s.width, s.height, s.name)
	b.WriteString("<g font-family=\"'Liberation Mono','DejaVu Sans Mono','Courier New',monospace\">\n")
	for _, t := range l.layout(s) {
		fill, weight := "#000", "normal"
		if t.block.bold {
			weight = "bold"
		}
		if t.block.dark {
			fmt.Fprintf(b, "<rect x=\"0\" y=\"0\" width=\"%g\" height=\"%.2f\"/>\n", s.width, t.y+0.3*t.size)
			fill = "#fff"
		}
		fmt.Fprintf(b, "<text x=\"%.2f\" y=\"%.2f\" font-size=\"%.2f\" font-weight=\"%s\" fill=\"%s\" textLength=\"%.2f\" lengthAdjust=\"spacingAndGlyphs\">%s</text>\n",
			t.x, t.y, t.size, weight, fill, t.long, html.EscapeString(t.text))
	}
	b.WriteString("</g>\n</svg>\n")
}
