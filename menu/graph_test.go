package menu

import (
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
)

// theGraph is shared: to walk the whole menu takes a while.
var theGraph = sync.OnceValues(func() (Graph, error) {
	m, err := inEnglish()
	if err != nil {
		return Graph{}, err
	}
	return m.Graph("en")
})

// TestGraphIsWhole: every screen stands in the graph once and says something,
// every declared way is there with its digit and words, and whatever is not a
// beginning is led to.
func TestGraphIsWhole(t *testing.T) {
	m := newMenu(t)
	g, err := theGraph()
	if err != nil {
		t.Fatal(err)
	}
	var ids []ScreenID
	ledTo := map[ScreenID]bool{}
	for _, n := range g.Nodes {
		ids = append(ids, n.ID)
		if strings.TrimSpace(n.Text) == "" || n.Kind.String() == "" {
			t.Errorf("%+v says nothing", n)
		}
		if strings.Contains(n.Text, "WWW") {
			t.Errorf("%s has no readable sample: %s", n.ID, n.Text)
		}
	}
	if !slices.Equal(ids, m.order) {
		t.Errorf("screens %v, the menu's are %v", ids, m.order)
	}
	for _, w := range g.Ways {
		ledTo[w.To] = true
		if m.screens[w.From] == nil || w.To != "" && m.screens[w.To] == nil {
			t.Errorf("%+v is between screens that do not exist", w)
		}
		if strings.Contains(w.Label, "WWW") {
			t.Errorf("%+v has no readable sample", w)
		}
	}
	for id, s := range m.screens {
		if !ledTo[id] && !s.Root {
			t.Errorf("no way leads to %s", id)
		}
		for _, c := range s.Choices {
			label, err := m.cat.Text("en", c.Label, c.Args)
			if err != nil {
				t.Fatal(err)
			}
			wantWay(t, g, Way{From: id, To: c.To, By: ByDigit, Entry: string(c.Digit), Label: label, Saves: c.Do != nil})
		}
		if s.Typed != nil {
			wantWay(t, g, Way{From: id, To: s.Typed.To, By: ByTyping, Label: s.Typed.Samples[0], Saves: s.Typed.Do != nil})
		}
		if s.When != nil {
			wantWay(t, g, Way{From: id, To: s.Else, By: Otherwise})
		}
	}
}

func wantWay(t *testing.T, g Graph, want Way) {
	t.Helper()
	n := 0
	for _, w := range g.Ways {
		if w == want {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%+v is in the graph %d times", want, n)
	}
}

// TestGraphFindsWhatWalksShow: lines made of records, and what the machine does
// by itself.
func TestGraphFindsWhatWalksShow(t *testing.T) {
	g, err := theGraph()
	if err != nil {
		t.Fatal(err)
	}
	for _, goal := range goals {
		wantWay(t, g, Way{From: "plots", To: goal, By: AtOnce})
	}
	for _, n := range g.Nodes {
		if n.ID == "declined" && !strings.Contains(n.Text, "*123#") {
			t.Errorf("the end of a dialogue says %q", n.Text)
		}
	}
	wantWay(t, g, Way{From: "trial", To: "trial.no-rows", By: AtOnce})
	wantWay(t, g, Way{From: "new.rows", To: sDoubt, By: InDoubt})
	wantWay(t, g, Way{From: "new.area.unit", To: "new.area.many", By: ByDigit, Entry: "1-2", Label: "bigha"})
	for _, k := range priceKinds {
		if !slices.ContainsFunc(g.Ways, func(w Way) bool { return w.From == "costs.own" && w.To == k.screen() }) {
			t.Errorf("no way from costs.own to %s", k.screen())
		}
	}
}

func TestGraphIsTheSameTwice(t *testing.T) {
	a, err := theGraph()
	if err != nil {
		t.Fatal(err)
	}
	b, err := newMenu(t).Graph("en")
	if err != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("two graphs of one menu differ: %v", err)
	}
}

func TestGraphOfNoLanguage(t *testing.T) {
	if _, err := newMenu(t).Graph("xx"); err == nil || !strings.Contains(err.Error(), `"xx"`) {
		t.Errorf("a graph in no language: %v", err)
	}
}
