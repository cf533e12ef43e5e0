package gateway

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"time"

	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// inText is a text from a grower.
type inText struct {
	*item
	phone   store.Phone
	textID  string // the network's id of the text, or of its call
	body    string
	sentAt  time.Time // when the network got the text; zero if that is not known
	key     string    // key of the stored reply; a repeat has the same key; "" = a STOP without an id
	done    bool      // nothing is left to do: the text was sent by us, or is a STOP that was applied before
	queued  bool      // texts were written to the outbox
	stopped bool      // a STOP over a limit was applied
	judge   *textJudge
	reason  string // the judge's reason why the text gets no answer; "" = none
}

// sms handles the texts of a call, usually one. The HTTP response only acknowledges them; package push sends the
// answers later.
func (g *Gateway) sms(ctx context.Context, c *call) (answer, error) {
	at := &c.network.SMS
	items, tooMany, err := g.items(c, at.Call)
	if err != nil {
		return answer{}, err
	}
	texts := g.readTexts(c, items)
	g.admitTexts(c, texts, tooMany)
	var todo []*inText
	var phones []store.Phone
	for _, t := range texts {
		if t.toDo() {
			todo, phones = append(todo, t), append(phones, t.phone)
		}
	}
	if len(todo) > 0 {
		err = g.write(ctx, func(tx *store.Tx) error {
			if err := tx.Lock(phones...); err != nil {
				return err
			}
			for _, t := range todo {
				if err := t.work(tx, func() error { return g.takeText(tx, t) }); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return answer{}, err
		}
	}
	queued := false
	var ids []string
	for _, t := range texts {
		ids = append(ids, t.textID)
		if t.err != nil {
			continue
		}
		queued = queued || t.queued
		if t.stopped {
			g.gate.MarkStopped(t.phone.E164())
		}
		g.logVerdict(t)
	}
	if queued {
		g.o.Queued()
	}
	v, repeat, err := g.result(c, kindSMS, items, ids)
	if tooMany != nil { // also if all texts were STOPs, so that the network learns of its mistake
		err = tooMany
	}
	if err != nil {
		return answer{}, err
	}
	if at.ID.Whole() || !at.Batch() {
		v.ID = cmp.Or(ids...) // an item that cannot be read has no id here
	}
	return render(at.Reply, v, profile.Rendered{Status: http.StatusAccepted}, repeat)
}

// readTexts decodes the texts of a call. A text that cannot be read is refused.
func (g *Gateway) readTexts(c *call, items []*item) []*inText {
	at := &c.network.SMS
	var texts []*inText
	earlier := map[string]string{} // the texts by their keys
	unusable := uint64(0)          // texts whose time is not usable
	for _, i := range items {
		t := &inText{item: i}
		texts = append(texts, t)
		if t.err != nil {
			continue
		}
		t.read()
		usable := false
		if t.sentAt, usable = t.readSentAt(); !usable {
			unusable++
		}
		if t.done = g.sentByUs(&i.call); t.done {
			continue
		}
		if t.err = i.in.err(); t.err != nil {
			// A STOP without a readable id counts whenever the call comes. It gets no answer.
			if t.place > 0 && t.phone != "" && g.o.Menu.Stops(t.body) {
				t.err, t.overLimit = nil, true
			}
			continue
		}
		t.setKey(at.ID.Whole())
		// Two different texts under one id are two texts: if only one were kept, the other, maybe a STOP, would be
		// lost.
		if body, twice := earlier[t.key]; twice && body != t.body {
			t.key = t.keyOfPlace(t.textID)
		}
		earlier[t.key] = t.body
	}
	if unusable > 0 {
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).
			Uint64("unusable", g.unusableTimes.Add(unusable)).
			Msg("the time of a text cannot be read, or is more than three days ago or in the future: the text counts " +
				"as sent now; check at and time in the network's sms table")
	}
	return texts
}

// read reads the id, the phone and the body. Mistakes in them are in t.in.
func (t *inText) read() {
	at := &t.network.SMS
	t.textID = t.in.need(at.ID)
	t.phone = t.in.phone(at.Phone, t.network.CountryCode)
	t.body = t.in.text(at.Text, maxText)
}

// setKey sets the text's key: the id of the call by its webhook-id header, or the network's id. If the id is of the
// whole call, the place of the text among the items is a part of the key. An id that each item has for itself counts
// more than the webhook-id header, because a network may put a text into another call when it repeats it.
func (t *inText) setKey(wholeID bool) {
	several := t.place > 0
	switch {
	case several && wholeID:
		t.key = t.keyOfPlace(cmp.Or(t.webhookID, t.textID))
	case !several && t.webhookID != "":
		t.key = callbackKey("sms", "id", t.phone.E164(), t.webhookID)
	default:
		t.key = callbackKey("sms", t.phone.E164(), t.textID)
	}
}

func (t *inText) keyOfPlace(id string) string {
	return callbackKey("sms", "place", t.phone.E164(), id, strconv.Itoa(t.place))
}

// admitTexts refuses texts that are over a limit; if tooMany is set, all texts. A STOP is not refused, up to MaxItems
// of them in a call.
func (g *Gateway) admitTexts(c *call, texts []*inText, tooMany error) {
	if tooMany == nil {
		g.checkItemLimits(c, texts)
	}
	stops := 0
	for _, t := range texts {
		var limited *overLimit
		switch {
		case t.done, t.err == nil && tooMany == nil:
			continue
		case t.err == nil:
			t.err, t.resend = tooMany, true
		case !errors.As(t.err, &limited):
			continue
		}
		if !g.o.Menu.Stops(t.body) || stops == g.o.MaxItems {
			continue
		}
		stops++
		t.err, t.overLimit = nil, true
		// If a STOP of this number was already applied during the number's present pause, no transaction is needed.
		t.done = g.gate.HasStopped(t.phone.E164(), c.now)
	}
}

// toDo reports whether the text needs a transaction.
func (t *inText) toDo() bool { return t.err == nil && !t.done }

// takeText answers a text and stores its key, unless the text is a repeat.
func (g *Gateway) takeText(tx *store.Tx, t *inText) error {
	t.queued, t.stopped, t.judge, t.reason = false, false, nil, "" // the transaction may run again
	if t.key == "" {
		_, _, err := g.answerText(tx, t)
		return err
	}
	_, seen, err := tx.StoredReply(t.network.Name, t.key, t.phone, t.idsRepeatSince())
	if err != nil || seen {
		t.repeat = seen
		return err
	}
	if t.queued, t.stopped, err = g.answerText(tx, t); err != nil {
		return err
	}
	return tx.StoreReply(t.network.Name, t.key, "", nil, t.now.Unix())
}

// The bounds of a usable time of a text. An SMS may wait for three days until a phone or a network gets it
// (DefaultSMSResume), and two clocks may differ by some minutes.
const (
	longestHeld = 72 * time.Hour
	clocksApart = 5 * time.Minute
)

// readSentAt returns when the network got a text: what the text calls today is the day of that instant. A time that is
// too far from now to be right is not usable and is the zero time, and so is one that cannot be read: then today is the
// day of the call.
func (t *inText) readSentAt() (at time.Time, usable bool) {
	how := &t.network.SMS
	at = t.in.instant(how.Call, how.At)
	held := t.now.Sub(at)
	switch {
	case at.IsZero() && slices.Contains([]any{nil, ""}, t.in.optional(how.At)):
		return time.Time{}, true
	case at.IsZero() || held > longestHeld || held < -clocksApart:
		return time.Time{}, false
	case held < 0:
		return t.now, true
	}
	return at, true
}

// answerText hands a text, the phone's dialogue and the phone's prompt to the menu, and stores what the menu returns.
// queued reports whether texts were written to the outbox. stopped reports, only for a call over a limit, whether the
// text was a STOP.
func (g *Gateway) answerText(tx *store.Tx, t *inText) (queued, stopped bool, err error) {
	c, phone := &t.call, t.phone
	j, err := g.judge(tx, c, phone, t.body)
	if err != nil {
		return false, false, err
	}
	t.judge = j
	if t.reason = j.unread(g.o.Menu.Stops); t.reason != "" {
		return false, false, tx.SaveExchange(phone, j.Exchange)
	}
	saved, err := tx.StartText(phone, menu.SMS.String(), menu.USSD.String(), c.now.Unix())
	if err != nil {
		return false, false, err
	}
	book, err := tx.Ledger(phone, c.now.Unix())
	if err != nil {
		return false, false, err
	}
	book.QuietFrom(g.o.Health.QuietHour)
	c.sendsBack = g.o.SendsBack(phone.E164())
	in, err := g.inbound(t, saved, book)
	if err != nil {
		return false, false, err
	}
	known := book.Known()
	out, err := g.o.Menu.Text(book, in)
	if err != nil {
		return false, false, err
	}
	if !c.overLimit {
		t.reason = j.verdict(out, !out.Progress && j.quotes(g.own, phone))
	}
	// The grower saw nothing of an answer that does not go out, so the dialogue stays as it is, unless it went on.
	if t.reason == "" || out.Progress {
		err = g.saveSMS(tx, c, book, saved, in, out)
	}
	if !known || book.Known() { // false if the text erased all that is stored of the number
		err = errors.Join(err, tx.SaveExchange(phone, j.Exchange))
	}
	if err = errors.Join(err, book.Visit()); err != nil || c.overLimit {
		return false, out.Kind == "stop", err
	}
	if t.reason != "" {
		out.Reply = ""
	}
	if out.Reply != "" {
		key := "reply:" + c.network.Name + ":" + c.id
		if err := enqueue(tx, c, book.GrowerID(), phone, key, menu.Note{Kind: out.Kind, Text: out.Reply}); err != nil {
			return false, false, err
		}
	}
	return out.Reply != "" || len(out.Send) > 0, false, g.enqueueNotes(tx, c, book, out.Send)
}

// inbound returns what the menu must know of a text.
func (g *Gateway) inbound(t *inText, saved store.TextStart, book *store.Ledger) (menu.Inbound, error) {
	in := menu.Inbound{
		Text: t.body, Now: t.call.now.Unix(), State: saved.Session.State, StateAt: saved.Session.SavedAt,
		Prompt: saved.Prompt.Body, PromptAt: saved.Prompt.AskedAt, PromptUntil: saved.Prompt.Until,
		Last: t.judge.last(),
	}
	if !t.sentAt.IsZero() {
		in.SentAt = t.sentAt.Unix()
		book.SentAt(in.SentAt)
	}
	in.Elsewhere = g.left(book, saved.Other, saved.HasOther, in.Now)
	if !saved.HasPrompt {
		return in, nil
	}
	var err error
	in.Interrupted, err = book.AskedToDial(saved.Prompt.AskedAt)
	return in, err
}

// saveSMS stores the dialogue and the prompt as the menu returned them.
func (g *Gateway) saveSMS(
	tx *store.Tx, c *call, book *store.Ledger, saved store.TextStart, in menu.Inbound, out menu.Outcome,
) error {
	phone, now := book.Phone(), c.now.Unix()
	if out.TakenUp { // the dialogue moved from USSD to SMS, so its USSD copy is deleted
		if err := tx.DropSession(phone, menu.USSD.String()); err != nil {
			return err
		}
	}
	// A digit answers the dialogue or the prompt, whichever was shown last; if SavedAt equals AskedAt, it answers the
	// prompt. So a dialogue that shows a screen now is saved with an instant later than AskedAt, and a dialogue that
	// shows none keeps its instant. A prompt that is set now is saved with an instant not before the dialogue's.
	if out.Spoke || out.State == nil {
		spoke := now
		if saved.HasPrompt {
			spoke = max(now, saved.Prompt.AskedAt+1)
		}
		err := saveDialogue(tx, saved.HasSession, store.Session{
			Phone: phone, Channel: menu.SMS.String(), State: out.State,
			SavedAt: spoke, ExpiresAt: c.now.Add(g.o.SMSResume).Unix(),
		})
		if err != nil {
			return err
		}
	}
	switch {
	case out.PromptSet:
		end := (out.PromptEnd + 1).At(0, book.Zone()) // the first instant after the prompt's last local day
		return tx.SavePrompt(store.Prompt{
			Phone: phone, Body: out.Prompt, AskedAt: max(now, in.StateAt), Until: end.Unix() - 1,
		})
	case out.Again:
		return tx.SavePrompt(store.Prompt{
			Phone: phone, Body: out.Prompt, AskedAt: max(now, in.StateAt), Until: in.PromptUntil,
		})
	case out.Prompt == nil && saved.HasPrompt:
		return tx.DropPrompt(phone)
	}
	return nil
}
