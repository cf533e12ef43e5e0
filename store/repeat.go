package store

const (
	sqlStoredReply = `SELECT reply FROM callback WHERE gateway = $1 AND key = $2 AND at >= $3`
	sqlStoreReply  = `INSERT INTO callback (gateway, key, phone, reply, at) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (gateway, key) DO UPDATE SET phone = excluded.phone, reply = excluded.reply, at = excluded.at`
)

// StoredReply returns the reply to the callback with this key, if it was stored at since or later.
func (tx *Tx) StoredReply(gateway, key string, since int64) (reply []byte, ok bool, err error) {
	ok, err = tx.one(sqlStoredReply, args(gateway, key, since), &reply)
	return reply, ok, fail("stored reply", err)
}

// StoreReply stores the reply to a callback, so that a repeat of the callback gets the same reply. Call it
// in the transaction that does the callback's work: a repeat then finds both the work and the reply, or
// neither. It replaces a reply that is too old for StoredReply. phone is the phone whose records the reply
// may tell, so that Erase deletes the reply; "" if it tells nobody's.
func (tx *Tx) StoreReply(gateway, key string, phone Phone, reply []byte, now int64) error {
	_, err := tx.exec(sqlStoreReply, gateway, key, orNull(phone.E164()), blob(reply), now)
	return fail("store reply", err)
}
