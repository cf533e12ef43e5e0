package bell

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
	"rowbell/store/testrun"
)

var neighbours = []string{"Ana", "Ben", "Cid", "Dia", "Eve"}

const words = "Members see your name and number."

// circle makes a circle of growers with one plot each, of whom the first is the keeper, and adds tools.
func (v *valley) circle(names []string, planted engine.Day, tools ...circle.SharedTool) {
	v.t.Helper()
	number := 0
	for n, name := range names {
		v.tx(func(tx *store.Tx) error { return v.register(tx, phone(n), 900, planted) })
		if n == 0 {
			v.as(0, func(l *store.Ledger) (err error) {
				number, err = l.MakeCircle(name, words)
				return err
			})
			continue
		}
		v.join(n, number, name)
	}
	for _, t := range tools {
		v.as(0, func(l *store.Ledger) error {
			_, err := l.AddSharedTool(t)
			return err
		})
	}
}

// join makes a grower a member: the keeper, who is grower 0, agrees.
func (v *valley) join(n, number int, name string) {
	v.t.Helper()
	var ask circle.Ask
	v.as(n, func(l *store.Ledger) (err error) {
		ask, err = l.JoinCircle(number, name, words)
		return err
	})
	v.as(0, func(l *store.Ledger) error {
		_, err := l.AnswerAsk(ask.ID, true, 0)
		return err
	})
}

// ofKeeper returns the circle as its keeper sees it.
func (v *valley) ofKeeper() (c circle.Circle) {
	v.t.Helper()
	v.as(0, func(l *store.Ledger) (err error) {
		c, _, err = l.Circle()
		return err
	})
	return c
}

// growerOf returns the number of the grower who is a member, and -1 if nobody is.
func (v *valley) growerOf(member int64) int {
	for _, m := range v.ofKeeper().Members {
		if m.ID == member {
			return slices.Index(neighbours, m.Name)
		}
	}
	return -1
}

// change changes the first tool of the circle.
func (v *valley) change(how func(*circle.SharedTool)) {
	v.t.Helper()
	t := v.ofKeeper().Tools[0]
	how(&t)
	v.as(0, func(l *store.Ledger) error { return l.ChangeSharedTool(t) })
}

func breaks(t *circle.SharedTool) { t.Broken = true }
func mended(t *circle.SharedTool) { t.Broken = false }

// diary is what the members of a circle got, by the number of the grower.
type diary struct {
	v     *valley
	texts [][]store.Message
}

// hours moves the clock on, rings each hour, and returns the texts of these hours as "grower kind: text".
func (d *diary) hours(n int) (now []string) {
	d.v.t.Helper()
	for range n {
		d.v.clock.Advance(time.Hour)
		now = append(now, d.ring()...)
	}
	return now
}

func (d *diary) ring() (now []string) {
	d.v.t.Helper()
	d.v.ring(-1)
	for g := range d.texts {
		for _, m := range d.v.inbox(g) {
			now = append(now, fmt.Sprintf("%d %s: %s", g, m.Kind(), m.Text))
			d.texts[g] = append(d.texts[g], m)
			if at := time.Unix(m.DueAt, 0).UTC().Hour(); at < 7 || at >= 20 {
				d.v.t.Errorf("a text at %d o'clock: %s", at, m.Text)
			}
		}
	}
	return now
}

func (d *diary) today() engine.Day { return engine.DayOf(d.v.clock.Now(), time.UTC) }

// weed logs the pass of each member whose turn ends today.
func (d *diary) weed() {
	d.v.t.Helper()
	today := d.today()
	for _, t := range d.v.ofKeeper().Turns {
		if t.To != today {
			continue
		}
		g := d.v.growerOf(t.Member)
		d.v.as(g, func(l *store.Ledger) error { return l.LogPass(1, engine.Pass{On: today, With: engine.ByTool}) })
		if !d.named(g, today) {
			d.v.t.Errorf("grower %d has a tool on %s and was not told", g, date(today))
		}
	}
}

