package store

import (
	"fmt"

	"rowbell/engine"
)

// State says how far the sending of a message has come.
type State string

const (
	Queued    State = "queued"    // waits for its first try or for another try
	Claimed   State = "claimed"   // a network is sending the text, until the lease ends
	Accepted  State = "accepted"  // the network took the text
	Delivered State = "delivered" // the phone received the text
	Refused   State = "refused"   // the network, or a later receipt, said that the text will not be sent
	Expired   State = "expired"   // the useful time ended before a network took the text, or before the phone got it
	Withdrawn State = "withdrawn" // the service does not want to send the text any more
	Unknown   State = "unknown"   // a network may have taken the text, so the text is not tried again
)

func (s State) String() string { return string(s) }

// Message is one text in the outbox.
type Message struct {
	ID          int64
	Key         string  // identifies the decision to write the text; no second text ever has the same key
	GrowerID    int64   // 0 if the phone has no records
	PlotIDs     []int64 // plots of the grower whose phone is To
	To          Phone
	Reminder    engine.Kind // kind of reminder; 0 if the text is an answer or a note
	Note        string      // kind of an answer or a note, such as "reply" or "stop"; "" if the text is a reminder
	Text        string
	CreatedAt   int64
	DueAt       int64
	UsefulUntil int64 // last second in which the text may be sent, in Unix seconds
	State       State
	Tries       int
	NetworkID   string
	Reason      string
	AcceptedAt  int64 // when a network accepted the text; 0 if none has
	EndedAt     int64

	// ReplyBy is the network by which the text is tried at first, although its number may have another route: the
	// network that brought the text which this one answers. "" means that the routes decide.
	ReplyBy   string
	Gateway   string // the network to which the text was last handed
	MaybeSent bool   // true if the network Gateway may have taken the text

	once    bool // true if the network is not idempotent, see Claimant.AtMostOnce
	begun   bool // true if the network may have the text since it was claimed, see Begin
	charged bool
}

// Kind returns what the text is, such as "reply" or a kind of reminder. The column kind stores this value.
func (m Message) Kind() string {
	if m.Reminder != 0 {
		return m.Reminder.String()
	}
	return m.Note
}

// kindColumn receives the value of the column kind.
type kindColumn Message

// Scan sets the field Reminder or the field Note of the message.
func (m *kindColumn) Scan(value any) error {
	name, _ := value.(string)
	if reminder, ok := engine.ParseKind(name); ok {
		m.Reminder = reminder
	} else {
		m.Note = name
	}
	return nil
}

// Answers are claimed before reminders and letters, because a person waits for an answer.
const (
	urgencyAnswer   = 0
	urgencyReminder = 1
)

func (m Message) urgency() int {
	if m.Reminder != 0 || m.Note == LetterNote {
		return urgencyReminder
	}
	return urgencyAnswer
}

const (
	enqueuedColumns = `key, grower_id, phone, kind, body, created_at, due_at, useful_until, claim_at, urgency, lane,
		back`
	sqlEnqueue = `INSERT INTO message (` + enqueuedColumns + `)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $7, $9, $10, $11)
	ON CONFLICT (key) DO NOTHING`
	sqlLinkPlot = `INSERT INTO message_plot (message_id, plot_id) VALUES ($1, $2) ON CONFLICT DO NOTHING`
)

// check reports a text that is neither a reminder nor a note.
func (m *Message) check() error {
	if _, known := engine.ParseKind(m.Kind()); known != (m.Reminder != 0) || m.Reminder != 0 && m.Note != "" {
		return fmt.Errorf("%q (reminder %d, note %q) is neither a reminder nor a note", m.Kind(), m.Reminder, m.Note)
	}
	return nil
}

// Enqueue puts a text in the outbox, unless the outbox ever had a text with the same key. If it had
// one, nothing is stored and fresh is false.
func (tx *Tx) Enqueue(m Message) (fresh bool, err error) {
	if err := m.check(); err != nil {
		return false, fail("enqueue", err)
	}
	id, fresh, err := tx.insert(sqlEnqueue, m.Key, orNull(m.GrowerID), m.To.E164(), m.Kind(), m.Text,
		m.CreatedAt, m.DueAt, m.UsefulUntil, m.urgency(), tx.s.routePrefixOf(m.To.E164()), m.ReplyBy)
	if err != nil || !fresh {
		return false, fail("enqueue", err)
	}
	for _, plot := range m.PlotIDs {
		if err := tx.do(sqlLinkPlot, id, plot); err != nil {
			return false, fail("enqueue", err)
		}
	}
	return true, nil
}

const messageColumns = `id, key, coalesce(grower_id, 0), phone, kind, body, created_at, due_at,
	useful_until, state, tries, coalesce(network_id, ''), reason,
	coalesce(accepted_at, 0), coalesce(ended_at, 0), gateway, doubt, once, begun, charge_day IS NOT NULL, back`

func (tx *Tx) messages(query string, a ...any) ([]Message, error) {
	return rows(tx, query, a, func(m *Message) []any {
		return args(&m.ID, &m.Key, &m.GrowerID, &m.To, (*kindColumn)(m), &m.Text, &m.CreatedAt, &m.DueAt,
			&m.UsefulUntil, &m.State, &m.Tries, &m.NetworkID, &m.Reason, &m.AcceptedAt, &m.EndedAt,
			&m.Gateway, &m.MaybeSent, &m.once, &m.begun, &m.charged, &m.ReplyBy)
	})
}

const sqlInbox = `SELECT ` + messageColumns + ` FROM message WHERE phone = ` + asText + ` AND id > $2 ORDER BY id`

// Inbox returns the texts to a phone with ids greater than since, oldest first. Texts in every state are included.
func (tx *Tx) Inbox(phone Phone, since int64) ([]Message, error) {
	list, err := tx.messages(sqlInbox, phone.E164(), since)
	return list, fail("inbox", err)
}
