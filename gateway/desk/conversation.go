package desk

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"rowbell/gateway"
	"rowbell/store"
)

func (d *Desk) conversationRoutes() []route {
	return []route{
		{"GET /desk/conversation/{grower}", call, growerInPath, d.conversationPage},
		{"POST /desk/conversation/{grower}/again", change, growerInPath, d.sendAgain},
		{"POST /desk/conversation/{grower}/withdraw", change, growerInPath, d.withdraw},
	}
}

type conversationView struct {
	Called  string
	Grower  store.GrowerLine
	Lines   []said
	Waits   []string // what waits, in words
	Earlier string   // address of the page before
	Latest  bool     // this is the last page, which has screens and what waits
	Here    string
}

// said is a text or a screen on the phone.
type said struct {
	at       int64
	When     string
	Screen   bool // shown when the phone dialled; otherwise a text
	Body     string
	Kind     string
	State    string
	ID       int64
	Again    bool // may be sent again
	Withdraw bool // may be withdrawn
}

func (r *request) conversationPath() string { return fmt.Sprint("/desk/conversation/", r.grower.ID) }

// storedPhone returns the number under which the records of a grower are stored, who may have none.
func (r *request) storedPhone(tx *store.Tx) (store.Phone, error) {
	l, err := r.ledger(tx)
	if err != nil {
		return "", err
	}
	return l.Phone(), nil
}

func (d *Desk) conversationPage(r *request) error {
	before, _ := strconv.ParseInt(r.FormValue("before"), 10, 64) // 0, the last page, if it is no number
	var c store.Conversation
	if err := r.view(func(tx *store.Tx) error {
		phone, err := r.storedPhone(tx)
		if err == nil {
			c, err = tx.Conversation(phone, max(before, 0), r.now.Unix())
		}
		return err
	}); err != nil {
		return err
	}
	v := conversationView{Called: r.calledBy(r.grower), Grower: r.grower, Here: r.conversationPath(),
		Latest: before <= 0}
	for _, m := range c.Texts {
		v.Lines = append(v.Lines, r.saidText(m))
	}
	for _, k := range c.Replies {
		if words, more, shown := gateway.KeptScreen(k); shown {
			s := said{at: k.At, When: r.instant(k.At), Screen: true, Body: words}
			if !more {
				s.State = "the call ended with this"
			}
			v.Lines = append(v.Lines, s)
		}
	}
	slices.SortStableFunc(v.Lines, func(a, b said) int { return cmp.Compare(a.at, b.at) })
	v.Waits = r.waits(c)
	if c.Before != 0 {
		v.Earlier = fmt.Sprint(v.Here, "?before=", c.Before)
	}
	return r.page("conversation", "The phone of "+v.Called, v)
}

func (r *request) saidText(m store.Message) said {
	now := r.now.Unix()
	can := r.may(change) && r.grower.StoppedAt == 0 && r.grower.UnreachableAt == 0 && r.grower.UnlinkedAt == 0
	return said{at: cmp.Or(m.AcceptedAt, m.CreatedAt), When: r.instant(cmp.Or(m.AcceptedAt, m.CreatedAt)), Body: m.Text,
		Kind: textKind(m), State: stateOf(m, r.instant), ID: m.ID, Again: can && m.MayResend(true, now),
		Withdraw: r.may(change) && m.State == store.Queued}
}

// stateWords says what became of a text.
var stateOfText = map[store.State]string{
	store.Queued: "waits", store.Claimed: "is being sent", store.Accepted: "sent", store.Delivered: "delivered",
	store.Refused: "refused", store.Expired: "not sent in time", store.Withdrawn: "withdrawn",
	store.Unknown: "perhaps sent",
}

func stateOf(m store.Message, instant func(int64) string) string {
	words := stateOfText[m.State]
	switch {
	case m.State == store.Queued:
		words += ", due " + instant(m.DueAt) + ", useful until " + instant(m.UsefulUntil)
	case m.EndedAt != 0 && m.State != store.Delivered:
		words += " on " + instant(m.EndedAt)
	}
	if m.Reason != "" {
		words += ": " + m.Reason
	}
	return words
}

// waits lists what waits for this phone besides texts.
func (r *request) waits(c store.Conversation) (list []string) {
	for _, d := range c.Dialogues {
		list = append(list, fmt.Sprintf("A dialogue by %s is unfinished since %s. It can be gone on with until %s.",
			map[string]string{"ussd": "dial", "sms": "text"}[d.Channel], r.instant(int64(d.SavedAt)),
			r.instant(int64(d.Until))))
	}
	if q := c.Question; q != nil {
		list = append(list, "A question that one digit answers was asked on "+r.instant(int64(q.AskedAt))+
			". It can be answered until "+r.instant(int64(q.Until))+".")
	}
	if e := c.Exchange; e != nil {
		words := "The last text from this phone came on " + r.instant(int64(e.LastTextAt)) + "."
		if e.NotUnderstood > 0 {
			words += " " + plural(e.NotUnderstood, "text", "texts") + " in a row could not be understood."
		}
		if int64(e.LeftAloneUntil) > r.now.Unix() {
			words += " It gets no answers until " + r.instant(int64(e.LeftAloneUntil)) + "."
		}
		list = append(list, words)
	}
	return list
}

func (d *Desk) sendAgain(r *request) error {
	id, _ := strconv.ParseInt(r.form.text("text"), 10, 64) // 0, which no text has, if it is no number
	return r.afterText(r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		if err != nil {
			return err
		}
		if err := l.SendTextAgain(id); err != nil {
			return err
		}
		return tx.Trail(r.about(r.entry("sent a text again", fmt.Sprint("text ", id), "", "")))
	}), "The text is sent again.")
}

func (d *Desk) withdraw(r *request) error {
	id, _ := strconv.ParseInt(r.form.text("text"), 10, 64) // 0, which no text has, if it is no number
	return r.afterText(r.write(func(tx *store.Tx) error {
		l, err := r.ledger(tx)
		if err != nil {
			return err
		}
		if err := l.WithdrawText(id, "withdrawn by staff"); err != nil {
			return err
		}
		return tx.Trail(r.about(r.entry("withdrew a text", fmt.Sprint("text ", id), "", "")))
	}), "The text is withdrawn.")
}

// afterText answers after a change of a text, whose error is err.
func (r *request) afterText(err error, note string) error {
	switch {
	case errors.Is(err, store.ErrNoText):
		return errNotFound
	case errors.Is(err, store.ErrNotWaiting):
		note = "The text does not wait any more: a network has it. Nothing was changed."
	case errors.Is(err, store.ErrNotAgain):
		note = "This text cannot be sent again: its time is over, or it was sent again already."
	case err != nil:
		return err
	}
	return r.to(r.conversationPath(), note)
}
