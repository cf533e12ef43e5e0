package store

import (
	"crypto/hmac"
	"crypto/sha256"
	"time"

	"rowbell/engine"
)

// Ledger gives access to the records of one phone in a transaction, at one instant. Plots and seasons are read when
// they are first needed.
//
// A change of a season also withdraws the unsent texts about its plot, and makes the bell (the reminder job) look at
// the plot again.
type Ledger struct {
	tx    *Tx
	phone Phone
	now   int64
	place *readyPlace

	id       int64 // 0 if the phone has no records
	language string
	stopped  bool
	seenAt   int64
	sentAt   int64  // set by the method SentAt; 0: the entry is of now
	former   Phone  // result of the method Former
	channel  string // set by the method Via

	unreachable bool // true if a network reported that the number does not exist

	household string // JSON of the type household
	hasHours  bool   // false if the grower surely logged no hours

	circleID  int64 // of which the grower is a member or has asked to be one; 0: none
	inCircles bool  // false if no person of any circle is this grower
	quietFrom int   // see QuietFrom; 0: texts never wait

	plots     []plotRow // the open plots, ordered by number
	plotsRead bool
	history   *history    // of the open plots; nil if not read yet
	worked    []workedRow // passes with hours on all plots, even closed ones; nil if not read yet
}

const (
	sqlGrower = `SELECT g.id, g.language, g.stopped_at IS NOT NULL, g.seen_at, g.household, g.has_hours,
		g.unreachable_at IS NOT NULL, coalesce(g.circle_id, 0), g.in_circles, ` + placeColumns + `
	FROM grower g JOIN place pl ON pl.id = g.place_id WHERE g.phone = ` + asText
	sqlOptedOut = `SELECT at FROM opt_out WHERE hash = $1`
)

// Ledger opens the records of a phone. If the phone has no records, the default place is used.
func (tx *Tx) Ledger(phone Phone, now int64) (*Ledger, error) {
	if err := tx.Lock(phone); err != nil {
		return nil, err
	}
	l := &Ledger{tx: tx, phone: phone, now: now}
	var row placeRow
	known, err := tx.one(sqlGrower, args(phone.E164()), append(l.into(), row.into()...)...)
	if err == nil && !known {
		_, err = tx.one(sqlDefaultPlace, nil, row.into()...)
	}
	if err != nil {
		return nil, fail("ledger", err)
	}
	return l.opened(row)
}

// into returns pointers to the fields that sqlGrower reads before the place.
func (l *Ledger) into() []any {
	return args(&l.id, &l.language, &l.stopped, &l.seenAt, &l.household, &l.hasHours, &l.unreachable,
		&l.circleID, &l.inCircles)
}

// opened completes a ledger whose grower was read, with the row of the place.
func (l *Ledger) opened(row placeRow) (_ *Ledger, err error) {
	if !l.Known() {
		var at int64
		if l.stopped, err = l.tx.one(sqlOptedOut, args(l.hash()), &at); err != nil {
			return nil, fail("ledger", err)
		}
	}
	l.place, err = l.tx.s.places.place(row)
	return l, err
}

// hash returns the keyed hash that is stored instead of a phone number.
func (l *Ledger) hash() []byte { return l.tx.hash(l.phone) }

func (tx *Tx) hash(phone Phone) []byte { return tx.keyedHash(phone.E164()) }

// keyedHash returns the hash of a text with the key of the database. The key never leaves the database. Without the
// key, nobody can find a number by hashing all possible numbers.
func (tx *Tx) keyedHash(text string) []byte {
	mac := hmac.New(sha256.New, tx.s.hashKey)
	mac.Write([]byte(text))
	return mac.Sum(nil)
}

// Phone returns the phone number of the ledger.
func (l *Ledger) Phone() Phone { return l.phone }

// GrowerID returns the id of the grower's records, or 0 if the phone has no records.
func (l *Ledger) GrowerID() int64 { return l.id }

// PlaceID returns the id of the grower's place.
func (l *Ledger) PlaceID() int64 { return l.place.ID }

