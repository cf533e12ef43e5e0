package store

import "encoding/json"

// ReloadDone is the answer of the service to a request to read its configuration anew.
type ReloadDone struct {
	ID      string   `json:"id"` // of the request
	Wrong   string   `json:"wrong,omitempty"`
	Restart []string `json:"restart,omitempty"` // settings that a restart changes
}

// AskReload asks the service that has these records open to read its configuration anew. The service answers with the
// id of the request.
func (tx *Tx) AskReload(id string) error { return tx.setMeta(metaReloadAsked, []byte(id)) }

// ReloadAsked returns the id of the last request; "" if there was none.
func (tx *Tx) ReloadAsked() (id string, err error) {
	b, _, err := tx.meta(metaReloadAsked)
	return string(b), err
}

// AnswerReload stores the answer of the service.
func (tx *Tx) AnswerReload(done ReloadDone) error {
	b, err := json.Marshal(done)
	if err != nil {
		return fail("answer reload", err)
	}
	return tx.setMeta(metaReloadDone, b)
}

// ReloadAnswer returns the last answer of the service.
func (tx *Tx) ReloadAnswer() (done ReloadDone, err error) {
	b, ok, err := tx.meta(metaReloadDone)
	if err == nil && ok {
		err = fail("reload answer", json.Unmarshal(b, &done))
	}
	return done, err
}
