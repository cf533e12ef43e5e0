package store

const (
	sqlStoredReply = `SELECT reply FROM callback WHERE gateway = $1 AND key = $2 AND at >= $3`
	sqlStoreReply  = `INSERT INTO callback (gateway, key, phone, reply, at) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (gateway, key) DO UPDATE SET phone = excluded.phone, reply = excluded.reply, at = excluded.at`
)

// StoredReply returns the reply that was stored for the callback with this key at the instant since or later.
func (tx *Tx) StoredReply(gateway, key string, since int64) (reply []byte, ok bool, err error) {
	ok, err = tx.one(sqlStoredReply, args(gateway, key, since), &reply)
	return reply, ok, fail("stored reply", err)
}

// StoreReply stores the reply to a callback, for the case that the network repeats the callback. Call it in the
// transaction that does the work of the callback, so that a repeated callback finds the work done and the reply
// stored, or neither of the two. Pass the phone whose records the reply shows, so that Erase also deletes the reply;
// pass "" if the reply shows no records.
func (tx *Tx) StoreReply(gateway, key string, phone Phone, reply []byte, now int64) error {
	return fail("store reply", tx.do(sqlStoreReply, gateway, key, orNull(phone.E164()), blob(reply), now))
}
