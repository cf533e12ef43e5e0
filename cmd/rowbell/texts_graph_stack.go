package main

import "slices"

// stack puts each sheet where it finds room, highest first and then leftmost,
// in a picture as wide as the widest.
func (c *graphCanvas) stack(sheets []graphSheet) {
	xs, ys := []int{0}, []int{graphTopH}
	for _, s := range sheets {
		c.Width = max(c.Width, s.W)
	}
	for _, s := range sheets {
		s.X, s.Y = c.room(s, xs, ys)
		c.Sheets = append(c.Sheets, s)
		c.Height = max(c.Height, s.Y+s.H)
		xs, ys = append(xs, s.X+s.W), append(ys, s.Y+s.H)
		slices.Sort(xs)
		slices.Sort(ys)
	}
	c.Width, c.Height = c.Width+graphEdge, c.Height+graphEdge
}

// room finds the place of a sheet among some; below all the others there is one.
func (c *graphCanvas) room(s graphSheet, xs, ys []int) (x, y int) {
	for _, y := range ys {
		for _, x := range xs {
			taken := x+s.W > c.Width || slices.ContainsFunc(c.Sheets, func(o graphSheet) bool {
				return x < o.X+o.W && o.X < x+s.W && y < o.Y+o.H && o.Y < y+s.H
			})
			if !taken {
				return x, y
			}
		}
	}
	return 0, c.Height
}

// graphItem is a line of the legend: a card's ground or a key, and its words.
type graphItem struct {
	X, Y      int
	Fill, Key string
	Text      string
}

// graphLegend says what the picture means, a column after the other.
var graphLegend = [][]graphItem{
	{{Fill: graphShallow, Text: "start: a dialogue begins here"}, {Fill: graphPaper, Text: "choose: one of its digits"}, {Fill: graphStraw, Text: "type: in own words or numbers"}},
	{{Fill: graphLeaf, Text: "read: it tells, nothing is asked"}, {Fill: graphEnd, Text: "end: the dialogue is over"}, {Key: "● ", Text: "this is written into the records"}},
	{{Key: "abc", Text: "typed, with an example"}, {Key: "?", Text: "an entry that may be a slip is asked back"}, {Key: "»", Text: "dashed: goes on by itself"}},
	{{Key: "(3)", Text: "part of the menu, by its number"}, {Key: "0", Text: "back, 00 home, 000 language, 9 next page:"}, {Text: "they work everywhere and are not drawn"}},
}

func (c *graphCanvas) legend() {
	for i, column := range graphLegend {
		for j, item := range column {
			item.X, item.Y = graphMargin+640*i, 140+44*j
			c.Legend = append(c.Legend, item)
		}
	}
}
