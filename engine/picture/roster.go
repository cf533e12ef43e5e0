package picture

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
)

// Roster is what the picture of a roster of shared tools shows. The caller has made the roster and chosen the words.
type Roster struct {
	From, To engine.Day
	Tools    []RosterTool
	Below    []RosterLine // what is written beneath, such as the plots that get no turn
}

// RosterTool is a row of the picture.
type RosterTool struct {
	Name  string
	Turns []RosterTurn // in order of day, at most one a day
	Out   []RosterDays // days on which the tool cannot be used
}

// RosterTurn is a day of a tool on a plot.
type RosterTurn struct {
	On   engine.Day
	Plot string // name of the plot
	Late bool   // the day is after the window of the plot
}

// RosterDays is a range of days, both included.
type RosterDays struct{ From, To engine.Day }

// RosterLine is a line beneath the days.
type RosterLine struct {
	Text   string
	Level  int  // how far it is indented
	Strong bool // bold
}

// Turns writes the picture of a roster to w: days across, tools down, in blocks of whole weeks. It returns the error of
// w.
func Turns(w io.Writer, r Roster, o Options) error { return svgTemplate.Execute(w, drawRoster(r, o)) }

// The layout of the picture of a roster.
const (
	cellSize     px = 11  // font size of the names in the cells
	cellLine     px = 13  // distance of two lines in a cell
	cellPad      px = 4   // least space between a name and the edges of its box
	cellLines       = 3   // most lines of a name in a cell
	minCellWidth px = 56  // a day is at least this wide
	maxCellWidth px = 104 // and at most this wide
	minNames     px = 64  // least and greatest width of the column of names
	maxNames     px = 144
	headHeight   px = 34 // weekday and date above the days
	blockGap     px = 16
	noteLine     px = 19
	noteIndent   px = 18
	daysOfWeek      = 7
)

// rosterCanvas is a picture of a roster while it is drawn.
type rosterCanvas struct {
	canvas
	Roster
	names   px             // x of the first day; the names of the tools are to its left
	perRow  int            // days in a block
	row     px             // height of the row of a tool
	numbers map[string]int // number of each name that is too long for one of its boxes, or for the column of names
	long    []string       // those names, by number
}

func drawRoster(r Roster, o Options) drawing {
	c := &rosterCanvas{Roster: r, numbers: map[string]int{}}
	c.Colors, c.drawing.Turns = colors, true
	c.Width = px(max(minWidthPX, cmp.Or(o.WidthPX, defaultWidthPX)))
	c.Title, c.Desc = cmp.Or(o.Title, "Roster"), r.desc()
	c.layout()
	c.heading(o.Note)
	for from := c.From; from <= c.To; from += engine.Day(c.perRow) {
		c.block(from, min(c.To, from+engine.Day(c.perRow)-1))
	}
	c.explain()
	c.below()
	c.Height = c.y + margin
	return c.drawing
}

// layout chooses the widths and heights, and the names that get a number because they do not fit.
func (c *rosterCanvas) layout() {
	widest := minNames
	for _, t := range c.Tools {
		widest = max(widest, textWidth(t.Name, textSize, true)+2*cellPad)
	}
	c.names = margin + min(widest, maxNames)
	room := c.Width - c.names - margin
	weeks := max(1, int(room/(minCellWidth*daysOfWeek)))
	c.perRow = min(weeks*daysOfWeek, int(c.To-c.From)+1)
	c.day = min(maxCellWidth, room/px(c.perRow))
	lines := 1
	for _, t := range c.Tools {
		lines = max(lines, len(c.fit(t.Name, textSize, true, c.names-margin-cellPad)))
		for _, b := range c.boxes(t, c.From, c.To) {
			lines = max(lines, len(c.fit(b.Plot, cellSize, false, c.boxRoom(b))))
		}
	}
	c.row = px(lines)*cellLine + 2*cellPad + 6
}

