package store

import (
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// AnswerAsk answers a question to this grower and does what a yes means. For AskWeeding with a yes, amount is what the
// grower asks for the weeding, and the result is the new AskOffer to who asked; otherwise the result is the question as
// it is answered. AnswerAsk returns circle.ErrAskOver if the question is over, or what it is about has changed.
func (l *Ledger) AnswerAsk(id int64, yes bool, amount int64) (circle.Ask, error) {
	a, err := l.answerAsk(id, yes, amount)
	return a, fail("answer", err)
}

func (l *Ledger) answerAsk(id int64, yes bool, price int64) (circle.Ask, error) {
	a, c, self, err := l.enterAsk(id)
	switch {
	case err != nil:
		return a, err
	case self == nil || a.To != self.ID:
		return circle.Ask{}, circle.ErrNotAllowed
	case a.State != circle.AskOpen || a.Until < l.Today() || c.ended && a.Kind < circle.AskWeeded:
		return a, circle.ErrAskOver
	}
	n := answering{l: l, c: c, self: self, from: c.person(a.From)}
	if !yes {
		a.State = circle.AskNo
		return a, errors.Join(n.no(a), l.do(sqlEndAsk, a.State, a.ID))
	}
	if a.Kind == circle.AskWeeding {
		return n.offer(a, price)
	}
	err = n.yes(a)
	switch {
	case err == nil:
		a.State = circle.AskYes
	case errors.Is(err, circle.ErrAskOver):
		a.State = circle.AskObsolete
	default:
		return a, err
	}
	return a, errors.Join(err, l.do(sqlEndAsk, a.State, a.ID))
}

// enterAsk opens the circle of a question for a change, and returns the question and who the grower is in the circle.
func (l *Ledger) enterAsk(id int64) (a circle.Ask, c *openCircle, self *memberRow, err error) {
	var circleID, about int64
	read := func() error {
		known, err := l.tx.one(sqlAsk, args(id), append(intoAsk(&a), &circleID, &about)...)
		if err == nil && !known {
			err = circle.ErrNoCircle
		}
		return err
	}
	if err = read(); err != nil {
		return a, nil, nil, err
	}
	if c, self, err = l.enter(circleID); err == nil {
		err = read() // once more, because another transaction may have changed it before this one had the circle
	}
	return a, c, self, err
}

// TakeBackAsk ends an open question of this grower. It returns circle.ErrAskOver if the question is over. A question to
// join a circle is taken back by LeaveCircle.
func (l *Ledger) TakeBackAsk(id int64) error {
	a, _, self, err := l.enterAsk(id)
	switch {
	case err != nil:
	case self == nil || a.From != self.ID || a.Kind == circle.AskJoin:
		err = circle.ErrNotAllowed
	case a.State != circle.AskOpen || a.Until < l.Today():
		err = circle.ErrAskOver
	default:
		err = l.do(sqlEndAsk, circle.AskObsolete, a.ID)
	}
	return fail("take back a question", err)
}

// answering is the answer to a question.
type answering struct {
	l          *Ledger
	c          *openCircle
	self, from *memberRow
}

// no does what a no means beside the state of the question.
func (n answering) no(a circle.Ask) error {
	if a.Kind != circle.AskJoin || n.from.Joined || n.from.left != 0 {
		return nil
	}
	return n.l.tx.leave(n.c, n.from, n.l.Today(), n.l.now)
}

// offer agrees to a weeding for a price, which is asked back.
func (n answering) offer(a circle.Ask, price int64) (circle.Ask, error) {
	if err := amount(price); err != nil {
		return a, err
	}
	if !n.self.Joined || n.from.growerID == 0 {
		return a, errors.Join(circle.ErrAskOver, n.l.do(sqlEndAsk, circle.AskObsolete, a.ID))
	}
	if err := n.l.do(sqlEndAsk, circle.AskYes, a.ID); err != nil {
		return a, err
	}
	return n.l.putAsk(n.c, circle.Ask{Kind: circle.AskOffer, From: a.To, To: a.From, Day: a.Day, AreaM2: a.AreaM2,
		Amount: price}, a.ID)
}

// yes does what a yes means. It returns ErrAskOver, and has written nothing, if what the question is about has changed.
func (n answering) yes(a circle.Ask) error {
	switch a.Kind {
	case circle.AskJoin:
		return n.join(a)
	case circle.AskKeeper:
		if !n.from.Keeper || !n.self.Joined {
			return circle.ErrAskOver
		}
		return errors.Join(n.l.do(sqlMakeKeeper, false, a.From), n.l.do(sqlMakeKeeper, true, a.To),
			n.l.do(sqlReaddress, a.To, a.From))
	case circle.AskSwap:
		return n.swap(a)
	case circle.AskHire:
		return n.hire(a)
	case circle.AskWeeded:
		return n.enter(a, a.To, a.From, circle.EntryWeeding)
	case circle.AskPaid:
		return n.enter(a, n.side(a, a.To), a.From, circle.EntryPayment)
	case circle.AskReceived:
		return n.enter(a, n.side(a, a.From), a.To, circle.EntryPayment)
	}
	return nil // AskOffer: the weeding is agreed
}

// side returns who gets a payment: the person, or 0 for the circle.
func (answering) side(a circle.Ask, person int64) int64 {
	if a.ForCircle {
		return 0
	}
	return person
}

// enter writes the entry of a question.
func (n answering) enter(a circle.Ask, debtor, creditor int64, kind circle.EntryKind) error {
	return n.l.do(sqlEnter, n.c.id, n.l.Today(), orNull(debtor), orNull(creditor), a.Amount, kind, orNull(a.Tool), nil,
		a.ID, nil)
}

const sqlJoined = `UPDATE circle_member SET joined = 1, guest = 0 WHERE id = $1`

func (n answering) join(a circle.Ask) error {
	switch {
	case !n.self.Keeper || n.from.Joined || n.from.left != 0 || n.from.growerID == 0:
		return circle.ErrAskOver
	case n.c.joined() >= circle.MaxMembers:
		return circle.ErrFull
	}
	return errors.Join(n.l.do(sqlJoined, a.From), n.l.do(sqlInCircle, n.c.id, n.from.growerID),
		n.l.tx.planSoon(n.c.id, n.l.now))
}

// swap exchanges two turns. Both growers have agreed, so both count as told. Of turns of different length, as many days
// are exchanged as the shorter one has; the next plan does the rest.
func (n answering) swap(a circle.Ask) error {
	held, err := n.l.held(n.c.id)
	if err != nil {
		return err
	}
	own, other := swapped(held, a)
	if own == nil || other == nil || own.Tool != a.Tool {
		return circle.ErrAskOver
	}
	rows, err := n.l.tx.turns(n.l.Today(), n.c.id)
	if err != nil {
		return err
	}
	x, y := daysOf(rows[n.c.id], own), daysOf(rows[n.c.id], other)
	for i := range min(len(x), len(y)) {
		p, q := x[i], y[i]
		x[i], y[i] = q.at(p), p.at(q)
		if err := errors.Join(n.l.tx.putTurn(x[i]), n.l.tx.putTurn(y[i])); err != nil {
			return err
		}
	}
	return errors.Join(n.told(own, y, x), n.told(other, x, y), n.l.tx.planSoon(n.c.id, n.l.now))
}

// at returns the turn of t's plot on the day and with the tool of where.
func (t CircleTurn) at(where CircleTurn) CircleTurn {
	t.Tool, t.Day = where.Tool, where.Day
	t.Late = t.Day > t.Window.Closes
	return t
}

// daysOf returns the days of a turn.
func daysOf(all []CircleTurn, of *heldTurn) (days []CircleTurn) {
	for _, t := range all {
		if t.Plot == of.plot && t.Tool == of.Tool && of.From <= t.Day && t.Day <= of.To {
			days = append(days, t)
		}
	}
	return days
}

// told stores what the grower of a plot knows after an exchange: of the turns now and others, those of the plot.
func (n answering) told(of *heldTurn, now, others []CircleTurn) error {
	told, err := n.l.tx.toldTurns([]int64{of.plot})
	if err != nil {
		return err
	}
	t := told[of.plot]
	t.On, t.Window, t.FetchFrom, t.HandTo, t.Agreed = n.l.Today(), of.Window.Number, 0, 0, true
	t.Turns = slices.DeleteFunc(slices.Clone(t.Turns), func(d TurnDay) bool {
		return d.Tool == of.Tool && of.From <= d.Day && d.Day <= of.To
	})
	for _, x := range slices.Concat(now, others) {
		if d := (TurnDay{x.Tool, x.Day}); x.Plot == of.plot && !slices.Contains(t.Turns, d) {
			t.Turns = append(t.Turns, d)
		}
	}
	return n.l.tx.putToldTurn(of.plot, t)
}

// hire lets a guest have a tool. Turns on these days of which nobody was told go; the next plan finds others.
func (n answering) hire(a circle.Ask) error {
	tools, err := n.l.tx.sharedTools(n.c.id)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(tools[n.c.id], func(t circle.SharedTool) bool { return t.ID == a.Tool })
	if i < 0 || n.from.growerID == 0 {
		return circle.ErrAskOver
	}
	t := tools[n.c.id][i]
	free, err := n.l.free(n.c, a)
	switch {
	case err != nil:
		return err
	case !free, t.Broken, t.Owner != 0 && t.Owner != n.self.ID, t.Owner == 0 && !n.self.Keeper, n.from.left != 0:
		return circle.ErrAskOver
	}
	for i := range a.Days {
		day := CircleTurn{Tool: a.Tool, Member: a.From, Day: a.Day + engine.Day(i)}
		if err := n.l.tx.putTurn(day); err != nil {
			return err
		}
	}
	return errors.Join(n.enter(a, a.From, t.Owner, circle.EntryHire), n.l.tx.planSoon(n.c.id, n.l.now))
}
