package store

import "fmt"

// What an operator's watch asks of the records, beside Stats.

const (
	metaCheckedAt     = "checked at"
	sqlNewestCallback = `SELECT coalesce(max(at), 0) FROM callback`
	sqlNewestMessage  = `SELECT created_at FROM message WHERE id = (SELECT max(id) FROM message)`
	sqlBehind         = `SELECT pl.zone, pl.morning_hour, min(p.look_at) FROM plot p
	JOIN grower g ON g.id = p.grower_id JOIN place pl ON pl.id = g.place_id
	WHERE p.look_at <= $1 AND g.stopped_at IS NULL AND g.unlinked_at IS NULL
	GROUP BY pl.id, pl.zone, pl.morning_hour`
)

// MarkWritable writes down that the records took a write at this instant. It is what
// finds out that they do not. Each mark differs from the one before: SQLite
// does not write what is there already.
func (tx *Tx) MarkWritable(now int64) error {
	return tx.setMeta(metaCheckedAt, fmt.Appendf(nil, "%d/%d", now, tx.s.marks.Add(1)))
}

// Newest is the newest instant of which the records tell that something
// happened: a callback came, a text was written. 0 is none.
func (tx *Tx) Newest() (int64, error) {
	var callback, message int64
	_, err := tx.one(sqlNewestCallback, nil, &callback)
	if err == nil {
		_, err = tx.one(sqlNewestMessage, nil, &message)
	}
	return max(callback, message), fail("newest", err)
}

// OverduePlace is a place with plots that the bell should have looked at.
type OverduePlace struct {
	Zone        string
	MorningHour int
	Oldest      int64 // when the one that waits longest was due
}

// OverduePlaces lists the places with plots that were due at this instant or before
// and have not been looked at.
func (tx *Tx) OverduePlaces(at int64) ([]OverduePlace, error) {
	var list []OverduePlace
	err := tx.each(sqlBehind, args(at), func(scan func(...any) error) error {
		var b OverduePlace
		err := scan(&b.Zone, &b.MorningHour, &b.Oldest)
		list = append(list, b)
		return err
	})
	return list, fail("behind", err)
}

// CodesBlocked reports that so many wrong codes were typed on this day (UTC) that
// the codes of all growers are worth nothing until the next.
func (tx *Tx) CodesBlocked(now int64) (bool, error) {
	var wrong int
	_, err := tx.one(sqlWrongOfAll, args(codeDay(now)), &wrong)
	return wrong >= wrongCodesOfAll, fail("codes", err)
}
