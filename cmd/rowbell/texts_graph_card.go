package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"rowbell/menu"
)

// The measures of a card, in pixels: a screen with its question and a line for
// each way on. Letters are large for the card, to be read at arm's length.
const (
	graphCardW  = 350
	graphPad    = 14
	graphHeadH  = 32
	graphLeadH  = 27 // between lines of the question
	graphLineH  = 32 // between ways
	graphKeyW   = 50
	graphAsk    = 22.0 // size of the question
	graphLabel  = 19.0 // of the ways
	graphName   = 16.0 // of names
	graphLetter = 60   // of a question, at most
)

// graphCard is a screen as it is drawn, at its place on a sheet.
type graphCard struct {
	menu.Node
	X, Y, H int
	Ask     []graphLine
	Lines   []graphWay
	From    string // the branches that lead here, in words; "" = none but its own
	FromY   int
	Fill    string
}

// graphLine is a line of words at its height on the card.
type graphLine struct {
	Y    int
	Text string
}

// graphWay is a way on from a card: a key, its label, and where it leads.
type graphWay struct {
	menu.Way
	Y     int
	Key   string
	Label string
	Tag   string // names the screen it leads to, where no line is drawn to it
	TagX  int
	TagW  int
	TagY  int
	TagTo string // the name of the card to go to, "" = none
}

// TagMid is the middle of the tag.
func (w graphWay) TagMid() int { return w.TagX + w.TagW/2 }

// graphFills are the grounds of the kinds of screens, apart in grey too.
var graphFills = map[menu.NodeKind]string{
	menu.RootNode: graphShallow, menu.ListNode: graphPaper, menu.TypedNode: graphStraw, menu.TellNode: graphLeaf, menu.LastNode: graphEnd,
}

// card draws up a screen. drawn are the screens to which lines will be drawn.
func (c *graphCanvas) card(n menu.Node, drawn []menu.ScreenID) graphCard {
	k := graphCard{Node: n, Fill: graphFills[n.Kind]}
	y := graphHeadH
	ask := cmp.Or(graphShort(n.Text, graphLetter), "(no sample grower comes here)")
	for _, line := range graphWrap(ask, graphAsk, graphCardW-2*graphPad) {
		y += graphLeadH
		k.Ask = append(k.Ask, graphLine{Y: y, Text: line})
	}
	y += 8
	if k.From = c.from(n.ID); k.From != "" {
		y += 24
		k.FromY = y
	}
	for _, way := range c.ways[n.ID] {
		y += graphLineH
		w := graphWay{Way: way, Y: y, Key: graphKey(way), Label: graphWords(way)}
		room := float64(graphCardW - 2*graphPad - graphKeyW)
		if way.Saves {
			room -= graphLabel * 1.4 // the mark that says so
		}
		if way.To == "" || !slices.Contains(drawn, way.To) {
			w.Tag, w.TagTo = c.tag(way.To), string(way.To)
			w.TagW = int(graphWidth(w.Tag, graphName, true)) + 18
			w.TagX = graphCardW - 10 - w.TagW
			if graphWidth(w.Label, graphLabel, false)+float64(w.TagW) > room {
				y += 28 // on a line of its own
			} else {
				room -= float64(w.TagW)
			}
			w.TagY = y
		}
		w.Label = graphCut(w.Label, graphLabel, room)
		k.Lines = append(k.Lines, w)
	}
	k.H = y + graphPad
	return k
}

// tag names a screen that stands elsewhere.
func (c *graphCanvas) tag(to menu.ScreenID) string {
	if to == "" {
		return "where it came from"
	}
	return fmt.Sprintf("%s (%d)", to, c.branch[to])
}

// from names the branches that lead to a screen from outside its own.
func (c *graphCanvas) from(id menu.ScreenID) string {
	var numbers []int
	for from, ways := range c.ways {
		for _, way := range ways {
			if way.To == id && c.branch[from] != c.branch[id] {
				numbers = append(numbers, c.branch[from])
			}
		}
	}
	if len(numbers) == 0 || id == "home" { // home is led to from everywhere
		return ""
	}
	slices.Sort(numbers)
	var words []string
	for _, n := range slices.Compact(numbers) {
		words = append(words, fmt.Sprintf("(%d)", n))
	}
	return "also from " + strings.Join(words, " ")
}

// graphKey is what is pressed.
func graphKey(w menu.Way) string {
	switch w.By {
	case menu.ByDigit:
		return strings.Replace(w.Entry, "-", "–", 1)
	case menu.ByTyping:
		return "abc"
	case menu.InDoubt:
		return "?"
	}
	return "»"
}

// graphWords is what stands beside the key.
func graphWords(w menu.Way) string {
	switch w.By {
	case menu.ByTyping:
		return "typed, like " + w.Label
	case menu.InDoubt:
		return "may be a slip"
	case menu.Otherwise:
		return "where it does not apply"
	case menu.AtOnce:
		return "at once"
	}
	return graphShort(w.Label, graphLetter)
}

// graphShort puts a text on one line and shortens it at a word.
func graphShort(s string, letters int) string {
	var words []string
	n := 0
	for _, word := range strings.Fields(s) {
		n += utf8.RuneCountInString(word) + 1
		if n > letters+1 && len(words) > 0 {
			return strings.TrimRight(strings.Join(words, " "), ".,:;") + " …"
		}
		words = append(words, strings.Map(func(r rune) rune {
			if unicode.IsControl(r) {
				return -1
			}
			return r
		}, word))
	}
	return strings.Join(words, " ")
}

// graphWrap breaks a text into lines of a width.
func graphWrap(s string, size, width float64) []string {
	var lines []string
	for word := range strings.FieldsSeq(s) {
		if n := len(lines); n > 0 && graphWidth(lines[n-1]+" "+word, size, true) <= width {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, graphCut(word, size, width))
	}
	return lines
}

// graphCut shortens a text to a width, with a mark that it goes on.
func graphCut(s string, size, width float64) string {
	if graphWidth(s, size, false) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && graphWidth(string(runes)+"…", size, false) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}

// graphWidth is how wide a text is at most, by the widths of a wide sans serif.
func graphWidth(s string, size float64, bold bool) float64 {
	em := 0.0
	for _, r := range s {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Cf): // sits on the letter before
		case strings.ContainsRune("ijl'|.,:;ftI-()[]/! ", r):
			em += 0.39
		case strings.ContainsRune("mwMW%@", r):
			em += 0.98
		case unicode.IsUpper(r):
			em += 0.74
		case r < 0x250:
			em += 0.63
		case r < 0x1100:
			em += 0.8
		default:
			em++
		}
	}
	if bold {
		em *= 1.12
	}
	return em * size
}
