package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/notebook"
)

// withGuest returns the records of a member of the circle of Ana, in which Eve, a guest, has hired tool 1 for two days.
func withGuest(self int64, hired bool) *notebook.Book {
	b := inRing(self)
	eve := person(4, "Eve", "+447700900104")
	eve.Joined, eve.Guest = false, true
	b.Circles.Own.Members = append(b.Circles.Own.Members, eve)
	if hired {
		b.Circles.Own.Turns = append(b.Circles.Own.Turns, circle.HeldTurn{Tool: 1, Member: 4, From: wednesday + 5,
			To: wednesday + 6, Told: true, FetchFrom: 2})
	}
	return b
}

// TestGuestHearsOfTheTool checks that who has hired a tool is told when it breaks, when it is repaired and when it
// leaves the circle. Otherwise a guest would fetch a tool that is not there.
func TestGuestHearsOfTheTool(t *testing.T) {
	const hire = "tool 1, Mon 30 Nov to Tue 1 Dec"
	p := caller(t, withGuest(1, true)).enter("5", "1", "3", "1", "1", "1").wants("planned again")
	if n := p.sent(); n.Person != 4 || n.Text != "Ana: "+hire+": it is broken." {
		t.Errorf("%+v", n)
	}
	p.plays("00 => ", "5 => ", "1 => ", "3 => ", "1 => It is broken.", "1 => Can tool 1 be used", "1 => planned again")
	if n := p.sent(); n.Person != 4 || n.Text != "Ana: "+hire+": it is repaired." {
		t.Errorf("%+v", n)
	}
	p.plays("00 => ", "5 => ", "1 => ", "3 => ", "1 => ", "4 => Take tool 1 out", "1 => planned again")
	if n := p.sent(); n.Person != 4 || n.Text != "Ana says no: "+hire+"." {
		t.Errorf("%+v", n)
	}
	p = caller(t, withGuest(1, true)).enter("5", "1", "3", "2", "1", "1").wants("planned again")
	if len(p.last.Send) > 0 {
		t.Errorf("told of a tool that was not hired: %+v", p.last.Send)
	}
	owner := withGuest(1, true) // Ben owns tool 1 and leaves: the tool goes with its owner
	owner.Circles.Own.Self, owner.Circles.Own.Tools[0].Owner = 2, 2
	p = caller(t, owner).enter("5", "1", "5", "4", "1").wants("You are not in the circle any more.")
	if n := p.sent(); n.Person != 4 || n.Text != "Ben says no: "+hire+"." {
		t.Errorf("%+v", n)
	}
}

// TestWhoSeesAGuest checks that a guest who only asked for work is shown to the keeper alone, as the words say to which
// the guest agreed. Members hand tools to a guest who has hired one, so they see this guest.
func TestWhoSeesAGuest(t *testing.T) {
	for _, c := range []struct {
		self         int64
		hired, shown bool
	}{{1, false, true}, {1, true, true}, {2, false, false}, {2, true, true}} {
		p := caller(t, withGuest(c.self, c.hired)).enter("5", "1", "2")
		if strings.Contains(p.last.Text, "Eve, no member") != c.shown {
			t.Errorf("%+v:\n%s", c, p.last.Text)
		}
	}
}

// TestNameHasALetter checks that a digit that was meant for another screen becomes nobody's name.
func TestNameHasALetter(t *testing.T) {
	p := caller(t, outside()).enter("5", "6")
	p.plays("1 => Your name", "1 => Your name, as the others will see it?", "12345 => Your name",
		"Ana 2 => Ana 2: the members")
	p = caller(t, inRing(1)).enter("5", "1", "3", "1", "3", "4")
	p.plays("2 => What does the circle call this tool?", "Blue 2 => Blue 2: 15 cm")
}

// TestAllToolsBroken checks that the screen of turns says why there is none.
func TestAllToolsBroken(t *testing.T) {
	b := inRing(1)
	b.Circles.Own.Turns = nil
	for i := range b.Circles.Own.Tools {
		b.Circles.Own.Tools[i].Broken = true
	}
	caller(t, b).enter("5", "1", "1").wants("tool 1, 15 cm, broken.").lacks("Turns come as texts")
}

// TestTurnNeedsNoBorrowedTool checks that a grower without an own tool is not told to borrow one if a turn is planned.
func TestTurnNeedsNoBorrowedTool(t *testing.T) {
	for turn, want := range map[bool]bool{true: false, false: true} {
		b := inRing(1)
		edit(b, 1, func(s *engine.Season) { s.Tool = engine.Tool{}; s.Plot.Planted = wednesday - 9 })
		if !turn {
			b.Circles.Own.Turns = b.Circles.Own.Turns[1:]
		}
		x := texts(t, b)
		x.ask(must(prompt{Asked: askedLook, Plots: []subject{subjectOf(1, b.Seasons[1])}}.encode()), wednesday+1)
		x.now++
		x.text("2")
		if strings.Contains(x.reply, "Borrow a weeder") != want {
			t.Errorf("turn %v: %s", turn, x.reply)
		}
	}
}

// TestDroppedTurnQuestion checks that the choice to go on after a dropped call names the question, not only "Right?".
func TestDroppedTurnQuestion(t *testing.T) {
	p := caller(t, inRing(1)).enter("5", "1", "1", "2", "2").wants("more days: 2?")
	p.dial("*123#").wants("1 go on: Plot 1: Wed 25 Nov to Thu 26 Nov and more days: 2?")
}

// TestGuestHearsThatTheOwnerIsOut checks that who has hired a tool is told when the keeper takes out its owner.
func TestGuestHearsThatTheOwnerIsOut(t *testing.T) {
	b := withGuest(1, true)
	b.Circles.Own.Tools[0].Owner = 2
	p := caller(t, b).enter("5", "1", "2", "1").wants("Ben", "3 ")
	p.enter("3", "1")
	for _, n := range p.last.Send {
		if n.Person == 4 && n.Text == "Ana says no: tool 1, Mon 30 Nov to Tue 1 Dec." {
			return
		}
	}
	t.Errorf("%+v after\n%s", p.last.Send, p.last.Text)
}
