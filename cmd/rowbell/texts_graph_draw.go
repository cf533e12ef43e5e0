package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rowbell/menu"
)

// The grounds of cards, from the other pictures.
const (
	graphShallow = "#d3e6e3"
	graphPaper   = "#ffffff"
	graphStraw   = "#fbf0d0"
	graphLeaf    = "#e4eed6"
	graphEnd     = "#e3ded0"
)

// The measures of a sheet, in pixels.
const (
	graphGap     = 24 // between boxes of a layer
	graphBetween = 92 // between layers
	graphMargin  = 40
	graphTitleH  = 92 // of a sheet
	graphTopH    = 270
	graphEdge    = 20 // around all sheets
	graphHeading = 38.0
)

// graphCanvas is the picture in the making.
type graphCanvas struct {
	Title         string
	Width, Height int
	Sheets        []graphSheet
	Legend        []graphItem

	ways   map[menu.ScreenID][]menu.Way // by the screen they leave
	branch map[menu.ScreenID]int
}

// newGraphCanvas draws a menu: a sheet for each branch, laid out in layers from
// left to right.
func newGraphCanvas(g menu.Graph, language string) (*graphCanvas, error) {
	layer, err := newGraphLayer()
	if err != nil {
		return nil, err
	}
	c := &graphCanvas{ways: map[menu.ScreenID][]menu.Way{}, branch: map[menu.ScreenID]int{}}
	c.Title = fmt.Sprintf("rowbell: the whole menu, %d screens and %d ways between them (%s)", len(g.Nodes), len(g.Ways), language)
	for _, way := range g.Ways {
		c.ways[way.From] = append(c.ways[way.From], way)
	}
	branches := branchesOf(g)
	for _, b := range branches {
		for _, n := range b.nodes {
			c.branch[n.ID] = b.Number
		}
	}
	var sheets []graphSheet
	for _, b := range branches {
		s, err := c.sheet(b, layer)
		if err != nil {
			return nil, err
		}
		sheets = append(sheets, s)
	}
	c.legend()
	c.stack(sheets)
	return c, nil
}

// graphSheet is the drawing of one branch, at its place in the picture.
type graphSheet struct {
	graphBranch
	X, Y, W, H int
	Cards      []graphCard
	Paths      []graphPath
}

type graphPath struct {
	Name string // in words: from, key, label, to
	D    string
	Dash bool   // taken without the grower
	Tip  string // of the arrow
}

// PanelW and PanelH are the size of the paper under a drawing.
func (s graphSheet) PanelW() int { return s.W - 8 }
func (s graphSheet) PanelH() int { return s.H - 10 }

// sheet lays out one branch.
func (c *graphCanvas) sheet(b graphBranch, layer graphLayer) (graphSheet, error) {
	s := graphSheet{graphBranch: b}
	onward := c.onward(b)
	at := map[menu.ScreenID]int{}
	var boxes []graphBox
	for i, n := range b.nodes {
		card := c.card(n, onward[n.ID])
		at[n.ID] = i
		s.Cards = append(s.Cards, card)
		boxes = append(boxes, graphBox{W: graphCardW, H: card.H})
	}
	var edges [][2]int
	for _, n := range b.nodes {
		for _, way := range c.ways[n.ID] {
			e := [2]int{at[n.ID], at[way.To]}
			if slices.Contains(onward[n.ID], way.To) && !slices.Contains(edges, e) {
				edges = append(edges, e)
			}
		}
	}
	placed, err := layer(boxes, edges)
	if err != nil {
		return s, err
	}
	// The layout knows boxes, not lines on them: of its two mirror images the one
	// is taken in which ways fan out in the order of their lines.
	if c.crossed(b, at, placed) > 0 {
		placed.flip()
	}
	layers := map[int]bool{}
	for i := range s.Cards {
		k, p := &s.Cards[i], placed.Boxes[i]
		layers[int(math.Round(p.X))] = true
		k.X, k.Y = graphMargin+int(math.Round(p.X))-graphCardW/2, graphTitleH+int(math.Round(p.Y))-k.H/2
	}
	for i := range s.Cards {
		from := &s.Cards[i]
		for _, line := range from.Lines {
			if line.Tag != "" {
				continue
			}
			j := at[line.To]
			s.Paths = append(s.Paths, graphCurve(from, line, &s.Cards[j], placed.Edges[[2]int{i, j}], layers))
		}
	}
	s.W = max(int(math.Ceil(placed.Width))+2*graphMargin, 2*graphMargin+graphTitleH+int(graphWidth(b.Title, graphHeading, true)))
	s.H = int(math.Ceil(placed.Height)) + graphTitleH + graphMargin
	return s, nil
}

