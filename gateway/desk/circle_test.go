package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/gateway/bell"
	"rowbell/store"
)

// ring is a circle of Ana (the keeper), Ben and Cleo at the place north, with the tool red of Ana and the tool 2 of the
// circle. Each has a plot of 900 m², planted a day after the one before.
type ring struct {
	*office
	id     int64
	number int
}

var ringNames = []string{"Ana", "Ben", "Cleo"}

func ringPhone(i int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900001+int64(i))) }

func (o *office) ledger(p store.Phone, f func(*store.Ledger) error) {
	o.t.Helper()
	o.tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(p, o.clock.Now().Unix())
		if err != nil {
			return err
		}
		l.Via("ussd")
		return f(l)
	})
}

// settle adds a grower with a plot that was planted so many days ago.
func (o *office) settle(p store.Phone, place string, ago engine.Day) {
	o.t.Helper()
	o.ledger(p, func(l *store.Ledger) error {
		if err := l.Consent("en", "1", "ussd"); err != nil {
			return err
		}
		if err := l.SetPlace(place); err != nil {
			return err
		}
		_, err := l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - ago, AreaM2: 900,
			RowSpacingCM: 20, HillSpacingCM: 20}, engine.Tool{WidthCM: 15})
		return err
	})
}

func newRing(t *testing.T) *ring {
	g := &ring{office: newOffice(t)}
	for i, name := range ringNames {
		g.settle(ringPhone(i), "north", 12-engine.Day(i))
		if i == 0 {
			g.ledger(ringPhone(0), func(l *store.Ledger) (err error) {
				g.number, err = l.MakeCircle(name, "1")
				return err
			})
			continue
		}
		var a circle.Ask
		g.ledger(ringPhone(i), func(l *store.Ledger) (err error) {
			a, err = l.JoinCircle(g.number, name, "1")
			return err
		})
		g.ledger(ringPhone(0), func(l *store.Ledger) error { return second(l.AnswerAsk(a.ID, true, 0)) })
	}
	g.ledger(ringPhone(0), func(l *store.Ledger) error {
		c, _, err := l.Circle()
		if err == nil {
			_, err = l.AddSharedTool(circle.SharedTool{Name: "red", Owner: c.Self, Tool: engine.Tool{WidthCM: 15},
				Price: 500_00, MemberDay: 2_50, GuestDay: 5_00})
		}
		if err == nil {
			_, err = l.AddSharedTool(circle.SharedTool{Tool: engine.Tool{WidthCM: 15}, GuestDay: 5_00, Broken: true})
		}
		return err
	})
	g.tx(func(tx *store.Tx) (err error) {
		g.id, err = tx.FindCircle(store.Scope{g.north}, g.number)
		return err
	})
	g.plan()
	return g
}

func second[T any](_ T, err error) error { return err }

// plan makes the turns as the service does.
func (g *ring) plan() {
	g.t.Helper()
	b := bell.New(bell.Options{Store: g.s, Menu: testMenu(), Clock: g.clock, Log: zerolog.Nop(), QuietHour: 20})
	if _, err := b.Ring(context.Background(), g.clock.Now()); err != nil {
		g.t.Fatal(err)
	}
}

func (g *ring) path(rest string) string { return fmt.Sprint("/desk/circle/", g.id, rest) }

// sheet returns the circle as the records have it.
func (g *ring) sheet() (s store.CircleSheet) {
	g.t.Helper()
	g.tx(func(tx *store.Tx) (err error) {
		s, _, err = tx.CircleSheet(store.Scope{g.north}, g.id, g.clock.Now().Unix())
		return err
	})
	return s
}

// texts returns the texts to a grower, the oldest first.
func (g *ring) texts(p store.Phone) string {
	g.t.Helper()
	var words []string
	g.tx(func(tx *store.Tx) error {
		words = nil
		data, err := tx.PersonalData(p, g.clock.Now().Unix())
		for _, m := range data.Texts {
			words = append(words, m.Text)
		}
		return err
	})
	return strings.Join(words, "\n")
}

func (g *ring) trail() string { g.t.Helper(); return g.as("op").get("/desk/trail").text() }

