package picture

import (
	"cmp"
	"fmt"
	"strings"

	"rowbell/engine"
)

// The layout of the picture. Days run from left to right. From top to bottom follow title, labels of important days,
// windows, passes, the work in the next window, sightings, dates, the chance of each day, weeds, crop, water, legend.
const (
	leftEdge     px = 132 // x of the first day; the names of the rows are to its left
	margin       px = 14
	textSize     px = 12.5 // font size of most texts
	laneHeight   px = 18   // height of one lane, which is a line of labels
	weedsHeight  px = 84
	cropHeight   px = 58
	waterHeight  px = 58
	rulerHeight  px = 40
	chanceHeight px = 40
	windowHeight px = 34
	workHeight   px = 20
	marksHeight  px = 24 // height of a row of marks: passes or sightings
	rowGap       px = 10
	poleGap      px = 5 // gap between a label's pole and its text
	maxDayWidth  px = 18
	dateSize     px = 11 // font size of the dates

	topLeaves      = 5.0 // number of weed leaves at the top edge of the row of weeds
	minWidthPX     = 640
	defaultWidthPX = 960
)

// dateWidth is the width of the widest date that shortDate returns, in the font size of the dates.
var dateWidth = textWidth("28 May", dateSize, false)

// canvas is a picture while it is drawn.
type canvas struct {
	drawing
	*seasonView
	day  px // width of one day
	y    px // top edge of the next row
	rows []row
}

// row is where a row of the picture was drawn: the y of its top edge, and its height.
type row struct{ Y, H px }

func draw(s engine.Season, today engine.Day, o Options) (drawing, error) {
	season, err := readSeason(s, today)
	if err != nil {
		return drawing{}, err
	}
	c := &canvas{seasonView: &season}
	c.Colors = colors
	c.Width = px(max(minWidthPX, cmp.Or(o.WidthPX, defaultWidthPX)))
	c.Title, c.Desc = cmp.Or(o.Title, season.title()), season.desc()

	days, windows, work := c.importantDays(), c.windowLabels(), c.workLabels()
	passes, sightings := c.passLabels(), c.sightingLabels()
	c.day = c.dayWidth(days, windows, work, passes, sightings)

	c.heading(o.Note)
	c.labelsAbove(days)
	c.windows()
	c.labelsBelow(windows)
	c.passes()
	c.labelsBelow(passes)
	c.work()
	c.labelsBelow(work)
	c.sightings()
	c.labelsBelow(sightings)
	c.ruler()
	c.chance()
	c.weeds()
	c.crop()
	c.water()
	c.dayLines()
	c.legend()
	c.Height = c.y + margin
	return c.drawing, nil
}

// x returns the x of a day's left edge.
func (c *canvas) x(d engine.Day) px { return leftEdge + px(d-c.first)*c.day }

// mid returns the x of the middle of a day.
func (c *canvas) mid(d engine.Day) px { return c.x(d) + c.day/2 }

// right returns the x of the right edge of the last day.
func (c *canvas) right() px { return c.x(c.last + 1) }

func (c *canvas) heading(note string) {
	const size = 18
	room := c.Width - 2*margin
	c.y = margin + size
	c.addText(textLine{X: margin, Y: c.y, Size: size, Bold: true, Text: shorten(c.Title, size, true, room)})
	if note != "" {
		c.y += 20
		note = shorten(note, textSize, false, room)
		c.addText(textLine{X: margin, Y: c.y, Size: textSize, Color: colors.SoftInk, Text: note})
	}
	c.y += margin
}

// beginRow draws the frame of a row of this height and returns the y of its top edge. With hatchAfter it also hatches
// the days after the end of the work.
func (c *canvas) beginRow(height px, hatchAfter bool) px {
	top := c.y
	c.addRect(rect{X: leftEdge, Y: top, W: c.right() - leftEdge, H: height, Fill: colors.Paper, Stroke: colors.Border})
	if from := c.over(); hatchAfter && from <= c.last {
		c.addRect(rect{X: c.x(from), Y: top, W: c.right() - c.x(from), H: height, Fill: fillAfterWork})
	}
	c.rows = append(c.rows, row{top, height})
	c.y += height
	return top
}

// caption writes the name of a row to its left, at the height y, and the unit of its values below the name.
func (c *canvas) caption(y px, name, unit string) {
	c.addText(textLine{X: margin, Y: y, Size: textSize, Bold: true, Text: name})
	if unit != "" {
		c.addText(textLine{X: margin, Y: y + 15, Size: 11, Color: colors.SoftInk, Text: unit})
	}
}

// scale writes a value of the vertical axis to the left of a row, at the height y.
func (c *canvas) scale(y px, value string) {
	c.addText(textLine{X: leftEdge - 5, Y: y + 4, Size: 11, Anchor: anchorEnd, Color: colors.SoftInk, Text: value})
}

func (c *canvas) addLine(x1, y1, x2, y2 px, color string, width px, dash string) {
	c.addPath(straight(x1, y1, x2, y2, color, width, dash))
}

// addCurve adds a curve through points, which are results of lineTo one after the other. It adds nothing if points is
// empty.
func (c *canvas) addCurve(points, color string, width px, dash string) {
	if points == "" {
		return
	}
	c.addPath(path{D: "M" + strings.TrimPrefix(points, "L"), Fill: "none", Stroke: color, Width: width, Dash: dash})
}

func lineTo(x, y px) string { return fmt.Sprintf("L%s %s", x, y) }

func straight(x1, y1, x2, y2 px, color string, width px, dash string) path {
	d := fmt.Sprintf("M%s %sL%s %s", x1, y1, x2, y2)
	return path{D: d, Fill: "none", Stroke: color, Width: width, Dash: dash}
}
