package menu

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/menu/answer"
)

// typedEntries draws an entry for a question about a length, a size, a day or hours: numbers, signs and units in any
// order, as thumbs and habits make them.
func typedEntries() *rapid.Generator[string] {
	number := rapid.SampledFrom([]string{"1", "2", "3", "5", "8", "10", "12", "15", "18", "20", "25", "30", "45", "100",
		"511", "600", "1105", "1211", "2.30", "20.5", "1/2", "½", "2O", "08:00", "1,200", "20,30"})
	sign := rapid.SampledFrom([]string{"", " ", "x", "*", "/", "-", ",", ".", " to ", " or ", " by "})
	unit := rapid.SampledFrom([]string{"", "", "", " cm", " m", " m2", " ha", " acres", " inches", " feet", " steps",
		" katha", " h", " min", " days ago", " weeks", " nov", "*", "#"})
	return rapid.Custom(func(t *rapid.T) string {
		s := number.Draw(t, "number")
		if rapid.Bool().Draw(t, "two") {
			s += sign.Draw(t, "sign") + number.Draw(t, "second")
		}
		return s + unit.Draw(t, "unit")
	})
}

// readBackQuestion is a question, the entries that lead to it and those that come after the answer.
type readBackQuestion struct {
	way, rest []string
	names     func(s engine.Season) []string // what must have been shown
}

func readBackQuestions() map[string]readBackQuestion {
	cat := newMenu().cat
	n := func(x float64) string { return cat.Decimal("en", number(x)) }
	on := func(d engine.Day) string {
		_, m, dd := d.Date()
		return cat.Date("en", d.Weekday(), dd, m)
	}
	weeding := append(append([]string{}, toArea...), "600", "00", "3")
	return map[string]readBackQuestion{
		"planting": {toWhen, []string{"1", "1", "1", "2"}, func(s engine.Season) []string {
			return []string{on(s.Plot.Planted)}
		}},
		"distances": {toSpacing, []string{"4", "2"}, func(s engine.Season) []string {
			return []string{"Rows " + n(s.Plot.RowSpacingCM), "plants " + n(s.Plot.HillSpacingCM) + " cm"}
		}},
		"tool": {toTool, []string{"2"}, func(s engine.Season) []string {
			if s.Tool.MaxWidthCM > 0 {
				return []string{n(s.Tool.WidthCM) + "-" + n(s.Tool.MaxWidthCM) + " cm"}
			}
			return []string{n(s.Tool.WidthCM) + " cm"}
		}},
		"size": {toArea, nil, func(s engine.Season) []string {
			return []string{"Saved: Plot 1, " + cat.Decimal("en", whole(s.Plot.AreaM2)) + " m2"}
		}},
		"steps": {append(append([]string{}, toArea...), "1"), nil, func(s engine.Season) []string {
			return []string{"Saved: Plot 1, " + cat.Decimal("en", whole(s.Plot.AreaM2)) + " m2"}
		}},
		"weeding": {append(weeding[:len(weeding):len(weeding)], "3"), []string{"1", "1"},
			func(s engine.Season) []string { return []string{on(s.Passes[0].On)} }},
		"hours": {append(weeding[:len(weeding):len(weeding)], "1", "1", "1", "1"), []string{"2"},
			func(s engine.Season) []string { return []string{n(s.Passes[0].Hours) + " h, 2 people"} }},
	}
}

// TestWhatIsReadBackIsSaved types any entry into each question of a registration and of a weeding. If the entry is
// taken, the pages between the entry and the end must name the value that is saved, so that no grower is misunderstood
// in silence. A grower who is asked back gives either answer.
func TestWhatIsReadBackIsSaved(t *testing.T) {
	for question, q := range readBackQuestions() {
		t.Run(question, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				p := caller(t, knownBook()).enter(q.way...)
				asked := p.last.Screen
				entry := typedEntries().Draw(rt, "entry")
				p.enter(entry)
				if p.last.Screen == asked || len(answer.Digits(entry)) == 1 { // refused, or a choice
					return
				}
				shown := []string{p.last.Text}
				if p.last.Screen == ScreenDoubt {
					reply := "1"
					if p.has("\n2 no: ") {
						reply = rapid.SampledFrom([]string{"1", "2"}).Draw(rt, "reply")
					}
					p.enter(reply)
					shown = append(shown, p.last.Text)
				}
				for _, e := range append([]string{}, q.rest...) {
					if strings.HasPrefix(string(p.last.Screen), "new.hills") { // only the rows were typed
						p.enter("1")
						shown = append(shown, p.last.Text)
					}
					if p.last.Screen == ScreenWeeded {
						p.enter("1")
					}
					p.enter(e)
					shown = append(shown, p.last.Text)
				}
				s, ok := p.b.Seasons[1]
				if !ok {
					rt.Fatalf("%q saves nothing:\n%s", entry, strings.Join(shown, "\n--\n"))
				}
				for _, want := range q.names(s) {
					if !strings.Contains(strings.Join(shown, "\n"), want) {
						rt.Fatalf("%q saves %s, which no page names:\n%s", entry, want, strings.Join(shown, "\n--\n"))
					}
				}
			})
		})
	}
}