func TestCirclesAreListedAndFound(t *testing.T) {
	g := newRing(t)
	field := g.as("field")
	list := field.get("/desk/circles")
	list.has(t, 200, fmt.Sprint(g.number), "north", "Ana", "3 members", "2 tools", "1 broken")
	field.get(fmt.Sprintf("/desk/circles?place=%d", g.north)).has(t, 200, fmt.Sprint(g.number))
	g.as("op").get(fmt.Sprintf("/desk/circles?place=%d", g.south)).has(t, 200, "There is no circle here.")
	field.get(fmt.Sprint("/desk/circles?number=", g.number)).has(t, 200, "Keeper: Ana, "+ringPhone(0).E164())
	if field.path != g.path("") {
		t.Errorf("the number leads to %s", field.path)
	}
	field.get("/desk/circles?number=12").has(t, 422, "There is no circle with this number at your places.")
	g.as("viewer").get("/desk/circles").hasNot(t, "Ana")
}

// A list longer than a page goes on where it ended.
func TestCirclesGoOn(t *testing.T) {
	o := newOffice(t)
	for i := range pageSize + 3 {
		p := store.Phone(fmt.Sprintf("+44%d", 7700900100+int64(i)))
		o.settle(p, "north", 12)
		o.ledger(p, func(l *store.Ledger) error { return second(l.MakeCircle(fmt.Sprint("K", i), "1")) })
	}
	b := o.as("field")
	first := b.get("/desk/circles")
	first.has(t, 200, "K0 ", "K49", "More circles")
	first.hasNot(t, "K50")
	_, link, _ := strings.Cut(first.Body, `<p><a href="/desk/circles?`)
	link, _, _ = strings.Cut(link, `"`)
	next := b.get("/desk/circles?" + strings.ReplaceAll(link, "&amp;", "&"))
	next.has(t, 200, "K50", "K52")
	next.hasNot(t, "K49", "More circles")
}

func TestCirclePage(t *testing.T) {
	g := newRing(t)
	p := g.as("field").get(g.path(""))
	p.has(t, 200, fmt.Sprint("Circle ", g.number), "Keeper: Ana, +447700900001", "Who has which tool",
		"Ben", "Cleo", "member", "members 2.50; guests 5", "0 charged of 500; 500 still to come", "15 cm", "broken",
		"the circle", "No money is noted yet.")
	if n := strings.Count(p.Body, "<svg"); n != 1 {
		t.Errorf("%d pictures", n)
	}
	if len(p.Body) > 100_000 {
		t.Errorf("the page has %d octets", len(p.Body))
	}
	viewer := g.as("viewer").get(g.path(""))
	viewer.has(t, 200, "person 1", "person 3")
	viewer.hasNot(t, "Ana", "Ben", "+4477009", "Note it", "It is broken")
	g.account("far", store.RoleFieldWorker, g.south)
	far := g.as("far")
	far.get(g.path("")).has(t, 404)
	far.get("/desk/circles").hasNot(t, "Ana")
	g.as("op").get("/desk/circle/99").has(t, 404)
	g.as("op").get("/desk/circle/x").has(t, 404)
}

// A member at a place that the reader does not have is shown, as other members see the member, without the number.
func TestMemberOfAnotherPlace(t *testing.T) {
	g := newRing(t)
	g.ledger(ringPhone(1), func(l *store.Ledger) error { return l.SetPlace("south") })
	p := g.as("field").get(g.path(""))
	p.has(t, 200, "Ben", ringPhone(1).String())
	p.hasNot(t, ringPhone(1).E164())
	if id := g.sheet().People[1].GrowerID; strings.Contains(p.Body, fmt.Sprintf(`/desk/grower/%d"`, id)) {
		t.Error("the page links to a grower of another place")
	}
	g.as("op").get(g.path("")).has(t, 200, ringPhone(1).E164())
}

