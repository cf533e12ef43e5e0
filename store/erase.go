package store

import "errors"

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
