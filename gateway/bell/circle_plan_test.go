package bell

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// first is the first day of these tests.
var first = engine.DayOf(dawn, time.UTC)

// shared is a circle whose plans are made without records.
type shared struct {
	t *testing.T
	b *Bell
	c store.DueCircle
	n int // plots so far
}

func newShared(t *testing.T, tools int) *shared {
	t.Helper()
	m := must(menu.New(must(text.Default()), menu.Options{}))
	s := &shared{t: t, b: New(Options{QuietHour: 20, Menu: m, Clock: clock.New(dawn), Log: zerolog.Nop()})}
	s.c = store.DueCircle{ID: 1, Zone: time.UTC, MorningHour: 7}
	for i := range tools {
		s.c.Tools = append(s.c.Tools, circle.SharedTool{ID: int64(i + 1), Tool: engine.Tool{WidthCM: 15}})
	}
	return s
}

// member adds a member with plots planted so many days before the first day.
func (s *shared) member(name string, areaM2 float64, planted ...engine.Day) {
	id := int64(len(s.c.Members) + 1)
	m := store.DueMember{GrowerID: id, Member: circle.Member{ID: id, Name: name, Language: "en", Joined: true,
		Phone: string(phone(int(id)))}}
	for i, ago := range planted {
		s.n++
		m.Grower.Plots = append(m.Grower.Plots, store.DuePlot{ID: int64(s.n), No: i + 1, Season: engine.Season{
			Plot: engine.Plot{Method: engine.Transplanted, Planted: first - ago, AreaM2: areaM2, RowSpacingCM: 20,
				HillSpacingCM: 20},
			Weather: engine.Steady(20, 30)}})
		m.Plots = append(m.Plots, store.DueTurns{})
	}
	s.c.Members = append(s.c.Members, m)
}

// plan plans the circle on a day at an hour, stores the turns and what was told as the records do, and returns the
// texts as "phone text".
func (s *shared) plan(day engine.Day, hour int) (p *circlePlan, texts []string) {
	s.t.Helper()
	p = s.b.planCircle(s.c, day.At(hour, time.UTC))
	if p.skipped {
		s.t.Fatal("the circle cannot be planned")
	}
	var turns []store.CircleTurn
	for _, t := range s.c.Turns {
		if t.Day < day || t.Plot == 0 {
			turns = append(turns, t)
		}
	}
	s.c.Turns = append(turns, p.turns...)
	for _, out := range p.out.Texts {
		to := string(out.Message.To[len(out.Message.To)-1:])
		texts = append(texts, to+" "+out.Message.Text)
		for _, n := range out.News {
			for i := range s.c.Members {
				for j := range s.c.Members[i].Plots {
					if s.c.Members[i].Grower.Plots[j].ID == n.PlotID {
						s.c.Members[i].Plots[j].Told = n.Turn
					}
				}
			}
		}
	}
	return p, texts
}

// turnsOf lists the turns of the plan as "plot tool +day".
func turnsOf(p *circlePlan) string {
	var list []string
	for _, t := range p.turns {
		late := ""
		if t.Late {
			late = " late"
		}
		list = append(list, fmt.Sprintf("%d on %d %+d%s", t.Plot, t.Tool, t.Day-first, late))
	}
	return strings.Join(list, ", ")
}

// wants checks the turns of a plan and the texts, each by a part of it.
func (s *shared) wants(day engine.Day, hour int, turns string, texts ...string) *circlePlan {
	s.t.Helper()
	p, got := s.plan(first+day, hour)
	if now := turnsOf(p); now != turns {
		s.t.Errorf("day %+d: turns %s\nwant %s", day, now, turns)
	}
	for i, t := range got {
		if i >= len(texts) || !strings.Contains(t, texts[i]) {
			s.t.Errorf("day %+d: text %s\nwant %s", day, t, strings.Join(texts[min(i, len(texts)):], "\n"))
		}
	}
	if len(got) < len(texts) {
		s.t.Errorf("day %+d: %d texts, want %d", day, len(got), len(texts))
	}
	return p
}

// due returns when the circle is planned next.
func (p *circlePlan) due() string { return time.Unix(p.planAt, 0).UTC().Format("01-02 15:04") }