// A tool that staff note as broken loses its turns, and members and guests hear of it.
func TestToolBreaks(t *testing.T) {
	g := newRing(t)
	guest := store.Phone("+447700900009")
	g.settle(guest, "north", 3)
	s := g.sheet()
	var hire circle.Ask
	g.ledger(guest, func(l *store.Ledger) (err error) {
		hire, err = l.Ask(circle.Ask{Kind: circle.AskHire, Circle: g.number, Tool: s.Tools[0].ID, Day: l.Today() + 40,
			Days: 2}, "Dan", "1")
		return err
	})
	g.ledger(ringPhone(0), func(l *store.Ledger) error { return second(l.AnswerAsk(hire.ID, true, 0)) })
	field := g.as("field")
	before := g.queued
	field.post(g.path("/tool"), "tool", fmt.Sprint(s.Tools[0].ID), "broken", "yes").has(t, 200,
		"Noted: red is broken.", "within minutes")
	if !g.sheet().Tools[0].Broken || g.queued == before {
		t.Errorf("tools %+v, told %d times", g.sheet().Tools, g.queued-before)
	}
	field.post(g.path("/tool"), "tool", fmt.Sprint(s.Tools[0].ID), "broken", "yes").has(t, 200,
		"Nothing was changed: it has changed meanwhile.")
	field.post(g.path("/tool"), "tool", "999", "broken", "yes").has(t, 200, "Nothing was changed")
	if got := g.texts(guest); !strings.Contains(got, "it is broken") {
		t.Errorf("the guest was told: %s", got)
	}
	g.clock.Advance(time.Minute)
	g.plan()
	for _, turn := range g.sheet().Turns {
		if turn.PlotNo != 0 && turn.From > g.sheet().Today {
			t.Errorf("a broken tool has the turn %+v", turn)
		}
	}
	field.post(g.path("/tool"), "tool", fmt.Sprint(s.Tools[0].ID), "broken", "no").has(t, 200, "red is in use.")
	trail := g.trail()
	for _, words := range []string{"noted the state of a tool", fmt.Sprintf("circle %d, red", g.number), "in use"} {
		if !strings.Contains(trail, words) {
			t.Errorf("%q is missing in the trail: %s", words, trail)
		}
	}
	g.as("viewer").post(g.path("/tool"), "tool", "1", "broken", "yes").has(t, 403)
}

func TestWishForATurn(t *testing.T) {
	g := newRing(t)
	var turn store.StaffTurn
	for _, x := range g.sheet().Turns {
		if x.PlotNo != 0 && x.To >= g.sheet().Today {
			turn = x
			break
		}
	}
	if turn.Plot == 0 {
		t.Fatalf("nobody has a turn: %+v", g.sheet().Turns)
	}
	field := g.as("field")
	plot, window := fmt.Sprint(turn.Plot), fmt.Sprint(turn.Window.Number)
	wished := func() store.DueWish {
		for _, p := range g.sheet().People {
			for _, x := range p.Plots {
				if x.ID == turn.Plot {
					return x.Wishes[turn.Window.Number]
				}
			}
		}
		return store.DueWish{}
	}
	field.post(g.path("/wish"), "plot", plot, "window", window, "wish", "2").has(t, 200, "Noted.", "2 days more")
	if wished().ExtraDays != 2 {
		t.Errorf("wish %+v", wished())
	}
	field.post(g.path("/wish"), "plot", plot, "window", window, "wish", "1").has(t, 200, "Noted.", "3 days more")
	field.post(g.path("/wish"), "plot", plot, "window", window, "wish", "skip").has(t, 200,
		"gave the turn to others")
	g.clock.Advance(time.Minute)
	g.plan()
	for _, x := range g.sheet().Turns {
		if x.Plot == turn.Plot && x.From > g.sheet().Today {
			t.Errorf("a turn that was given away: %+v", x)
		}
	}
	field.get(g.path("")).has(t, 200, "Plots without a turn", "Take a turn after all")
	field.post(g.path("/wish"), "plot", plot, "window", window, "wish", "none").has(t, 200, "Noted.")
	if wished() != (store.DueWish{}) {
		t.Errorf("wish %+v", wished())
	}
	for _, bad := range [][3]string{{"999", window, "1"}, {plot, "9", "1"}, {plot, window, "7"}, {plot, "x", "1"}} {
		field.post(g.path("/wish"), "plot", bad[0], "window", bad[1], "wish", bad[2]).has(t, 200,
			"Nothing was changed")
	}
	trail := g.trail()
	for _, words := range []string{"noted a wish for a turn", "asked for 2 days more", "asked for 3 days more"} {
		if !strings.Contains(trail, words) {
			t.Errorf("%q is missing in the trail: %s", words, trail)
		}
	}
	if strings.Contains(trail, "asked for 1 day more") {
		t.Errorf("the trail has what was typed, and not what is noted: %s", trail)
	}
	g.as("viewer").post(g.path("/wish"), "plot", plot, "window", window, "wish", "1").has(t, 403)
}

