package store

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

const dan Phone = "+447700900004"

// names of the growers of the tests, as others of a circle see them.
var names = map[Phone]string{ana: "Ana", ben: "Ben", cleo: "Cleo", dan: "Dan"}

const words = "Members see your name and number."

// circleWithPlots makes a circle of growers with one plot each, of whom the first is the keeper, and returns its
// number. The ids of its members are 1, 2 and so on in the order of the phones.
func circleWithPlots(t tester, s *Store, phones ...Phone) (number int) {
	t.Helper()
	withPlot(t, s, phones...)
	return makeCircle(t, s, phones...)
}

// makeCircle is circleWithPlots for growers who are in the records already.
func makeCircle(t tester, s *Store, phones ...Phone) (number int) {
	t.Helper()
	ledger(t, s, phones[0], noon, func(l *Ledger) (err error) {
		l.Via("ussd")
		number, err = l.MakeCircle(names[phones[0]], words)
		return err
	})
	for _, p := range phones[1:] {
		var a circle.Ask
		ledger(t, s, p, noon, func(l *Ledger) (err error) {
			a, err = l.JoinCircle(number, names[p], words)
			return err
		})
		answer(t, s, phones[0], a.ID, true, 0)
	}
	return number
}

// answer answers a question, and returns what AnswerAsk returned.
func answer(t tester, s *Store, p Phone, id int64, yes bool, amount int64) (a circle.Ask) {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) (err error) {
		a, err = l.AnswerAsk(id, yes, amount)
		return err
	})
	return a
}

func ask(t tester, s *Store, p Phone, a circle.Ask) circle.Ask {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) (err error) {
		a, err = l.Ask(a, names[p], words)
		return err
	})
	return a
}

// circleOf returns the circle of a grower, who must be in one.
func circleOf(t tester, s *Store, p Phone) circle.Circle {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (circle.Circle, error) {
		c, in, err := l.Circle()
		errorIf(t, err == nil && !in, "%s is in no circle", p)
		return c, err
	})
}

func inCircle(t tester, s *Store, p Phone) bool {
	t.Helper()
	return read(t, s, p, noon, func(l *Ledger) (bool, error) { _, in, err := l.Circle(); return in, err })
}

// balances returns the balances that a grower sees in a circle, as text.
func balances(t tester, s *Store, p Phone, number int) string {
	t.Helper()
	all := read(t, s, p, noon, (*Ledger).Accounts)
	return fmt.Sprint(all[number].Balances)
}

func red(owner int64) circle.SharedTool {
	return circle.SharedTool{Name: "red", Owner: owner, Tool: engine.Tool{WidthCM: 15}, Price: 500_00, MemberDay: 2_00,
		GuestDay: 5_00}
}

func addTool(t tester, s *Store, p Phone, tool circle.SharedTool) (id int64) {
	t.Helper()
	ledger(t, s, p, noon, func(l *Ledger) (err error) {
		id, err = l.AddSharedTool(tool)
		return err
	})
	return id
}

// setTurns plans the only circle anew, as the bell does.
func setTurns(t tester, s *Store, turns ...CircleTurn) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		due, err := tx.DueCircles(noon, 10)
		if err != nil || len(due) != 1 {
			return fmt.Errorf("%d due circles, %w", len(due), errors.Join(err, errBad))
		}
		same, err := tx.CirclesUnchanged(noon, due)
		errorIf(t, err == nil && !same[0], "the circle counts as changed")
		return errors.Join(err, tx.SetTurns(due[0], day0, turns, noon+day))
	})
}

// turn is a turn of a member with the plot that has the same id, in a window from today to the fifth day after it.
func turn(tool, member int64, day engine.Day) CircleTurn {
	w := engine.Window{Number: 1, Opens: day0, Best: day0 + 2, Closes: day0 + 5}
	return CircleTurn{Tool: tool, Member: member, Plot: member, PlotNo: 1, Day: day, Window: w, Late: day > w.Closes}
}

func tell(t tester, s *Store, turns ...CircleTurn) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		told := map[int64][]TurnDay{}
		for _, x := range turns {
			told[x.Plot] = append(told[x.Plot], TurnDay{x.Tool, x.Day})
		}
		var err error
		for plot, list := range told {
			err = errors.Join(err, tx.putToldTurn(plot, ToldTurn{On: day0, Window: 1, Turns: list}))
		}
		return err
	})
}

