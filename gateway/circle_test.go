package gateway_test

import (
	"fmt"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// pair are two growers who are told of each other by posted callbacks: Ana keeps a circle, and Ben is none of it.
type pair struct {
	h     *fixture
	calls int
}

// hiringOut returns the two growers, and the number of the circle, which hires out a tool at 120 a day.
func hiringOut(t *testing.T) (*pair, string) {
	h, number := withKeeper(t)
	h.ledger(newPhone, func(l *store.Ledger) error {
		_, err := l.AddSharedTool(circle.SharedTool{Tool: engine.Tool{WidthCM: 15}, GuestDay: 12000})
		return err
	})
	return &pair{h: h}, number
}

// dials enters a path on a new call, and returns what is shown last.
func (p *pair) dials(from store.Phone, entries ...string) string {
	p.h.t.Helper()
	p.calls++
	p.h.clock.Advance(time.Minute)
	u := &handset{h: p.h, phone: from, session: fmt.Sprint("c", p.calls)}
	return u.dial() + "\n" + u.enter(entries...)
}

// sends sends a text.
func (p *pair) sends(from store.Phone, text string) {
	p.h.t.Helper()
	p.calls++
	p.h.clock.Advance(time.Minute)
	p.h.wants(202, p.h.post("/in/local/sms", m{"id": fmt.Sprint("t", p.calls), "phone": from.E164(), "text": text}))
}

// last returns the text that a phone got last.
func (p *pair) last(of store.Phone) string {
	p.h.t.Helper()
	all := p.h.inbox(of)
	if len(all) == 0 {
		return ""
	}
	return all[len(all)-1].Text
}

// TestHireMoneyAndWork plays two growers from a hire to the last payment: a hire, a payment that is denied and one that
// is confirmed, a weeding for a price, and an entry that is taken back.
func TestHireMoneyAndWork(t *testing.T) {
	p, number := hiringOut(t)
	h, ana, ben := p.h, newPhone, phone

	h.shows(p.dials(ben, "5", "6", "3", number, "1", "2", "2", "Ben", "1"), "We ask Ana.")
	h.shows(p.last(ana), "Ben "+ben.E164(), "for 240? Answer 1 yes, 2 no.")
	p.sends(ana, "1")
	h.shows(p.last(ben), "Ana "+ana.E164()+" says yes: tool 1", "Two people carry the tool. Do not touch the teeth.")

	h.shows(p.dials(ben, "5", "6", "5"), "You owe 240 in all.")
	p.dials(ben, "5", "6", "5", "1", "1", "240", "1")
	h.shows(p.last(ana), "240 was paid to the circle. Right? Answer 1 yes, 2 no.")
	p.sends(ana, "no")
	h.shows(p.last(ben), "does not agree: 240 paid.")
	h.shows(p.dials(ben, "5", "6", "5", "4"), "Not agreed", "Ana: 240 paid")
	p.dials(ben, "5", "6", "5", "1", "1", "240", "1")
	p.sends(ana, "yes")
	h.shows(p.dials(ben, "5", "6", "5"), "You owe nothing and nothing is owed to you.")

	h.shows(p.dials(ben, "5", "6", "4", number, "600", "2", "Ben", "1"), "We ask Ana.")
	h.shows(p.last(ana), "can you weed 600 m2", "Answer with your price for all of it, like 300, or 2 for no.")
	p.sends(ana, "450")
	h.shows(p.last(ben), "will weed 600 m2", "for 450. Agreed? Answer 1 yes, 2 no.")
	p.sends(ben, "1")
	h.shows(p.last(ana), "Ben "+ben.E164()+" says yes: weeding", "for 450.")
	p.dials(ana, "5", "1", "5", "2", "1", "1")
	h.shows(p.last(ben), "the weeding is done, you owe 450. Right?")
	h.shows(p.dials(ben), "Ana asks you something: 5, 1, 1.")
	h.shows(p.dials(ben, "5", "1", "1"), "the weeding is done, you owe 450. Right?")
	p.dials(ben, "5", "1", "1", "1")
	h.shows(p.dials(ben, "5", "6", "5"), "You owe 450 in all.")

	h.shows(p.dials(ben, "5", "6", "5", "3", "1", "1"), "We tell Ana that it is wrong.")
	h.shows(p.last(ana), "Ben "+ben.E164()+" says that this is wrong:", "weeding, 450.")
	before := len(h.inbox(ana))
	h.shows(p.dials(ben, "5", "6", "5", "3", "1", "1"), "We tell Ana that it is wrong.")
	if n := len(h.inbox(ana)); n != before { // Ana was told
		t.Errorf("%d texts after the second complaint, %d before", n, before)
	}
	p.dials(ana, "5", "1", "4", "4", "1", "1", "1")
	h.shows(p.last(ben), "Ana took back:", "You do not owe it any more.")
	h.shows(p.dials(ben, "5", "6", "5"), "You owe nothing and nothing is owed to you.")
}

// TestTakenBackAndTakenOut plays what its sender takes back before the answer, and a member whom the keeper takes out.
func TestTakenBackAndTakenOut(t *testing.T) {
	h, number := withKeeper(t)
	p := &pair{h: h}
	ana, ben := newPhone, phone
	h.joins("j1", number)
	p.sends(ana, "1")
	h.shows(p.dials(ben, "5", "1", "5", "1", "1", "600", "2", "1"), "We ask Ana.")
	h.shows(p.last(ana), "can you weed 600 m2")
	h.shows(p.dials(ben, "5", "1", "6"), "You asked Ana: weeding 600 m2", "1 take it back")
	h.shows(p.dials(ben, "5", "1", "6", "1"), "Taken back. Ana cannot answer it any more.")
	p.sends(ana, "450")
	h.shows(p.last(ana), "Something was changed after our text, so nothing is done.")

	h.shows(p.dials(ana, "5", "1", "2", "1", "3", "1"), "is not in the circle any more. We tell")
	h.shows(p.last(ben), "Ana "+ana.E164()+" took you out of circle "+number+".")
	h.shows(p.dials(ben, "5", "6"), "You are in none yet.")
}

// TestDigitAfterAQuestionToDial checks that a digit is no answer to the open question if another question came after it
// that can only be answered by dial: the grower may mean that one. The open question is asked again. A dialled path
// never answers a question that was not read.
func TestDigitAfterAQuestionToDial(t *testing.T) {
	p, number := hiringOut(t)
	h, ana, ben := p.h, newPhone, phone
	p.dials(ben, "5", "6", "3", number, "1", "2", "2", "Ben", "1")
	h.shows(p.last(ana), "for 240? Answer 1 yes, 2 no.")
	p.dials(ben, "5", "6", "4", number, "600", "2", "Ben", "1")
	h.shows(p.last(ana), "can you weed 600 m2", "To answer dial")
	before := len(h.inbox(ben))
	p.sends(ana, "1")
	h.shows(p.last(ana), "for 240? Answer 1 yes, 2 no.")
	if len(h.inbox(ben)) != before {
		t.Errorf("an answer was taken: %s", p.last(ben))
	}
	p.sends(ana, "1")
	h.shows(p.last(ben), "says yes: tool 1")

	call := m{"phone": ana.E164(), "session": "path", "event": "begin", "dialled": "*123*5*1*1*1#", "step": 0}
	h.shows(h.screen(h.post("/in/local/ussd", call)).Text, "can you weed 600 m2", "1 yes, for a price")
}
