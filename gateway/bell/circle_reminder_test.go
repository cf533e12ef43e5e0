package bell

import (
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// TestReminderTellsTheMovedTurn checks that the reminder of a morning tells of a turn that was lost in the night, and
// that no second text does.
func TestReminderTellsTheMovedTurn(t *testing.T) {
	v, d := five(t)
	d.hours(4)
	var opens engine.Day
	for range 20 { // until the evening before the windows open
		turns := v.ofKeeper().Turns
		if opens = turns[0].Window.Opens; d.today() == opens-1 {
			break
		}
		d.hours(24)
	}
	d.hours(11) // nine in the evening
	v.change(breaks)
	if texts := d.hours(9); len(texts) != 0 {
		t.Errorf("at night: %q", texts)
	}
	heard := map[byte]int{}
	moved := 0
	for _, text := range d.hours(1) {
		heard[text[0]]++
		if strings.Contains(text, " open: ") && strings.Contains(text, ", not ") {
			moved++
		}
	}
	for g, n := range heard {
		if n != 1 {
			t.Errorf("grower %c got %d texts in one morning", g, n)
		}
	}
	if moved == 0 || len(heard) != 5 {
		t.Errorf("%d reminders tell of a moved turn, %d growers heard something", moved, len(heard))
	}
}

// TestNudgeWaitsForTheTurn checks that a member is not asked "have you weeded?" before the turn, although a grower who
// is in no circle is asked then. In a cool place a window is long enough for that text.
func TestNudgeWaitsForTheTurn(t *testing.T) {
	v, d := five(t)
	v.change(breaks) // one tool for five
	v.grower(5, 8)
	d.texts = append(d.texts, nil)
	v.tx(func(tx *store.Tx) error {
		_, err := tx.PutPlace(store.Place{Name: store.DefaultPlace, Zone: "UTC", Latitude: 15, MorningHour: 7,
			Normals: engine.Steady(12, 20).Normals})
		return err
	})
	alone, before := engine.Day(0), 0 // the day of the nudge to the sixth grower, and turns after it
	d.hours(2)
	for range 60 { // days, each looked at from eight in the morning
		turns := v.ofKeeper().Turns
		for _, text := range d.hours(24) {
			if !strings.Contains(text, " nudge: ") {
				continue
			}
			if text[0] == '5' {
				alone = d.today()
				for _, turn := range turns {
					if turn.Told && turn.To >= alone {
						before++
					}
				}
			}
			for _, turn := range turns {
				if g := v.growerOf(turn.Member); g == int(text[0]-'0') && turn.Told && turn.To >= d.today() {
					t.Errorf("grower %d was asked on %s, before the turn on %s", g, date(d.today()), date(turn.To))
				}
			}
		}
	}
	if alone == 0 || before == 0 {
		t.Errorf("the sixth grower was asked on %s, and %d turns were still to come", date(alone), before)
	}
}

// TestRemindersWaitForTheLateTurn checks that a member whose turn is after the window is not told before that turn that
// these are the last days for the tool, or that the window was missed.
func TestRemindersWaitForTheLateTurn(t *testing.T) {
	v, d := five(t)
	v.change(breaks) // one tool for five, of whom some need it longer
	for n := range 3 {
		v.as(n, func(l *store.Ledger) error { return l.Wish(1, 1, circle.Wish{ExtraDays: 2}) })
	}
	d.hours(2)
	waited := 0
	for range 30 { // days, each looked at from eight in the morning
		texts := d.hours(24)
		for _, turn := range v.ofKeeper().Turns {
			if !turn.Late || turn.From <= d.today() || d.today() < turn.Window.LastDays() {
				continue
			}
			waited++
			for _, text := range texts {
				if int(text[0]-'0') == v.growerOf(turn.Member) &&
					(strings.Contains(text, " missed: ") || strings.Contains(text, " last-days: ")) {
					t.Errorf("%s: %s, before the turn on %s", date(d.today()), text, date(turn.From))
				}
			}
		}
	}
	if waited < 2 {
		t.Error("no turn was after its window")
	}
}
