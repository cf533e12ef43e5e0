package gateway

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// event returns what happened to the session: profile.Begin (the grower dialled a code), profile.Entry (the grower
// answered a screen), profile.End (the network ended the session), or "" if the call does not say. Then the stored
// sessionTrace tells, see classify.
func (f *fields) event(at profile.USSD) string {
	if at.Events == nil && at.Begins == profile.BeginsByWord { // the network uses the gateway's own format
		word := f.need(at.Event)
		if word != "" && word != profile.Begin && word != profile.Entry && word != profile.End {
			f.refuse(at.Event, "This must be begin, entry or end.")
			return ""
		}
		return word
	}
	before := len(f.bad)
	event := at.Events[f.name(at.Event)]
	if event == "" && at.Begins == profile.BeginsByWord && len(f.bad) == before {
		f.refuse(at.Event, "This is none of the words that are described for it.")
	}
	return event
}

// ussdCall is one callback of a USSD session.
type ussdCall struct {
	phone          store.Phone
	session        string // the network's id of the USSD session
	dialled, entry string
	event          string // begin, entry, end or ""; see fields.event
	sent           string // the entry field as sent; for some networks the text of the whole session
	key            string // key of the stored reply; a repeat has the same key (see setKey); "" = no key
	// since is an instant in Unix seconds. The call is a repeat if a reply was stored under key at since or later.
	since int64
}

// screen is the reply to a USSD callback.
type screen struct {
	Text string `json:"text"`
	More bool   `json:"more"`
}

// readUSSD decodes a USSD callback.
func readUSSD(c *call) (ussdCall, error) {
	at := &c.network.USSD
	u := ussdCall{
		phone:   c.in.phone(at.Phone, c.network.CountryCode),
		session: c.in.need(at.Session),
		dialled: c.in.text(at.Dialled, maxID),
		entry:   c.in.text(at.Entry, maxText),
		event:   c.in.event(*at),
	}
	u.sent = u.entry
	step, stepped := c.in.count(at.Step)
	u.setKey(c, c.in.name(at.ID), step, stepped)
	return u, c.in.err()
}

// ussd handles one callback of a USSD session.
func (g *Gateway) ussd(ctx context.Context, c *call) (answer, error) {
	u, err := readUSSD(c)
	if err != nil {
		return answer{}, err
	}
	if u.event != profile.End {
		if err := g.checkLimits(c, u.phone, u.session); err != nil {
			return answer{}, err
		}
	}
	var reply ussdReply
	err = g.write(ctx, func(tx *store.Tx) (err error) { // not the err of the caller, who may have gone on
		reply, err = g.answerUSSD(tx, c, u)
		return err
	})
	if err != nil {
		return answer{}, err
	}
	// The gate counts open sessions. A repeated call closes its session here too, because its screen is zero;
	// the next entry of the session opens the session again.
	if !reply.screen.More {
		g.gate.Leave(limit.Call{Gateway: c.network.Name, Number: u.phone.E164(), Session: u.session})
	}
	if reply.queued {
		g.o.Queued()
	}
	s := reply.screen
	if reply.repeat {
		if err := json.Unmarshal(reply.body, &s); err != nil {
			return answer{}, err
		}
	}
	said := profile.ReplyValues{Text: s.Text, More: s.More, Session: u.session}
	header := http.Header{"Content-Type": {"application/json"}}
	ours := profile.Rendered{Status: http.StatusOK, Header: header, Body: reply.body}
	return render(c.network.USSD.Reply, said, ours, reply.repeat)
}

// ussdReply is the reply to a USSD callback before it is rendered.
type ussdReply struct {
	screen screen // zero for a repeat
	body   []byte // the screen as JSON
	repeat bool   // body is the stored reply of an earlier call
	queued bool   // texts were written to the outbox
}

// answerUSSD returns the stored reply if the call is a repeat. For any other call it takes a step of the dialogue and
// stores the reply. The end of a session needs no stored reply: to end it once more changes nothing.
func (g *Gateway) answerUSSD(tx *store.Tx, c *call, u ussdCall) (r ussdReply, err error) {
	if u.event == profile.End {
		r.body, err = json.Marshal(screen{})
		return r, errors.Join(err, tx.EndSession(u.phone, menu.USSD.String(), u.networkSession(c)))
	}
	key := store.ReplyKey{Gateway: c.network.Name, Key: u.key, Since: u.since}
	start, err := tx.StartStep(key, u.phone, menu.USSD.String(), c.now.Unix())
	if err != nil || start.Repeat {
		return ussdReply{body: start.Reply, repeat: start.Repeat}, err
	}
	var trace *sessionTrace
	if c.network.USSD.Whole || c.network.USSD.Begins != profile.BeginsByWord {
		var stored []byte
		if trace, stored, err = g.classify(tx, c, &u); err != nil || stored != nil {
			return ussdReply{body: stored, repeat: stored != nil}, err
		}
	}
	s, owner, queued, err := g.step(tx, c, u, start)
	if err != nil {
		return r, err
	}
	r.queued, r.screen = queued, s
	if r.body, err = json.Marshal(s); err != nil {
		return r, err
	}
	if trace != nil {
		if err := trace.save(tx, c, u, owner, !s.More, r.body); err != nil {
			return r, err
		}
	}
	if u.key != "" {
		err = tx.StoreReply(c.network.Name, u.key, owner, r.body, c.now.Unix())
	}
	return r, err
}

// networkSession returns the network's session as it is stored with the dialogue: ids of two networks may be equal.
func (u *ussdCall) networkSession(c *call) string { return c.network.Name + "/" + u.session }