// fit breaks a name into lines. A name that is too long in one place gets a number, and is shown with it everywhere.
func (c *rosterCanvas) fit(name string, size px, bold bool, width px) []string {
	lines, whole := wrap(name, size, bold, width, cellLines)
	if !whole && c.numbers[name] == 0 {
		c.long = append(c.long, name)
		c.numbers[name] = len(c.long)
	}
	if n := c.numbers[name]; n > 0 {
		lines, _ = wrap(strconv.Itoa(n)+" "+name, size, bold, width, cellLines)
	}
	return lines
}

// rosterBox is consecutive days of a tool on one plot, in one block.
type rosterBox struct {
	RosterTurn
	To engine.Day
}

// boxes returns the boxes of a tool between two days. A box ends with the block.
func (c *rosterCanvas) boxes(t RosterTool, from, to engine.Day) []rosterBox {
	var boxes []rosterBox
	for _, turn := range t.Turns {
		if turn.On < from || turn.On > to {
			continue
		}
		if n := len(boxes); n > 0 && (turn.On-c.From)%engine.Day(c.perRow) != 0 {
			if b := &boxes[n-1]; b.To == turn.On-1 && b.Plot == turn.Plot && b.Late == turn.Late {
				b.To = turn.On
				continue
			}
		}
		boxes = append(boxes, rosterBox{turn, turn.On})
	}
	return boxes
}

// boxRoom is the width that a name in a box may have.
func (c *rosterCanvas) boxRoom(b rosterBox) px { return px(b.To-b.On+1)*c.day - 2*cellPad - 2 }

// block draws the days from-to of every tool.
func (c *rosterCanvas) block(from, to engine.Day) {
	right := c.names + px(to-from+1)*c.day
	for d := from; d <= to; d++ {
		x := c.names + (px(d-from)+0.5)*c.day
		c.addText(textLine{X: x, Y: c.y + 13, Size: cellSize, Anchor: anchorMiddle, Color: colors.SoftInk,
			Text: d.Weekday().String()[:3]})
		c.addText(textLine{X: x, Y: c.y + 27, Size: cellSize, Anchor: anchorMiddle, Text: shortDate(d)})
	}
	c.y += headHeight
	top := c.y
	for _, t := range c.Tools {
		c.addRect(rect{X: c.names, Y: c.y, W: right - c.names, H: c.row, Fill: colors.Paper, Stroke: colors.Border})
		c.lines(c.fit(t.Name, textSize, true, c.names-margin-cellPad), margin, c.y, anchorStart, textSize, true)
		for _, out := range t.Out {
			a, b := max(out.From, from), min(out.To, to)
			if a <= b {
				c.addRect(rect{X: c.names + px(a-from)*c.day, Y: c.y, W: px(b-a+1) * c.day, H: c.row, Fill: fillOut,
					Stroke: colors.Border})
			}
		}
		for _, b := range c.boxes(t, from, to) {
			c.turn(b, c.names+px(b.On-from)*c.day, c.y)
		}
		c.y += c.row
	}
	for d := from + 1; d <= to; d++ {
		x := c.names + px(d-from)*c.day
		for i, t := range c.Tools {
			y := top + px(i)*c.row
			if !slices.ContainsFunc(c.boxes(t, from, to), func(b rosterBox) bool { return b.On < d && d <= b.To }) {
				c.addLine(x, y, x, y+c.row, colors.Border, 1, "")
			}
		}
	}
	c.y += blockGap
}

// turn draws a box with the name of the plot. x and y are the corner of its cell.
func (c *rosterCanvas) turn(b rosterBox, x, y px) {
	w := px(b.To-b.On+1) * c.day
	c.turnBox(rect{X: x + 2, Y: y + 2, W: w - 4, H: c.row - 4}, b.Late)
	c.lines(c.fit(b.Plot, cellSize, false, c.boxRoom(b)), x+w/2, y, anchorMiddle, cellSize, false)
}

