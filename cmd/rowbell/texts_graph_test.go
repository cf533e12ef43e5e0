package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"rowbell/menu"
	"rowbell/menu/text"
)

// dagreSHA256 is the SHA-256 of dist/dagre.min.js in the package @dagrejs/dagre
// 3.1.3, as published.
const dagreSHA256 = "54a503e346f93ca0bb10abe7999587e037262935687aca45eb4e4b0f64bbb578"

// graphDrawn is a menu with its picture.
type graphDrawn struct {
	graph menu.Graph
	svg   string
}

func drawnGraph(cat *text.Catalogue, lang string) (graphDrawn, error) {
	m, err := menu.New(cat, menu.Options{Units: []menu.AreaUnit{{Name: "bigha", M2: 1337.8}}})
	if err != nil {
		return graphDrawn{}, err
	}
	g, err := m.Graph(lang)
	if err != nil {
		return graphDrawn{}, err
	}
	var b strings.Builder
	err = drawGraph(&b, g, cat.Name(lang))
	return graphDrawn{g, b.String()}, err
}

// englishGraph is shared: to walk the whole menu takes a while.
var englishGraph = sync.OnceValues(func() (graphDrawn, error) {
	cat, err := text.Default()
	if err != nil {
		return graphDrawn{}, err
	}
	return drawnGraph(cat, text.Source)
})

// graphRead is what a reader of XML finds in a picture.
type graphRead struct {
	cards map[string][]string // texts on the card of each screen
	drawn []string            // names of the lines between cards
	links map[string][]string // from a card to others
}

// readGraph reads a picture strictly as XML 1.0 and fails for a screen that is
// drawn twice, for scripts and for styles.
func readGraph(t *testing.T, svg string) graphRead {
	t.Helper()
	r := graphRead{cards: map[string][]string{}, links: map[string][]string{}}
	card, depth, in := "", 0, ""
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return r
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			in = e.Name.Local
			if in == "script" || in == "style" {
				t.Errorf("the picture holds a %s", in)
			}
			if card != "" {
				depth++
			}
			for _, a := range e.Attr {
				switch {
				case a.Name.Local == "id":
					if _, twice := r.cards[a.Value]; twice {
						t.Errorf("screen %s is drawn twice", a.Value)
					}
					card, depth = a.Value, 1
					r.cards[card] = nil
				case a.Name.Local == "href":
					r.links[card] = append(r.links[card], strings.TrimPrefix(a.Value, "#"))
				}
			}
		case xml.EndElement:
			in = ""
			if depth--; depth == 0 {
				card = ""
			}
		case xml.CharData:
			switch s := string(e); {
			case in == "text" && card != "":
				r.cards[card] = append(r.cards[card], s)
			case in == "title":
				r.drawn = append(r.drawn, s)
			}
		}
	}
}

// check holds a picture against its menu.
func (d graphDrawn) check(t *testing.T) {
	t.Helper()
	r := readGraph(t, d.svg)
	if len(r.cards) != len(d.graph.Nodes) {
		t.Errorf("%d screens are drawn, the menu has %d", len(r.cards), len(d.graph.Nodes))
	}
	for _, n := range d.graph.Nodes {
		texts := r.cards[string(n.ID)]
		first, _, _ := strings.Cut(n.Text, " ")
		if len(texts) < 3 || texts[0] != string(n.ID) || texts[1] != n.Kind.String() || !strings.HasPrefix(texts[2], strings.TrimRight(first, ".")) {
			t.Errorf("screen %s, which says %q, is drawn as %q", n.ID, n.Text, texts)
		}
	}
	for _, w := range d.graph.Ways {
		texts := r.cards[string(w.From)]
		if !slices.Contains(texts, strings.Replace(w.Entry, "-", "–", 1)) && w.By == menu.ByDigit {
			t.Errorf("%+v: no such key in %q", w, texts)
		}
		begins := map[menu.WayKind]string{menu.InDoubt: "may be a slip", menu.Otherwise: "where it does not apply", menu.AtOnce: "at once"}[w.By]
		if begins == "" {
			begins = strings.Join(strings.Fields(w.Label), " ")
			begins = string([]rune(begins)[:min(8, len([]rune(begins)))])
		}
		if begins == "" || !slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(s, begins) }) {
			t.Errorf("%+v: no words such as %q in %q", w, begins, texts)
		}
		line := slices.ContainsFunc(r.drawn, func(s string) bool {
			return strings.HasPrefix(s, string(w.From)+": ") && strings.HasSuffix(s, " → "+string(w.To))
		})
		link := w.To == "" || slices.Contains(r.links[string(w.From)], string(w.To))
		if line == link {
			t.Errorf("%+v: drawn as a line: %v, as a name: %v", w, line, link)
		}
	}
	ways := len(d.graph.Ways)
	links := 0
	for _, to := range r.links {
		links += len(to)
	}
	for _, w := range d.graph.Ways {
		if w.To == "" {
			links++
		}
	}
	if lines := len(r.drawn) - 1; lines+links != ways { // the first title is the picture's
		t.Errorf("%d lines and %d names stand for %d ways", lines, links, ways)
	}
}

