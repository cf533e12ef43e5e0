package store

import "errors"

const sqlStoredCounts = `SELECT (SELECT count(*) FROM plot p WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM plot p JOIN pass x ON x.plot_id = p.id WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM message m WHERE m.grower_id = ` + asID + `)`

// StoredCounts counts what is stored about the grower: plots of all seasons, passes (weedings) on these plots,
// and texts, whether sent or waiting.
func (l *Ledger) StoredCounts() (plots, passes, texts int, err error) {
	_, err = l.tx.one(sqlStoredCounts, args(l.id), &plots, &passes, &texts)
	return plots, passes, texts, fail("stored counts", err)
}

const (
	sqlEraseGrower    = `DELETE FROM grower WHERE phone = $1`
	sqlWasInCircles   = `SELECT id FROM grower WHERE phone = $1 AND in_circles = 1`
	sqlChargedOfPhone = `SELECT id FROM message WHERE phone = $1 AND claim_at IS NOT NULL AND charge_day IS NOT NULL`
	sqlEraseMessages  = `DELETE FROM message WHERE phone = $1`
	sqlEraseSessions  = `DELETE FROM session WHERE phone = $1`
	sqlEraseCallbacks = `DELETE FROM callback WHERE phone = $1`
)

// Erase deletes everything stored about this phone. Only a keyed hash stays, which blocks texts to this phone until
// the grower consents again.
//
// A new table about people needs a foreign key that cascades (or a line in eraseAll), rows in fullLife of the tests, a
// part in PersonalData, and an entry in Retention.Kinds. TestErasedIsNowhere searches the files for erased data.
func (l *Ledger) Erase() error {
	err := errors.Join(l.do(sqlOptOut, l.hash(), l.now), l.tx.eraseAll(l.phone, l.now))
	if err != nil {
		return fail("erase", err)
	}
	return l.reopen()
}

// eraseAll deletes everything stored about a phone, but stores no STOP. Prune calls it for growers whose records are
// too old, and these growers did not ask for texts to stop. What texts that surely never left have cost is given back.
func (tx *Tx) eraseAll(phone Phone, now int64) error {
	number := phone.E164()
	var id int64
	was, err := tx.one(sqlWasInCircles, args(number), &id)
	if err == nil && was {
		err = tx.forgetPerson(id, now)
	}
	charged, listed := column[int64](tx, sqlChargedOfPhone, args(number))
	err = errors.Join(err, listed)
	for _, text := range charged {
		err = errors.Join(err, tx.giveBackUnsent(text))
	}
	return errors.Join(err, tx.do(sqlEraseMessages, number), tx.do(sqlEraseGrower, number),
		tx.do(sqlEraseSessions, number), tx.do(sqlEraseCallbacks, number), tx.do(sqlDropPrompt, number),
		tx.do(sqlEraseTries, tx.hash(phone)), tx.do(sqlDropExchange, number))
}
