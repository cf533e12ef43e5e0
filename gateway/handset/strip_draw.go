package handset

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"rowbell/engine"
)

// The layout, in pixels. Days run to the right; from top to bottom stand the
// title, flags for the days that matter, the weeds, the crop, the water, the
// ruler, the windows with the work in the next, the passes and the sightings
// with their labels, and the legend.
const (
	stripLeft     stripPX = 132 // captions
	stripPad      stripPX = 14
	stripType     stripPX = 12.5 // size of most texts
	stripLane     stripPX = 18   // height of a lane of labels
	stripWeedsH   stripPX = 84
	stripCropH    stripPX = 58
	stripPondH    stripPX = 58
	stripRulerH   stripPX = 40
	stripWindowH  stripPX = 26
	stripWorkH    stripPX = 20
	stripDoneH    stripPX = 24
	stripBetween  stripPX = 10
	stripPole     stripPX = 5 // from a pole to its text
	stripWidest   stripPX = 18
	stripTopLeaf          = 5.0 // leaves at the top of the weeds' row
	stripMinWidth         = 640
	stripWidthPX          = 960
)

// stripDateWidth is the width of the widest date on the ruler.
var stripDateWidth = stripWidth("28 May", 11, false)

// stripCanvas is a picture in the making.
type stripCanvas struct {
	stripPicture
	*stripSeason
	day  stripPX // width of a day
	y    stripPX // where the next row begins
	rows []stripRow
}

// stripRow is a row that lines of days run through.
type stripRow struct{ Y, H stripPX }

func stripDraw(s engine.Season, today engine.Day, o StripOptions) (stripPicture, error) {
	season, err := stripRead(s, today)
	if err != nil {
		return stripPicture{}, err
	}
	c := &stripCanvas{stripSeason: &season}
	c.Width = stripPX(max(stripMinWidth, cmp.Or(o.WidthPX, stripWidthPX)))
	c.Title, c.Desc = cmp.Or(o.Title, season.title()), season.desc()

	above, windows, work, passes, sightings := c.dayFlags(), c.windowFlags(), c.workFlags(), c.passFlags(), c.seenFlags()
	c.day = c.dayWidth(above, windows, work, passes, sightings)

	c.heading(o.Note)
	c.flags(above, true)
	c.weeds()
	c.crop()
	c.water()
	c.ruler()
	c.windows()
	c.flags(windows, false)
	c.work()
	c.flags(work, false)
	c.passes()
	c.flags(passes, false)
	c.sightings()
	c.flags(sightings, false)
	c.lines()
	c.legend()
	c.Height = c.y + stripPad
	return c.stripPicture, nil
}

// x is the left edge of a day.
func (c *stripCanvas) x(d engine.Day) stripPX { return stripLeft + stripPX(d-c.first)*c.day }

// mid is the middle of a day.
func (c *stripCanvas) mid(d engine.Day) stripPX { return c.x(d) + c.day/2 }

// right is the end of the last day.
func (c *stripCanvas) right() stripPX { return c.x(c.last + 1) }

// stripMarked is a flag and the day it belongs to.
type stripMarked struct {
	Day   engine.Day
	After bool // at the day's end, not in its middle
	Text  string
	Bold  bool
}

func (m stripMarked) width() stripPX { return stripPole + stripWidth(m.Text, stripType, m.Bold) }

// at is where the flag's pole stands, in days from the first.
func (c *stripCanvas) at(m stripMarked) stripPX {
	days := stripPX(m.Day-c.first) + 0.5
	if m.After {
		days += 0.5
	}
	return days
}

// dayWidth is the widest day with which all days and all flags find room.
func (c *stripCanvas) dayWidth(groups ...[]stripMarked) stripPX {
	room := c.Width - stripLeft - stripPad
	w := min(stripWidest, (room-stripDateWidth/2)/stripPX(c.last-c.first+1))
	for _, flags := range groups {
		for _, m := range flags {
			w = min(w, (room-m.width())/c.at(m))
		}
	}
	return w
}