// The layout is the file that was published, and nothing else.
func TestLayoutIsAsPublished(t *testing.T) {
	b, err := dagre.ReadFile("dagre/dagre.min.js")
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprintf("%x", sha256.Sum256(b)); got != dagreSHA256 {
		t.Errorf("dagre.min.js is %s, not %s: version, comment and sum are changed together", got, dagreSHA256)
	}
}

func TestGraphPictureHoldsTheMenu(t *testing.T) {
	slowWhenRaced(t)
	d, err := englishGraph()
	if err != nil {
		t.Fatal(err)
	}
	d.check(t)
	var again bytes.Buffer
	if err := drawGraph(&again, d.graph, "English"); err != nil {
		t.Fatal(err)
	}
	if again.String() != d.svg {
		t.Error("the same menu was drawn in two ways")
	}
}

// TestGraphCardsStandApart: no card or sheet lies on another, all within the
// picture, and lines lead onward only.
func TestGraphCardsStandApart(t *testing.T) {
	slowWhenRaced(t)
	d, err := englishGraph()
	if err != nil {
		t.Fatal(err)
	}
	c, err := newGraphCanvas(d.graph, "English")
	if err != nil {
		t.Fatal(err)
	}
	type box struct {
		name       string
		x, y, w, h int
	}
	apart := func(boxes []box, w, h int) {
		for i, a := range boxes {
			if a.x < 0 || a.y < 0 || a.x+a.w > w || a.y+a.h > h {
				t.Errorf("%s stands out", a.name)
			}
			for _, b := range boxes[:i] {
				if a.x < b.x+b.w && b.x < a.x+a.w && a.y < b.y+b.h && b.y < a.y+a.h {
					t.Errorf("%s lies on %s", a.name, b.name)
				}
			}
		}
	}
	var sheets []box
	for _, s := range c.Sheets {
		sheets = append(sheets, box{s.Title, s.X, s.Y, s.W, s.H})
		var cards []box
		at := map[menu.ScreenID]graphCard{}
		for _, k := range s.Cards {
			cards = append(cards, box{string(k.ID), k.X, k.Y, graphCardW, k.H})
			at[k.ID] = k
		}
		apart(cards, s.W, s.H)
		for _, k := range s.Cards {
			for _, l := range k.Lines {
				if l.Tag == "" && at[l.To].X <= k.X {
					t.Errorf("a line leads back from %s to %s", k.ID, l.To)
				}
			}
		}
	}
	apart(sheets, c.Width, c.Height)
}

// quoted is a string of a language file.
var quoted = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)

// inDevanagari writes a language file's sentences with letters of another
// script (U+0915 and on), and with what XML must escape. Values in braces, dates
// and the words of commands stay.
func inDevanagari(file string) string {
	var out strings.Builder
	section := ""
	for line := range strings.Lines(file) {
		if strings.HasPrefix(line, "[") {
			section = strings.TrimSpace(line)
		}
		switch {
		case section == "[meta]" && strings.HasPrefix(line, "name"):
			line = "name = \"\u0926\u0947\u0935 <&>\"\n"
		case section == "[meta]" && strings.HasPrefix(line, "alphabet"):
			line = "alphabet = \"ucs2\"\n"
		case section != "" && section != "[meta]" && section != "[calendar]" && section != "[words]":
			line = quoted.ReplaceAllStringFunc(line, func(s string) string { return devanagari(s[:len(s)-1]) + " <&>\"" })
		}
		out.WriteString(line)
	}
	return out.String()
}

func devanagari(s string) string {
	depth := 0
	return strings.Map(func(r rune) rune {
		switch {
		case r == '{':
			depth++
		case r == '}':
			depth--
		case depth == 0 && r >= 'a' && r <= 'z':
			return '\u0915' + r - 'a'
		}
		return r
	}, s)
}

func TestGraphPictureInAnotherScript(t *testing.T) {
	slowWhenRaced(t)
	english, err := os.ReadFile("../../menu/text/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	cat, err := text.Load(fstest.MapFS{
		"en.toml": {Data: english},
		"hi.toml": {Data: []byte(inDevanagari(string(english)))},
	})
	if err != nil {
		t.Fatal(err)
	}
	d, err := drawnGraph(cat, "hi")
	if err != nil {
		t.Fatal(err)
	}
	d.check(t)
	for _, want := range []string{"\u0926\u0947\u0935 &lt;&amp;&gt;", "where it came from"} {
		if !strings.Contains(d.svg, want) {
			t.Errorf("the picture lacks %s", want)
		}
	}
}

// TestGraphBranchesTakeEveryScreen: a screen that no branch knows gets one of
// its own rather than none.
func TestGraphBranchesTakeEveryScreen(t *testing.T) {
	g := menu.Graph{Nodes: []menu.Node{{ID: "home", Kind: menu.RootNode, Text: "?"}, {ID: "newer.one", Kind: menu.TellNode, Text: "!"}, {ID: "newer", Kind: menu.TellNode, Text: "!"}}}
	got := ""
	for _, b := range branchesOf(g) {
		got += fmt.Sprint(b.Number, " ", b.Title, " ", len(b.nodes), "; ")
	}
	if want := "1 Home 1; 2 newer 2; "; got != want {
		t.Errorf("branches %q, want %q", got, want)
	}
}
