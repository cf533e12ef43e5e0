package store

// Session is a dialogue in progress between one phone and the menu, on one channel.
type Session struct {
	Phone     Phone
	Channel   string
	Network   string // the network's id of the session; "" if the network gives none
	State     []byte // written and read only by the package menu
	SavedAt   int64
	ExpiresAt int64
}

const (
	sqlSession     = `SELECT network, state, saved_at, expires_at FROM session WHERE phone = $1 AND channel = $2`
	sqlSaveSession = `INSERT INTO session (phone, channel, network, state, saved_at, expires_at)
	VALUES ($1, $2, $3, $4, $5, $6)
	ON CONFLICT (phone, channel) DO UPDATE SET network = excluded.network, state = excluded.state,
		saved_at = excluded.saved_at, expires_at = excluded.expires_at`
	sqlDropSession = `DELETE FROM session WHERE phone = $1 AND channel = $2`
	sqlEndSession  = `UPDATE session SET network = '' WHERE phone = $1 AND channel = $2 AND network = $3`
)

// Session returns the dialogue of a phone on a channel, or false if none is stored. An expired session may still be
// stored, so the caller must check ExpiresAt.
func (tx *Tx) Session(phone Phone, channel string) (Session, bool, error) {
	s := Session{Phone: phone, Channel: channel}
	if err := tx.Lock(phone); err != nil {
		return s, false, err
	}
	ok, err := tx.one(sqlSession, args(phone.E164(), channel), &s.Network, &s.State, &s.SavedAt, &s.ExpiresAt)
	return s, ok, fail("session", err)
}

// SaveSession stores a dialogue. It replaces the earlier dialogue of the same phone on the same channel.
func (tx *Tx) SaveSession(s Session) error {
	return fail("save session", tx.do(sqlSaveSession, s.Phone.E164(), s.Channel, s.Network, blob(s.State), s.SavedAt,
		s.ExpiresAt))
}

// EndSession records that the network has ended its session with this id. The dialogue stays, and the phone's next call
// may resume it. If the network has meanwhile begun another session, nothing changes.
func (tx *Tx) EndSession(phone Phone, channel, network string) error {
	return fail("end session", tx.do(sqlEndSession, phone.E164(), channel, network))
}

// DropSession deletes the dialogue of a phone on a channel, if there is one.
func (tx *Tx) DropSession(phone Phone, channel string) error {
	return fail("drop session", tx.do(sqlDropSession, phone.E164(), channel))
}

// Prompt is a question that a phone can answer with a text of one digit, until the instant Until.
type Prompt struct {
	Phone   Phone
	Body    []byte // written and read only by the package menu
	AskedAt int64
	Until   int64
}

const (
	sqlPrompt     = `SELECT body, asked_at, until FROM prompt WHERE phone = $1`
	sqlSavePrompt = `INSERT INTO prompt (phone, body, asked_at, until) VALUES ($1, $2, $3, $4) ` + replacePrompt
	replacePrompt = `ON CONFLICT (phone) DO UPDATE SET body = excluded.body, asked_at = excluded.asked_at,
		until = excluded.until`
	sqlDropPrompt = `DELETE FROM prompt WHERE phone = $1`
)

// Prompt returns the prompt of a phone, or false if none is stored. An expired prompt may still be stored, so the
// caller must check Until.
func (tx *Tx) Prompt(phone Phone) (Prompt, bool, error) {
	p := Prompt{Phone: phone}
	if err := tx.Lock(phone); err != nil {
		return p, false, err
	}
	ok, err := tx.one(sqlPrompt, args(phone.E164()), &p.Body, &p.AskedAt, &p.Until)
	return p, ok, fail("prompt", err)
}

// SavePrompt stores a prompt. It replaces the earlier prompt of the same phone.
func (tx *Tx) SavePrompt(p Prompt) error {
	return fail("save prompt", tx.do(sqlSavePrompt, p.Phone.E164(), blob(p.Body), p.AskedAt, p.Until))
}

// DropPrompt deletes the prompt of a phone, if there is one.
func (tx *Tx) DropPrompt(phone Phone) error {
	return fail("drop prompt", tx.do(sqlDropPrompt, phone.E164()))
}
