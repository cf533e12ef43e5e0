package gateway

import (
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"net/http"
	"strings"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// thread is what is kept of a session whose calls do not say themselves what
// they are: enough to tell the first call from an entry, an entry from a
// repeat, and what was added to the whole that was entered before. Hashes stand
// for what was typed; it goes with the phone's records.
type thread struct {
	Heard int             `json:"heard"`           // octets of the entry's field in the last call
	Sum   []byte          `json:"sum"`             // their hash
	First []byte          `json:"first"`           // the hash of the first call's
	Moved bool            `json:"moved,omitempty"` // an entry was taken since the first call
	Over  bool            `json:"over,omitempty"`  // we let the session go
	Reply json.RawMessage `json:"reply"`           // to the last call
}

func sum(s string) []byte {
	h := sha256.Sum256([]byte(s))
	return h[:16]
}

func (t *thread) saidLast(u *ussdCall) bool {
	return t.Heard == len(u.held) && string(t.Sum) == string(sum(u.held))
}
func (t *thread) saidFirst(u *ussdCall) bool { return string(t.First) == string(sum(u.held)) }

func threadKey(u *ussdCall) string { return key("thread", u.phone.E164(), u.session) }

// follow finds out what a call is by what its session said before: it settles
// the event and the entry. A repeat gets its reply.
func (g *Gateway) follow(tx *store.Tx, c *call, u *ussdCall) (t *thread, reply []byte, err error) {
	t = new(thread)
	if u.event == End {
		return nil, nil, nil
	}
	kept, known, err := tx.Seen(c.network.Name, threadKey(u), c.now.Add(-stepRepeats).Unix())
	if err != nil {
		return nil, nil, err
	}
	if known {
		if err := json.Unmarshal(kept, t); err != nil {
			return nil, nil, err
		}
	}
	if u.event == 0 {
		if t.repeated(u, known, c.network.USSD.Begins) {
			return nil, t.Reply, nil
		}
		u.event = t.event(u, known, c.network.USSD.Begins)
	}
	if !c.network.USSD.Whole {
		if u.event == Begin && u.dialled == "" && strings.HasPrefix(u.held, "*") {
			u.dialled = u.held // the first entry is the code
		}
		return t, nil, nil
	}
	separator := c.network.USSD.Separator
	more := known && t.Heard <= len(u.held) && string(sum(u.held[:t.Heard])) == string(t.Sum)
	if u.event == Begin || !known || t.Over {
		// The first that is heard of the session: all of it was dialled, or was
		// said to somebody who has forgotten it. What goes on after the end was
		// said to us, and is not done again: the code alone was dialled.
		whole := u.held
		if u.event != Begin && more && t.Heard > 0 {
			whole = ""
		}
		u.event, u.dialled = Begin, dialledPath(u.dialled, g.o.DialCode, whole, separator)
		return t, nil, nil
	}
	if !more {
		return nil, nil, notOn(c)
	}
	added := u.held[t.Heard:]
	if added == "" {
		return nil, t.Reply, nil
	}
	if t.Heard > 0 {
		// The separator of the two, and none within the entry: an area may be
		// typed as 20*30.
		rest, ok := strings.CutPrefix(added, separator)
		if !ok {
			return nil, nil, notOn(c)
		}
		added = rest
	}
	u.entry = added
	return t, nil, nil
}

func notOn(c *call) error {
	const detail = "This does not go on from what was entered before in this session."
	return problem.New(http.StatusBadRequest, detail).At(c.network.USSD.Entry.At)
}

// repeated reports that a call which does not say what it is repeats another,
// or has nothing to say.
func (t *thread) repeated(u *ussdCall, known bool, begins profile.Begins) bool {
	switch {
	case !known:
		return false
	case begins == profile.BeginsNewSession && t.Over:
		return true // whatever it is, the session is over
	case t.Over:
		return u.held != "" && t.saidLast(u)
	case !t.Moved:
		return t.saidFirst(u)
	}
	// Nobody answers with nothing, or with the code: the screen that is on is
	// the answer.
	return t.saidFirst(u) && (u.held == "" || u.held[0] == '*')
}

// event is what a call is that does not say so and is no repeat.
func (t *thread) event(u *ussdCall, known bool, begins profile.Begins) Event {
	if begins == profile.BeginsNewSession && !known || begins == profile.BeginsNoEntry && u.held == "" && (!known || t.Over) {
		return Begin
	}
	return Entry
}

// keep notes what was answered to a call.
func (t *thread) keep(tx *store.Tx, c *call, u ussdCall, of store.Phone, s screen, reply []byte) error {
	next := thread{Heard: len(u.held), Sum: sum(u.held), First: t.First, Moved: u.event == Entry, Over: !s.More, Reply: reply}
	if u.event == Begin {
		next.First = next.Sum
	}
	b, err := json.Marshal(next)
	if err != nil {
		return err
	}
	return tx.Remember(c.network.Name, threadKey(&u), of, b, c.now.Unix())
}

// dialledPath is the code that would have led to where the entries of whole
// lead, under the code that was dialled.
func dialledPath(dialled, code, whole, separator string) string {
	switch {
	case whole == "":
		return dialled
	case strings.HasPrefix(whole, "*") && strings.HasSuffix(whole, "#"):
		return whole // as it was dialled
	}
	base := strings.TrimSuffix(cmp.Or(dialled, code), "#")
	path := "*" + strings.Join(strings.Split(whole, separator), "*")
	if dialled != "" && strings.HasSuffix(base, path) {
		return dialled // the network tells it twice
	}
	return base + path + "#"
}