// turnBox draws the box of a turn. A late one has a dashed, thicker edge and a full corner, to be told from others
// without colour.
func (c *rosterCanvas) turnBox(r rect, late bool) {
	r.Fill, r.Stroke = colors.NextWindow, colors.Window
	if late {
		r.Fill, r.Stroke, r.Width, r.Dash = colors.Paper, colors.Ink, 2, "5 3"
		const corner = px(8)
		x, y := r.X+r.W, r.Y
		c.Marks = append(c.Marks, path{D: fmt.Sprintf("M%s %sL%s %sL%s %sZ", x-corner, y, x, y, x, y+corner),
			Fill: colors.Ink})
	}
	c.addRect(r)
}

// lines writes lines of text in the middle of a row whose top edge is at y.
func (c *rosterCanvas) lines(lines []string, x, y px, at anchor, size px, bold bool) {
	first := y + c.row/2 - px(len(lines)-1)*cellLine/2 + 0.35*size
	for i, l := range lines {
		c.addText(textLine{X: x, Y: first + px(i)*cellLine, Size: size, Anchor: at, Bold: bold, Text: l})
	}
}

// explain draws the legend, and writes out the names that are too long for their boxes.
func (c *rosterCanvas) explain() {
	l := legend{&c.canvas, margin, c.y + 4}
	symbol := func(words string, late bool) {
		x, y := l.entry(words)
		c.turnBox(rect{X: x, Y: y - 7, W: symbolWidth, H: 14}, late)
	}
	any := func(has func(RosterTool) bool) bool { return slices.ContainsFunc(c.Tools, has) }
	isLate := func(t RosterTurn) bool { return t.Late }
	if any(func(t RosterTool) bool {
		return slices.ContainsFunc(t.Turns, func(x RosterTurn) bool { return !x.Late })
	}) {
		symbol("turn inside the window of the plot", false)
	}
	if any(func(t RosterTool) bool { return slices.ContainsFunc(t.Turns, isLate) }) {
		symbol("late turn: after the window", true)
	}
	if any(func(t RosterTool) bool { return len(t.Out) > 0 }) {
		l.box("the tool is out of use", fillOut, colors.Border, "")
	}
	c.y = l.y + 22
	for i, name := range c.long {
		c.note(RosterLine{Text: fmt.Sprintf("%d = %s", i+1, name)})
	}
}

func (c *rosterCanvas) below() {
	if len(c.Below) > 0 {
		c.y += 6
	}
	for i, line := range c.Below {
		if i > 0 && line.Strong {
			c.y += 6
		}
		c.note(line)
	}
}

// note writes a line, in several lines if it is too long.
func (c *rosterCanvas) note(n RosterLine) {
	x := margin + px(n.Level)*noteIndent
	lines, _ := wrap(n.Text, textSize, n.Strong, c.Width-margin-x, len(n.Text)+1)
	for _, l := range lines {
		c.y += noteLine
		c.addText(textLine{X: x, Y: c.y - 5, Size: textSize, Bold: n.Strong, Text: l})
	}
}

// desc describes the picture in words, for screen readers.
func (r Roster) desc() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Turns from %s to %s.", r.From, r.To)
	c := rosterCanvas{Roster: r, perRow: int(r.To-r.From) + 1}
	for _, t := range r.Tools {
		fmt.Fprintf(&b, " %s:", t.Name)
		var words []string
		for _, box := range c.boxes(t, r.From, r.To) {
			turn := dateRange(box.On, box.To) + " " + box.Plot
			if box.Late {
				turn += " (late)"
			}
			words = append(words, turn)
		}
		for _, out := range t.Out {
			words = append(words, "out of use "+dateRange(out.From, out.To))
		}
		if len(words) == 0 {
			words = []string{"no turn"}
		}
		b.WriteString(" " + strings.Join(words, "; ") + ".")
	}
	for _, line := range r.Below {
		fmt.Fprintf(&b, " %s.", strings.TrimRight(line.Text, ".:"))
	}
	return b.String()
}
