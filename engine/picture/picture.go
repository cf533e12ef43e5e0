// Package picture draws SVG documents. A season has a column for each day from planting to the end of the work; the
// rows show the windows, the passes, the work, what the grower saw, and weeds, crop and water by the model. A roster of
// shared tools has a row for each tool. Charts of sums have columns, bars, ranges or a line.
//
// The package computes no agronomy, reads no clock and no files, and imports only engine and the standard library. The
// picture has no script, style attribute or font, so that pages with a strict Content-Security-Policy can show it.
// Things that differ in colour also differ in shape, hatching or words, so that a grey print can be read.
package picture

import (
	_ "embed"
	"html/template"
	"io"
	"math"
	"strconv"

	"rowbell/engine"
)

// Options are the size and the words of the picture.
type Options struct {
	Title   string // first line above the picture; "" = the plot's label and planting day
	Note    string // second line above the picture; "" = no second line
	WidthPX int    // width in pixels; 0 = 960; a width below 640 counts as 640
}

// Season writes the picture of season s on day today to w. It returns errors of the engine and of w.
func Season(w io.Writer, s engine.Season, today engine.Day, o Options) error {
	d, err := draw(s, today, o)
	if err != nil {
		return err
	}
	return svgTemplate.Execute(w, d)
}

//go:embed season.svg.tmpl
var svgSource string

// svgTemplate uses html/template, which escapes the names and notes that growers and operators have typed.
var svgTemplate = template.Must(template.New("season").Parse(svgSource))

// drawing has the shapes of a picture, drawn in the order of the fields.
type drawing struct {
	Colors        palette
	Turns         bool // turns of shared tools: they have other patterns than a season
	Width, Height px
	Title, Desc   string
	Rects         []rect
	Paths         []path // curves, areas and the poles of labels
	Lines         []path // vertical lines of important days
	Marks         []path // passes and sightings
	Texts         []textLine
}

// px is a length in the picture, in pixels of the unscaled picture.
type px float64

// String writes the length rounded to a tenth of a pixel.
func (x px) String() string {
	return strconv.FormatFloat(math.Round(float64(x)*10)/10, 'f', -1, 64)
}

type rect struct {
	X, Y, W, H   px
	Fill, Stroke string
	Width        px     // width of the stroke; 0 = 1
	Dash         string // the attribute stroke-dasharray of SVG; "" = a solid line
}

type path struct {
	D            string // path data of SVG
	Fill, Stroke string
	Width        px // width of the stroke
	Dash         string
}

type textLine struct {
	X, Y   px // Y is the baseline of the text
	Size   px
	Anchor anchor
	Bold   bool
	Color  string
	Text   string
}

// anchor says which part of a text is at the text's X: the values of the attribute text-anchor of SVG.
type anchor string

const (
	anchorStart  anchor = "start"
	anchorMiddle anchor = "middle"
	anchorEnd    anchor = "end"
)

func (d *drawing) addRect(r rect) { d.Rects = append(d.Rects, r) }
func (d *drawing) addPath(p path) { d.Paths = append(d.Paths, p) }

// addText adds the text t. Without an Anchor the text begins at its X; without a Color it has the colour Ink.
func (d *drawing) addText(t textLine) {
	if t.Anchor == "" {
		t.Anchor = anchorStart
	}
	if t.Color == "" {
		t.Color = colors.Ink
	}
	d.Texts = append(d.Texts, t)
}
