package gateway

import (
	"errors"
	"fmt"
	"time"

	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// step applies one USSD callback to the phone's dialogue. It returns the screen, the phone whose records the screen may
// show ("" = nobody's), and whether texts were written to the outbox.
func (g *Gateway) step(tx *store.Tx, c *call, u ussdCall, start store.StepStart) (
	s screen, owner store.Phone, queued bool, err error,
) {
	now := c.now.Unix()
	network, saved, book := u.networkSession(c), start.Session, start.Book
	book.QuietFrom(g.o.Health.QuietHour)
	current := start.HasSession && saved.Network == network // the saved dialogue belongs to this USSD session
	// A person calls, so texts from this phone are answered again.
	if start.Exchange {
		if _, err := tx.DropExchange(u.phone); err != nil {
			return screen{}, "", false, err
		}
	}
	var state []byte
	if start.HasSession && now < saved.ExpiresAt {
		state = saved.State
	}
	next, r, resumedSMS, err := g.advance(tx, book, state, current, u, now)
	if err != nil {
		return screen{}, "", false, err
	}
	if resumedSMS { // the dialogue moved from SMS to USSD, so its SMS copy is deleted
		if err := tx.DropSession(u.phone, menu.SMS.String()); err != nil {
			return screen{}, "", false, err
		}
	}
	if !r.More {
		network = ""
	}
	if err := errors.Join(
		book.Visit(),
		saveDialogue(tx, start.HasSession, store.Session{
			Phone: u.phone, Channel: menu.USSD.String(), Network: network, State: next,
			SavedAt: now, ExpiresAt: c.now.Add(g.o.USSDResume).Unix(),
		}),
		g.enqueueNotes(tx, c, book, r.Send),
	); err != nil {
		return screen{}, "", false, err
	}
	if book.Known() { // false if this step erased the grower's records
		owner = book.Phone()
	}
	return screen{r.Text, r.More}, owner, len(r.Send) > 0, nil
}

// advance passes the grower's entry to the current dialogue. Any other call dials the menu, which offers to resume an
// unfinished dialogue: the one on USSD, otherwise the one on SMS. resumedSMS reports that the SMS dialogue was resumed.
func (g *Gateway) advance(tx *store.Tx, book *store.Ledger, state []byte, current bool, u ussdCall, now int64) (
	next []byte, r menu.Reply, resumedSMS bool, err error,
) {
	if u.event == profile.Entry && current && state != nil {
		next, r, err = g.o.Menu.Enter(book, menu.USSD, state, u.entry)
		return next, r, false, err
	}
	fromSMS := false
	if u.event == profile.Begin && !g.o.Menu.Unfinished(book, state) {
		s, had, err := tx.Session(book.Phone(), menu.SMS.String())
		if err != nil {
			return nil, r, false, err
		}
		if other := g.left(book, s, had, now); other != nil {
			state, fromSMS = other, true
		}
	}
	next, r, err = g.o.Menu.Dial(book, menu.USSD, state, u.dialled)
	return next, r, r.Resumed && fromSMS, err
}

// left returns the state of the dialogue that the grower left unfinished in a session, for another channel to resume.
// It returns nil if there is no such dialogue, or if its session is still open.
func (g *Gateway) left(book *store.Ledger, s store.Session, had bool, now int64) []byte {
	stillOpen := s.Network != "" && now < s.SavedAt+int64(limit.SessionTimeout/time.Second)
	if !had || now >= s.ExpiresAt || stillOpen || !g.o.Menu.Unfinished(book, s.State) {
		return nil
	}
	return s.State
}

// saveDialogue saves the state of a dialogue. For a nil state it deletes the saved state, if had says that there is
// one.
func saveDialogue(tx *store.Tx, had bool, s store.Session) error {
	switch {
	case s.State != nil:
		return tx.SaveSession(s)
	case had:
		return tx.DropSession(s.Phone, s.Channel)
	}
	return nil
}

// answerUseful is how long after a grower's call the answer by SMS, or a text that follows the dialogue, may be sent.
const answerUseful = 24 * time.Hour

// enqueueNotes writes the texts that accompany a reply (the notes) to the outbox. If a grower's records moved to a new
// phone, a note may be for the old phone. Such a note is stored without a grower, so that it stays with the old phone
// if the records move again.
func (g *Gateway) enqueueNotes(tx *store.Tx, c *call, book *store.Ledger, notes []menu.Note) error {
	for i, n := range notes {
		key := fmt.Sprintf("note:%s:%s:%d", c.network.Name, c.id, i)
		if n.Once != "" {
			key = fmt.Sprintf("person:%d:%s", n.Person, n.Once)
		}
		if n.Person != 0 {
			if err := g.enqueueForPerson(tx, c, book, key, n); err != nil {
				return err
			}
			continue
		}
		grower, to := book.GrowerID(), book.Phone()
		if n.Former {
			grower, to = 0, book.Former()
		}
		if to == "" {
			continue
		}
		if err := enqueue(tx, c, grower, to, key, n); err != nil {
			return err
		}
	}
	return nil
}

func enqueue(tx *store.Tx, c *call, grower int64, to store.Phone, key string, n menu.Note) error {
	back := ""
	if c.sendsBack && !n.Former {
		back = c.network.Name
	}
	_, err := tx.Enqueue(store.Message{ReplyBy: back,
		Key: key, GrowerID: grower, To: to, Note: n.Kind, Text: n.Text,
		CreatedAt: c.now.Unix(), DueAt: c.now.Unix(), UsefulUntil: c.now.Add(answerUseful).Unix(),
	})
	return err
}
