package picture

import (
	_ "embed"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"

	"rowbell/engine"
)

// Chart is what all charts have. A chart is made for a column of text or the width of a phone. What it says stands
// above it on its page, and its numbers in a table beside it: Title and Desc are for those who do not see it.
type Chart struct {
	Title   string // what the chart shows
	Desc    string // what is to be seen in it
	Unit    string // unit of the axis of values, such as "passes"; "" in a chart of shares
	WidthPX int    // width in pixels; 0 = 360; a width below 280 counts as 280
}

// The layout of charts.
const (
	minChartPX          = 280
	defaultChartPX      = 360
	chartText        px = 12 // font size
	plotHeight       px = 150
	tickLength       px = 4
	ticks               = 4   // about how many parts a scale has
	mostNames        px = 120 // width of the column of names
	segmentEdge      px = 0.8 // width of the edge of a part of a bar
	percent             = 100.0
	lineOfText       px = 15
	charactersOf1000    = 3
	nearlyNothing       = 1e-9
	chartMargin      px = 8
	labelGap         px = 8
	shareOfGap       px = 0.25 // of the width of a column
	barHeight        px = 18
	barGap           px = 9
	fifth               = 5.0
)

// chartFills are the colours of the series of a chart, in their order: blue, orange, black and yellow of the palette of
// Okabe & Ito 2008, Color Universal Design, https://jfly.uni-koeln.de/color/, which people with any kind of colour
// vision can tell apart. These four also differ in lightness (46, 71, 0 and 89 of 100 in CIELAB), so that a grey print
// can be read. Each part of a bar has a dark edge, because orange and yellow are too light to end on white alone
// (WCAG 2.2, success criterion 1.4.11).
var chartFills = [...]string{"#0072b2", "#e69f00", "#000000", "#f0e442"}

// MostSeries is the largest number of series of a chart.
const MostSeries = len(chartFills)

//go:embed chart.svg.tmpl
var chartSource string

var chartTemplate = template.Must(template.New("chart").Parse(chartSource))

// chartCanvas is a chart while it is drawn.
type chartCanvas struct {
	canvas
	left, edge px // x of the left and the right edge of the plot
}

func newChart(c Chart) *chartCanvas {
	k := &chartCanvas{left: chartMargin, edge: px(max(minChartPX, orWidth(c.WidthPX))) - chartMargin}
	k.Colors, k.Width, k.Title, k.Desc = colors, k.edge+chartMargin, c.Title, c.Desc
	k.y = chartMargin
	return k
}

func orWidth(w int) int {
	if w == 0 {
		return defaultChartPX
	}
	return w
}

// TextSize returns the font size of most texts, for the template.
func (c *chartCanvas) TextSize() px { return chartText }

func (c *chartCanvas) write(w io.Writer) error {
	c.Height = c.y + chartMargin
	return chartTemplate.Execute(w, c)
}

func (c *chartCanvas) label(x, y px, at anchor, text string) {
	c.addText(textLine{X: x, Y: y, Size: chartText, Anchor: at, Color: colors.SoftInk, Text: text})
}

// key is an entry of a legend.
type key struct{ name, fill string }

// keys writes the legend of the series. A chart of one series needs none.
func (c *chartCanvas) keys(series []string) {
	if len(series) < 2 {
		return
	}
	list := make([]key, len(series))
	for i, name := range series {
		list[i] = key{name, chartFills[i]}
	}
	c.legendOf(list)
}

func (c *chartCanvas) legendOf(list []key) {
	const size, gap = px(11), px(14)
	x := chartMargin
	for _, k := range list {
		width := size + 5 + textWidth(k.name, chartText, false)
		if x > chartMargin && x+width > c.edge {
			x, c.y = chartMargin, c.y+lineOfText+3
		}
		c.addRect(rect{X: x, Y: c.y, W: size, H: size, Fill: k.fill, Stroke: colors.Ink, Width: segmentEdge})
		c.addText(textLine{X: x + size + 5, Y: c.y + size - 1, Size: chartText,
			Text: shorten(k.name, chartText, false, c.edge-x-size-5)})
		x += width + gap
	}
	c.y += lineOfText + 10
}

// scale is an axis of values from 0 to top.
type scale struct {
	top, step float64
}