// three returns a circle of three members with one plot and one tool, each planted a day after the one before, so that
// there is one best roster.
func three(t *testing.T) *shared {
	s := newShared(t, 1)
	for i, name := range []string{"Ana", "Ben", "Cid"} {
		s.member(name, 900, 15-engine.Day(i))
	}
	return s
}

// TestTurnsOneAfterTheOther checks that three neighbours who share a tool have it one after the other, that each is
// told of it once, two days before, and from whom to get it.
func TestTurnsOneAfterTheOther(t *testing.T) {
	s := three(t)
	p, _ := s.plan(first, 5) // before the morning, so that nothing is told
	order := p.turns
	if len(order) != 3 || p.due() != "11-25 07:00" {
		t.Fatalf("turns %s, due %s", turnsOf(p), p.due())
	}
	for day := first; day <= order[2].Day+1; day++ {
		var want []string
		for i, turn := range order {
			if day != max(first, turn.Day-tellDays) {
				continue
			}
			text := fmt.Sprintf("%d Plot 1: your turn with the tool: %s.", turn.Member, date(turn.Day))
			if i > 0 {
				from := s.c.Members[order[i-1].Member-1]
				text += fmt.Sprintf(" Get it from %s %s.", from.Name, from.Phone)
			}
			want = append(want, text)
		}
		left := slices.DeleteFunc(slices.Clone(order), func(t store.CircleTurn) bool { return t.Day < day })
		turns := turnsOf(&circlePlan{turns: left})
		s.wants(day-first, 7, turns, want...)
		s.wants(day-first, 16, turns)
	}
	today := order[2].Day + 2
	for i := range s.c.Members {
		season := &s.c.Members[i].Grower.Plots[0].Season
		if season.ClosedOn = today; i == 1 {
			season.ClosedOn, season.Passes = 0, []engine.Pass{{On: today - 1, With: engine.ByTool}}
		}
	}
	p, texts := s.plan(today, 9)
	w := p.plots[1].work.Days
	if len(texts) != 0 || w.Number != 2 || p.planAt != p.morningOf(max(w.Opens-planAhead, today+1)) {
		t.Errorf("texts %v, window %d from %+d, due %s", texts, w.Number, w.Opens-first, p.due())
	}
}

func date(d engine.Day) string {
	y, m, dd := d.Date()
	return time.Date(y, m, dd, 0, 0, 0, 0, time.UTC).Format("Mon 2 Jan")
}

// late reports whether a turn of the plot is after its window.
func (p *circlePlan) late(plot int64) bool {
	return slices.ContainsFunc(p.turns, func(t store.CircleTurn) bool { return t.Plot == plot && t.Late })
}

// told returns what each plot's grower was told last of the turn.
func (s *shared) told() map[int64]string {
	all := map[int64]string{}
	for _, m := range s.c.Members {
		for i, p := range m.Plots {
			if p.Told != nil {
				all[m.Grower.Plots[i].ID] = fmt.Sprint(p.Told.Turns)
			}
		}
	}
	return all
}

// TestBrokenTool checks that a new plan is made on the day on which one of two tools breaks. Only those hear of it
// whose told turn must move, and who have no turn in time now. The others keep their turns, also after the repair.
func TestBrokenTool(t *testing.T) {
	s := newShared(t, 2)
	for _, name := range []string{"Ana", "Ben", "Cid", "Dia", "Eve"} {
		s.member(name, 900, 13)
	}
	for day := range engine.Day(2) {
		if _, texts := s.plan(first+day, 7); len(texts) == 0 {
			t.Fatalf("nobody is told of a turn on day %+d", day)
		}
	}
	before := s.told()
	s.c.Tools[1].Broken = true
	p, texts := s.plan(first+1, 10)
	after := s.told()
	moved := 0
	for plot, was := range before {
		name := fmt.Sprintf("%d Plot 1: ", plot)
		got := strings.Join(slices.DeleteFunc(slices.Clone(texts), func(t string) bool {
			return !strings.HasPrefix(t, name)
		}), "\n")
		switch {
		case !strings.Contains(was, "{2 ") && (after[plot] != was || got != ""):
			t.Errorf("plot %d has another tool and hears %s", plot, got)
		case strings.Contains(was, "{2 "):
			moved++
			if !strings.Contains(got, "your turn moves to ") || !strings.Contains(got, "Why: tool 2 is broken.") {
				t.Errorf("plot %d, told %s, hears %s", plot, was, got)
			}
		}
	}
	for _, text := range texts[min(moved, len(texts)):] {
		if !strings.Contains(text, "Your turn comes late") && !strings.Contains(text, "your turn moves") {
			t.Errorf("also sent: %s", text)
		}
	}
	if moved == 0 {
		t.Error("nobody was to have the broken tool")
	}
	s.c.Tools[1].Broken = false
	s.plan(first+2, 7)
	for plot, now := range s.told() {
		if was := before[plot]; was != "" && now != after[plot] && !p.late(plot) {
			t.Errorf("plot %d was told %s, and after the repair %s", plot, after[plot], now)
		}
	}
}

