package store

import (
	"errors"
	"testing"

	"rowbell/engine/circle"
)

func TestSwap(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(0))
	turns := []CircleTurn{turn(tool, 1, day0+1), turn(tool, 1, day0+2), turn(tool, 2, day0+5), turn(tool, 2, day0+6)}
	setTurns(t, s, turns...)
	tell(t, s, turns...)
	swap := circle.Ask{Kind: circle.AskSwap, Circle: number, To: 2, Day: day0 + 2, Other: day0 + 5}
	a := ask(t, s, ana, swap)
	answer(t, s, ben, a.ID, true, 0)
	want := `["2: tool 1, 1-2 told from 0 to 1" "1: tool 1, 5-6 told late from 2 to 0"]`
	equal(t, showTurns(t, s, ben), want, "turns")

	swap.Day, swap.Other = day0+5, day0+1
	a = ask(t, s, ana, swap)
	equal(t, answer(t, s, ben, a.ID, false, 0).State, circle.AskNo, "the answer")
	equal(t, showTurns(t, s, ben), want, "turns after a no")

	a = ask(t, s, ana, swap)
	ledger(t, s, ben, noon, func(l *Ledger) error { return l.Wish(1, 1, circle.Wish{Skip: true}) })
	setTurns(t, s, turn(tool, 1, day0+5), turn(tool, 1, day0+6))
	ledger(t, s, ben, noon, func(l *Ledger) error {
		_, err := l.AnswerAsk(a.ID, true, 0)
		errorIf(t, !errors.Is(err, circle.ErrAskOver), "a yes about a turn that was dropped: %v", err)
		return nil
	})
	wantRows(t, s, map[string]int64{"circle_ask WHERE state = 4": 1})
}

func TestHire(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	withPlot(t, s, cleo)
	tool := addTool(t, s, ben, red(2))
	told, untold := turn(tool, 1, day0+1), turn(tool, 1, day0+3)
	setTurns(t, s, told, untold)
	tell(t, s, told)
	hire := circle.Ask{Kind: circle.AskHire, Circle: number, Tool: tool, Day: day0 + 1, Days: 2}
	try1 := func(a circle.Ask) error {
		return try(s, cleo, noon, func(l *Ledger) error { return second(l.Ask(a, "Cleo", words)) })
	}
	wantErr(t, try1(hire), circle.ErrNotFree, "a hire on a day of which a member was told")
	hire.Day, hire.Amount = day0+2, 9_99
	wantErr(t, try1(hire), circle.ErrAskOver, "a hire at another price")
	hire.Amount = 0
	a := ask(t, s, cleo, hire)
	errorIf(t, a.To != 2 || a.Amount != 10_00 || a.Until != day0+2, "the question %+v", a)
	answer(t, s, ben, a.ID, true, 0)
	equal(t, showTurns(t, s, ana), `["1: tool 1, 1-1 told from 0 to 3" "3: tool 1, 2-3 told from 1 to 0"]`, "turns")
	equal(t, balances(t, s, ana, number), "[{2 1000} {3 -1000}]", "balances")
	equal(t, balances(t, s, cleo, number), "[{0 1000} {3 -1000}]", "balances of the guest")
	wantErr(t, try1(hire), circle.ErrNotFree, "a second hire")
	equal(t, circleOf(t, s, ana).Tools[0].Earned, 10_00, "earned")
	// The next plan leaves the hire.
	setTurns(t, s, told)
	equal(t, showTurns(t, s, ana), `["1: tool 1, 1-1 told from 0 to 3" "3: tool 1, 2-3 told from 1 to 0"]`, "turns")
	errorIf(t, inCircle(t, s, cleo), "the guest is a member")
	// A guest who is erased does not come for the tool.
	ledger(t, s, cleo, noon, (*Ledger).Erase)
	equal(t, showTurns(t, s, ana), `["1: tool 1, 1-1 told from 0 to 0"]`, "turns")
	equal(t, balances(t, s, ana, number), "[{2 1000} {3 -1000}]", "balances")
}