func (c *stripCanvas) heading(note string) {
	const size = 18
	room := c.Width - 2*stripPad
	c.y = stripPad + size
	c.text(stripText{X: stripPad, Y: c.y, Size: size, Bold: true, Text: stripCut(c.Title, size, true, room)})
	if note != "" {
		c.y += 20
		c.text(stripText{X: stripPad, Y: c.y, Size: stripType, Color: stripSoft, Text: stripCut(note, stripType, false, room)})
	}
	c.y += stripPad
}

// flags puts labels with poles above the rows that follow, or below the row
// before.
func (c *stripCanvas) flags(marked []stripMarked, above bool) {
	flags := make([]stripFlag, len(marked))
	for i, m := range marked {
		flags[i] = stripFlag{X: stripLeft + c.at(m)*c.day, W: m.width(), Text: m.Text, Bold: m.Bold}
	}
	lanes := stripLanes(flags)
	height := stripPX(lanes) * stripLane
	for _, f := range flags {
		top, foot, base := c.y+stripPX(lanes-1-f.Lane)*stripLane, c.y+height+2, stripPX(14)
		if !above {
			top, foot = c.y, c.y+stripPX(f.Lane+1)*stripLane-3
			base += stripPX(f.Lane) * stripLane
		}
		c.path(stripPath{D: stripLine(f.X, top, f.X, foot), Fill: "none", Stroke: stripSoft, Width: 1})
		c.text(stripText{X: f.X + stripPole, Y: top + base, Size: stripType, Bold: f.Bold, Text: f.Text})
	}
	c.y += height
	if above {
		c.y += 2
	} else {
		c.y += stripBetween
	}
}

// body begins a row of days and returns its top.
func (c *stripCanvas) body(height stripPX, over bool) stripPX {
	top := c.y
	c.rect(stripRect{X: stripLeft, Y: top, W: c.right() - stripLeft, H: height, Fill: stripPaper, Stroke: stripRule})
	if from := c.over(); over && from <= c.last {
		c.rect(stripRect{X: c.x(from), Y: top, W: c.right() - c.x(from), H: height, Fill: stripOver})
	}
	c.rows = append(c.rows, stripRow{top, height})
	c.y += height
	return top
}

// caption names a row at its left.
func (c *stripCanvas) caption(y stripPX, bold, soft string) {
	c.text(stripText{X: stripPad, Y: y, Size: stripType, Bold: true, Text: bold})
	if soft != "" {
		c.text(stripText{X: stripPad, Y: y + 15, Size: 11, Color: stripSoft, Text: soft})
	}
}

// scale writes a value beside its height in a row.
func (c *stripCanvas) scale(y stripPX, text string) {
	c.text(stripText{X: stripLeft - 5, Y: y + 4, Size: 11, Anchor: stripEnd, Color: stripSoft, Text: text})
}

// weeds draws the leaves of most weeds: the band in which the tool works, the
// curve as it was (solid) and as it will be if the plan is kept (dashed).
func (c *stripCanvas) weeds() {
	top := c.body(stripWeedsH, true)
	y := func(leaves float64) stripPX {
		return top + stripWeedsH*stripPX(1-min(leaves, stripTopLeaf)/stripTopLeaf)
	}
	two, four := y(engine.WindowOpensLeaves), y(engine.WindowClosesLeaves)
	if end := min(c.over(), c.last+1); end > c.first {
		c.rect(stripRect{X: stripLeft, Y: four, W: c.x(end) - stripLeft, H: two - four, Fill: stripBand})
	}
	was, will := "", ""
	for i, p := range c.points {
		d := c.first + engine.Day(i)
		if d >= c.over() {
			break
		}
		at := stripPoints(c.mid(d), y(p.leaves))
		if d <= c.plan.On {
			was += at
		}
		if d >= c.plan.On {
			will += at
		}
	}
	c.curve(was, stripClay, 2.4, "")
	c.curve(will, stripClay, 2, "5 4")
	c.caption(top+stripWeedsH/2-4, "Weeds", "leaves on most")
	c.scale(two, "2")
	c.scale(four, "4")
	c.y += stripBetween
}

