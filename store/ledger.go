package store

import (
	"crypto/hmac"
	"crypto/sha256"
	"errors"
	"time"

	"rowbell/engine"
)

// Ledger is one phone's records in a transaction, at one instant. Who the
// grower is is read at once; plots and seasons are read when they are first
// asked for.
//
// Whatever changes a season also withdraws the texts about that plot that
// were not sent yet, and has the bell look at the plot again.
type Ledger struct {
	tx    *Tx
	phone Phone
	now   int64
	place *readyPlace

	id       int64 // 0 = no records
	language string
	stopped  bool
	seenAt   int64
	former   Phone  // see Former
	channel  string // see Via

	unreachable bool // a network knows no phone of this number

	household string // as the database has it
	hasHours  bool   // there may be passes with hours

	plots     []plotRow // open plots by number
	plotsRead bool
	passes    map[int64][]engine.Pass // by plot id
	sightings map[int64][]engine.Sighting
	worked    []workedRow // passes with hours of all plots, also closed ones; nil = not read
}

const (
	sqlGrower = `SELECT g.id, g.language, g.stopped_at IS NOT NULL, g.seen_at, g.household, g.has_hours, g.unreachable_at IS NOT NULL, ` + placeColumns + `
	FROM grower g JOIN place pl ON pl.id = g.place_id WHERE g.phone = ` + asText
	sqlOptedOut = `SELECT at FROM opt_out WHERE hash = $1`
)

// Ledger opens the records of a phone. A phone without records has the
// default place.
func (tx *Tx) Ledger(phone Phone, now int64) (*Ledger, error) {
	l := &Ledger{tx: tx, phone: phone, now: now}
	var row placeRow
	known, err := tx.one(sqlGrower, args(phone.E164()), append(args(&l.id, &l.language, &l.stopped, &l.seenAt, &l.household, &l.hasHours, &l.unreachable), row.into()...)...)
	if err == nil && !known {
		var at int64
		if l.stopped, err = tx.one(sqlOptedOut, args(l.hash()), &at); err == nil {
			_, err = tx.one(sqlDefaultPlace, nil, row.into()...)
		}
	}
	if err != nil {
		return nil, fail("ledger", err)
	}
	l.place, err = tx.s.places.place(row)
	return l, err
}

// hash is the phone's name in opt_out: without the key, which never leaves
// the database, numbers cannot be tried against it.
func (l *Ledger) hash() []byte { return l.tx.hash(l.phone) }

func (tx *Tx) hash(phone Phone) []byte {
	mac := hmac.New(sha256.New, tx.s.hashKey)
	mac.Write([]byte(phone.E164()))
	return mac.Sum(nil)
}

// Phone is whose ledger it is.
func (l *Ledger) Phone() Phone { return l.phone }

// GrowerID is the id of the records; 0 if there are none.
func (l *Ledger) GrowerID() int64 { return l.id }

// Zone is the time zone of the grower's place.
func (l *Ledger) Zone() *time.Location { return l.place.loc }

// MorningHour is the hour from which the grower may get texts.
func (l *Ledger) MorningHour() int { return l.place.MorningHour }

// Today is the civil day in the grower's place.
func (l *Ledger) Today() engine.Day { return l.place.today(l.now) }

// Known reports that the grower consented and records exist.
func (l *Ledger) Known() bool { return l.id != 0 }

// Language is the grower's, "" until chosen.
func (l *Ledger) Language() string { return l.language }

// Stopped reports that this phone wants no texts. It outlives the records.
func (l *Ledger) Stopped() bool { return l.stopped }

const sqlSetLanguage = `UPDATE grower SET language = $1 WHERE id = $2`

// SetLanguage changes the language of what the grower reads.
func (l *Ledger) SetLanguage(language string) error {
	if !l.Known() {
		return ErrUnknown
	}
	if _, err := l.tx.exec(sqlSetLanguage, language, l.id); err != nil {
		return fail("set language", err)
	}
	if l.language == language {
		return nil
	}
	l.language = language
	return l.decided(consentLanguage)
}

const sqlVisit = `UPDATE grower SET seen_at = $1 WHERE id = $2`