func TestWeedingAsAService(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	withPlot(t, s, cleo)
	a := ask(t, s, cleo, circle.Ask{Kind: circle.AskWeeding, Circle: number, To: 2, Day: day0 + 3, AreaM2: 800})
	done := circle.Ask{Kind: circle.AskWeeded, Circle: number, To: 3}
	err := try(s, ben, noon, func(l *Ledger) error { return second(l.Ask(done, "", "")) })
	wantErr(t, err, circle.ErrNoCircle, "done before it was agreed")
	offer := answer(t, s, ben, a.ID, true, 40_00)
	errorIf(t, offer.Kind != circle.AskOffer || offer.From != 2 || offer.To != 3 || offer.Amount != 40_00,
		"the offer %+v", offer)
	equal(t, read(t, s, cleo, noon, (*Ledger).OpenAsks), []circle.Ask{offer}, "questions to the guest")
	answer(t, s, cleo, offer.ID, true, 0)
	asks := circleOf(t, s, ben).Asks
	errorIf(t, len(asks) != 1 || asks[0].State != circle.AskYes, "an agreed weeding is %+v", asks)
	b := ask(t, s, ben, done)
	answer(t, s, cleo, b.ID, true, 0)
	equal(t, balances(t, s, ana, number), "[{2 4000} {3 -4000}]", "balances")
	equal(t, len(circleOf(t, s, ben).Asks), 0, "questions afterwards")
	err = try(s, ben, noon, func(l *Ledger) error { return second(l.Ask(done, "", "")) })
	wantErr(t, err, circle.ErrNoCircle, "done twice")
}

func TestPayments(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(0))
	setTurns(t, s, turn(tool, 2, day0), turn(tool, 2, day0+1))
	for range 2 {
		write(t, s, func(tx *Tx) error { return second(tx.ChargeDays(1, day0+2)) })
	}
	equal(t, balances(t, s, ana, number), "[{0 400} {2 -400}]", "balances after two days")
	paid := circle.Ask{Kind: circle.AskPaid, Circle: number, Amount: 3_00, ForCircle: true}
	a := ask(t, s, ben, paid)
	answer(t, s, ana, a.ID, false, 0)
	equal(t, balances(t, s, ana, number), "[{0 400} {2 -400}]", "balances after a payment that was denied")
	disputed := read(t, s, ben, noon, (*Ledger).Accounts)[number].Disputed
	errorIf(t, len(disputed) != 1 || disputed[0].ID != a.ID, "disputed %+v", disputed)
	answer(t, s, ana, ask(t, s, ben, paid).ID, true, 0)
	got := circle.Ask{Kind: circle.AskReceived, Circle: number, To: 2, Amount: 1_00, ForCircle: true}
	answer(t, s, ben, ask(t, s, ana, got).ID, true, 0)
	equal(t, balances(t, s, ana, number), "[{0 0} {2 0}]", "balances after both payments")
	err := try(s, ben, noon, func(l *Ledger) error {
		return second(l.Ask(circle.Ask{Kind: circle.AskReceived, Circle: number, To: 1, Amount: 1, ForCircle: true},
			"", ""))
	})
	wantErr(t, err, circle.ErrNotAllowed, "a member receives for the circle")

	entries := read(t, s, ana, noon, (*Ledger).Accounts)[number].Entries
	first := entries[len(entries)-1]
	wantErr(t, try(s, ben, noon, func(l *Ledger) error { return l.TakeBack(first.ID) }), circle.ErrNotAllowed,
		"the debtor takes an entry back")
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.TakeBack(first.ID) })
	equal(t, balances(t, s, ana, number), "[{0 -200} {2 200}]", "balances after a day was taken back")
	wantErr(t, try(s, ana, noon, func(l *Ledger) error { return l.TakeBack(first.ID) }), circle.ErrAskOver, "twice")
	equal(t, circleOf(t, s, ana).Tools[0].Earned, 2_00, "earned")
}