// TestTurnsNamedInTime checks that a plot whose turn is late or that has none is told so a week before its window, with
// what to do instead, once.
func TestTurnsNamedInTime(t *testing.T) {
	s := newShared(t, 1)
	for range 7 {
		s.member("Ana", 1500, 6)
	}
	late := 0
	for day := range engine.Day(3) {
		_, texts := s.plan(first+day, 7)
		for _, text := range texts {
			late++
			if !strings.Contains(text, "no turn in your weeding days") || !strings.Contains(text, "By hand: about ") ||
				!strings.Contains(text, "To change turns or hire, dial") {
				t.Errorf("day %+d: %s", day, text)
			}
		}
	}
	p, _ := s.plan(first+3, 7)
	served := 0
	for _, plot := range p.plots {
		if plot.result.Served {
			served++
		}
	}
	if late == 0 || late != 7-served {
		t.Errorf("%d plots were told of no turn in time, %d of 7 have one", late, served)
	}
}

// TestQuietHoursOfTurns checks that what changes in the evening is told in the morning, and what changes back is not.
func TestQuietHoursOfTurns(t *testing.T) {
	s := three(t)
	s.plan(first, 7)
	s.c.Tools[0].Broken = true
	if due := s.wants(0, 21, "").due(); due != "11-26 07:00" {
		t.Errorf("due %s", due)
	}
	if due := s.wants(1, 5, "").due(); due != "11-26 07:00" {
		t.Errorf("due %s", due)
	}
	s.c.Tools[0].Broken = false
	s.wants(1, 7, "1 on 1 +1, 2 on 1 +2, 3 on 1 +3", "3 Plot 1: your turn with the tool: Sat 28 Nov.")
	s.c.Tools[0].Broken = true
	s.plan(first+1, 22)
	s.wants(2, 7, "", "2 Plot 1: your turn Fri 27 Nov cannot be kept, and no other day is free. By hand: about ",
		"3 Plot 1: your turn Sat 28 Nov cannot be kept, and no other day is free. By hand: about ")
}

// TestWishes checks what members may say of their turns, and that a hire by a guest keeps its days.
func TestWishes(t *testing.T) {
	wish := func(s *shared, member int, w circle.Wish) {
		s.c.Members[member].Plots[0].Wishes = map[int]store.DueWish{1: {Wish: w}}
	}
	s := three(t)
	wish(s, 0, circle.Wish{Skip: true})
	wish(s, 1, circle.Wish{ExtraDays: 1})
	s.wants(0, 7, "2 on 1 +1, 2 on 1 +2, 3 on 1 +3", "2 Plot 1: your turn with the tool: Thu 26 Nov to Fri 27 Nov.")
	wish(s, 1, circle.Wish{Ready: true})
	s.wants(1, 16, "2 on 1 +1, 3 on 1 +3", "3 Plot 1: your turn with the tool: Sat 28 Nov.")
	s = three(t)
	s.member("Guest", 0)
	s.c.Members[3].Guest, s.c.Members[3].Joined = true, false
	s.c.Turns = []store.CircleTurn{{Tool: 1, Member: 4, Day: first + 2}}
	s.c.Members[1].Silent = true
	s.c.Members[0].Stopped = true
	s.wants(0, 7, "1 on 1 +0, 2 on 1 +1, 3 on 1 +3", "2 Plot 1: your turn with the tool: Thu 26 Nov.")
	s.wants(1, 7, "2 on 1 +1, 3 on 1 +3", "3 Plot 1: your turn with the tool: Sat 28 Nov. Get it from Guest")
}

