package store

const (
	// A reply that shows records is stored under the phone, any other under ''. If there are both, the one under the
	// phone is the later one: whatever deletes or unlinks the records also deletes the replies under the phone.
	sqlStoredReply = `SELECT reply FROM callback
	WHERE phone IN (` + asText + `, '') AND gateway = CAST($2 AS TEXT) AND key = CAST($3 AS TEXT)
		AND at >= $4 ORDER BY phone DESC LIMIT 1`
	sqlStoreReply = `INSERT INTO callback (phone, gateway, key, reply, at) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (phone, gateway, key) DO UPDATE SET reply = excluded.reply, at = excluded.at`
)

// StoredReply returns the reply that was stored for the callback of a phone with this key at the instant since or
// later.
func (tx *Tx) StoredReply(gateway, key string, phone Phone, since int64) (reply []byte, ok bool, err error) {
	if err := tx.Lock(phone); err != nil {
		return nil, false, err
	}
	ok, err = tx.one(sqlStoredReply, args(phone.E164(), gateway, key, since), &reply)
	if ok {
		err = tx.confirm()
	}
	return reply, ok, fail("stored reply", err)
}

// StoreReply stores the reply to a callback, for the case that the network repeats the callback. Call it in the
// transaction that does the work of the callback, so that a repeated callback finds the work done and the reply
// stored, or neither of the two. Pass the phone whose records the reply shows, so that Erase also deletes the reply;
// pass "" if the reply shows no records.
func (tx *Tx) StoreReply(gateway, key string, phone Phone, reply []byte, now int64) error {
	return fail("store reply", tx.do(sqlStoreReply, phone.E164(), gateway, key, blob(reply), now))
}