// showTurns returns the turns of a circle that a grower sees, in short.
func showTurns(t tester, s *Store, p Phone) string {
	t.Helper()
	var list []string
	for _, h := range circleOf(t, s, p).Turns {
		text := fmt.Sprintf("%d: tool %d, %d-%d", h.Member, h.Tool, h.From-day0, h.To-day0)
		for _, flag := range []struct {
			on   bool
			word string
		}{{h.Told, "told"}, {h.Late, "late"}} {
			if flag.on {
				text += " " + flag.word
			}
		}
		list = append(list, fmt.Sprintf("%s from %d to %d", text, h.FetchFrom, h.HandTo))
	}
	return fmt.Sprintf("%q", list)
}

func TestMakeAndJoinACircle(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana, ben, cleo)
	var number int
	ledger(t, s, ana, noon, func(l *Ledger) (err error) {
		number, err = l.MakeCircle("Ana", words)
		return err
	})
	errorIf(t, !circle.ValidNumber(number) || number > 9999, "the number %d", number)
	err := try(s, ana, noon, func(l *Ledger) error { return second(l.MakeCircle("Ana", words)) })
	wantErr(t, err, circle.ErrInCircle, "a second circle")

	found := read(t, s, ben, noon, func(l *Ledger) (circle.Circle, error) {
		c, there, err := l.FindCircle(number)
		errorIf(t, err == nil && !there, "the circle is not found")
		return c, err
	})
	equal(t, found.Members, []circle.Member{{ID: 1, Name: "Ana", Language: "en", Joined: true, Keeper: true}}, "found")

	var a circle.Ask
	ledger(t, s, ben, noon, func(l *Ledger) (err error) {
		a, err = l.JoinCircle(number, "Ben", words)
		return err
	})
	asked := circleOf(t, s, ben)
	errorIf(t, len(asked.Members) != 2 || asked.Members[0].Phone != "" || asked.Members[1].Joined,
		"who has only asked sees %+v", asked.Members)
	open := read(t, s, ana, noon, (*Ledger).OpenAsks)
	equal(t, open, []circle.Ask{a}, "open questions")
	err = try(s, cleo, noon, func(l *Ledger) error { return second(l.AnswerAsk(a.ID, true, 0)) })
	wantErr(t, err, circle.ErrNotAllowed, "an answer by somebody else")
	equal(t, answer(t, s, ana, a.ID, true, 0).State, circle.AskYes, "the answer")
	err = try(s, ana, noon, func(l *Ledger) error { return second(l.AnswerAsk(a.ID, true, 0)) })
	wantErr(t, err, circle.ErrAskOver, "a second answer")

	want := []circle.Member{
		{ID: 1, Name: "Ana", Phone: ana.E164(), Language: "en", Joined: true, Keeper: true},
		{ID: 2, Name: "Ben", Phone: ben.E164(), Language: "en", Joined: true},
	}
	for p, self := range map[Phone]int64{ana: 1, ben: 2} {
		c := circleOf(t, s, p)
		equal(t, c.Members, want, "members")
		errorIf(t, c.Self != self || !c.Waits || c.Number != number, "%s sees %+v", p, c)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM consent_text WHERE body = $1", words)
	wantRows(t, s, map[string]int64{"circle_member WHERE language = 'en' AND channel = ''": 2})
}

// A no ends the question to join, and so does taking it back. Who asks another circle asks the first no more.
func TestNotJoined(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana)
	withPlot(t, s, ben, cleo)
	join := func(number int) (a circle.Ask) {
		ledger(t, s, ben, noon, func(l *Ledger) (err error) {
			a, err = l.JoinCircle(number, "Ben", words)
			return err
		})
		return a
	}
	answer(t, s, ana, join(number).ID, false, 0)
	errorIf(t, inCircle(t, s, ben), "in the circle after a no")
	a := join(number)
	ledger(t, s, ben, noon, (*Ledger).LeaveCircle)
	err := try(s, ana, noon, func(l *Ledger) error { return second(l.AnswerAsk(a.ID, true, 0)) })
	wantErr(t, err, circle.ErrAskOver, "a yes to a question that was taken back")
	join(number)
	var other int
	ledger(t, s, cleo, noon, func(l *Ledger) (err error) { other, err = l.MakeCircle("Cleo", words); return err })
	join(other)
	equal(t, circleOf(t, s, ben).Number, other, "the circle of ben")
	equal(t, len(read(t, s, ana, noon, (*Ledger).OpenAsks)), 0, "open questions to ana")
	err = try(s, ben, noon, func(l *Ledger) error { return second(l.JoinCircle(number+1, "Ben", words)) })
	wantErr(t, err, circle.ErrNoCircle, "a number that no circle has")
}

