package store

import (
	"errors"
	"fmt"
	"regexp"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Entries are never changed, and deleted only with their circle.
func TestNoQueryChangesAnEntry(t *testing.T) {
	changes := regexp.MustCompile(`(?s)(UPDATE|DELETE FROM)\s+circle_entry\b|circle_entry .*DO UPDATE`)
	queries, _ := readSource(t)
	for name, query := range queries {
		errorIf(t, changes.MatchString(query), "%s changes entries", name)
	}
	for _, query := range []string{"UPDATE circle_entry SET amount = 1", "DELETE FROM circle_entry WHERE id = $1",
		sqlEnter + " ON CONFLICT (ask_id) DO UPDATE SET amount = 1"} {
		errorIf(t, !changes.MatchString(query), "%s is not seen", query)
	}
}

// play is a circle in which persons do anything at random.
type play struct {
	s       *Store
	number  int
	at      int64
	entries map[int64]circle.Entry // all that were ever written
}

// playable is what a refused change may return: the records are as before then.
var playable = []error{circle.ErrNoCircle, circle.ErrNotAllowed, circle.ErrKeeper, circle.ErrInCircle,
	circle.ErrManyAsks, circle.ErrNotFree, circle.ErrFull, circle.ErrAskOver}

// do lets a person do something, which may be refused. A question about what has changed is over, and stays so.
func (p *play) do(t tester, who Phone, fn func(*Ledger) error) {
	t.Helper()
	err := try(p.s, who, p.at, func(l *Ledger) error {
		err := fn(l)
		if errors.Is(err, circle.ErrAskOver) {
			return nil
		}
		return err
	})
	for _, allowed := range playable {
		if errors.Is(err, allowed) {
			return
		}
	}
	ok(t, err)
}

// answer answers all questions to a person.
func (p *play) answer(yes bool) func(*Ledger) error {
	return func(l *Ledger) error {
		asks, err := l.OpenAsks()
		for _, a := range asks {
			if _, err := l.AnswerAsk(a.ID, yes, 7); err != nil && !errors.Is(err, circle.ErrAskOver) {
				return err
			}
		}
		return err
	}
}

func (p *play) today() engine.Day { return engine.Day(p.at / day) }

// check checks what must always hold.
func (p *play) check(t tester) {
	t.Helper()
	view(t, p.s, func(tx *Tx) error {
		list, err := rows(tx, "SELECT "+entryColumns+" FROM circle_entry e ORDER BY e.id", nil, intoEntry)
		if err != nil {
			return err
		}
		now := map[int64]circle.Entry{}
		for _, e := range list {
			now[e.ID] = e
			if b := now[e.Corrects]; e.Corrects != 0 && (b.Debtor != e.Creditor || b.Creditor != e.Debtor ||
				b.Amount != e.Amount) {
				t.Errorf("%+v does not take back %+v", e, b)
			}
		}
		for id, e := range p.entries {
			errorIf(t, now[id] != e, "the entry %+v is now %+v", e, now[id])
		}
		p.entries = now
		balances, err := tx.balances(1)
		sum := int64(0)
		for _, b := range balances {
			sum += b.Amount
		}
		errorIf(t, sum != 0, "the balances %v sum to %d", balances, sum)
		c, err2 := tx.circle(sqlCircle, 1)
		keepers := 0
		for _, m := range c.people {
			if m.Keeper {
				keepers++
			}
		}
		errorIf(t, keepers > 1 || (keepers == 0) != c.ended, "%d keepers in %+v", keepers, c)
		return errors.Join(err, err2)
	})
}

// After any sequence of questions, answers, days, take-backs and leavings the balances sum to zero, no entry is lost or
// changed, and there is one keeper.
func TestLedgerOfACircle(t *testing.T) {
	phones := []Phone{ana, ben, cleo, dan}
	first := openWithPlot(t, phones...)
	rapid.Check(t, func(t *rapid.T) {
		clearCircles(t, first)
		p := &play{s: first, at: noon, entries: map[int64]circle.Entry{}}
		p.do(t, ana, func(l *Ledger) (err error) { p.number, err = l.MakeCircle("Ana", words); return err })
		p.do(t, ana, func(l *Ledger) error { return second(l.AddSharedTool(red(0))) })
		for _, name := range phones[1:3] {
			p.do(t, name, func(l *Ledger) error { return second(l.JoinCircle(p.number, names[name], words)) })
		}
		p.do(t, ana, p.answer(true))
		who := rapid.SampledFrom(phones)
		id, amount := rapid.Int64Range(1, 4), rapid.Int64Range(0, 3)
		kind := rapid.SampledFrom([]circle.AskKind{circle.AskJoin, circle.AskKeeper, circle.AskSwap, circle.AskHire,
			circle.AskHire, circle.AskWeeding, circle.AskWeeding, circle.AskOffer, circle.AskWeeded, circle.AskWeeded,
			circle.AskPaid, circle.AskPaid, circle.AskReceived, circle.AskReceived})
		t.Repeat(map[string]func(*rapid.T){
			"ask": func(t *rapid.T) {
				a := circle.Ask{Kind: kind.Draw(t, "kind"), Circle: p.number,
					To: id.Draw(t, "to"), Tool: rapid.Int64Range(0, 2).Draw(t, "tool"),
					Day: p.today() + 1, Other: p.today() + 2, Days: 1, Amount: 0, AreaM2: 100,
					ForCircle: rapid.Bool().Draw(t, "for the circle")}
				if a.Kind >= circle.AskWeeded {
					a.Amount = 1 + amount.Draw(t, "amount")
				}
				name := who.Draw(t, "who")
				p.do(t, name, func(l *Ledger) error { return second(l.Ask(a, names[name], words)) })
			},
			"answer": func(t *rapid.T) {
				yes := rapid.IntRange(0, 3).Draw(t, "no") != 0
				p.do(t, who.Draw(t, "who"), p.answer(yes))
			},
			"next day": func(t *rapid.T) {
				p.plan(t, turn(1, id.Draw(t, "member"), p.today()), turn(1, id.Draw(t, "member"), p.today()+1))
				p.at += day
				write(t, p.s, func(tx *Tx) error { return second(tx.ChargeDays(1, p.today())) })
			},
			"take back": func(t *rapid.T) {
				entry := rapid.Int64Range(1, 20).Draw(t, "entry")
				p.do(t, who.Draw(t, "who"), func(l *Ledger) error { return l.TakeBack(entry) })
			},
			"add tool": func(t *rapid.T) {
				p.do(t, who.Draw(t, "who"), func(l *Ledger) error {
					c, _, err := l.Circle()
					return errors.Join(err, second(l.AddSharedTool(red(c.Self))))
				})
			},
			"weeding": func(t *rapid.T) {
				to := id.Draw(t, "to")
				p.weeding(t, who.Draw(t, "from"), phones[to-1], to)
			},
			"leave": func(t *rapid.T) { p.do(t, who.Draw(t, "who"), (*Ledger).LeaveCircle) },
			"":      func(t *rapid.T) { p.check(t) },
		})
	})
}

// weeding lets a person ask another, who may be the member to, for a weeding, and all that follows up to the question
// whether it is done.
func (p *play) weeding(t tester, from, weeder Phone, to int64) {
	t.Helper()
	p.do(t, from, func(l *Ledger) error {
		a := circle.Ask{Kind: circle.AskWeeding, Circle: p.number, To: to, AreaM2: 5, Day: p.today() + 1}
		return second(l.Ask(a, names[from], words))
	})
	p.do(t, weeder, p.answer(true))
	p.do(t, from, p.answer(true))
	p.do(t, weeder, func(l *Ledger) error {
		c, _, err := l.Circle()
		for _, a := range c.Asks {
			if a.State == circle.AskYes {
				return second(l.Ask(circle.Ask{Kind: circle.AskWeeded, Circle: p.number, To: a.To}, "", ""))
			}
		}
		return err
	})
}

// plan replaces the turns of the circle by those of its members.
func (p *play) plan(t tester, turns ...CircleTurn) {
	t.Helper()
	write(t, p.s, func(tx *Tx) error {
		rows, err := rows(tx, sqlCirclesByID, args("[1]"), (*circleRow).into)
		if err != nil || rows[0].ended {
			return err
		}
		due, err := tx.fillCircles(rows, p.at)
		if err != nil {
			return err
		}
		joined := map[int64]bool{}
		for _, m := range due[0].Members {
			joined[m.ID] = m.Joined
		}
		var list []CircleTurn
		hired := map[TurnDay]bool{}
		for _, x := range due[0].Turns {
			hired[TurnDay{x.Tool, x.Day}] = x.Plot == 0
		}
		for _, x := range turns {
			if joined[x.Member] && !hired[TurnDay{x.Tool, x.Day}] {
				list = append(list, x)
			}
		}
		return tx.SetTurns(due[0], p.today(), list, p.at+day)
	})
}

// clearCircles deletes all circles. The next one has the id 1 again, and so have its members and tools.
func clearCircles(t tester, s *Store) {
	t.Helper()
	write(t, s, func(tx *Tx) error {
		err := errors.Join(tx.do("DELETE FROM circle"), tx.do("DELETE FROM circle_told"),
			tx.do("UPDATE grower SET circle_id = NULL, in_circles = 0"))
		if tx.pg == nil {
			return errors.Join(err, tx.do("DELETE FROM sqlite_sequence WHERE name LIKE 'circle%'"))
		}
		for _, table := range []string{"circle", "circle_member", "circle_tool", "circle_ask", "circle_entry"} {
			err = errors.Join(err, tx.do(fmt.Sprintf("ALTER TABLE %s ALTER COLUMN id RESTART", table)))
		}
		return err
	})
}

// The owner of a tool owes nothing for the own days with it.
func TestOwnerOwesNothing(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana, ben)
	tool := addTool(t, s, ana, red(1))
	setTurns(t, s, turn(tool, 1, day0), turn(tool, 2, day0+1))
	write(t, s, func(tx *Tx) error {
		n, err := tx.ChargeDays(1, day0+2)
		equal(t, n, 1, "entries")
		return err
	})
	wantRows(t, s, map[string]int64{"circle_entry": 1, "circle_entry WHERE debtor_id = 2 AND creditor_id = 1": 1})
}
