package store

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Conversation is what is stored of the talk with a phone: the texts to it, the screens that it was shown lately, and
// what waits. What growers type and write is not stored, so it is not in here: see what their records became by it.
type Conversation struct {
	Texts     []Message // oldest first
	Replies   []KeptReply
	Dialogues []PersonDialogue // unfinished ones
	Question  *PersonQuestion  // that one digit answers; nil: none
	Exchange  *PersonExchange  // nil: no text came lately
	Before    int64            // id for the page of the texts before; 0: there is none
}

// KeptReply is a reply to a callback of a phone, which is stored for a while in case the callback comes again.
type KeptReply struct {
	Gateway string
	Key     string // its beginning says what the callback was
	Body    []byte // written and read only by the package gateway
	At      int64
}

const (
	conversationPage = 50
	sqlTextsBefore   = `SELECT ` + messageColumns + ` FROM message
	WHERE phone = ` + asText + ` AND id < $2 ORDER BY id DESC LIMIT CAST($3 AS BIGINT)`
	sqlKeptReplies = `SELECT gateway, key, reply, at FROM callback WHERE phone = ` + asText + ` AND length(reply) > 0
	ORDER BY at DESC, key LIMIT CAST($2 AS BIGINT)`
	maxKeptReplies = 100
)

// Conversation returns the last texts before the text with the id before, at most fifty; 0 is for the last of all. Only
// then it returns the other fields too.
func (tx *Tx) Conversation(phone Phone, before, now int64) (c Conversation, err error) {
	last := cmp.Or(before, int64(1)<<62)
	c.Texts, err = tx.messages(sqlTextsBefore, phone.E164(), last, conversationPage+1)
	if len(c.Texts) > conversationPage {
		c.Texts = c.Texts[:conversationPage]
		c.Before = c.Texts[conversationPage-1].ID
	}
	slices.Reverse(c.Texts)
	if err != nil || before != 0 {
		return c, fail("conversation", err)
	}
	var errs [4]error
	c.Replies, errs[0] = rows(tx, sqlKeptReplies, args(phone.E164(), maxKeptReplies), func(r *KeptReply) []any {
		return args(&r.Gateway, &r.Key, &r.Body, &r.At)
	})
	slices.Reverse(c.Replies)
	c.Dialogues, errs[1] = rows(tx, sqlPersonDialogues, args(phone.E164()), func(t *PersonDialogue) []any {
		return args(&t.Channel, &t.SavedAt, &t.Until)
	})
	c.Dialogues = slices.DeleteFunc(c.Dialogues, func(d PersonDialogue) bool { return int64(d.Until) <= now })
	asked, waits, err := tx.Prompt(phone)
	errs[2] = err
	if waits && asked.Until >= now {
		c.Question = &PersonQuestion{Instant(asked.AskedAt), Instant(asked.Until)}
	}
	e, err := tx.Exchange(phone)
	errs[3] = err
	if e.At != 0 {
		c.Exchange = &PersonExchange{Instant(e.At), e.Fruitless, e.Answers, Instant(e.Until)}
	}
	return c, fail("conversation", errors.Join(errs[:]...))
}

// Why a text cannot be withdrawn or sent again.
var (
	ErrNoText     = errors.New("store: there is no such text to this grower")
	ErrNotWaiting = errors.New("store: the text does not wait any more")
	ErrNotAgain   = errors.New("store: the text cannot be sent again")
)

const (
	sqlTextTo = `SELECT ` + messageColumns + ` FROM message WHERE id = ` + asID + ` AND phone = CAST($2 AS TEXT)`
	// Only a text that no network is sending.
	sqlWithdrawOne = `UPDATE message SET state = CASE WHEN doubt = 1 THEN 'unknown' ELSE 'withdrawn' END,
		claim_at = NULL, held = 0, ended_at = $1, reason = $2 WHERE id = $3 AND state = 'queued'`
)

// TextTo returns a text to a phone by its id; ErrNoText if there is none.
func (tx *Tx) TextTo(phone Phone, id int64) (Message, error) {
	list, err := tx.messages(sqlTextTo, id, phone.E164())
	if err == nil && len(list) == 0 {
		return Message{}, ErrNoText
	}
	if err != nil {
		return Message{}, fail("text", err)
	}
	return list[0], nil
}

// WithdrawText withdraws one waiting text of the grower, because staff decided so, and stores the reason. A reminder
// counts as told, so that the bell does not write it again at once; a window that only it announced may move again. It
// returns ErrNotWaiting if a network has the text already, or is sending it.
func (l *Ledger) WithdrawText(id int64, reason string) error {
	m, err := l.tx.TextTo(l.phone, id)
	if err != nil {
		return err
	}
	n, err := l.tx.exec(sqlWithdrawOne, l.now, reason, id)
	switch {
	case err != nil:
		return fail("withdraw text", err)
	case n == 0:
		return ErrNotWaiting
	case m.Reminder.Announces() && !m.MaybeSent:
		return fail("withdraw text", l.do(sqlUnannounce, id))
	}
	return nil
}

// MayResend reports whether SendTextAgain takes a text: one of which nobody knows whether a network took it, or an
// answer or note that a network refused while it is still useful. The bell itself writes anew what it has to say, so
// reminders that were refused or came too late are not sent again.
func (m Message) MayResend(undecided bool, now int64) bool {
	switch {
	case m.UsefulUntil < now:
		return false
	case m.State == Unknown:
		return undecided
	}
	return m.State == Refused && m.Reminder == 0
}

const sqlIsUndecided = `SELECT undecided FROM message WHERE id = ` + asID

// SendTextAgain queues a text of the grower again, if MayResend allows it; otherwise it returns ErrNotAgain. A grower
// who wants no texts, or has no number, gets none.
func (l *Ledger) SendTextAgain(id int64) error {
	m, err := l.tx.TextTo(l.phone, id)
	if err != nil {
		return err
	}
	var undecided bool
	if _, err := l.tx.one(sqlIsUndecided, args(id), &undecided); err != nil {
		return fail("send text again", err)
	}
	if l.stopped || l.unreachable || withoutNumber(l.phone) || !m.MayResend(undecided, l.now) {
		return ErrNotAgain
	}
	if m.State == Unknown {
		again, err := l.tx.SendAgain(id, l.now)
		if err == nil && !again {
			err = ErrNotAgain
		}
		return err
	}
	// The key holds the id, so that a text is sent again once, even if two people press the button.
	fresh, err := l.tx.Enqueue(Message{Key: fmt.Sprintf("again/%d", id), GrowerID: l.id, To: l.phone, Note: m.Note,
		Text: m.Text, CreatedAt: l.now, DueAt: l.now, UsefulUntil: m.UsefulUntil})
	if err == nil && !fresh {
		err = ErrNotAgain
	}
	return err
}