// An entry that staff take back for its creditor is not owed any more, once, and both sides are told.
func TestEntryTakenBack(t *testing.T) {
	g := newRing(t)
	g.ledger(ringPhone(1), func(l *store.Ledger) error {
		return errors.Join(
			second(l.Ask(circle.Ask{Kind: circle.AskPaid, Circle: g.number, To: 1, Amount: 7_00}, "", "")),
			second(l.Ask(circle.Ask{Kind: circle.AskReceived, Circle: g.number, To: 3, Amount: 9_00}, "", "")))
	})
	g.ledger(ringPhone(0), func(l *store.Ledger) error {
		asks, err := l.OpenAsks()
		if err == nil {
			_, err = l.AnswerAsk(asks[0].ID, true, 0)
		}
		return err
	})
	g.ledger(ringPhone(2), func(l *store.Ledger) error {
		asks, err := l.OpenAsks()
		if err == nil {
			_, err = l.AnswerAsk(asks[0].ID, false, 0)
		}
		return err
	})
	field := g.as("field")
	field.get(g.path("")).has(t, 200, "Is owed", "Ben", "is owed 7", "owes 7", "Not agreed", "Cleo paid 9",
		"Cleo says: no", "Take back")
	entry := g.path("/entry/1")
	field.get(entry).has(t, 200, "payment: 7, owed by Ana to Ben.", "Do this only if Ben has asked for it",
		"A text tells Ana and Ben.")
	before := g.queued
	field.post(entry).has(t, 200, "Taken back: 7 is not owed any more.", "takes back a payment", "taken back")
	if g.queued == before {
		t.Error("nobody looks for the texts")
	}
	for i, words := range map[int]string{0: "Ben +447700900002 took back:", 1: "Taken back. It is not owed any more."} {
		if got := g.texts(ringPhone(i)); !strings.Contains(got, words) {
			t.Errorf("%s was told: %s", ringNames[i], got)
		}
	}
	field.post(entry).has(t, 200, "Nothing was changed: it has changed meanwhile.")
	field.get(entry).has(t, 200, "It was taken back.")
	field.get(g.path("/entry/2")).has(t, 200, "cannot be taken back itself")
	field.post(g.path("/entry/2")).has(t, 200, "Nothing was changed: the person may not do this")
	field.get(g.path("/entry/77")).has(t, 404)
	if trail := g.trail(); !strings.Contains(trail, "took back an entry") || strings.Contains(trail, "Ben") {
		t.Errorf("trail %s", trail)
	}
	for _, p := range []page{g.as("viewer").get(entry), g.as("viewer").post(entry)} {
		p.has(t, 403)
	}
}

// At night the texts wait until the morning.
func TestTextsWaitForTheMorning(t *testing.T) {
	g := newRing(t)
	g.ledger(ringPhone(1), func(l *store.Ledger) error {
		return second(l.Ask(circle.Ask{Kind: circle.AskPaid, Circle: g.number, To: 1, Amount: 7_00}, "", ""))
	})
	g.ledger(ringPhone(0), func(l *store.Ledger) error {
		asks, err := l.OpenAsks()
		if err == nil {
			_, err = l.AnswerAsk(asks[0].ID, true, 0)
		}
		return err
	})
	g.clock.Advance(12 * time.Hour) // to nine in the evening
	g.as("field").post(g.path("/entry/1")).has(t, 200, "Taken back")
	found := 0
	g.tx(func(tx *store.Tx) error {
		found = 0
		data, err := tx.PersonalData(ringPhone(0), g.clock.Now().Unix())
		for _, m := range data.Texts {
			if strings.Contains(m.Text, "took back") {
				found++
				if at := time.Unix(int64(m.DueAt), 0).UTC(); at != nine.AddDate(0, 0, 1).Add(-2*time.Hour) {
					t.Errorf("the text is due %s", at)
				}
			}
		}
		return err
	})
	if found != 1 {
		t.Errorf("%d texts", found)
	}
}

func TestWhyTheseDays(t *testing.T) {
	g := newRing(t)
	for range 4 { // more plots than one tool can serve
		g.ledger(ringPhone(1), func(l *store.Ledger) error {
			_, err := l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 12, AreaM2: 9000,
				RowSpacingCM: 20, HillSpacingCM: 20}, engine.Tool{WidthCM: 15})
			return err
		})
	}
	p := g.as("field").get(g.path("/why"))
	p.has(t, 200, "plots that need a tool can be weeded inside the window", "Not weeded inside the window",
		"Ben, plot", "What would help", "then in time", "Why these days", "alone it would have")
	v := g.as("viewer").get(g.path("/why"))
	v.has(t, 200, "person 2, plot")
	v.hasNot(t, "Ben")
}
