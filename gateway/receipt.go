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

func (f *fields) state(at profile.Pointer) store.State {
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
	state := c.in.state(at.State)
	when := c.in.instant(at.At)
	reason := c.in.note(at.Reason)
	if err := c.in.err(); err != nil {
		return answer{}, err
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
	if !known {
		n := g.strays.Add(1)
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("strays", n).
			Msg("a receipt for a text that is not ours")
	}
	return answer{status: http.StatusNoContent}, nil
}