// A guest who asks to join stays a guest after a no, and what else the guest asked stays open.
func TestGuestNotJoined(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana)
	withPlot(t, s, ben)
	tool := addTool(t, s, ana, red(0))
	hire := ask(t, s, ben, circle.Ask{Kind: circle.AskHire, Circle: number, Tool: tool, Day: day0 + 1, Days: 1})
	join := ask(t, s, ben, circle.Ask{Kind: circle.AskJoin, Circle: number})
	answer(t, s, ana, join.ID, false, 0)
	errorIf(t, inCircle(t, s, ben), "in the circle after a no")
	errorIf(t, !circleOf(t, s, ana).Members[1].Guest, "no guest any more")
	answer(t, s, ana, hire.ID, true, 0)
	join = ask(t, s, ben, circle.Ask{Kind: circle.AskJoin, Circle: number})
	answer(t, s, ana, join.ID, true, 0)
	m := circleOf(t, s, ben).Members[1]
	errorIf(t, m.Guest || !m.Joined || m.ID != 2, "the new member is %+v", m)
}

func TestKeeperHandsOver(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben, cleo)
	withPlot(t, s, dan)
	wantErr(t, try(s, ana, noon, (*Ledger).LeaveCircle), circle.ErrKeeper, "the keeper leaves")
	toBen := ask(t, s, ana, circle.Ask{Kind: circle.AskKeeper, Circle: number, To: 2})
	toCleo := ask(t, s, ana, circle.Ask{Kind: circle.AskKeeper, Circle: number, To: 3})
	ledger(t, s, dan, noon, func(l *Ledger) error { return second(l.JoinCircle(number, "Dan", words)) })
	answer(t, s, ben, toBen.ID, true, 0)
	err := try(s, cleo, noon, func(l *Ledger) error {
		_, err := l.AnswerAsk(toCleo.ID, true, 0)
		errorIf(t, !errors.Is(err, circle.ErrAskOver), "the second yes: %v", err)
		return nil
	})
	ok(t, err)
	keepers := 0
	for _, m := range circleOf(t, s, ana).Members {
		if m.Keeper {
			keepers++
			equal(t, m.ID, 2, "the keeper")
		}
	}
	equal(t, keepers, 1, "keepers")
	equal(t, len(read(t, s, ben, noon, (*Ledger).OpenAsks)), 1, "questions to the new keeper")
	ledger(t, s, ana, noon, (*Ledger).LeaveCircle)
	errorIf(t, inCircle(t, s, ana), "ana is still in the circle")
	equal(t, len(circleOf(t, s, ben).Members), 3, "members")
}

// The last member who leaves ends the circle.
func TestCircleEnds(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana)
	withPlot(t, s, ben)
	ledger(t, s, ben, noon, func(l *Ledger) error { return second(l.JoinCircle(number, "Ben", words)) })
	ledger(t, s, ana, noon, (*Ledger).LeaveCircle)
	errorIf(t, inCircle(t, s, ana) || inCircle(t, s, ben), "somebody is in the ended circle")
	err := try(s, ben, noon, func(l *Ledger) error { return second(l.JoinCircle(number, "Ben", words)) })
	wantErr(t, err, circle.ErrNoCircle, "joining the ended circle")
	_, found := lookUp(t, s, func(tx *Tx) (circle.Circle, bool, error) {
		l, err := tx.Ledger(ben, noon)
		if err != nil {
			return circle.Circle{}, false, err
		}
		return l.FindCircle(number)
	})
	errorIf(t, found, "the ended circle is found")
}

func TestSharedTools(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	own := addTool(t, s, ben, red(2))
	common := addTool(t, s, ana, red(0))
	err := try(s, ben, noon, func(l *Ledger) error { return second(l.AddSharedTool(red(0))) })
	wantErr(t, err, circle.ErrNotAllowed, "a tool of the circle by a member")
	change := func(p Phone, id int64, change func(*circle.SharedTool)) error {
		return try(s, p, noon, func(l *Ledger) error {
			c, _, err := l.Circle()
			for _, tool := range c.Tools {
				if tool.ID == id {
					change(&tool)
					return l.ChangeSharedTool(tool)
				}
			}
			return errors.Join(err, circle.ErrNoCircle)
		})
	}
	broken := func(t *circle.SharedTool) { t.Broken = true }
	dearer := func(t *circle.SharedTool) { t.MemberDay++ }
	ok(t, change(ana, own, broken))
	ok(t, change(ben, own, dearer))
	wantErr(t, change(ana, own, dearer), circle.ErrNotAllowed, "the price of another's tool")
	wantErr(t, change(ben, common, dearer), circle.ErrNotAllowed, "the price of the circle's tool")
	tools := circleOf(t, s, ana).Tools
	errorIf(t, !tools[0].Broken || tools[0].MemberDay != 2_01 || tools[1].Broken, "tools %+v", tools)
	err = try(s, ana, noon, func(l *Ledger) error { return l.RemoveSharedTool(own) })
	wantErr(t, err, circle.ErrNotAllowed, "removing another's tool")
	ledger(t, s, ben, noon, func(l *Ledger) error { return l.RemoveSharedTool(own) })
	equal(t, len(circleOf(t, s, ana).Tools), 1, "tools")
}

