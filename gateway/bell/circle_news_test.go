package bell

import (
	"fmt"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// alone returns a circle of one member and one tool. The member's plot was planted so many days before the first day,
// and she was told of a turn on a day after it.
func alone(t *testing.T, planted, told engine.Day) *shared {
	s := newShared(t, 1)
	s.member("Ana", 900, planted)
	s.c.Members[0].Plots[0].Told = &store.ToldTurn{On: first, Window: 1,
		Turns: []store.TurnDay{{Tool: 1, Day: first + told}}}
	return s
}

// TestTurnMovedInTheNight checks that a member hears of a turn that moved to today in the night, also if the bell rings
// first when it is too late to give a tool to anybody else today.
func TestTurnMovedInTheNight(t *testing.T) {
	s := alone(t, 15, 2)
	s.c.Turns = []store.CircleTurn{{Tool: 1, Member: 1, Plot: 1, Day: first + 1, Window: engine.Window{Number: 1}}}
	s.wants(1, 12, "1 on 1 +1", "1 Plot 1: your turn moves to Thu 26 Nov, with the tool. It was Fri 27 Nov.")
	s.wants(1, 13, "1 on 1 +1")
}

// TestReadyMemberHearsNothing checks that a member who has said that the tool is free hears nothing of the days that
// were left of the turn.
func TestReadyMemberHearsNothing(t *testing.T) {
	s := alone(t, 15, 1)
	plot := &s.c.Members[0].Plots[0]
	plot.Told.Turns = append(plot.Told.Turns, store.TurnDay{Tool: 1, Day: first + 2})
	for _, d := range plot.Told.Turns {
		s.c.Turns = append(s.c.Turns, store.CircleTurn{Tool: 1, Member: 1, Plot: 1, Day: d.Day,
			Window: engine.Window{Number: 1}})
	}
	plot.Wishes = map[int]store.DueWish{1: {Wish: circle.Wish{ExtraDays: 1, Ready: true}, ReadyOn: first + 1}}
	s.wants(1, 12, "1 on 1 +1")
}

// TestTurnAfterWhatWasSeen checks that a member whose weeds are too big for the tool hears that the turn that was told
// is free for others: the answer of the menu says nothing of it.
func TestTurnAfterWhatWasSeen(t *testing.T) {
	s := alone(t, 24, 3)
	season := &s.c.Members[0].Grower.Plots[0].Season
	season.Sightings = []engine.Sighting{{On: first + 1, Leaves: engine.FourPlus}}
	p := s.wants(1, 12, "", "1 Plot 1: your turn Sat 28 Nov is free for others. By hand: about ")
	if got, want := p.out.Texts[0].Message.UsefulUntil, (first+3).At(20, time.UTC).Unix(); got != want {
		t.Errorf("useful until %v, want %v", time.Unix(got, 0).UTC(), time.Unix(want, 0).UTC())
	}
	s.wants(2, 7, "")
	s = alone(t, 24, 3)
	s.c.Members[0].Grower.Plots[0].Season.Sightings = []engine.Sighting{{On: first + 1, Leaves: engine.FourPlus}}
	s.c.Members[0].Plots[0].Wishes = map[int]store.DueWish{1: {Wish: circle.Wish{Skip: true}}}
	s.wants(1, 12, "")
}

// TestTurnForTheRest checks that a member who has weeded a part of the plot on the first of two days keeps the second
// for the rest.
func TestTurnForTheRest(t *testing.T) {
	for _, share := range []float64{0.4, 0.6} {
		s := newShared(t, 1)
		s.member("Ana", 1500, 15)
		plot, season := &s.c.Members[0].Plots[0], &s.c.Members[0].Grower.Plots[0].Season
		plot.Told = &store.ToldTurn{On: first, Window: 1}
		for d := range engine.Day(2) {
			plot.Told.Turns = append(plot.Told.Turns, store.TurnDay{Tool: 1, Day: first + 1 + d})
			s.c.Turns = append(s.c.Turns, store.CircleTurn{Tool: 1, Member: 1, Plot: 1, Day: first + 1 + d,
				Window: engine.Window{Number: 1}})
		}
		s.wants(1, 12, "1 on 1 +1, 1 on 1 +2")
		season.Passes = []engine.Pass{{On: first + 1, With: engine.ByTool, Share: share}}
		s.wants(1, 15, "1 on 1 +1, 1 on 1 +2")
	}
}

// TestReminderThatWaitsTellsNoTurn checks that a moved turn has a text of its own where the reminder of this morning
// waits for the turn, and none where the reminder tells of it.
func TestReminderThatWaitsTellsNoTurn(t *testing.T) {
	for _, c := range []struct {
		today engine.Day
		kind  engine.Kind
		texts []string
	}{
		{1, engine.KindOpen, nil},
		{2, engine.KindLastDays, []string{"1 Plot 1: your turn moves to Sat 28 Nov, with the tool. It was Fri 27"}},
	} {
		s := alone(t, 15, c.today)
		due := &s.c.Members[0].Grower.Plots[0]
		due.LookAt = (first + c.today).At(7, time.UTC).Unix()
		for _, k := range []engine.Kind{engine.KindPrepare, engine.KindOpen} {
			if k < c.kind {
				due.Told = append(due.Told, engine.Told{Kind: k, Window: 1, On: first - 8})
			}
		}
		plan := must(due.Season.Windows(first + c.today))
		if r, _ := plan.Reminder(due.Told); r.Kind != c.kind {
			t.Fatalf("the reminder is %v, want %v", r.Kind, c.kind)
		}
		s.c.Turns = []store.CircleTurn{{Tool: 1, Member: 9, Day: first + c.today}} // hired today
		s.wants(c.today, 7, fmt.Sprintf("1 on 1 %+d", c.today+1), c.texts...)
	}
}
