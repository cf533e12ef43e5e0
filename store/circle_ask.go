package store

import (
	"errors"
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Values of package circle, for the queries.
const (
	askYes      = `1`
	askObsolete = `4`
	askOffer    = `6`
	askWeeded   = `7` // this kind and later ones are about money that is due: they outlive a membership
)

var ( // compile only if the values are right
	_ = [1]struct{}{}[circle.AskYes-1]
	_ = [1]struct{}{}[circle.AskObsolete-4]
	_ = [1]struct{}{}[circle.AskOffer-6]
	_ = [1]struct{}{}[circle.AskWeeded-7]
)

const (
	askColumns = `a.id, a.kind, c.number, a.from_id, a.to_id, coalesce(a.tool_id, 0), a.day, a.other_day, a.days,
		a.amount, a.area_m2, a.for_circle, a.until_day, a.state`
	sqlPutAsk = `INSERT INTO circle_ask (circle_id, kind, from_id, to_id, tool_id, day, other_day, days, amount,
		area_m2, for_circle, asked_day, until_day, about_id)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`
	sqlEndSame = `UPDATE circle_ask SET state = ` + askObsolete + `
	WHERE from_id = $1 AND to_id = $2 AND kind = $3 AND state = 0`
	sqlEndAsk       = `UPDATE circle_ask SET state = $1 WHERE id = $2`
	sqlEndAllAsksOf = `UPDATE circle_ask SET state = ` + askObsolete + ` WHERE state = 0
		AND (from_id = $1 OR to_id = $1)`
	// sqlReaddress gives a new keeper what the former one was asked as the keeper.
	sqlReaddress = `UPDATE circle_ask SET to_id = $1 WHERE to_id = $2 AND from_id <> $1 AND state = 0
		AND (kind = 1 OR for_circle = 1 OR tool_id IN (SELECT k.id FROM circle_tool k WHERE k.owner_id IS NULL))`
	sqlAsk = `SELECT ` + askColumns + `, a.circle_id, coalesce(a.about_id, 0)
	FROM circle_ask a JOIN circle c ON c.id = a.circle_id WHERE a.id = ` + asID
	sqlAskedToday = `SELECT count(*) FROM circle_member m JOIN circle_ask a ON a.from_id = m.id
	WHERE m.grower_id = ` + asID + ` AND a.asked_day = CAST($2 AS BIGINT) AND a.kind <> ` + askOffer
	// sqlAsksOf reads the open questions of a person, and agreed offers of a weeding that is not done. An offer that
	// nobody came back to is dropped after some time.
	sqlAsksOf = `SELECT ` + askColumns + ` FROM circle_ask a JOIN circle c ON c.id = a.circle_id
	WHERE a.circle_id = ` + asID + ` AND a.state IN (0, ` + askYes + `)
		AND (a.from_id = CAST($2 AS BIGINT) OR a.to_id = CAST($2 AS BIGINT))
		AND (a.state = 0 AND a.until_day >= $3 OR a.kind = ` + askOffer + ` AND a.state = ` + askYes + `
			AND a.day > $3 - 60 AND NOT EXISTS (SELECT 1 FROM circle_ask x WHERE x.circle_id = a.circle_id
				AND x.state IN (0, ` + askYes + `) AND x.kind = ` + askWeeded + ` AND x.about_id = a.id))
	ORDER BY a.id`
	sqlOpenAsks = `SELECT ` + askColumns + ` FROM circle_member m JOIN circle_ask a ON a.to_id = m.id
	JOIN circle c ON c.id = a.circle_id
	WHERE m.grower_id = ` + asID + ` AND a.state = 0 AND a.until_day >= CAST($2 AS BIGINT) ORDER BY a.id`
	sqlSentAsks = `SELECT ` + askColumns + ` FROM circle_member m JOIN circle_ask a ON a.from_id = m.id
	JOIN circle c ON c.id = a.circle_id
	WHERE m.grower_id = ` + asID + ` AND a.state = 0 AND a.kind <> 1 AND a.until_day >= CAST($2 AS BIGINT)
	ORDER BY a.id`
)

func intoAsk(a *circle.Ask) []any {
	return args(&a.ID, &a.Kind, &a.Circle, &a.From, &a.To, &a.Tool, &a.Day, &a.Other, &a.Days, &a.Amount, &a.AreaM2,
		&a.ForCircle, &a.Until, &a.State)
}

// asksOf returns the questions of a person of a circle: see circle.Circle.
func (l *Ledger) asksOf(circleID, person int64) ([]circle.Ask, error) {
	list, err := rows(l.tx, sqlAsksOf, args(circleID, person, l.Today()), intoAsk)
	return list, fail("questions", err)
}

// OpenAsks are the open questions to this grower, in all circles, oldest first.
func (l *Ledger) OpenAsks() ([]circle.Ask, error) {
	if !l.inCircles {
		return nil, nil
	}
	list, err := rows(l.tx, sqlOpenAsks, args(l.id, l.Today()), intoAsk)
	return list, fail("open questions", err)
}

// SentAsks are the open questions of this grower to others, in all circles, oldest first. The question to join a circle
// is not among them: LeaveCircle takes it back.
func (l *Ledger) SentAsks() ([]circle.Ask, error) {
	if !l.inCircles {
		return nil, nil
	}
	list, err := rows(l.tx, sqlSentAsks, args(l.id, l.Today()), intoAsk)
	return list, fail("own questions", err)
}

// mayAsk returns ErrManyAsks if the grower has asked enough today.
func (l *Ledger) mayAsk() error {
	if !l.inCircles {
		return nil
	}
	var n int
	if _, err := l.tx.one(sqlAskedToday, args(l.id, l.Today()), &n); err != nil {
		return err
	}
	if n >= circle.MaxAsksADay {
		return circle.ErrManyAsks
	}
	return nil
}

// answerDays is for how many days a question can be answered at most (judgement).
func answerDays(k circle.AskKind) engine.Day {
	switch k {
	case circle.AskJoin:
		return 14
	case circle.AskKeeper:
		return 7
	}
	return 30
}

// lastDay returns the last day on which a question that is asked today can be answered.
func lastDay(a circle.Ask, today engine.Day) engine.Day {
	until := today + answerDays(a.Kind)
	switch a.Kind {
	case circle.AskSwap:
		until = min(until, a.Day, a.Other)
	case circle.AskHire, circle.AskWeeding, circle.AskOffer:
		until = min(until, a.Day)
	}
	if a.Until != 0 {
		until = min(until, a.Until)
	}
	return until
}

// putAsk stores a question, and ends an open one of the same kind between the same persons. If about is not 0, it is
// the question that this one follows.
func (l *Ledger) putAsk(c *openCircle, a circle.Ask, about int64) (circle.Ask, error) {
	a.Circle, a.State, a.Until = c.number, circle.AskOpen, lastDay(a, l.Today())
	if a.Until < l.Today() {
		return circle.Ask{}, circle.ErrAskOver
	}
	err := l.do(sqlEndSame, a.From, a.To, a.Kind)
	if err == nil {
		a.ID, _, err = l.tx.insert(sqlPutAsk, c.id, a.Kind, a.From, a.To, orNull(a.Tool), a.Day, a.Other, a.Days,
			a.Amount, a.AreaM2, a.ForCircle, l.Today(), a.Until, orNull(about))
	}
	return a, err
}

// Bounds of what may be asked for.
const (
	maxAmount = 1e14 // hundredths: a million millions of any currency
	maxAreaM2 = 1e7
)

// Ask stores a question to another person of a circle; From is always this grower. Before that it ends an open
// question of the same kind to the same person. Who is nobody in the circle becomes a guest with name and words.
//
// For AskHire, To is found from the tool, and Amount must be 0 or the price of all days. For AskWeeded, Amount may be
// 0: then it is the offer's. If ForCircle is set, To is the keeper, or for AskReceived this grower must be the keeper.
func (l *Ledger) Ask(a circle.Ask, name, words string) (circle.Ask, error) {
	if a.Kind == circle.AskJoin {
		return l.JoinCircle(a.Circle, name, words)
	}
	a, err := l.ask(a, name, words)
	return a, fail("ask", err)
}

func (l *Ledger) ask(a circle.Ask, name, words string) (circle.Ask, error) {
	if !l.Known() {
		return a, ErrUnknown
	}
	c, self, err := l.enterNumber(a.Circle)
	if err != nil {
		return a, err
	}
	if c.ended && a.Kind < circle.AskWeeded {
		return a, circle.ErrNoCircle
	}
	x := asking{l: l, c: c, self: self, today: l.Today()}
	if a, err = x.check(a); err != nil {
		return a, err
	}
	if err := l.mayAsk(); err != nil {
		return a, err
	}
	if self == nil || self.left != 0 && a.Kind < circle.AskWeeded {
		if name == "" {
			return a, errors.New("a guest needs a name")
		}
		if a.From, err = l.putPerson(c.id, name, words, false, true); err != nil {
			return a, err
		}
	} else {
		a.From = self.ID
	}
	return l.putAsk(c, a, x.about)
}

// asking checks a question.
type asking struct {
	l     *Ledger
	c     *openCircle
	self  *memberRow // nil: nobody in the circle yet
	today engine.Day
	about int64 // the question that this one follows; 0: none
}

// check returns the question with what the records know of it, or why it cannot be asked.
func (x *asking) check(a circle.Ask) (circle.Ask, error) {
	member := x.self != nil && x.self.Joined
	a = ofKind(a)
	switch a.Kind {
	case circle.AskKeeper:
		if !member || !x.self.Keeper {
			return a, circle.ErrNotAllowed
		}
		return a, x.toMember(a)
	case circle.AskSwap:
		return x.swap(a)
	case circle.AskHire:
		return x.hire(a)
	case circle.AskWeeding:
		if !(a.AreaM2 > 0 && a.AreaM2 <= maxAreaM2) {
			return a, errors.New("a weeding needs an area")
		}
		return a, errors.Join(x.toMember(a), x.notPast(a))
	case circle.AskWeeded:
		if !member {
			return a, circle.ErrNotAllowed
		}
		return x.weeded(a)
	case circle.AskPaid, circle.AskReceived:
		return x.payment(a)
	}
	return a, circle.ErrNotAllowed
}

// ofKind returns a question with what belongs to its kind only.
func ofKind(a circle.Ask) circle.Ask {
	b := circle.Ask{Kind: a.Kind, Circle: a.Circle, To: a.To, Until: a.Until}
	switch a.Kind {
	case circle.AskSwap:
		b.Tool, b.Day, b.Other = a.Tool, a.Day, a.Other
	case circle.AskHire:
		b.Tool, b.Day, b.Days, b.Amount = a.Tool, a.Day, a.Days, a.Amount
	case circle.AskWeeding:
		b.Day, b.AreaM2 = a.Day, a.AreaM2
	case circle.AskWeeded:
		b.Amount = a.Amount
	case circle.AskPaid, circle.AskReceived:
		b.Amount, b.ForCircle = a.Amount, a.ForCircle
	}
	return b
}

func (x *asking) isSelf(id int64) bool { return x.self != nil && x.self.ID == id }

// toMember returns an error if the question is not to another member.
func (x *asking) toMember(a circle.Ask) error {
	p := x.c.person(a.To)
	switch {
	case p == nil || !p.Joined:
		return circle.ErrNoCircle
	case x.isSelf(a.To):
		return circle.ErrNotAllowed
	}
	return nil
}

// notPast returns an error if the day of the question is past: the grower went on with an interrupted call.
func (x *asking) notPast(a circle.Ask) error {
	if a.Day < x.today {
		return circle.ErrAskOver
	}
	return nil
}

func (x *asking) swap(a circle.Ask) (circle.Ask, error) {
	if x.self == nil || !x.self.Joined {
		return a, circle.ErrNotAllowed
	}
	if err := x.toMember(a); err != nil {
		return a, err
	}
	held, err := x.l.held(x.c.id)
	if err != nil {
		return a, err
	}
	a.From = x.self.ID
	own, other := swapped(held, a)
	if own == nil || other == nil {
		return a, circle.ErrNoCircle
	}
	a.Tool = own.Tool
	return a, nil
}

// swapped finds the two turns that a question is about; nil if there is no such turn.
func swapped(held []heldTurn, a circle.Ask) (own, other *heldTurn) {
	for i := range held {
		t := &held[i]
		if t.plot == 0 {
			continue
		}
		if own == nil && t.Member == a.From && t.From <= a.Day && a.Day <= t.To && (a.Tool == 0 || a.Tool == t.Tool) {
			own = t
		}
		if other == nil && t.Member == a.To && t.From <= a.Other && a.Other <= t.To {
			other = t
		}
	}
	return own, other
}

func (x *asking) hire(a circle.Ask) (circle.Ask, error) {
	if x.self != nil && x.self.Joined {
		return a, circle.ErrNotAllowed
	}
	if a.Days < 1 || a.Days > circle.MaxHireDays {
		return a, errors.New("a hire is of 1 to 14 days")
	}
	if err := x.notPast(a); err != nil {
		return a, err
	}
	tools, err := x.l.tx.sharedTools(x.c.id)
	if err != nil {
		return a, err
	}
	i := slices.IndexFunc(tools[x.c.id], func(t circle.SharedTool) bool { return t.ID == a.Tool })
	if i < 0 {
		return a, circle.ErrNoCircle
	}
	t := tools[x.c.id][i]
	price := t.GuestDay * int64(a.Days)
	switch {
	case t.GuestDay == 0 || t.Broken:
		return a, circle.ErrNotFree
	case a.Amount != 0 && a.Amount != price:
		return a, circle.ErrAskOver
	}
	a.Amount, a.To = price, t.Owner
	if k := x.c.keeper(); a.To == 0 && k != nil {
		a.To = k.ID
	}
	if a.To == 0 || x.isSelf(a.To) {
		return a, circle.ErrNotAllowed
	}
	free, err := x.l.free(x.c, a)
	if err == nil && !free {
		err = circle.ErrNotFree
	}
	return a, err
}

// free reports whether a hire is possible: nobody was told to have the tool on these days, and nobody has hired it.
func (l *Ledger) free(c *openCircle, a circle.Ask) (bool, error) {
	held, err := l.held(c.id)
	return err == nil && !slices.ContainsFunc(held, func(t heldTurn) bool {
		return t.Tool == a.Tool && t.Told && t.From < a.Day+engine.Day(a.Days) && a.Day <= t.To
	}), err
}

// weeded finds the agreed offer of which the question says that it is done.
func (x *asking) weeded(a circle.Ask) (circle.Ask, error) {
	asks, err := x.l.asksOf(x.c.id, x.self.ID)
	if err != nil {
		return a, err
	}
	i := slices.IndexFunc(asks, func(o circle.Ask) bool {
		return o.Kind == circle.AskOffer && o.State == circle.AskYes && o.From == x.self.ID && o.To == a.To
	})
	if i < 0 {
		return a, circle.ErrNoCircle
	}
	o := asks[i]
	x.about = o.ID
	if a.Amount == 0 {
		a.Amount = o.Amount
	}
	a.Day, a.AreaM2 = o.Day, o.AreaM2
	return a, amount(a.Amount)
}

func amount(n int64) error {
	if n < 1 || n > maxAmount {
		return errors.New("an amount must be more than 0, and at most a million millions")
	}
	return nil
}

func (x *asking) payment(a circle.Ask) (circle.Ask, error) {
	if x.self == nil {
		return a, circle.ErrNotAllowed
	}
	if k := x.c.keeper(); a.ForCircle && a.Kind == circle.AskPaid && k != nil {
		a.To = k.ID
	}
	p := x.c.person(a.To)
	switch {
	case p == nil || p.growerID == 0:
		return a, circle.ErrNoCircle
	case x.isSelf(a.To), a.ForCircle && a.Kind == circle.AskReceived && !x.self.Keeper:
		return a, circle.ErrNotAllowed
	}
	return a, amount(a.Amount)
}
