package menu

import (
	"fmt"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// TestTroubles checks that the menu offers the engine's four troubles with a tool, and for each trouble the numbered
// cures, the one with the least work first. The caution about the hands must come before the cures.
func TestTroubles(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "4")
	p.wants("Lift by the handle, do not touch the teeth.")
	for _, c := range []struct {
		entry string
		shows []string
	}{
		{"1", []string{"It sinks in.", "1. float lower", "2. handle lower", "3. wait a day or two"}},
		{"2", []string{"It gets full of mud or weeds", "1. wash the teeth",
			"2. water to 3-5 cm", "3. teeth wider apart"}},
		{"3", []string{"It goes over the weeds.", "1. push and pull", "2. float higher", "3. handle higher",
			"4. water to 3-5 cm", "5. weeds too big: by hand"}},
		{"4", []string{"It hurts the rice.", "1. slower", "2. set it narrower", "3. float lower",
			"4. rice too big: no more passes"}},
	} {
		p.enter(c.entry).wants(c.shows...)
		p.enter("0")
	}
	p.wants("What goes wrong?")
}

// TestEveryCureHasWords checks that every cure of the engine has a text in every language, and that the menu lists
// every cure.
func TestEveryCureHasWords(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		for _, trouble := range engine.Troubles() {
			c := m.scene(knownBook(), USSD, &session{})
			c.lang = lang
			if page := c.cures(trouble); c.err != nil || strings.Count(page, "\n") != len(engine.Cures(trouble)) {
				t.Errorf("%s: %v\n%s", lang, c.err, page)
			}
		}
	}
}

func TestStrip(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "5")
	p.wants("short strip", "5 cm water", "Lift by the handle, do not touch the teeth.")
	p.plays("1 => If not, change the setting and try again. | Pay when", "1 => What goes wrong?")
}

// TestOrder checks that the answers about rows, soil and heights become an order for a tool, which the menu shows to
// the grower and sends as a text.
func TestOrder(t *testing.T) {
	twenty := inRows(20, engine.Tool{})
	scattered := engine.Season{Plot: engine.Plot{Method: engine.Broadcast, Planted: wednesday - 20},
		Weather: engine.Steady(22, 32)}
	for _, c := range []struct {
		name    string
		book    *notebook.Book
		entries []string
		shows   []string
		order   []string
		not     []string // in neither the screen nor the text
	}{
		{"no plot, rows of 20, usual people", knownBook(), []string{"20", "2", "1"},
			[]string{"Tool 15 cm wide, rows 20 to 25 cm.", "Handle 94 to 99 cm high"},
			[]string{"15 cm wide.", "Float with a height to set.", "Handle 94 to 99 cm high.",
				"To be tried on a strip before paying."}, []string{"eeth"}},
		{"clay", knownBook(), []string{"20", "1", "1"}, []string{"Teeth wide apart."},
			[]string{"Teeth wide apart for clay."}, nil},
		// A person of 165 cm has a shoulder height of 0.818 times 165 cm (Drillis & Contini 1966). The handle must be
		// at 0.7 to 0.8 of the shoulder height (Gite & Yadav 1990), which is 94.5 to 108.0 cm.
		{"one person", knownBook(), []string{"20", "2", "165"}, []string{"Handle 94 to 108 cm high"},
			[]string{"Handle 94 to 108 cm high."}, nil},
		// A person of 180 cm needs a handle at 103.1 to 117.8 cm, a person of 150 cm at 85.9 to 98.2 cm. The ranges do
		// not overlap, so the handle must be adjustable, from the middle of the lower range (92) to the middle of the
		// higher one (110).
		{"two who do not suit one handle", knownBook(), []string{"20", "2", "180 150"},
			[]string{"Handle to set 92 to 110 cm."}, []string{"Handle to set 92 to 110 cm."}, nil},
		{"two widths of rows", knownBook(), []string{"20-30", "2", "1"},
			[]string{"Tool to set 15 to 25 cm wide, rows 20 to 35 cm."}, []string{"to set 15 to 25 cm wide."}, nil},
		{"two widths that one tool serves", knownBook(), []string{"20 25", "2", "1"}, []string{"Tool 15 cm wide"},
			[]string{"15 cm wide."}, []string{"to set 1"}},
		{"wider than can be pushed", knownBook(), []string{"20 60", "1", "2", "1"},
			[]string{"rows 20 to 40 cm.", "Wider rows: pull the rest."}, []string{"to set 15 to 30 cm wide."}, nil},
		{"the rows of a plot", bookOf(twenty), []string{"1", "2", "1"}, []string{"Tool 15 cm wide"},
			[]string{"15 cm wide."}, nil},
		{"the rows of all plots", bookOf(inRows(30, engine.Tool{}), scattered, twenty), []string{"1", "2", "1"},
			[]string{"15 to 25 cm wide"}, []string{"15 to 25 cm wide."}, nil},
		{"other rows than the plot's", bookOf(twenty), []string{"2", "25", "2", "1"}, []string{"Tool 20 cm wide"},
			[]string{"20 cm wide."}, nil},
		{"typed at once", bookOf(twenty), []string{"25", "2", "1"}, []string{"Tool 20 cm wide"},
			[]string{"20 cm wide."}, nil},
		{"scattered rice has no rows to offer", bookOf(scattered), []string{"20", "2", "1"},
			[]string{"Tool 15 cm wide"}, []string{"15 cm wide."}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := caller(t, c.book).enter("5", "3").enter(c.entries...).wants(c.shows...)
			p.lacks(c.not...)
			if len(p.last.Send) != 0 {
				t.Fatal("sent before it was asked for")
			}
			p.plays("1 => Show it to the smith.")
			if len(p.last.Send) != 1 || p.last.Send[0].Kind != "order" {
				t.Fatalf("sent %+v", p.last.Send)
			}
			sms := p.last.Send[0].Text
			wants(t, sms, c.order...)
			lacks(t, sms, c.not...)
			p.plays("0 => What now?") // the back key does not return to the order, so it is sent only once
		})
	}
}

