package gateway

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"rowbell/menu"
	"rowbell/store"
)

// key names a callback. The parts hold what a network chose and a phone
// number, so only their hash is kept; with the number in it, a network that
// mixes up ids can never show one grower the screen of another.
func key(parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return parts[0] + ":" + hex.EncodeToString(h[:16])
}

// step works one callback into the phone's dialogue. The screen may speak of
// the records of the phone of; notes reports texts put into the outbox.
func (g *Gateway) step(tx *store.Tx, c *call, u ussdCall) (s screen, of store.Phone, notes bool, err error) {
	now := c.now.Unix()
	channel := menu.USSD.String()
	network := c.network.Name + "/" + u.session
	saved, had, err := tx.Session(u.phone, channel)
	if err != nil {
		return screen{}, "", false, err
	}
	ours := had && saved.Network == network
	if u.event == End {
		if !ours {
			return screen{}, "", false, nil
		}
		saved.Network = "" // the state stays, to be taken up on the next call
		return screen{}, "", false, tx.SaveSession(saved)
	}
	var state []byte
	if had && now < saved.ExpiresAt {
		state = saved.State
	}
	book, err := tx.Ledger(u.phone, now)
	if err != nil {
		return screen{}, "", false, err
	}
	left := state
	if u.event == Begin && !g.o.Menu.Unfinished(book, state) {
		if left, err = g.elsewhere(tx, book, u.phone, menu.SMS, now); err != nil {
			return screen{}, "", false, err
		}
		if left == nil {
			left = state
		}
	}
	var next []byte
	var r menu.Reply
	if u.event == Entry && ours && state != nil {
		next, r, err = g.o.Menu.Enter(book, menu.USSD, state, u.entry)
	} else {
		next, r, err = g.o.Menu.Dial(book, menu.USSD, left, u.dialled)
	}
	if err != nil {
		return screen{}, "", false, err
	}
	if r.Resumed && !same(left, state) {
		// It goes on here now: there must not be two of it.
		if err := tx.DropSession(u.phone, menu.SMS.String()); err != nil {
			return screen{}, "", false, err
		}
	}
	if !r.More {
		network = ""
	}
	if err := errors.Join(
		book.Visit(),
		keep(tx, had, store.Session{
			Phone: u.phone, Channel: channel, Network: network, State: next,
			SavedAt: now, ExpiresAt: c.now.Add(g.o.USSDResume).Unix(),
		}),
		g.notes(tx, c, book, r.Send),
	); err != nil {
		return screen{}, "", false, err
	}
	return screen{r.Text, r.More}, owner(book), len(r.Send) > 0, nil
}

// quietUSSD is how long a USSD session without a word counts as going on,
// where its network does not tell that it let it go: networks wait some
// minutes at most (TS 29.002 clause 17.6.4 gives a request ten).
const quietUSSD = 10 * time.Minute

// elsewhere is the dialogue that the phone left unfinished on another channel;
// nil where there is none, or where it is still going on there.
func (g *Gateway) elsewhere(tx *store.Tx, book *store.Ledger, phone store.Phone, ch menu.Channel, now int64) ([]byte, error) {
	s, had, err := tx.Session(phone, ch.String())
	if err != nil || !had || now >= s.ExpiresAt {
		return nil, err
	}
	if s.Network != "" && now < s.SavedAt+int64(quietUSSD/time.Second) {
		return nil, nil
	}
	if !g.o.Menu.Unfinished(book, s.State) {
		return nil, nil
	}
	return s.State, nil
}

// owner is the phone whose records an answer may speak of: nobody's where
// there are none, such as after they were erased.
func owner(book *store.Ledger) store.Phone {
	if !book.Known() {
		return ""
	}
	return book.Phone()
}

// same reports that the menu handed back the very state it was given, and not
// a new one of the same form: the dialogue did not speak.
func same(a, b []byte) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// keep saves a dialogue, or drops it where no state is left.
func keep(tx *store.Tx, had bool, s store.Session) error {
	switch {
	case s.State != nil:
		return tx.SaveSession(s)
	case had:
		return tx.DropSession(s.Phone, s.Channel)
	}
	return nil
}

// answerUseful is how long the answer to a text, or a text that follows a
// dialogue, is worth sending.
const answerUseful = 24 * time.Hour

// notes puts the texts that go beside a reply into the outbox. One for
// the phone that had the records before belongs to no grower.
func (g *Gateway) notes(tx *store.Tx, c *call, book *store.Ledger, notes []menu.Note) error {
	for i, n := range notes {
		grower, to := book.GrowerID(), book.Phone()
		if n.Former {
			grower, to = 0, book.Former()
		}
		if to == "" {
			continue
		}
		if err := enqueue(tx, c, grower, to, fmt.Sprintf("note:%s:%s:%d", c.network.Name, c.id, i), n); err != nil {
			return err
		}
	}
	return nil
}

func enqueue(tx *store.Tx, c *call, grower int64, to store.Phone, key string, n menu.Note) error {
	_, err := tx.Enqueue(store.Message{
		Key: key, GrowerID: grower, To: to, Note: n.Kind, Text: n.Text,
		CreatedAt: c.now.Unix(), DueAt: c.now.Unix(), UsefulUntil: c.now.Add(answerUseful).Unix(),
	})
	return err
}