// Zone returns the time zone of the grower's place.
func (l *Ledger) Zone() *time.Location { return l.place.loc }

// MorningHour returns the hour of the day, in the time zone Zone, from which the grower may get texts.
func (l *Ledger) MorningHour() int { return l.place.MorningHour }

// SaidOn returns the calendar day on which the grower wrote the entry. It is Today unless SentAt set another day.
func (l *Ledger) SaidOn() engine.Day {
	if l.sentAt == 0 {
		return l.Today()
	}
	return l.place.today(l.sentAt)
}

// SentAt sets the instant at which the grower wrote the text that is read now, which must not be in the future.
func (l *Ledger) SentAt(at int64) { l.sentAt = at }

// Today returns the current calendar day in the time zone Zone.
func (l *Ledger) Today() engine.Day { return l.place.today(l.now) }

// Known reports whether the phone has records. It has records only if the grower consented.
func (l *Ledger) Known() bool { return l.id != 0 }

// Language returns the grower's language, or "" if the grower has not chosen a language.
func (l *Ledger) Language() string { return l.language }

// Stopped reports whether this phone must get no texts. A STOP remains valid after the grower's records are deleted.
func (l *Ledger) Stopped() bool { return l.stopped }

const sqlSetLanguage = `UPDATE grower SET language = $1 WHERE id = $2`

// SetLanguage changes the language in which the grower gets screens and texts.
func (l *Ledger) SetLanguage(language string) error {
	if !l.Known() {
		return ErrUnknown
	}
	if err := l.do(sqlSetLanguage, language, l.id); err != nil {
		return fail("set language", err)
	}
	if l.language == language {
		return nil
	}
	l.language = language
	return l.decided("language")
}

const sqlVisit = `UPDATE grower SET seen_at = $1 WHERE id = $2`

// Visit records when the phone was used, at most once in 24 hours, and removes the mark "unreachable". After 90 days
// without use (see Silent), the number may belong to somebody else: then Visit records no use until Confirm was called.
func (l *Ledger) Visit() error {
	if err := l.reached(); err != nil {
		return err
	}
	if !l.Known() || l.Silent() || l.now < l.seenAt+secondsADay {
		return nil
	}
	l.seenAt = l.now
	return fail("visit", l.do(sqlVisit, l.now, l.id))
}

func (l *Ledger) do(query string, a ...any) error { return l.tx.do(query, a...) }

// Weather returns the weather of the grower's place.
func (l *Ledger) Weather() (engine.Weather, error) {
	daily, err := l.place.measured(l.tx)
	if err != nil {
		return engine.Weather{}, fail("weather", err)
	}
	return engine.Weather{Normals: l.place.Normals, LatitudeDeg: l.place.Latitude, Daily: daily}, nil
}

// Places returns the names of all places, and the index of the grower's place.
func (l *Ledger) Places() (names []string, own int, err error) {
	places, err := l.tx.readyPlaces(sqlPlaces)
	for i, p := range places {
		names = append(names, p.Name)
		if p.ID == l.place.ID {
			own = i
		}
	}
	return names, own, fail("places", err)
}

const sqlMove = `UPDATE grower SET place_id = $1 WHERE id = $2`

// SetPlace moves the grower to another place, and makes the bell (the reminder job) look at the grower's plots again.
// Announced windows stay unchanged until a text moves them. For an unknown place name, SetPlace returns ErrNoPlace.
func (l *Ledger) SetPlace(name string) error {
	if !l.Known() {
		return ErrUnknown
	}
	places, err := l.tx.readyPlaces(sqlPlaceByName, name)
	switch {
	case err != nil:
		return fail("set place", err)
	case len(places) == 0:
		return ErrNoPlace
	}
	l.place = places[0]
	if err := l.do(sqlMove, l.place.ID, l.id); err != nil {
		return fail("set place", err)
	}
	plots, err := l.open()
	for i := range plots {
		if err == nil {
			err = l.changed(&plots[i], false)
		}
	}
	if err == nil {
		err = l.moveCircle()
	}
	return fail("set place", err)
}