// Visit notes that the grower was heard of, to the day. On a number that has
// been silent it waits for Confirm: it may be somebody else. Who is heard of can
// be reached.
func (l *Ledger) Visit() error {
	const day = 24 * 60 * 60
	if err := l.reached(); err != nil {
		return err
	}
	if !l.Known() || l.Silent() || l.now < l.seenAt+day {
		return nil
	}
	l.seenAt = l.now
	_, err := l.tx.exec(sqlVisit, l.now, l.id)
	return fail("visit", err)
}

const (
	sqlOptOut = `INSERT INTO opt_out (hash, at) VALUES ($1, $2) ON CONFLICT (hash) DO NOTHING`
	sqlOptIn  = `DELETE FROM opt_out WHERE hash = $1`
	sqlStop   = `UPDATE grower SET stopped_at = $1 WHERE id = $2 AND stopped_at IS NULL`
	sqlStart  = `UPDATE grower SET stopped_at = NULL WHERE id = $1`
	// Plots of a grower who stopped are out of the bell's sight, not skipped at each look.
	sqlUnwatch = `UPDATE plot SET look_at = NULL WHERE grower_id = $1`
	sqlWatch   = `UPDATE plot SET look_at = $1 WHERE grower_id = $2 AND closed_day IS NULL`
)

// Stop ends all texts: those in the outbox are withdrawn, and the prompt is
// dropped. It also holds for a phone without records.
func (l *Ledger) Stop() error {
	err := errors.Join(
		l.do(sqlOptOut, l.hash(), l.now),
		l.do(sqlStop, l.now, l.id),
		l.do(sqlUnwatch, l.id),
		l.tx.DropPrompt(l.phone),
	)
	was := l.stopped
	l.stopped = true
	if err == nil {
		_, err = l.tx.withdraw(sqlPendingOfPhone, args(l.phone.E164()), l.now, l.Zone())
	}
	if err == nil && !was {
		err = l.decided(consentStopped)
	}
	return fail("stop", err)
}

// Start welcomes texts again.
func (l *Ledger) Start() error {
	was := l.stopped
	err := l.start()
	if err == nil && was {
		err = l.decided(consentStarted)
	}
	return err
}

func (l *Ledger) start() error {
	err := errors.Join(
		l.do(sqlOptIn, l.hash()),
		l.do(sqlStart, l.id),
		l.do(sqlWatch, l.now, l.id),
	)
	l.stopped = false
	return fail("start", err)
}

const sqlKept = `SELECT (SELECT count(*) FROM plot p WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM plot p JOIN pass x ON x.plot_id = p.id WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM message m WHERE m.grower_id = ` + asID + `)`

// StoredCounts counts the grower's plots of all seasons, the passes on them, and the
// texts, sent or waiting.
func (l *Ledger) StoredCounts() (plots, passes, texts int, err error) {
	_, err = l.tx.one(sqlKept, args(l.id), &plots, &passes, &texts)
	return plots, passes, texts, fail("kept", err)
}

const (
	sqlEraseGrower    = `DELETE FROM grower WHERE phone = $1`
	sqlEraseMessages  = `DELETE FROM message WHERE phone = $1`
	sqlEraseSessions  = `DELETE FROM session WHERE phone = $1`
	sqlEraseCallbacks = `DELETE FROM callback WHERE phone = $1`
)

// Erase removes all that is kept of this phone: records, texts sent and
// waiting, dialogues, prompt, replies kept for repeats, wrong codes. What stays
// is the keyed hash that says it wants no texts, until the grower consents again.
func (l *Ledger) Erase() error {
	err := errors.Join(l.do(sqlOptOut, l.hash(), l.now), l.tx.eraseAll(l.phone))
	if err != nil {
		return fail("erase", err)
	}
	return l.reopen()
}

// eraseAll removes what is kept of a phone; what it wants is not touched.
func (tx *Tx) eraseAll(phone Phone) error {
	for _, query := range []string{sqlEraseMessages, sqlEraseGrower, sqlEraseSessions, sqlEraseCallbacks, sqlDropPrompt} {
		if _, err := tx.exec(query, phone.E164()); err != nil {
			return err
		}
	}
	_, err := tx.exec(sqlEraseTries, tx.hash(phone))
	return err
}

func (l *Ledger) do(query string, a ...any) error {
	_, err := l.tx.exec(query, a...)
	return err
}
