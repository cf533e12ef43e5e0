package handset

import (
	_ "embed"
	"html/template"
	"io"
	"math"
	"strconv"

	"rowbell/engine"
)

// StripOptions are the words and the size of a season's picture.
type StripOptions struct {
	Title   string // line above the picture; "" = the plot's label and planting day
	Note    string // line under the title; "" = none
	WidthPX int    // 0 = 960; at least 640 is taken
}

// Strip draws a season as an SVG document, day by day from planting to the
// end of the work: weeds, crop and water by the model, windows and the work in
// the next one, passes, sightings, and the days that matter. It tells by shape, hatching and words as well as
// by colour, so that it can be read in grey; it holds no script, no style
// attribute and no font of its own. It fails for a season that the engine
// refuses, and where w does.
func Strip(w io.Writer, s engine.Season, today engine.Day, o StripOptions) error {
	p, err := stripDraw(s, today, o)
	if err != nil {
		return err
	}
	return stripTemplate.Execute(w, p)
}

//go:embed strip.svg.tmpl
var stripSource string

// The template escapes whatever a grower or operator has typed.
var stripTemplate = template.Must(template.New("strip").Parse(stripSource))

// stripPicture is what is to be painted, in this order: rectangles, curves
// and poles, the lines of the days that matter, marks, texts.
type stripPicture struct {
	Width, Height stripPX
	Title, Desc   string
	Rects         []stripRect
	Paths         []stripPath
	Lines         []stripPath
	Marks         []stripPath
	Texts         []stripText
}

// stripPX is a length in the picture.
type stripPX float64

// String gives a tenth of a pixel, which is finer than the eye.
func (x stripPX) String() string {
	return strconv.FormatFloat(math.Round(float64(x)*10)/10, 'f', -1, 64)
}

type stripRect struct {
	X, Y, W, H   stripPX
	Fill, Stroke string
	Dash         string
}

type stripPath struct {
	D            string
	Fill, Stroke string
	Width        stripPX
	Dash         string
}

type stripText struct {
	X, Y   stripPX // Y is the baseline
	Size   stripPX
	Anchor stripAnchor
	Bold   bool
	Color  string
	Text   string
}

// stripAnchor is the SVG name of where a text hangs on its X.
type stripAnchor string

const (
	stripStart  stripAnchor = "start"
	stripMiddle stripAnchor = "middle"
	stripEnd    stripAnchor = "end"
)

// Inks. Each stands apart from its neighbours in grey as well.
const (
	stripInk   = "#1c2721"
	stripSoft  = "#4c574e"
	stripRule  = "#c9c2ae"
	stripWater = "#1f6170" // windows
	stripRice  = "#3d6f2a" // crop
	stripLeaf  = "#cfe0b8"
	stripClay  = "#9c3b27" // weeds
	stripBlue  = "#2b5d94" // water
	stripStraw = "#f2ca5c" // best day
	stripPaper = "#ffffff"
)

// Fills by pattern, defined in the template.
const (
	stripNext  = "url(#strip-next)"  // the next window
	stripLater = "url(#strip-later)" // a window after it
	stripOver  = "url(#strip-over)"  // after the last tool day
	stripBand  = "url(#strip-band)"  // two to four leaves
	stripPond  = "url(#strip-pond)"  // standing water
)

func (p *stripPicture) rect(r stripRect) { p.Rects = append(p.Rects, r) }
func (p *stripPicture) path(x stripPath) { p.Paths = append(p.Paths, x) }
func (p *stripPicture) text(t stripText) {
	if t.Anchor == "" {
		t.Anchor = stripStart
	}
	if t.Color == "" {
		t.Color = stripInk
	}
	p.Texts = append(p.Texts, t)
}