// A person asks at most so many questions a day. An open question to the same person is replaced.
func TestManyAsks(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	for range circle.MaxAsksADay {
		ask(t, s, ana, circle.Ask{Kind: circle.AskReceived, Circle: number, To: 2, Amount: 1})
	}
	equal(t, len(read(t, s, ben, noon, (*Ledger).OpenAsks)), 1, "open questions")
	again := func(at int64) error {
		return try(s, ana, at, func(l *Ledger) error {
			return second(l.Ask(circle.Ask{Kind: circle.AskReceived, Circle: number, To: 2, Amount: 1}, "", ""))
		})
	}
	wantErr(t, again(noon), circle.ErrManyAsks, "one more")
	ok(t, again(noon+day))
}

// Who asked takes the question back: nobody else can, it cannot be answered then, and the other may be asked again.
func TestTakeBackAsk(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	withPlot(t, s, cleo)
	tool := addTool(t, s, ana, red(0))
	weeding := circle.Ask{Kind: circle.AskWeeding, Circle: number, To: 2, Day: day0 + 4, AreaM2: 9}
	toBen := ask(t, s, ana, weeding)
	hire := ask(t, s, cleo, circle.Ask{Kind: circle.AskHire, Circle: number, Tool: tool, Day: day0 + 1, Days: 1})
	equal(t, read(t, s, ana, noon, (*Ledger).SentAsks), []circle.Ask{toBen}, "questions of ana")
	equal(t, read(t, s, cleo, noon, (*Ledger).SentAsks), []circle.Ask{hire}, "questions of the guest")
	back := func(id int64) func(*Ledger) error { return func(l *Ledger) error { return l.TakeBackAsk(id) } }
	wantErr(t, try(s, ben, noon, back(toBen.ID)), circle.ErrNotAllowed, "taken back by who is asked")
	ledger(t, s, ana, noon, back(toBen.ID))
	ledger(t, s, cleo, noon, back(hire.ID))
	wantErr(t, try(s, ana, noon, back(toBen.ID)), circle.ErrAskOver, "taken back twice")
	for _, p := range []Phone{ana, cleo} {
		equal(t, len(read(t, s, p, noon, (*Ledger).SentAsks)), 0, "questions afterwards")
	}
	equal(t, len(read(t, s, ben, noon, (*Ledger).OpenAsks)), 0, "questions to ben")
	err := try(s, ben, noon, func(l *Ledger) error { return second(l.AnswerAsk(toBen.ID, true, 100)) })
	wantErr(t, err, circle.ErrAskOver, "an answer")
	answer(t, s, ben, ask(t, s, ana, weeding).ID, false, 0)

	var join circle.Ask
	ledger(t, s, cleo, noon, func(l *Ledger) (err error) {
		join, err = l.JoinCircle(number, "Cleo", words)
		return err
	})
	equal(t, len(read(t, s, cleo, noon, (*Ledger).SentAsks)), 0, "with a question to join")
	wantErr(t, try(s, cleo, noon, back(join.ID)), circle.ErrNotAllowed, "a question to join is taken back")
}

// A grower goes on with an interrupted call when the day that was asked about is past: the question is over.
func TestAskAboutAPastDay(t *testing.T) {
	s := open(t)
	number := circleWithPlots(t, s, ana, ben)
	withPlot(t, s, cleo)
	tool := addTool(t, s, ana, red(0))
	for _, q := range []struct {
		who Phone
		ask circle.Ask
	}{
		{ana, circle.Ask{Kind: circle.AskWeeding, Circle: number, To: 2, Day: day0, AreaM2: 9}},
		{cleo, circle.Ask{Kind: circle.AskHire, Circle: number, Tool: tool, Day: day0, Days: 1}},
	} {
		at := func(now int64) error {
			return try(s, q.who, now, func(l *Ledger) error { return second(l.Ask(q.ask, "Cleo", words)) })
		}
		wantErr(t, at(noon+day), circle.ErrAskOver, "%v on the next day", q.ask.Kind)
		ok(t, at(noon))
	}
}
