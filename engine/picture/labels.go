package picture

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"rowbell/engine"
)

// dayLabel is a text about a day, written above or below a row next to a vertical line (its pole) at that day.
type dayLabel struct {
	Day   engine.Day
	After bool // the label is at the end of the day; false: in the middle of the day
	Text  string
	Bold  bool
}

func (l dayLabel) width() px { return poleGap + textWidth(l.Text, textSize, l.Bold) }

// daysFromFirst returns the distance, in days, from the left edge of the first day in the picture to the label's pole.
func (c *canvas) daysFromFirst(l dayLabel) px {
	days := px(l.Day-c.first) + 0.5
	if l.After {
		days += 0.5
	}
	return days
}

// dayWidth returns the largest width of a day, at most maxDayWidth, for which all days and labels fit into the picture.
func (c *canvas) dayWidth(groups ...[]dayLabel) px {
	room := c.Width - leftEdge - margin
	w := min(maxDayWidth, (room-dateWidth/2)/px(c.last-c.first+1))
	for _, labels := range groups {
		for _, l := range labels {
			w = min(w, (room-l.width())/c.daysFromFirst(l))
		}
	}
	return w
}

// labelsAbove writes labels above the next row. Their poles go down to the row.
func (c *canvas) labelsAbove(labels []dayLabel) {
	flags, lanes := c.place(labels)
	height := px(lanes) * laneHeight
	for _, f := range flags {
		top := c.y + px(lanes-1-f.Lane)*laneHeight
		c.flag(f, top, c.y+height+2, top+14)
	}
	c.y += height + 2
}

// labelsBelow writes labels below the last row. Their poles go up to the row.
func (c *canvas) labelsBelow(labels []dayLabel) {
	flags, lanes := c.place(labels)
	for _, f := range flags {
		lane := c.y + px(f.Lane)*laneHeight
		c.flag(f, c.y, lane+laneHeight-3, lane+14)
	}
	c.y += px(lanes)*laneHeight + rowGap
}

func (c *canvas) place(labels []dayLabel) (flags []flag, lanes int) {
	for _, l := range labels {
		x := leftEdge + c.daysFromFirst(l)*c.day
		flags = append(flags, flag{X: x, W: l.width(), Text: l.Text, Bold: l.Bold})
	}
	return flags, assignLanes(flags)
}

func (c *canvas) flag(f flag, top, foot, baseline px) {
	c.addLine(f.X, top, f.X, foot, colors.SoftInk, 1, "")
	c.addText(textLine{X: f.X + poleGap, Y: baseline, Size: textSize, Bold: f.Bold, Text: f.Text})
}

// flag is a label on a vertical pole at X, with the text to the right.
type flag struct {
	X    px
	W    px // width of the text and the gap between pole and text
	Text string
	Bold bool
	Lane int // lane 0 is the lane nearest to the labelled row
}

// flagGap is the least space between a text and the pole to its right.
const flagGap = 10

// assignLanes sorts flags from left to right and gives each a lane, so that no text covers a text and no pole crosses a
// text. It returns the number of lanes.
//
// It starts with the rightmost flag. A flag whose text would reach the pole of a flag further right gets a lane one
// higher than that flag, where that pole does not extend. Other flags are in lane 0.
func assignLanes(flags []flag) int {
	slices.SortStableFunc(flags, func(a, b flag) int { return cmp.Compare(a.X, b.X) })
	lanes := 0
	for i := len(flags) - 1; i >= 0; i-- {
		f := &flags[i]
		f.Lane = 0
		for _, right := range flags[i+1:] {
			if right.X < f.X+f.W+flagGap {
				f.Lane = max(f.Lane, right.Lane+1)
			}
		}
		lanes = max(lanes, f.Lane+1)
	}
	return lanes
}

// textWidth returns a width that the text does not exceed in any usual font. The program has no fonts, so it adds up
// the widths of the letters of a wide sans serif font; those of Devanagari are the widest of Noto Sans and Noto Serif.
func textWidth(text string, size px, bold bool) px {
	em := 0.0
	for _, r := range text {
		switch {
		case strings.ContainsRune("ijl'|", r):
			em += 0.29
		case strings.ContainsRune(" .,:;ftI-()[]/!", r):
			em += 0.40
		case strings.ContainsRune("rs", r):
			em += 0.53
		case strings.ContainsRune("mwMW%@", r):
			em += 0.99
		case r >= 'A' && r <= 'Z':
			em += 0.75
		case r < 0x250:
			em += 0.64
		case unicode.Is(unicode.Mn, r), isJoiner(r):
		case r >= 0x900 && r < 0x980 && unicode.Is(unicode.Mc, r):
			em += 0.35
		case r >= 0x915 && r < 0x93a: // consonants of Devanagari
			em += 0.83
		default:
			em++
		}
	}
	if bold {
		em *= 1.13
	}
	return px(em) * size
}

// shorten cuts a text that is wider than width, and ends it with an ellipsis (…).
func shorten(text string, size px, bold bool, width px) string {
	if textWidth(text, size, bold) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && textWidth(string(runes)+"…", size, bold) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}