// named reports whether a text to a grower names a day as that of the turn.
func (d *diary) named(g int, day engine.Day) bool {
	return slices.ContainsFunc(d.texts[g], func(m store.Message) bool {
		return strings.Contains(strings.ToLower(m.Text), "your turn") && strings.Contains(m.Text, date(day))
	})
}

// limited checks that nobody got more texts about turns than a day and a week may have.
func (d *diary) limited() {
	d.v.t.Helper()
	for g, texts := range d.texts {
		days := map[engine.Day]int{}
		for _, m := range texts {
			if m.Kind() == "turn" {
				days[engine.DayOf(time.Unix(m.DueAt, 0), time.UTC)]++
			}
		}
		for day, n := range days {
			week := 0
			for of, m := range days {
				if of > day-7 && of <= day {
					week += m
				}
			}
			if n > 1 || week > changesAWeek {
				d.v.t.Errorf("grower %d got %d texts about turns on %s, %d in the week", g, n, date(day), week)
			}
		}
	}
}

// five is a circle of five with two tools, of which the first costs a member something for a day. All plots were
// planted eight days before the first day.
func five(t *testing.T) (*valley, *diary) {
	v := newValley(t)
	v.circle(neighbours, 8,
		circle.SharedTool{Name: "Blue", Tool: engine.Tool{WidthCM: 15}, MemberDay: 150},
		circle.SharedTool{Tool: engine.Tool{WidthCM: 12}})
	return v, &diary{v, make([][]store.Message, 5)}
}

// toFirstTurn goes on to ten in the morning of the first day on which somebody has a tool.
func (d *diary) toFirstTurn() {
	d.v.t.Helper()
	d.hours(4) // from six in the morning
	for range 30 {
		if turns := d.v.ofKeeper().Turns; len(turns) > 0 && turns[0].From == d.today() {
			return
		}
		d.hours(24)
	}
	d.v.t.Fatal("nobody ever has a tool")
}

// TestSeasonOfACircle checks a season: all are told of their turns, on the second day of turns a tool breaks and only
// those concerned hear of it within the hour, and each day of a tool is charged once.
func TestSeasonOfACircle(t *testing.T) {
	v, d := five(t)
	d.toFirstTurn()
	d.weed()
	d.hours(24)
	d.weed()
	told := v.ofKeeper().Turns
	blue := v.ofKeeper().Tools[0].ID
	v.change(breaks)
	concerned := 0
	for _, text := range d.hours(1) {
		concerned++
		if !strings.Contains(text, "Blue is broken") {
			t.Errorf("also sent: %s", text)
		}
	}
	lost := slices.DeleteFunc(told, func(t circle.HeldTurn) bool {
		return t.Tool != blue || !t.Told || t.From <= d.today()
	})
	if len(lost) == 0 || concerned != len(lost) {
		t.Errorf("%d heard of the broken tool, %d were to have it", concerned, len(lost))
	}
	d.hours(23)
	v.change(mended)
	for range 6 {
		d.weed()
		d.hours(24)
	}
	for g := range 5 {
		v.as(g, func(l *store.Ledger) error {
			s, err := l.Season(1)
			if len(s.Passes) != 1 {
				t.Errorf("grower %d weeded %d times", g, len(s.Passes))
			}
			return err
		})
	}
	v.as(0, func(l *store.Ledger) error {
		all, err := l.Accounts()
		for _, a := range all {
			if owed := a.Balances[0]; owed.Member != 0 || owed.Amount != 2*150 || len(a.Entries) != 2 {
				t.Errorf("%+v", a)
			}
		}
		return err
	})
	d.limited()
}

