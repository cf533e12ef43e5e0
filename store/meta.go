package store

import "rowbell/engine"

// These are the keys of the table meta.
const (
	metaHashKey       = "opt-out key"
	metaTokenHash     = "token hash: " // the gateway's name follows
	metaRoutePrefixes = "lanes"
	metaSending       = "sending held"
	metaPractice      = "practice began"
	metaReloadAsked   = "reload asked"
)

const (
	sqlMeta    = `SELECT value FROM meta WHERE key = $1`
	sqlSetMeta = `INSERT INTO meta (key, value) VALUES ($1, $2) ON CONFLICT (key) DO UPDATE SET value = excluded.value`
)

func (tx *Tx) meta(key string) (value []byte, ok bool, err error) {
	ok, err = tx.one(sqlMeta, args(key), &value)
	return value, ok, fail("meta", err)
}

func (tx *Tx) setMeta(key string, value []byte) error {
	return fail("meta", tx.do(sqlSetMeta, key, blob(value)))
}

// TokenHash returns the hash of the gateway's bearer token. The result ok is false if no token was set. Of several
// processes that read it in order to set it, one does so at a time.
func (tx *Tx) TokenHash(gateway string) (hash []byte, ok bool, err error) {
	if err := tx.lock(lockTokens); err != nil {
		return nil, false, err
	}
	return tx.meta(metaTokenHash + gateway)
}

// SetTokenHash stores the hash of the gateway's bearer token. The token itself is never stored.
func (tx *Tx) SetTokenHash(gateway string, hash []byte) error {
	return tx.setMeta(metaTokenHash+gateway, hash)
}

// PracticeBegan returns the first day of practice. The result ok is false for the records of real growers.
func (tx *Tx) PracticeBegan() (first engine.Day, ok bool, err error) {
	value, ok, err := tx.meta(metaPractice)
	if err != nil || !ok {
		return 0, false, err
	}
	first, err = engine.ParseDay(string(value))
	return first, true, fail("practice", err)
}

// SetPracticeBegan marks the records as those of practice with invented growers.
func (tx *Tx) SetPracticeBegan(first engine.Day) error {
	return tx.setMeta(metaPractice, []byte(first.String()))
}

// ReloadDone is the answer of a process to a request to read its configuration anew.
type ReloadDone struct {
	ID      string   `json:"id,omitempty"` // of the request
	Wrong   string   `json:"wrong,omitempty"`
	Restart []string `json:"restart,omitempty"` // settings that a restart changes
}

// AskReload asks each service that has these records open to read its configuration anew. They answer with the id of
// the request; see Processes.
func (tx *Tx) AskReload(id string) error { return tx.setMeta(metaReloadAsked, []byte(id)) }

// ReloadAsked returns the id of the last request; "" if there was none.
func (tx *Tx) ReloadAsked() (id string, err error) {
	b, _, err := tx.meta(metaReloadAsked)
	return string(b), err
}
