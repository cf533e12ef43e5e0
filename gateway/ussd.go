package gateway

import (
	"context"
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"rowbell/gateway/profile"
	"rowbell/store"
)

// Event is what happened to a USSD session.
type Event uint8

// The events, by their names on the wire.
const (
	Begin Event = iota + 1 // a code was dialled
	Entry                  // the screen was answered
	End                    // the network let the session go
)

var events = [...]string{"", "begin", "entry", "end"}

func (e Event) String() string { return events[e] }

var eventOf = map[string]Event{profile.Begin: Begin, profile.Entry: Entry, profile.End: End}

// event is what the network's word says; 0 where the session must tell.
func (f *fields) event(at profile.USSD) Event {
	if at.Events == nil && at.Begins == profile.BeginsByWord { // our own format
		word := f.need(at.Event)
		e, ok := eventOf[word]
		if !ok && word != "" {
			f.refuse(at.Event, "This must be begin, entry or end.")
		}
		return e
	}
	before := len(f.bad)
	word := f.name(at.Event)
	e, ok := eventOf[at.Events[word]]
	if !ok && at.Begins == profile.BeginsByWord && len(f.bad) == before {
		f.refuse(at.Event, "This is none of the words that are described for it.")
	}
	return e
}

// screen is the reply to a USSD callback.
type screen struct {
	Text string `json:"text"`
	More bool   `json:"more"`
}

// ussdCall is one callback of a USSD session.
type ussdCall struct {
	phone          store.Phone
	session        string // the network's
	dialled, entry string
	event          Event
	held           string // what the field of the entry held
	key            string // the same for a repeat; "" = a repeat cannot be told
	since          int64  // a reply with this key from then on makes it one
}

// stepRepeats is how long a step with the same number in the same session is
// a repeat: networks repeat within minutes, and use session ids again.
const stepRepeats = time.Hour

// repeats is the instant since which what had the same id of the network's
// was the same call.
func (c *call) repeats() int64 { return c.now.Unix() - store.KeepCallbacks }

func readUSSD(c *call) (ussdCall, error) {
	at := &c.network.USSD
	u := ussdCall{
		phone:   c.in.phone(at.Phone, c.network.CountryCode),
		session: c.in.need(at.Session),
		dialled: c.in.text(at.Dialled, maxID),
		entry:   c.in.text(at.Entry, maxText),
		event:   c.in.event(*at),
	}
	u.held = u.entry
	step, stepped := c.in.count(at.Step)
	id := c.in.name(at.ID)
	switch {
	case c.webhook != "":
		u.key, u.since = key("ussd", "id", u.phone.E164(), c.webhook), c.repeats()
	case id != "":
		u.key, u.since = key("ussd", "call", u.phone.E164(), id), c.repeats()
	case stepped:
		u.key = key("ussd", u.event.String(), u.phone.E164(), u.session, strconv.Itoa(step))
		u.since = c.now.Add(-stepRepeats).Unix()
	case at.Whole && u.event != End:
		// What the whole session has said so far names the step.
		u.key = key("ussd", "whole", u.phone.E164(), u.session, u.held)
		u.since = c.now.Add(-stepRepeats).Unix()
	}
	return u, c.in.err()
}

// ussd takes one step of a USSD dialogue. The repeat of a step gets the reply
// that the step got.
func (g *Gateway) ussd(ctx context.Context, c *call) (answer, error) {
	u, err := readUSSD(c)
	if err != nil {
		return answer{}, err
	}
	if u.event != End {
		if err := g.held(c, u.phone, u.session); err != nil {
			return answer{}, err
		}
	}
	var made replyUSSD
	err = g.write(ctx, func(tx *store.Tx) error {
		made, err = g.answerUSSD(tx, c, u)
		return err
	})
	if err != nil {
		return answer{}, err
	}
	if !made.more { // or a repeat, of what may have been the last: the next entry opens it again
		g.over(c, u.phone, u.session)
	}
	if made.queued {
		g.o.Queued()
	}
	at := &c.network.USSD
	if at.Reply == nil {
		return answer{status: http.StatusOK, media: "application/json", body: made.body, repeat: made.repeat}, nil
	}
	var s screen
	if err := json.Unmarshal(made.body, &s); err != nil {
		return answer{}, err
	}
	return described(at.Reply, profile.Said{Text: s.Text, More: s.More, Session: u.session}, answer{repeat: made.repeat})
}

// replyUSSD is what a callback is answered.
type replyUSSD struct {
	body   []byte // a screen as JSON
	more   bool   // the session goes on
	repeat bool   // it is what the callback got before
	queued bool   // texts were put into the outbox
}

// answerUSSD is the reply to a callback, of old or new.
func (g *Gateway) answerUSSD(tx *store.Tx, c *call, u ussdCall) (r replyUSSD, err error) {
	if u.key != "" {
		stored, seen, err := tx.Seen(c.network.Name, u.key, u.since)
		if err != nil || seen {
			return replyUSSD{body: stored, repeat: seen}, err
		}
	}
	var t *thread
	if c.network.USSD.Whole || c.network.USSD.Begins != profile.BeginsByWord {
		var stored []byte
		if t, stored, err = g.follow(tx, c, &u); err != nil || stored != nil {
			return replyUSSD{body: stored, repeat: stored != nil}, err
		}
	}
	s, of, queued, err := g.step(tx, c, u)
	if err != nil {
		return r, err
	}
	r.queued, r.more = queued, s.More
	if r.body, err = json.Marshal(s); err != nil {
		return r, err
	}
	if t != nil {
		if err := t.keep(tx, c, u, of, s, r.body); err != nil {
			return r, err
		}
	}
	if u.key != "" {
		err = tx.Remember(c.network.Name, u.key, of, r.body, c.now.Unix())
	}
	return r, err
}
