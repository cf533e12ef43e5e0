// Package picture draws a season as an SVG document: one column a day from planting to the end of the work, with the
// weeds, the crop and the water by the model, the windows, the work, the passes and the sightings.
//
// It computes no agronomy: every day and every figure comes from package engine. It reads no clock and no files, and
// imports nothing but engine and the standard library. The picture holds no script, no style attribute and no font of
// its own, so it may stand inside a page with a strict content policy. Each thing differs in shape, hatching or words
// as well as in colour, so that a grey print tells the same.
package picture

import (
	_ "embed"
	"html/template"
	"io"
	"math"
	"strconv"

	"rowbell/engine"
)

// Options are the words around the picture and its size.
type Options struct {
	Title   string // line above the picture; "" = the plot's label and planting day
	Note    string // line under the title; "" = none
	WidthPX int    // 0 = 960; less than 640 counts as 640
}

// Season writes the picture of s, as known on the day today, to w. It returns the engine's error for a season that the
// engine refuses, and the error of w.
func Season(w io.Writer, s engine.Season, today engine.Day, o Options) error {
	d, err := draw(s, today, o)
	if err != nil {
		return err
	}
	return svgTemplate.Execute(w, d)
}

//go:embed season.svg.tmpl
var svgSource string

// svgTemplate is an html/template because it must escape what growers and operators have typed.
var svgTemplate = template.Must(template.New("season").Parse(svgSource))

// drawing holds the shapes of a picture. The template paints them in the order of the fields, so texts are on top.
type drawing struct {
	Colors        palette
	Width, Height px
	Title, Desc   string
	Rects         []rect
	Paths         []path // curves, areas and the poles of labels
	Lines         []path // vertical lines of important days
	Marks         []path // passes and sightings
	Texts         []textLine
}

// px is a length in the picture, in pixels at its own size.
type px float64

// String rounds to a tenth of a pixel.
func (x px) String() string {
	return strconv.FormatFloat(math.Round(float64(x)*10)/10, 'f', -1, 64)
}

type rect struct {
	X, Y, W, H   px
	Fill, Stroke string
	Dash         string // SVG stroke-dasharray; "" = solid
}

type path struct {
	D            string // SVG path data
	Fill, Stroke string
	Width        px // of the stroke
	Dash         string
}

type textLine struct {
	X, Y   px // Y is the baseline
	Size   px
	Anchor anchor
	Bold   bool
	Color  string
	Text   string
}

// anchor says which end of a text stands at its X: the values of SVG's text-anchor.
type anchor string

const (
	anchorStart  anchor = "start"
	anchorMiddle anchor = "middle"
	anchorEnd    anchor = "end"
)

func (d *drawing) addRect(r rect) { d.Rects = append(d.Rects, r) }
func (d *drawing) addPath(p path) { d.Paths = append(d.Paths, p) }

// addText adds t; it begins at its X and is in ink unless t says otherwise.
func (d *drawing) addText(t textLine) {
	if t.Anchor == "" {
		t.Anchor = anchorStart
	}
	if t.Color == "" {
		t.Color = colors.Ink
	}
	d.Texts = append(d.Texts, t)
}