// TestMissedComesFirst checks that a grower who was told of no turn in the last window comes before another, if there
// is one turn for both.
func TestMissedComesFirst(t *testing.T) {
	for without := range 2 {
		s := newShared(t, 1)
		for i, name := range []string{"Ana", "Ben"} {
			s.member(name, 900, 29)
			s.c.Members[i].Grower.Plots[0].Season.Passes = []engine.Pass{{On: first - 14, With: engine.ByTool}}
		}
		s.c.Members[without].Plots[0].Told = &store.ToldTurn{On: first - 15, Window: 1}
		p, _ := s.plan(first, 5)
		w := p.plots[0].work.Days
		for day := w.Opens + 1; day <= w.Until; day++ { // the tool is hired on all other days
			s.c.Turns = append(s.c.Turns, store.CircleTurn{Tool: 1, Member: 9, Day: day})
		}
		p, _ = s.plan(first, 6)
		for i, plot := range p.plots {
			if served := plot.result.Served; w.Number != 2 || served != (i == without) {
				t.Errorf("plot %d went without: plot %d, window %d, served %t", without, i, w.Number, served)
			}
		}
	}
}

// TestExchangedTurnsStay checks that turns that two growers have exchanged stay, even if one of them is outside of the
// window then, and that a broken tool ends them.
func TestExchangedTurnsStay(t *testing.T) {
	s := three(t)
	s.plan(first, 7)
	w := s.c.Turns[0].Window
	s.c.Turns = nil
	for i, day := range []engine.Day{7, 2, 1} {
		id := int64(i + 1)
		s.c.Turns = append(s.c.Turns, store.CircleTurn{Tool: 1, Member: id, Plot: id, Day: first + day, Window: w})
		s.c.Members[i].Plots[0].Told = &store.ToldTurn{On: first, Window: 1, Agreed: i != 1,
			Turns: []store.TurnDay{{Tool: 1, Day: first + day}}}
	}
	s.wants(0, 9, "3 on 1 +1, 2 on 1 +2, 1 on 1 +7")
	s.c.Tools[0].Broken = true
	gone := "Plot 1: your turn "
	s.wants(0, 12, "", "1 "+gone+"Wed 2 Dec cannot be kept", "2 "+gone+"Fri", "3 "+gone+"Thu")
	s.c.Tools[0].Broken = false
	s.wants(1, 7, "1 on 1 +1, 2 on 1 +2, 3 on 1 +3", "1 Plot 1", "2 Plot 1", "3 Plot 1")
}

// TestLimitsOfTurnTexts checks that a member gets one text a day about changed turns and three in a week, except when
// today or tomorrow has changed.
func TestLimitsOfTurnTexts(t *testing.T) {
	s := three(t)
	told := &store.ToldTurn{On: first - 5, Window: 1, Turns: []store.TurnDay{{Tool: 1, Day: first + 5}},
		Changes: []engine.Day{first - 5, first - 3, first - 2}}
	s.c.Members[0].Plots[0].Told = told
	s.c.Turns = []store.CircleTurn{{Tool: 1, Member: 1, Plot: 1, Day: first + 5, Window: engine.Window{Number: 1}}}
	s.c.Tools[0].Broken = true
	none := "Plot 1: no turn with a tool in your weeding days "
	p := s.wants(0, 7, "", "2 "+none, "3 "+none) // Ana has had three texts this week
	// If a text still waits that tells her of the turn, it does not go out.
	if want := []store.Stale{{PlotID: 1, To: phone(1)}}; !slices.Equal(p.out.Stale, want) {
		t.Errorf("stale: %v, want %v", p.out.Stale, want)
	}
	told.Changes = told.Changes[1:]
	s.wants(0, 8, "", "1 Plot 1: your turn Mon 30 Nov cannot be kept")
	s.c.Tools[0].Broken = false
	all := "1 on 1 +1, 2 on 1 +2, 3 on 1 +3"
	s.wants(0, 10, all, "1 Plot 1: your turn with the tool: Thu 26 Nov.") // tomorrow, so she hears of it today
	s.wants(1, 7, all, "2 Plot 1: your turn with the tool: Fri 27 Nov.", "3 Plot 1: your turn with the tool: Sat 28")
}