func TestTurnsAreSeen(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(0))
	told := turn(tool, 1, day0+1)
	setTurns(t, s, told, turn(tool, 1, day0+2), turn(tool, 2, day0+6), turn(tool, 1, day0+30))
	tell(t, s, told, turn(tool, 1, day0+2))
	want := `["1: tool 1, 1-2 told from 0 to 2" "2: tool 1, 6-6 late from 1 to 0" "1: tool 1, 30-30 late from 0 to 0"]`
	equal(t, showTurns(t, s, ben), want, "turns")
	errorIf(t, circleOf(t, s, ana).Waits, "the circle still waits")

	setLook(t, s, ana, 1, noon)
	due := get(t, s, func(tx *Tx) ([]DueGrower, error) { return tx.DueGrowers(noon, 10) })
	i := slices.IndexFunc(due, func(g DueGrower) bool { return g.Phone == ana })
	turns := due[i].Plots[0].Turns
	errorIf(t, len(turns) != 2 || turns[0].From != day0+1 || turns[0].To != day0+2 || !turns[0].Told || turns[1].Told ||
		turns[0].Hand.Name != "Ben" || turns[0].ToolName != "red" || turns[0].ToolNo != 0, "the bell sees %+v", turns)
}

// A change of what a plan rests on makes the circle due.
func TestChangesMakeACircleDue(t *testing.T) {
	for name, change := range map[string]func(*Ledger) error{
		"pass":      logPass(1, aPass),
		"sighting":  see(1, engine.Sighting{On: day0, Leaves: engine.TwoThree}),
		"new plot":  addPlot,
		"closed":    closePlot(1),
		"household": func(l *Ledger) error { return l.SetHousehold(engine.Household{People: 2}) },
		"wish":      func(l *Ledger) error { return l.Wish(1, 1, circle.Wish{Skip: true}) },
		"tool":      func(l *Ledger) error { return second(l.AddSharedTool(red(2))) },
		"leaves":    (*Ledger).LeaveCircle,
		"erased":    (*Ledger).Erase,
		"weather":   func(l *Ledger) error { return l.tx.LookAtPlace(1, noon+60) },
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			circleWithPlots(t, s, ana, ben)
			setTurns(t, s)
			equal(t, number(t, s, "SELECT plan_at FROM circle"), noon+day, "before")
			ledger(t, s, ben, noon+60, change)
			equal(t, number(t, s, "SELECT plan_at FROM circle"), noon+60, "afterwards")
		})
	}
}

// A member who leaves keeps the balance, and can settle it. A guest of another circle sees only the own account.
func TestLeaverSettles(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(1))
	turns := []CircleTurn{turn(tool, 2, day0), turn(tool, 2, day0+2)}
	setTurns(t, s, turns...)
	ledger(t, s, ben, noon+day, (*Ledger).LeaveCircle)
	equal(t, balances(t, s, ana, number), "[{1 200} {2 -200}]", "balances")
	wantRows(t, s, map[string]int64{"circle_turn": 1})
	answer(t, s, ana, ask(t, s, ben, circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 2_00}).ID, true, 0)
	equal(t, balances(t, s, ana, number), "[{1 0} {2 0}]", "balances after the payment")
	equal(t, balances(t, s, ben, number), "[{0 0} {2 0}]", "what the leaver sees")
}

