package store

import (
	"errors"
	"time"
)

const (
	// textsNaming selects the texts to the other persons of a circle, present and former, that say the phone number or
	// the name of a person. Only texts about circles are searched for a name, because a short name is a part of words.
	textsNaming = `(replace(m.body, CAST($1 AS TEXT), '') <> m.body
		OR m.kind IN ('circle', 'circle-dial', 'turn') AND replace(m.body, CAST($2 AS TEXT), '') <> m.body)
	AND m.grower_id IN (SELECT x.grower_id FROM circle_member x
		WHERE x.circle_id = CAST($3 AS BIGINT) AND x.id <> CAST($4 AS BIGINT))`
	sqlPendingNaming = `SELECT m.id, m.kind, m.created_at, ` + maybeSent + ` FROM message m
	WHERE m.claim_at IS NOT NULL AND ` + textsNaming
	sqlForgetInTexts = `UPDATE message AS m SET
		body = replace(replace(m.body, CAST($1 AS TEXT), '…'), CAST($2 AS TEXT), '…')
	WHERE ` + textsNaming
	// sqlUntellTurn makes the bell (the reminder job) tell the turn again.
	sqlUntellTurn = `DELETE FROM circle_told WHERE plot_id IN
	(SELECT mp.plot_id FROM message_plot mp WHERE mp.message_id = $1)`
)

// forgetInTexts takes the name and the phone number of a person who is erased out of the texts to the others of the
// circle. Those that may still be sent are withdrawn, and the bell (the reminder job) looks at their plots again.
func (tx *Tx) forgetInTexts(c *openCircle, p *memberRow, now int64) error {
	of := args(p.Phone, p.Name, c.id, p.ID)
	places, err := tx.placesByID([]int64{c.placeID})
	if err != nil {
		return err
	}
	zone := time.UTC
	if place := places[c.placeID]; place != nil {
		zone = place.loc
	}
	list, err := tx.withdraw(sqlPendingNaming, of, now, zone)
	for _, m := range list {
		err = errors.Join(err, tx.do(sqlUntellTurn, m.ID))
	}
	if err == nil {
		err = tx.lookAgain(list, now, 0)
	}
	return errors.Join(err, tx.do(sqlForgetInTexts, of...))
}
