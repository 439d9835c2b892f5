// Package page is the browser's side of what is shown: the style sheet, the
// script and the drawing of maps, which a report in a file and a page from a
// server have in common.
//
// It hides the projection and how a shape becomes a path of SVG, how outlines are
// thinned out to a stated number of points, and by which rules a browser is kept
// from asking any host for anything. It knows nothing of flights: what is drawn
// and written where is its caller's.
package page

import (
	"crypto/sha256"
	_ "embed" // the style sheet and the script
	"encoding/base64"
	"html/template"
)

//go:embed page.css
var style string

//go:embed page.js
var script string

//go:embed head.html
var head string

// Head is what the template of a page's head is given.
type Head struct {
	Title  string
	Policy string
	Style  template.CSS
}

// NewHead is that of a page with a title.
func NewHead(title string) Head {
	return Head{title, Policy(), template.CSS(style)} //nolint:gosec // a file of this program
}

// Template reads a page's template, which may use the template "head", of a Head.
func Template(text string) (*template.Template, error) {
	t, err := template.New("head").Parse(head)
	if err != nil {
		return nil, err
	}
	return t.New("page").Parse(text)
}

// Style is the style sheet, to stand between style tags with nothing beside it.
func Style() string { return style }

// Script is the script, to stand between script tags at the end of a page with
// nothing beside it.
func Script() string { return script }

// Policy is the content security policy of a page with Style and Script in it, for
// its meta tag: those two are all that is run or applied, no host is asked for
// anything, and nothing is sent. A style attribute has no effect under it.
func Policy() string {
	return "default-src 'none'; script-src " + hash(script) + "; style-src " + hash(style) +
		"; img-src data:; base-uri 'none'; form-action 'none'"
}

// hash names a text as Content Security Policy Level 3, section 2.3.1, has it.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
