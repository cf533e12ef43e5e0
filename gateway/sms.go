package gateway

import (
	"context"
	"net/http"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
)

// sms takes a text from a grower. The answer goes out by push.
func (g *Gateway) sms(ctx context.Context, c *call) (answer, error) {
	at := &c.network.SMS
	id := c.in.need(at.ID)
	phone := c.in.phone(at.Phone, c.network.CountryCode)
	text := c.in.text(at.Text, maxText)
	if err := c.in.err(); err != nil {
		return answer{}, err
	}
	seenKey := key("sms", phone.E164(), id)
	if c.webhook != "" {
		seenKey = key("sms", "id", phone.E164(), c.webhook)
	}
	if err := g.held(c, phone, ""); err != nil {
		stop, done := g.stops(c, phone, text)
		switch {
		case !stop:
			return answer{}, err
		case done:
			return described(at.Reply, profile.Said{ID: id}, answer{status: http.StatusAccepted})
		}
		c.quiet = true
	}
	queued, repeat := false, false
	err := g.write(ctx, func(tx *store.Tx) error {
		_, seen, err := tx.Seen(c.network.Name, seenKey, c.repeats())
		if err != nil || seen {
			repeat = seen
			return err
		}
		if queued, err = g.text(tx, c, phone, text); err != nil {
			return err
		}
		return tx.Remember(c.network.Name, seenKey, "", nil, c.now.Unix())
	})
	if err != nil {
		return answer{}, err
	}
	if c.stopped {
		g.gate.Stopped(phone.E164())
	}
	if queued {
		g.o.Queued()
	}
	return described(at.Reply, profile.Said{ID: id}, answer{status: http.StatusAccepted, repeat: repeat})
}

// text works one text into what is stored of the phone; it reports whether
// anything was put into the outbox.
func (g *Gateway) text(tx *store.Tx, c *call, phone store.Phone, body string) (queued bool, err error) {
	now := c.now.Unix()
	channel := menu.SMS.String()
	session, had, err := tx.Session(phone, channel)
	if err != nil {
		return false, err
	}
	prompt, asked, err := tx.Prompt(phone)
	if err != nil {
		return false, err
	}
	book, err := tx.Ledger(phone, now)
	if err != nil {
		return false, err
	}
	in := menu.Inbound{Text: body, Now: now}
	if had && now < session.ExpiresAt {
		in.State, in.StateAt = session.State, session.SavedAt
	}
	if in.Elsewhere, err = g.elsewhere(tx, book, phone, menu.USSD, now); err != nil {
		return false, err
	}
	if asked {
		in.Prompt, in.PromptAt, in.PromptUntil = prompt.Body, prompt.AskedAt, prompt.Until
	}
	out, err := g.o.Menu.Text(book, in)
	if err != nil {
		return false, err
	}
	if err := book.Visit(); err != nil {
		return false, err
	}
	if out.TakenUp {
		// It goes on here now: there must not be two of it.
		if err := tx.DropSession(phone, menu.USSD.String()); err != nil {
			return false, err
		}
	}
	// A digit is for whichever of dialogue and prompt spoke last. So a dialogue
	// that was left alone keeps its instant, and one that spoke in the very
	// second of the prompt counts as a second later; and the other way round.
	if out.State == nil || !same(out.State, in.State) {
		spoke := now
		if asked {
			spoke = max(now, prompt.AskedAt+1)
		}
		err := keep(tx, had, store.Session{
			Phone: phone, Channel: channel, State: out.State,
			SavedAt: spoke, ExpiresAt: c.now.Add(g.o.SMSResume).Unix(),
		})
		if err != nil {
			return false, err
		}
	}
	switch {
	case out.PromptSet:
		lastDay := (out.PromptEnd + 1).At(0, book.Zone()) // its midnight, by the grower's clock
		err = tx.SavePrompt(store.Prompt{Phone: phone, Body: out.Prompt, AskedAt: max(now, in.StateAt), Until: lastDay.Unix() - 1})
	case out.Prompt == nil && asked:
		err = tx.DropPrompt(phone)
	}
	if err != nil {
		return false, err
	}
	if c.quiet {
		c.stopped = out.Kind == "stop"
		return false, nil
	}
	if out.Reply != "" {
		err := enqueue(tx, c, book.GrowerID(), phone, "reply:"+c.network.Name+":"+c.id, menu.Note{Kind: out.Kind, Text: out.Reply})
		if err != nil {
			return false, err
		}
	}
	return out.Reply != "" || len(out.Send) > 0, g.notes(tx, c, book, out.Send)
}
