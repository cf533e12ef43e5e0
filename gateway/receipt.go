package gateway

import (
	"context"
	"net/http"

	"rowbell/gateway/profile"
	"rowbell/store"
)

// receiptStates are what a network may say of a text, by their names on the
// wire.
var receiptStates = map[string]store.State{
	"delivered": store.Delivered,
	"failed":    store.Refused,
	"expired":   store.Expired,
}

// stillTrying is what a described network may also say: it has the text.
const stillTrying = "accepted"

// said is what a network called a state.
var said = map[store.State]string{store.Delivered: "delivered", store.Refused: "failed", store.Expired: "expired", store.Accepted: stillTrying}

func (f *fields) state(at profile.Field) store.State {
	word := f.need(at)
	if word == "" {
		return "" // refused already
	}
	s, ok := receiptStates[word]
	if !ok {
		f.refuse(at, "This must be delivered, failed or expired.")
	}
	return s
}

// receipt notes what became of a text. One that we do not know is counted and
// taken too: asked again, the network could say no more.
func (g *Gateway) receipt(ctx context.Context, c *call) (answer, error) {
	at := c.network.Receipt
	id := c.in.need(at.ID)
	var state store.State
	meant := true // the word has a meaning, if only that there is nothing to note
	if at.States == nil {
		state = c.in.state(at.State)
	} else {
		var means string
		means, meant = at.States[c.in.need(at.State)]
		if state = receiptStates[means]; means == stillTrying {
			state = store.Accepted
		}
	}
	when := c.in.instant(at.Call, at.At)
	reason := c.in.note(at.Reason)
	if err := c.in.err(); err != nil {
		return answer{}, err
	}
	taken := func() (answer, error) {
		return described(at.Reply, profile.Said{ID: id}, answer{status: http.StatusNoContent})
	}
	if !meant {
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("unread", g.unread.Add(1)).
			Msg("a receipt says what its network's description does not know: ask the network for its words, or record a receipt for rowbell doctor --sample, and add the word to states in its receipt table")
	}
	if state == "" { // not understood
		return taken()
	}
	// The network's clock is not ours: only what it can have seen counts.
	if when.IsZero() || when.After(c.now) {
		when = c.now
	}
	known := false
	err := g.write(ctx, func(tx *store.Tx) (err error) {
		known, err = tx.Receipt(c.network.Name, id, state, when.Unix(), reason)
		return err
	})
	if err != nil {
		return answer{}, err
	}
	ended := "noted"
	if !known {
		n := g.strays.Add(1)
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("strays", n).
			Msg("a receipt for a text that is not ours was taken; if there are many, look whether the profile of the network names the place of the text's id")
		ended = "stray"
	}
	g.o.Meter.Receipt(c.network.Name, said[state], ended)
	return taken()
}
