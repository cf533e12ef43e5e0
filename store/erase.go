package store

import "errors"

const sqlStoredCounts = `SELECT (SELECT count(*) FROM plot p WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM plot p JOIN pass x ON x.plot_id = p.id WHERE p.grower_id = ` + asID + `),
	(SELECT count(*) FROM message m WHERE m.grower_id = ` + asID + `)`

// StoredCounts counts what is stored about the grower: plots of all seasons, passes on them, and texts,
// sent or waiting.
func (l *Ledger) StoredCounts() (plots, passes, texts int, err error) {
	_, err = l.tx.one(sqlStoredCounts, args(l.id), &plots, &passes, &texts)
	return plots, passes, texts, fail("stored counts", err)
}

const (
	sqlEraseGrower    = `DELETE FROM grower WHERE phone = $1`
	sqlEraseMessages  = `DELETE FROM message WHERE phone = $1`
	sqlEraseSessions  = `DELETE FROM session WHERE phone = $1`
	sqlEraseCallbacks = `DELETE FROM callback WHERE phone = $1`
)

// Erase deletes everything stored about this phone: records, texts sent and waiting, dialogues, prompt,
// stored replies, wrong codes. The keyed hash that blocks texts to it stays until the grower consents
// again.
//
// TestErasedIsNowhere searches the database file for what was erased. A new table about people needs a
// foreign key that cascades (or a line in eraseAll), rows in that test's fullLife, a part in
// PersonalData and an entry in Retention.Kinds.
func (l *Ledger) Erase() error {
	err := errors.Join(l.do(sqlOptOut, l.hash(), l.now), l.tx.eraseAll(l.phone))
	if err != nil {
		return fail("erase", err)
	}
	return l.reopen()
}

// eraseAll deletes everything stored about a phone, but does not touch whether it wants texts: a grower
// who is erased because of retention gets no STOP that they did not send.
func (tx *Tx) eraseAll(phone Phone) error {
	for _, query := range []string{sqlEraseMessages, sqlEraseGrower, sqlEraseSessions, sqlEraseCallbacks,
		sqlDropPrompt} {
		if _, err := tx.exec(query, phone.E164()); err != nil {
			return err
		}
	}
	_, err := tx.exec(sqlEraseTries, tx.hash(phone))
	return err
}