// crossed counts the pairs of lines on a card whose ways cross, less those whose
// ways do not.
func (c *graphCanvas) crossed(b graphBranch, at map[menu.ScreenID]int, placed graphPlaced) int {
	n := 0
	for _, node := range b.nodes {
		ways := c.ways[node.ID]
		for i := range ways {
			for j := range i {
				before, isHere := at[ways[j].To]
				after, isToo := at[ways[i].To]
				if isHere && isToo {
					n += cmp.Compare(placed.Boxes[before].Y, placed.Boxes[after].Y)
				}
			}
		}
	}
	return n
}

// onward are the screens of the branch that lines are drawn to, by the screen
// they leave: all but those that are led to from everywhere, and those that a
// walk from the branch's first screens has come through already, for a line back
// crosses everything.
func (c *graphCanvas) onward(b graphBranch) map[menu.ScreenID][]menu.ScreenID {
	const walking, done = 1, 2
	state := map[menu.ScreenID]int{}
	onward := map[menu.ScreenID][]menu.ScreenID{}
	var walk func(menu.ScreenID)
	walk = func(id menu.ScreenID) {
		state[id] = walking
		for _, way := range c.ways[id] {
			if c.branch[way.To] != b.Number || way.To == "home" || way.By == menu.InDoubt || state[way.To] == walking {
				continue
			}
			if !slices.Contains(onward[id], way.To) {
				onward[id] = append(onward[id], way.To)
			}
			if state[way.To] == 0 {
				walk(way.To)
			}
		}
		state[id] = done
	}
	for _, n := range b.nodes {
		if state[n.ID] == 0 {
			walk(n.ID)
		}
	}
	return onward
}

// graphCurve draws a way from its line on a card to the card it leads to,
// through the turns of the layout: flat past the cards of a layer, bent between
// the layers.
func graphCurve(from *graphCard, w graphWay, to *graphCard, turns []graphPoint, layers map[int]bool) graphPath {
	x, y := float64(from.X+graphCardW), float64(from.Y+w.Y-6)
	var d strings.Builder
	fmt.Fprintf(&d, "M%.0f %.0f", x, y)
	bend := func(nx, ny float64) {
		mid := (nx - x) / 2
		fmt.Fprintf(&d, "C%.0f %.0f %.0f %.0f %.0f %.0f", x+mid, y, nx-mid, ny, nx, ny)
		x, y = nx, ny
	}
	for _, p := range turns[1 : len(turns)-1] {
		if !layers[int(math.Round(p.X))] {
			continue
		}
		left := graphMargin + p.X - graphCardW/2
		bend(left, graphTitleH+p.Y)
		x += graphCardW
		fmt.Fprintf(&d, "H%.0f", x)
	}
	end := float64(to.Y) + 20
	bend(float64(to.X)-9, end)
	tip := fmt.Sprintf("M%d %.0fl-12 -6v12z", to.X, end)
	name := fmt.Sprintf("%s: %s %s → %s", w.From, w.Key, w.Label, w.To)
	return graphPath{Name: name, D: d.String(), Dash: w.By == menu.Otherwise || w.By == menu.AtOnce, Tip: tip}
}
