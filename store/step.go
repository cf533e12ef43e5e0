package store

import "database/sql"

// ReplyKey says under which key the reply to a callback is stored, and since when a reply under the key is of the same
// callback.
type ReplyKey struct {
	Gateway, Key string // a callback with the key "" is never a repeat
	Since        int64
}

// StepStart is all that is read before a step of a dialogue on USSD. In a repeat, only Reply is set.
type StepStart struct {
	Repeat bool   // the callback was answered before
	Reply  []byte // the answer to it

	Session    Session // may be expired: the caller must check ExpiresAt
	HasSession bool
	Exchange   bool // the phone has an exchange, see Exchange
	Book       *Ledger
}

// The reply is looked for under the phone and under the empty phone number, see sqlStoredReply. The place of a phone
// without records is the default place.
const (
	replyOf      = `(SELECT c.reply FROM callback c WHERE c.phone = `
	sameCall     = ` AND c.gateway = CAST($2 AS TEXT) AND c.key = CAST($3 AS TEXT) AND c.at >= $4)`
	sqlStartStep = `SELECT coalesce(` + replyOf + asText + sameCall + `, ` + replyOf + `''` + sameCall + `),
	s.phone IS NOT NULL, coalesce(s.network, ''), s.state, coalesce(s.saved_at, 0), coalesce(s.expires_at, 0),
	EXISTS (SELECT 1 FROM exchange e WHERE e.phone = ` + asText + `),
	coalesce(g.id, 0), coalesce(g.language, ''), g.stopped_at IS NOT NULL, coalesce(g.seen_at, 0),
	coalesce(g.household, ''), coalesce(g.has_hours, 0), g.unreachable_at IS NOT NULL,
	coalesce(g.circle_id, 0), coalesce(g.in_circles, 0), ` + placeColumns + `
	FROM (SELECT 1 AS one) x
	LEFT JOIN session s ON s.phone = ` + asText + ` AND s.channel = CAST($5 AS TEXT)
	LEFT JOIN grower g ON g.phone = ` + asText + `
	JOIN place pl ON pl.id = coalesce(g.place_id, (SELECT min(p.id) FROM place p))`
)

// StartStep reads what a step of the dialogue of a phone on a channel begins with, in one query.
func (tx *Tx) StartStep(key ReplyKey, phone Phone, channel string, now int64) (s StepStart, err error) {
	if err := tx.Lock(phone); err != nil {
		return s, err
	}
	s.Session = Session{Phone: phone, Channel: channel}
	l := &Ledger{tx: tx, phone: phone, now: now}
	var reply sql.Null[[]byte]
	var place placeRow
	into := append(args(&reply, &s.HasSession, &s.Session.Network, &s.Session.State, &s.Session.SavedAt,
		&s.Session.ExpiresAt, &s.Exchange), l.into()...)
	_, err = tx.one(sqlStartStep, args(phone.E164(), key.Gateway, key.Key, key.Since, channel),
		append(into, place.into()...)...)
	switch {
	case err != nil:
		return s, fail("start step", err)
	case reply.Valid:
		return StepStart{Repeat: true, Reply: reply.V}, tx.confirm()
	}
	s.Book, err = l.opened(place)
	return s, err
}

// TextStart is the dialogues that a text may answer or take up, and the prompt that it may answer.
type TextStart struct {
	Session              Session // zero if it is expired
	Other                Session // may be expired: the caller must check ExpiresAt
	HasSession, HasOther bool    // set for an expired session too
	Prompt               Prompt  // may be expired: the caller must check Until
	HasPrompt            bool
}

const sqlStartText = `SELECT
	s.phone IS NOT NULL, coalesce(s.network, ''), s.state, coalesce(s.saved_at, 0), coalesce(s.expires_at, 0),
	o.phone IS NOT NULL, coalesce(o.network, ''), o.state, coalesce(o.saved_at, 0), coalesce(o.expires_at, 0),
	p.phone IS NOT NULL, p.body, coalesce(p.asked_at, 0), coalesce(p.until, 0)
	FROM (SELECT 1 AS one) x
	LEFT JOIN session s ON s.phone = ` + asText + ` AND s.channel = CAST($2 AS TEXT)
	LEFT JOIN session o ON o.phone = ` + asText + ` AND o.channel = CAST($3 AS TEXT)
	LEFT JOIN prompt p ON p.phone = ` + asText

// StartText reads the dialogue of a phone on a channel, the one on the other channel, and the prompt, in one query.
func (tx *Tx) StartText(phone Phone, channel, other string, now int64) (t TextStart, err error) {
	t.Session, t.Other = Session{Phone: phone, Channel: channel}, Session{Phone: phone, Channel: other}
	t.Prompt.Phone = phone
	s, o, p := &t.Session, &t.Other, &t.Prompt
	_, err = tx.one(sqlStartText, args(phone.E164(), channel, other),
		&t.HasSession, &s.Network, &s.State, &s.SavedAt, &s.ExpiresAt,
		&t.HasOther, &o.Network, &o.State, &o.SavedAt, &o.ExpiresAt,
		&t.HasPrompt, &p.Body, &p.AskedAt, &p.Until)
	if now >= s.ExpiresAt {
		t.Session = Session{}
	}
	return t, fail("start text", err)
}
