package store

const (
	sqlStoredReply = `SELECT reply FROM callback WHERE gateway = $1 AND key = $2 AND at >= $3`
	sqlStoreReply  = `INSERT INTO callback (gateway, key, phone, reply, at) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (gateway, key) DO UPDATE SET phone = excluded.phone, reply = excluded.reply, at = excluded.at`
)

// StoredReply returns the stored reply to the callback with this key. Replies that were stored before the instant
// since are ignored.
func (tx *Tx) StoredReply(gateway, key string, since int64) (reply []byte, ok bool, err error) {
	ok, err = tx.one(sqlStoredReply, args(gateway, key, since), &reply)
	return reply, ok, fail("stored reply", err)
}

// StoreReply stores the reply to a callback, so that the same reply can be sent if the network repeats the
// callback. Call it in the same transaction as the work of the callback. A repeat then finds both the work and
// the reply, or neither of them. StoreReply replaces a reply that is too old for StoredReply. If the reply
// contains data from the records of a phone, pass that phone, so that Erase also deletes the reply. Otherwise
// pass "".
func (tx *Tx) StoreReply(gateway, key string, phone Phone, reply []byte, now int64) error {
	return fail("store reply", tx.do(sqlStoreReply, gateway, key, orNull(phone.E164()), blob(reply), now))
}