// After a circle has ended, its former members can still settle what they owe each other, and nothing else.
func TestSettlingAfterTheEnd(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(1))
	setTurns(t, s, turn(tool, 2, day0))
	ledger(t, s, ben, noon+day, (*Ledger).LeaveCircle)
	ledger(t, s, ana, noon+day, (*Ledger).LeaveCircle)
	a := ask(t, s, ben, circle.Ask{Kind: circle.AskPaid, Circle: number, To: 1, Amount: 2_00})
	equal(t, len(read(t, s, ana, noon, (*Ledger).OpenAsks)), 1, "open questions")
	answer(t, s, ana, a.ID, true, 0)
	equal(t, balances(t, s, ben, number), "[{0 0} {2 0}]", "balances")
	err := try(s, ben, noon, func(l *Ledger) error {
		weeding := circle.Ask{Kind: circle.AskWeeding, Circle: number, To: 1, Day: day0, AreaM2: 1}
		return second(l.Ask(weeding, "Ben", words))
	})
	wantErr(t, err, circle.ErrNoCircle, "a weeding by nobody")
}

// A person with an open prompt is not asked another thing by a digit, and nobody is during quiet hours.
func TestPrompted(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	prompted := func(at int64) (yes bool) {
		ledger(t, s, ana, at, func(l *Ledger) (err error) {
			l.QuietFrom(21)
			yes, err = l.Prompted(2)
			return err
		})
		return yes
	}
	for hour, want := range map[int64]bool{-6: true, -5: false, 0: false, 8: false, 9: true} { // at noon
		equal(t, prompted(noon+hour*3600), want, "%d hours after noon", hour)
	}
	write(t, s, func(tx *Tx) error {
		return tx.SavePrompt(Prompt{Phone: ben, Body: []byte("x"), AskedAt: noon, Until: noon + 60})
	})
	errorIf(t, !prompted(noon+60) || prompted(noon+61), "a prompt is open after its end, or not before it")
}

// A grower who moves to another number stays in the circle, and others see the new number. Without a number the grower
// gets no texts.
func TestMemberWithAnotherNumber(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	var code string
	ledger(t, s, ben, noon, func(l *Ledger) (err error) { code, err = l.MoveCode(); return err })
	ledger(t, s, dan, noon, func(l *Ledger) error { _, _, err := l.TakeOver(code); return err })
	equal(t, circleOf(t, s, dan).Self, 2, "the member")
	equal(t, circleOf(t, s, ana).Members[1].Phone, dan.E164(), "the number that others see")
	ledger(t, s, dan, noon, (*Ledger).Unlink)
	m := circleOf(t, s, ana).Members[1]
	errorIf(t, m.Phone != "" || !m.Stopped || m.Name != "Ben", "without a number: %+v", m)
}

// The keeper takes a member out: turns of later days and the member's tools go, what is owed stays.
func TestKeeperRemovesAMember(t *testing.T) {
	s := open(t)
	no := circleWithPlots(t, s, ana, ben, cleo)
	tool := addTool(t, s, ana, red(1))
	addTool(t, s, ben, red(2))
	setTurns(t, s, turn(tool, 2, day0), turn(tool, 2, day0+2), turn(tool, 3, day0+3))
	toCleo := ask(t, s, ben, circle.Ask{Kind: circle.AskWeeding, Circle: no, To: 3, Day: day0 + 4, AreaM2: 9})
	remove := func(id int64) func(*Ledger) error { return func(l *Ledger) error { return l.RemoveMember(id) } }
	wantErr(t, try(s, cleo, noon+day, remove(2)), circle.ErrNotAllowed, "a removal by a member")
	wantErr(t, try(s, ana, noon+day, remove(1)), circle.ErrNoCircle, "a removal of the keeper")
	ledger(t, s, ana, noon+day, remove(2))
	wantErr(t, try(s, ana, noon+day, remove(2)), circle.ErrNoCircle, "a second removal")
	errorIf(t, inCircle(t, s, ben), "ben is still in the circle")
	c := circleOf(t, s, ana)
	errorIf(t, len(c.Members) != 2 || len(c.Tools) != 1, "members %+v, tools %+v", c.Members, c.Tools)
	equal(t, number(t, s, "SELECT plan_at FROM circle"), noon+day, "planned at")
	equal(t, balances(t, s, ana, no), "[{1 200} {2 -200}]", "balances")
	wantRows(t, s, map[string]int64{"circle_turn WHERE member_id = 2": 1, "circle_turn WHERE member_id = 3": 1})
	err := try(s, cleo, noon+day, func(l *Ledger) error { return second(l.AnswerAsk(toCleo.ID, false, 0)) })
	wantErr(t, err, circle.ErrAskOver, "a question of ben")
	answer(t, s, ana, ask(t, s, ben, circle.Ask{Kind: circle.AskPaid, Circle: no, To: 1, Amount: 2_00}).ID, true, 0)
	equal(t, balances(t, s, ben, no), "[{0 0} {2 0}]", "what ben sees")
}