// TestWindowMovesTurns checks that a look that moves a window, and weather that moves all, make a new plan at once.
func TestWindowMovesTurns(t *testing.T) {
	v, d := five(t)
	d.hours(4)
	d.hours(24)
	before := v.ofKeeper().Turns
	last := before[len(before)-1]
	g := v.growerOf(last.Member)
	v.as(g, func(l *store.Ledger) error {
		return l.See(1, engine.Sighting{On: d.today(), Leaves: engine.TwoThree})
	})
	texts := d.ring()
	after := v.ofKeeper().Turns
	if after[0].Member != last.Member || after[0].From >= last.From {
		t.Errorf("turns were %+v, are %+v", before, after)
	}
	if len(texts) != 1 || !strings.HasPrefix(texts[0], fmt.Sprintf("%d turn: Plot 1: your turn moves", g)) {
		t.Errorf("texts %q", texts)
	}
	v.tx(func(tx *store.Tx) error {
		p, err := tx.PutPlace(store.Place{Name: store.DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7,
			Normals: engine.Steady(14, 22).Normals})
		if err != nil {
			return err
		}
		return tx.LookAtPlace(p, v.clock.Now().Unix())
	})
	d.ring()
	cooler := v.ofKeeper().Turns
	if end, was := cooler[len(cooler)-1].To, after[len(after)-1].To; end <= was {
		t.Errorf("turns until %s, in cooler weather until %s", date(was), date(end))
	}
	d.hours(48)
	d.limited()
}

// TestMemberLeaves checks that the turns of a member who leaves are free, that one who sent STOP keeps the turn and
// gets no texts, and that the records of an erased member do not stop the others.
func TestMemberLeaves(t *testing.T) {
	v, d := five(t)
	d.hours(28)
	var others []int // who may leave: all but the keeper
	for _, turn := range v.ofKeeper().Turns {
		if g := v.growerOf(turn.Member); g != 0 {
			others = append(others, g)
		}
	}
	leaves, stops := others[0], others[1]
	has := func(g int) bool {
		turns := v.ofKeeper().Turns
		return slices.ContainsFunc(turns, func(t circle.HeldTurn) bool { return v.growerOf(t.Member) == g })
	}
	v.as(stops, (*store.Ledger).Stop)
	v.as(leaves, (*store.Ledger).LeaveCircle)
	d.ring()
	heard := len(d.texts[stops])
	if has(leaves) || !has(stops) || len(v.ofKeeper().Turns) != 4 {
		t.Errorf("grower %d left, %d sent STOP: turns %+v", leaves, stops, v.ofKeeper().Turns)
	}
	v.as(stops, (*store.Ledger).Erase)
	d.hours(24 * 14)
	if has(stops) || len(d.texts[stops]) != heard {
		t.Errorf("%d texts after STOP", len(d.texts[stops])-heard)
	}
	d.limited()
}

// Two processes plan a circle at the same time: its texts are written once.
func TestProcessesPlanACircleOnce(t *testing.T) {
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./gateway/bell")
	}
	v, d := five(t)
	bells := v.processes(2)
	for range 24 * 14 {
		v.clock.Advance(time.Hour)
		v.ringAll(context.Background(), bells)
	}
	if turns := v.ofKeeper().Turns; len(turns) != 0 {
		t.Errorf("turns are left: %+v", turns)
	}
	for g := range d.texts {
		seen := map[string]bool{}
		for _, m := range v.inbox(g) {
			if seen[m.Text] {
				t.Errorf("twice: %s", m.Text)
			}
			seen[m.Text] = true
		}
		if len(seen) == 0 {
			t.Errorf("grower %d got no text", g)
		}
	}
}

// TestLateTurnMovesBack checks that who gets days inside the window again, because a tool is repaired, is not told that
// the days for the weeds have changed.
func TestLateTurnMovesBack(t *testing.T) {
	v, d := five(t)
	d.toFirstTurn()
	v.change(breaks)
	d.hours(24)
	late := false
	for _, turn := range v.ofKeeper().Turns {
		late = late || turn.Late && turn.Told
	}
	v.change(mended)
	texts := d.hours(24)
	moved := slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(s, "your turn moves to") })
	wrong := slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(s, "days for your weeds") })
	if !late || !moved || wrong {
		t.Errorf("a late turn was told: %t; then came %q", late, texts)
	}
	d.limited()
}
