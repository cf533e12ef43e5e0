package store

import (
	"encoding/json"
	"slices"

	"rowbell/engine"
)

// The query selects reminders only, because answers and notes are also sent at night. The condition on the place is
// last, so that SQLite finds the due texts with the index on claim_at. The fourth column is true if the text may have
// reached the phone.
const sqlPendingInQuietHours = `SELECT m.id, m.kind, m.created_at, ` + maybeSent + `
	FROM message m
	WHERE m.urgency = 1 AND m.claim_at <= $1 AND m.kind IN (SELECT value FROM jsonb_each($2))
		AND EXISTS (SELECT 1 FROM message_plot mp WHERE mp.message_id = m.id)
	AND (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) = $3
	ORDER BY m.claim_at, m.id LIMIT CAST($4 AS BIGINT)`

// sqlDueReminders finds the places with due reminders, letters and texts of circles. Usually there are none.
const sqlDueReminders = `SELECT DISTINCT (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) FROM message m
	WHERE m.urgency = 1 AND m.claim_at <= $1 AND m.grower_id IS NOT NULL
	UNION SELECT (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) FROM message m
	WHERE m.urgency = 0 AND m.claim_at <= $1 AND m.grower_id IS NOT NULL AND m.kind IN (` + ofCircles + `)`

// ofCircles are the kinds of texts about turns, and of questions and answers of other persons. They are written by day,
// and wait for the morning if no network took them until the night.
const ofCircles = `'turn', 'circle'`

// These move texts of letters and of circles that are due in the quiet hours of a place to its morning.
const (
	sqlPutOffLetters = `UPDATE message SET claim_at = $1 WHERE id IN (SELECT m.id FROM message m
	WHERE m.urgency = 1 AND m.claim_at <= $2 AND m.letter_id IS NOT NULL` + ofPlaceQueued
	sqlPutOffOfCircles = `UPDATE message SET claim_at = $1 WHERE id IN (SELECT m.id FROM message m
	WHERE m.urgency = 0 AND m.claim_at <= $2 AND m.kind IN (` + ofCircles + `)` + ofPlaceQueued
	ofPlaceQueued = ` AND m.state = 'queued'
		AND (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) = $3
	LIMIT CAST($4 AS BIGINT))`
)

// quietKinds is a JSON array of the kinds of reminders that must not be sent at night.
var quietKinds = func() string {
	var names []string
	for _, k := range engine.Kinds() {
		if !k.AtNight() {
			names = append(names, k.String())
		}
	}
	b, _ := json.Marshal(names) // a list of strings can always be encoded
	return string(b)
}()

// SuppressAtNight withdraws due reminders in all places where it is night: from the hour quietHour (0 to 23) until the
// place's morning hour. They count as not sent. In the morning the bell (the reminder job) looks at their plots again,
// and writes reminders that are correct then. Due texts of letters and of circles wait for the morning. At most
// limit texts are withdrawn or wait. If n equals limit, there may be more.
func (tx *Tx) SuppressAtNight(now int64, quietHour, limit int) (n int, err error) {
	places, err := tx.readyPlaces(sqlPlaces)
	places = slices.DeleteFunc(places, func(p *readyPlace) bool {
		_, night := p.nextMorning(now, quietHour)
		return !night
	})
	if err != nil || len(places) == 0 {
		return 0, fail("suppress at night", err)
	}
	due, err := column[int64](tx, sqlDueReminders, args(now))
	for i := 0; i < len(places) && err == nil && n < limit; i++ {
		p := places[i]
		if !slices.Contains(due, p.ID) {
			continue
		}
		morning, _ := p.nextMorning(now, quietHour)
		var list []Message
		if list, err = tx.withdraw(sqlPendingInQuietHours, args(now, quietKinds, p.ID, limit-n), now,
			p.loc); err == nil {
			err = tx.lookAgain(list, morning, 0)
		}
		n += len(list)
		for _, query := range []string{sqlPutOffLetters, sqlPutOffOfCircles} {
			if err == nil && n < limit {
				var off int64
				off, err = tx.exec(query, morning, now, p.ID, limit-n)
				n += int(off)
			}
		}
	}
	return n, fail("suppress at night", err)
}

// nextMorning reports whether it is night at the instant now, and returns when the night ends.
func (p *readyPlace) nextMorning(now int64, quietHour int) (at int64, night bool) {
	today := p.today(now)
	at = today.At(p.MorningHour, p.loc).Unix()
	if now >= today.At(quietHour, p.loc).Unix() {
		at = (today + 1).At(p.MorningHour, p.loc).Unix()
	}
	return at, now < at
}
