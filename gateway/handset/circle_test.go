package handset

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// sharing makes the two growers of the hamlet members of a circle, with one who erased the records, one who only asked
// to join, and a guest who hires a tool. The second tool has no name and is broken.
func (h *hamlet) sharing() {
	day := func(d int) engine.Day { return engine.Date(2026, time.June, d) }
	h.circle = circle.Circle{Number: 3456, Self: 1,
		Members: []circle.Member{{ID: 1, Name: "Asha", Phone: first, Joined: true, Keeper: true},
			{ID: 2, Name: "Bento", Phone: second, Joined: true}, {ID: 3, Name: "", Joined: true},
			{ID: 4, Name: "Zoe", Phone: "+447700900004"}, {ID: 5, Name: "Gil", Phone: "+447700900005", Guest: true}},
		Tools: []circle.SharedTool{{ID: 8, Name: "<red>"}, {ID: 9, Broken: true}},
		Turns: []circle.HeldTurn{{Tool: 8, Member: 1, PlotNo: 1, From: day(1), To: day(2)},
			{Tool: 8, Member: 5, From: day(3), To: day(3)},
			{Tool: 8, Member: 2, PlotNo: 1, From: day(12), To: day(12), Late: true}},
	}
}

func TestCircleOnThePage(t *testing.T) {
	room, h, _ := newTestRoom(t)
	h.sharing()
	h.texts[second] = append(h.texts[second], Text{At: h.now, Kind: "turn", Body: "Your turn moves to <b>Fri 12."})
	shown := map[string][]string{
		phonePath: {"Circle 3456: 3 growers share 2 tools", "&lt;red&gt;, 1 Jun to 2 Jun", "&lt;red&gt;, 12 Jun (late)",
			"Text about turns on 1 Jun: to Bento; not to Asha.", "no turn",
			"&lt;red&gt;: 1 to 2 Jun Asha; 3 Jun Gil; 12 Jun Bento (late). tool 2: out of use 1 to 12 Jun.",
			"Your turn moves to &lt;b&gt;Fri 12.", `href="/practice/phone/447700900002">Bento`},
		"/practice/phone/447700900002": {"No plot yet."},
		"/practice/":                   {"Circle 3456: 3 growers share 2 tools", "say that one is broken"},
	}
	page := Page(room, Desk{})
	for path, all := range shown {
		code, body := visit(t, page, http.MethodGet, path, nil)
		body = strings.NewReplacer("&#43;", "+", "&#39;", "'").Replace(body)
		for _, want := range all {
			if code != http.StatusOK || !strings.Contains(body, want) {
				t.Errorf("%s: %d, no %q in\n%s", path, code, want, body)
			}
		}
		if strings.Contains(body, "<red>") || strings.Contains(body, "<b>Fri") || strings.Contains(body, "Zoe") {
			t.Errorf("%s has a name or text unescaped, or one of who only asked to join:\n%s", path, body)
		}
	}
}

// The change of an earlier day is named, and no line is marked any more. A text that came later is what was told last.
func TestCircleOnTheNextDay(t *testing.T) {
	room, h, _ := newTestRoom(t)
	h.sharing()
	h.texts[second] = append(h.texts[second], Text{At: h.now, Kind: "turn", Body: "Your turn moves."})
	changed := func() (names []string) {
		s, in, err := room.circleOf(t.Context(), first)
		if err != nil || !in || !strings.HasPrefix(s.News, "Text about turns on 1 Jun: to Bento") {
			t.Errorf("%t, %v: %q", in, err, s.News)
		}
		for _, m := range s.Members {
			if m.Changed {
				names = append(names, m.Name)
			}
		}
		return names
	}
	if got := changed(); !slices.Equal(got, []string{"Bento"}) {
		t.Errorf("on the day of the change %q are marked", got)
	}
	h.texts[second] = append(h.texts[second], Text{At: h.now, Kind: "open", Body: "Weed now."})
	if got := changed(); len(got) != 0 {
		t.Errorf("%q are marked, though another text came since", got)
	}
	ok(t, room.NextDay(t.Context()))
	if got := changed(); len(got) != 0 {
		t.Errorf("on the next day %q are marked", got)
	}
}

// Who only asked to join a circle sees nothing of it.
func TestCircleOfOneWhoAsked(t *testing.T) {
	room, h, _ := newTestRoom(t)
	h.sharing()
	h.circle.Self, h.circle.Members[0].Joined = 1, false
	if _, in, err := room.circleOf(t.Context(), first); in || err != nil {
		t.Errorf("%t, %v", in, err)
	}
}
