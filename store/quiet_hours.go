package store

import (
	"encoding/json"
	"slices"

	"rowbell/engine"
)

// Only the bell's texts speak of plots; replies and notes are not held. The
// place is compared last: the index on the claim says what is due. One that was
// handed to a network by somebody who is gone may have arrived.
const sqlPendingAtNight = `SELECT m.id, m.kind, m.created_at, m.doubt = 1 OR m.state = 'claimed' FROM message m
	WHERE m.urgency = 1 AND m.claim_at <= $1 AND m.kind IN (SELECT value FROM json_each($2)) AND EXISTS (SELECT 1 FROM message_plot mp WHERE mp.message_id = m.id)
	AND (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) = $3 ORDER BY m.claim_at, m.id LIMIT $4`

// The places that have reminders due. Asked once, whatever waits for later: how
// many places there are does not matter then.
const sqlDueReminders = `SELECT DISTINCT (SELECT g.place_id FROM grower g WHERE g.id = m.grower_id) FROM message m
	WHERE m.urgency = 1 AND m.claim_at <= $1 AND m.grower_id IS NOT NULL`

// quietKinds are the kinds of reminders that are not sent at night, as a JSON array.
var quietKinds = func() string {
	var names []string
	for _, k := range engine.Kinds() {
		if !k.AtNight() {
			names = append(names, k.String())
		}
	}
	b, _ := json.Marshal(names) // strings always encode
	return string(b)
}()

// SuppressAtNight takes back reminders that are due where it is night: from the quiet
// hour until the place's morning. They told nothing, and the bell looks at
// their plots in the morning, to say what is true then. At most limit texts
// are taken back at once; n = limit: there may be more.
func (tx *Tx) SuppressAtNight(now int64, quietHour, limit int) (n int, err error) {
	places, err := tx.readyPlaces()
	places = slices.DeleteFunc(places, func(p *readyPlace) bool { _, night := p.nextMorning(now, quietHour); return !night })
	if err != nil || len(places) == 0 {
		return 0, fail("hush", err)
	}
	due := map[int64]bool{}
	err = tx.each(sqlDueReminders, args(now), func(scan func(...any) error) error {
		var place int64
		err := scan(&place)
		due[place] = true
		return err
	})
	for i := 0; i < len(places) && err == nil && n < limit; i++ {
		p := places[i]
		if !due[p.ID] {
			continue
		}
		morning, _ := p.nextMorning(now, quietHour)
		var list []Message
		if list, err = tx.withdraw(sqlPendingAtNight, args(now, quietKinds, p.ID, limit-n), now, p.loc); err == nil {
			err = tx.lookAgain(list, morning, 0)
		}
		n += len(list)
	}
	return n, fail("hush", err)
}

// nextMorning is the end of the night, if it is night at now.
func (p *readyPlace) nextMorning(now int64, quietHour int) (at int64, night bool) {
	today := p.today(now)
	at = today.At(p.MorningHour, p.loc).Unix()
	if now >= today.At(quietHour, p.loc).Unix() {
		at = (today + 1).At(p.MorningHour, p.loc).Unix()
	}
	return at, now < at
}