// crop draws how much of the ground the crop shades.
func (c *stripCanvas) crop() {
	top := c.body(stripCropH, false)
	y := func(shade float64) stripPX { return top + stripCropH*stripPX(1-shade) }
	line := ""
	for i, p := range c.points {
		line += stripPoints(c.mid(c.first+engine.Day(i)), y(p.shade))
	}
	area := "M" + stripLeft.String() + " " + (top + stripCropH).String() + "L" + strings.TrimPrefix(line, "L") +
		"L" + c.mid(c.last).String() + " " + (top + stripCropH).String() + "Z"
	c.path(stripPath{D: area, Fill: stripLeaf})
	c.curve(line, stripRice, 2, "")
	closed := y(engine.ClosedShade)
	c.path(stripPath{D: stripLine(stripLeft, closed, c.right(), closed), Fill: "none", Stroke: stripInk, Width: 1, Dash: "2 3"})
	c.caption(top+stripCropH/2-2, "Crop", "ground shaded")
	c.scale(closed, fmt.Sprintf("%.0f%%", 100*engine.ClosedShade))
	c.y += stripBetween
}

// ruler tells the days by date and by number.
func (c *stripCanvas) ruler() {
	top := c.y
	step := engine.Day(7)
	for stripPX(step)*c.day < stripDateWidth+8 {
		step *= 2
	}
	c.path(stripPath{D: stripLine(stripLeft, top, c.right(), top), Fill: "none", Stroke: stripInk, Width: 1.2})
	for d := c.first; d <= c.last; d++ {
		n := d - c.Plot.Planted
		tick := stripPX(4)
		if n%step == 0 {
			tick = 8
			number := strconv.Itoa(int(n))
			if n == 0 {
				number = "day 0"
			}
			c.text(stripText{X: c.mid(d), Y: top + 20, Size: 11, Anchor: stripMiddle, Text: stripDate(d)})
			c.text(stripText{X: c.mid(d), Y: top + 33, Size: 11, Anchor: stripMiddle, Color: stripSoft, Text: number})
		} else if c.day < 4 {
			continue
		}
		c.path(stripPath{D: stripLine(c.mid(d), top, c.mid(d), top+tick), Fill: "none", Stroke: stripInk, Width: 1})
	}
	c.y += stripRulerH
}

// windows draws each window as a box with its best day.
func (c *stripCanvas) windows() {
	top := c.body(stripWindowH, true)
	box := func(w engine.Window, fill, dash string, best bool) {
		opens, closes := max(w.Opens, c.first), min(w.Closes, c.last)
		c.rect(stripRect{X: c.x(opens), Y: top + 3, W: c.x(closes+1) - c.x(opens), H: stripWindowH - 6, Fill: fill, Stroke: stripWater, Dash: dash})
		if best && c.shows(w.Best) {
			c.rect(stripRect{X: c.x(w.Best), Y: top + 3, W: c.day, H: stripWindowH - 6, Fill: stripStraw, Stroke: stripInk})
		}
	}
	for _, w := range c.past {
		box(w, stripPaper, "", false)
	}
	for i, w := range c.coming() {
		if i == 0 {
			box(w, stripNext, "", true)
		} else {
			box(w, stripLater, "4 3", true)
		}
	}
	c.caption(top+17, "Windows", "")
}

func (c *stripCanvas) windowFlags() []stripMarked {
	var flags []stripMarked
	for _, w := range c.past {
		flags = append(flags, stripMarked{Day: max(w.Opens, c.first), Text: fmt.Sprintf("window %d: %s", w.Number, stripSpan(w.Opens, w.Closes))})
	}
	for i, w := range c.coming() {
		text := fmt.Sprintf("window %d: %s, best %s", w.Number, stripSpan(w.Opens, w.Closes), stripDate(w.Best))
		if i > 0 {
			text = fmt.Sprintf("window %d: about %s", w.Number, stripSpan(w.Opens, w.Closes))
		} else if c.plan.State == engine.Missed {
			text = fmt.Sprintf("window %d: %s, missed", w.Number, stripSpan(w.Opens, w.Closes))
		}
		flags = append(flags, stripMarked{Day: max(w.Opens, c.first), Text: text, Bold: i == 0})
	}
	return flags
}

