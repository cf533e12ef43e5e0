package gateway

import (
	"context"
	"errors"

	"rowbell/menu"
	"rowbell/store"
)

// sms handles a text from a grower. The HTTP response only acknowledges the text; package push sends the answer later.
func (g *Gateway) sms(ctx context.Context, c *call) (answer, error) {
	at := &c.network.SMS
	id := c.in.need(at.ID)
	phone := c.in.phone(at.Phone, c.network.CountryCode)
	text := c.in.text(at.Text, maxText)
	if g.sentByUs(c) {
		return c.accepted(id, false)
	}
	if err := c.in.err(); err != nil {
		return answer{}, err
	}
	key := callbackKey("sms", phone.E164(), id)
	if c.webhookID != "" {
		key = callbackKey("sms", "id", phone.E164(), c.webhookID)
	}
	if err := g.checkLimits(c, phone, ""); err != nil {
		switch {
		case !g.o.Menu.Stops(text):
			return answer{}, err
		// A STOP of this number was already applied during the number's present pause, so no transaction is needed.
		case g.gate.HasStopped(phone.E164(), c.now):
			return c.accepted(id, false)
		}
		c.overLimit = true
	}
	repeat, queued, stopped := false, false, false
	err := g.write(ctx, func(tx *store.Tx) error {
		_, seen, err := tx.StoredReply(c.network.Name, key, c.idsRepeatSince())
		if err != nil || seen {
			repeat = seen
			return err
		}
		if queued, stopped, err = g.answerText(tx, c, phone, text); err != nil {
			return err
		}
		return tx.StoreReply(c.network.Name, key, "", nil, c.now.Unix())
	})
	if err != nil {
		return answer{}, err
	}
	if c.overLimit && stopped {
		g.gate.MarkStopped(phone.E164())
	}
	if queued {
		g.o.Queued()
	}
	return c.accepted(id, repeat)
}

// answerText hands a text, the phone's dialogue and the phone's prompt to the menu, and stores what the menu returns.
// queued reports whether texts were written to the outbox. stopped reports, only for a call over a limit, whether the
// text was a STOP.
func (g *Gateway) answerText(tx *store.Tx, c *call, phone store.Phone, body string) (queued, stopped bool, err error) {
	saved, err := g.loadSMS(tx, c, phone)
	if err != nil {
		return false, false, err
	}
	book, err := tx.Ledger(phone, c.now.Unix())
	if err != nil {
		return false, false, err
	}
	c.sendsBack = g.o.SendsBack(phone.E164())
	in := menu.Inbound{
		Text: body, Now: c.now.Unix(), State: saved.session.State, StateAt: saved.session.SavedAt,
		Prompt: saved.prompt.Body, PromptAt: saved.prompt.AskedAt, PromptUntil: saved.prompt.Until,
	}
	if in.Elsewhere, err = g.leftOn(tx, book, menu.USSD, in.Now); err != nil {
		return false, false, err
	}
	out, err := g.o.Menu.Text(book, in)
	if err != nil {
		return false, false, err
	}
	if err := errors.Join(book.Visit(), g.saveSMS(tx, c, book, saved, in, out)); err != nil {
		return false, false, err
	}
	if c.overLimit {
		return false, out.Kind == "stop", nil
	}
	if out.Reply != "" {
		key := "reply:" + c.network.Name + ":" + c.id
		if err := enqueue(tx, c, book.GrowerID(), phone, key, menu.Note{Kind: out.Kind, Text: out.Reply}); err != nil {
			return false, false, err
		}
	}
	return out.Reply != "" || len(out.Send) > 0, false, enqueueNotes(tx, c, book, out.Send)
}

// savedSMS is the SMS dialogue and the prompt of a phone, each zero if none is stored. An expired dialogue is zero too.
type savedSMS struct {
	session              store.Session
	prompt               store.Prompt
	hasSession, prompted bool
}

func (g *Gateway) loadSMS(tx *store.Tx, c *call, phone store.Phone) (s savedSMS, err error) {
	if s.session, s.hasSession, err = tx.Session(phone, menu.SMS.String()); err != nil {
		return s, err
	}
	if c.now.Unix() >= s.session.ExpiresAt {
		s.session = store.Session{}
	}
	s.prompt, s.prompted, err = tx.Prompt(phone)
	return s, err
}

// saveSMS stores the dialogue and the prompt as the menu returned them.
func (g *Gateway) saveSMS(
	tx *store.Tx, c *call, book *store.Ledger, saved savedSMS, in menu.Inbound, out menu.Outcome,
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
		if saved.prompted {
			spoke = max(now, saved.prompt.AskedAt+1)
		}
		err := saveDialogue(tx, saved.hasSession, store.Session{
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
	case out.Prompt == nil && saved.prompted:
		return tx.DropPrompt(phone)
	}
	return nil
}