func TestOrderReadsTheRowsBack(t *testing.T) {
	for entry, shows := range map[string]string{
		"20": "Rows 20 cm.", "22.5": "Rows 22.5 cm.", "20 25": "Rows 20-25 cm.", "25-20": "Rows 20-25 cm.",
		"20,25": "Rows 20-25 cm.", "20*25": "Rows 20-25 cm.",
		"20 20": "20 20 is not a length.", "20-200": "200 cm? It must be 5 to 100 cm.",
		"wide": "wide is not a length.", "": "Nothing was typed.",
	} {
		p := caller(t, knownBook()).enter("5", "3", entry)
		p.wants(shows)
	}
}

// TestRowsTooNarrowForAnyTool checks that for rows too narrow for any tool the menu gives the reason and asks for other
// rows.
func TestRowsTooNarrowForAnyTool(t *testing.T) {
	for _, entries := range [][]string{{"12", "1"}, {"12 25", "1"}, {"14.9", "1"}} {
		p := caller(t, knownBook()).enter("5", "3")
		p.enter(entries...).wants("Under 10 cm a tool is of no use", "Plant rows of 15 cm or more.")
		p.enter("1", "15", "2", "1").wants("Tool 10 cm wide")
	}
	p := caller(t, bookOf(inRows(12, engine.Tool{}))).enter("5", "3", "1")
	p.wants("Rows of 12 cm leave 7 cm for a tool")
}

func TestHeightsAreAskedAgain(t *testing.T) {
	p := caller(t, knownBook()).enter("5", "3", "20", "2", "tall")
	p.wants("Type heights in cm like 160", "How tall are")
	p.plays("95 => 95 cm? It must be 120 to 220 cm.", "5ft4 150 => Handle 93 to 98 cm high")
}

// TestOrderIsOneOrTwoSegments checks orders with many rows and people. The text must take one segment in English and at
// most two segments in any other language. The screen that shows the order again must fit on one page.
func TestOrderIsOneOrTwoSegments(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		limit := MaxSegments(m.cat.Alphabet(lang), false)
		if lang == "en" {
			limit = 1
		}
		for _, soil := range []engine.Soil{engine.SoilUnknown, engine.SoilHeavy} {
			for _, rows := range []string{"20 20", "17.5 22.5", "22.5 32.4", "22.5 99.5"} {
				for _, heights := range []string{"", "220", "121.5 219.5"} {
					from, to, _ := strings.Cut(rows, " ")
					c := m.scene(knownBook(), USSD, &session{Screen: "smith.order",
						Answers: map[Field]string{fRow: from, fRowMax: to, fHeights: heights,
							fSoil: fmt.Sprint(int(soil))}})
					c.lang = lang
					o, ok := c.order()
					if !ok {
						t.Fatalf("rows %s, heights %q: no order", rows, heights)
					}
					sms := c.orderText(o)
					if e := m.Encode(lang, sms); e.Segments > limit {
						t.Errorf("%s: %d segments of %s:\n%s", lang, e.Segments, e.Encoding, sms)
					}
					if page := c.pages(nil)[0]; !text.FitsUSSD(page) {
						t.Errorf("%s: %d octets:\n%s", lang, text.USSDOctets(page), page)
					}
					if c.err != nil {
						t.Fatal(c.err)
					}
				}
			}
		}
	}
}

// TestToolsNeedNoPlot checks that the tool screens need no plot, and that they give an answer for any saved session.
func TestToolsNeedNoPlot(t *testing.T) {
	m := newMenu()
	for _, id := range []ScreenID{"smith", "smith.soil", "smith.order", "planting.layout", "planting.seed",
		"planting.spacing", "planting.rows", "nursery.ready", "planting.flood"} {
		for _, answers := range []map[Field]string{nil,
			{fRow: "NaN", fRowMax: "1e300", fHeights: "x", fLength: "-1", fWidth: "Inf", fTool: "3"}} {
			state := must((&session{Screen: id, Answers: answers}).encode())
			if _, r, err := m.Enter(knownBook(), USSD, state, "1"); err != nil || strings.TrimSpace(r.Text) == "" ||
				len(r.Send) > 0 {
				t.Errorf("%s: %q, %v", id, r.Text, err)
			}
			s := must(decodeSession(state))
			if c := m.scene(knownBook(), USSD, s); strings.TrimSpace(c.pages(nil)[0]) == "" || c.err != nil {
				t.Errorf("%s: %v", id, c.err)
			}
			if _, r, err := m.Enter(knownBook(), USSD, state, "99999"); err != nil || strings.TrimSpace(r.Text) == "" {
				t.Errorf("%s: %q, %v", id, r.Text, err)
			}
		}
	}
}