// passes draws what was done.
func (c *stripCanvas) passes() {
	top := c.body(stripDoneH, true)
	for _, p := range c.Passes {
		c.mark(stripMarkOf(p), c.mid(p.On), top+stripDoneH/2)
	}
	c.caption(top+16, "Weeded", "")
}

func (c *stripCanvas) passFlags() []stripMarked {
	var flags []stripMarked
	for _, p := range c.Passes {
		flags = append(flags, stripMarked{Day: p.On, Text: stripPassWords(p)})
	}
	return flags
}

// sightings draws what was seen, if anything was.
func (c *stripCanvas) sightings() {
	if len(c.Sightings) == 0 {
		return
	}
	top := c.body(stripDoneH, true)
	for _, s := range c.Sightings {
		c.mark(stripSeenMark, c.mid(s.On), top+stripDoneH/2)
	}
	c.caption(top+16, "Seen", "")
}

func (c *stripCanvas) seenFlags() []stripMarked {
	var flags []stripMarked
	for _, s := range c.Sightings {
		flags = append(flags, stripMarked{Day: s.On, Text: stripSeenWords(s)})
	}
	return flags
}

// dayFlags are the days that matter whatever is done.
func (c *stripCanvas) dayFlags() []stripMarked {
	flags := []stripMarked{{Day: c.Plot.Planted, Text: "planted " + stripDate(c.Plot.Planted)}}
	if c.shows(c.plan.On) {
		flags = append(flags, stripMarked{Day: c.plan.On, Text: "today " + stripDate(c.plan.On), Bold: true})
	}
	if pi, ok := c.panicles(); ok {
		flags = append(flags, stripMarked{Day: pi, Text: "panicles form " + stripDate(pi)})
	}
	if c.ClosedOn != 0 && c.ClosedOn <= c.plan.On && c.shows(c.ClosedOn) {
		return append(flags, stripMarked{Day: c.ClosedOn, Text: "closed by the grower " + stripDate(c.ClosedOn)})
	}
	if last := c.plan.Closure.LastToolDay; c.shows(last) {
		text := "last tool day " + stripDate(last)
		if c.plan.Fit.Hand() {
			text = "last weeding " + stripDate(last)
		}
		flags = append(flags, stripMarked{Day: last, After: true, Text: text})
	}
	return flags
}

// lines runs the days that matter through all rows, leaving labels alone.
func (c *stripCanvas) lines() {
	run := func(x, width stripPX, color, dash string) {
		for _, r := range c.rows {
			c.Lines = append(c.Lines, stripPath{D: stripLine(x, r.Y, x, r.Y+r.H), Fill: "none", Stroke: color, Width: width, Dash: dash})
		}
	}
	if pi, ok := c.panicles(); ok {
		run(c.mid(pi), 1.4, stripInk, "2 4")
	}
	if over := c.over(); over <= c.last {
		run(c.x(over), 2.4, stripInk, "")
	}
	if c.shows(c.plan.On) {
		run(c.mid(c.plan.On), 1.6, stripInk, "7 3")
	}
}

func (c *stripCanvas) curve(points, color string, width stripPX, dash string) {
	if points == "" {
		return
	}
	c.path(stripPath{D: "M" + strings.TrimPrefix(points, "L"), Fill: "none", Stroke: color, Width: width, Dash: dash})
}

func stripPoints(x, y stripPX) string { return fmt.Sprintf("L%s %s", x, y) }

func stripLine(x1, y1, x2, y2 stripPX) string { return fmt.Sprintf("M%s %sL%s %s", x1, y1, x2, y2) }