// scaleTo returns a scale that holds a value, with round steps. A scale of whole numbers has no step below 1.
func scaleTo(most float64, whole bool) scale {
	if !(most > nearlyNothing) || math.IsInf(most, 0) {
		most = 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(most/ticks)))
	step := 10 * ten
	for _, round := range []float64{1, 2, fifth} {
		if round*ten*ticks >= most {
			step = round * ten
			break
		}
	}
	if whole {
		step = max(1, step)
	}
	return scale{math.Ceil(most/step-nearlyNothing) * step, step}
}

// values returns the values at which the scale has a mark.
func (s scale) values() (list []float64) {
	for i := range int(math.Round(s.top/s.step)) + 1 {
		list = append(list, float64(i)*s.step)
	}
	return list
}

// Decimal writes a number for people: with commas between thousands and no more digits than are needed.
func Decimal(x float64) string {
	text := strconv.FormatFloat(math.Round(x*1e4)/1e4, 'f', -1, 64)
	whole, part, cut := strings.Cut(text, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - charactersOf1000; i > 0; i -= charactersOf1000 {
		whole = whole[:i] + "," + whole[i:]
	}
	if cut {
		whole += "." + part
	}
	return sign + whole
}

// axisLeft draws the scale of an upright chart and the lines of its marks, with the unit above it. The plot begins at
// c.y and is plotHeight high.
func (c *chartCanvas) axisLeft(s scale, unit string) {
	c.label(chartMargin, c.y+chartText-2, anchorStart, unit)
	c.y += lineOfText + 6
	widest := px(0)
	for _, v := range s.values() {
		widest = max(widest, textWidth(Decimal(v), chartText, false))
	}
	c.left = chartMargin + widest + labelGap
	for _, v := range s.values() {
		y := c.heightOf(s, v)
		c.addRect(rect{X: c.left - tickLength, Y: y - 0.5, W: c.edge - c.left + tickLength, H: 1, Fill: colors.Border})
		c.label(c.left-labelGap, y+4, anchorEnd, Decimal(v))
	}
}

// heightOf returns the y of a value in an upright chart whose plot begins at c.y.
func (c *chartCanvas) heightOf(s scale, v float64) px { return c.y + plotHeight*px(1-v/s.top) }

// axisBelow draws the scale of a chart of rows below it, with lines that begin at the y top.
func (c *chartCanvas) axisBelow(s scale, top px, unit string) {
	free := px(math.Inf(-1)) // x from which there is room for a number
	for _, v := range s.values() {
		x, text := c.across(s, v), Decimal(v)
		half := textWidth(text, chartText, false) / 2
		at := min(x, c.Width-chartMargin-half)
		c.Rects = append([]rect{{X: x - 0.5, Y: top, W: 1, H: c.y - top + tickLength, Fill: colors.Border}}, c.Rects...)
		if at-half > free {
			c.label(at, c.y+tickLength+chartText, anchorMiddle, text)
			free = at + half + labelGap
		}
	}
	c.y += tickLength + chartText + 4
	c.label(c.edge, c.y+chartText, anchorEnd, unit)
	c.y += lineOfText
}

// across returns the x of a value in a chart of rows.
func (c *chartCanvas) across(s scale, v float64) px { return c.left + (c.edge-c.left)*px(v/s.top) }

// dates writes the first days of weeks below an upright chart, at even distances. The function mid returns the middle
// of a week.
func (c *chartCanvas) dates(days []engine.Day, mid func(i int) px) {
	bottom, half := c.y+plotHeight, dateWidth*chartText/dateSize/2
	every := 1
	if len(days) > 1 {
		every = int(math.Ceil(float64((2*half + labelGap/2) / (mid(1) - mid(0)))))
	}
	free := px(0) // where the next date may begin: at the edges a date is moved towards its neighbour
	for i := 0; i < len(days); i += every {
		c.addRect(rect{X: mid(i) - 0.5, Y: bottom, W: 1, H: tickLength, Fill: colors.SoftInk})
		if x := min(max(mid(i), chartMargin+half), c.edge-half); x-half >= free {
			c.label(x, bottom+tickLength+lineOfText, anchorMiddle, shortDate(days[i]))
			free = x + half
		}
	}
	c.y = bottom + tickLength + lineOfText + 6
}
