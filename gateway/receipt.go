package gateway

import (
	"context"
	"net/http"

	"rowbell/gateway/profile"
	"rowbell/store"
)

// receiptStates gives the state in the outbox for each state that a receipt may report. Only a network whose profile
// lists its own words for the states can report profile.Accepted.
var receiptStates = map[string]store.State{
	profile.Delivered: store.Delivered, profile.Failed: store.Refused, profile.Expired: store.Expired,
	profile.Accepted: store.Accepted,
}

// receipt handles a network's report of what became of a text. A receipt changes a text only if it comes from the
// network to which the text was handed. A receipt for an unknown text gets a success status and is counted, because an
// error status would only make the network send the receipt again.
func (g *Gateway) receipt(ctx context.Context, c *call) (answer, error) {
	at := c.network.Receipt
	id := c.in.need(at.ID)
	name := c.in.need(at.State)
	described := true // false: the profile does not list the network's word for the state
	if at.States != nil {
		name, described = at.States[name]
	} else if receiptStates[name] == "" && name != "" || name == profile.Accepted {
		c.in.refuse(at.State, "This must be delivered, failed or expired.")
	}
	state := receiptStates[name]
	when := c.in.instant(at.Call, at.At)
	reason := c.in.note(at.Reason)
	if err := c.in.err(); err != nil {
		return answer{}, err
	}
	accepted := func() (answer, error) {
		return render(at.Reply, profile.ReplyValues{ID: id}, profile.Rendered{Status: http.StatusNoContent}, false)
	}
	if !described {
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("unread", g.unknownStates.Add(1)).
			Msg("a receipt has a state that the network's description does not list: ask the network for its words, " +
				"or record a receipt for rowbell doctor --sample, and add the word to states in its receipt table")
	}
	if state == "" {
		return accepted()
	}
	// A missing time is replaced by the present time, and so is a time in the future, which comes from a wrong clock.
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
	label := "noted"
	if !known {
		n := g.unknownTexts.Add(1)
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("strays", n).
			Msg("a receipt names no text of ours and changed nothing; " +
				"if there are many, check that the profile of the network names the field of the text's id")
		label = "stray"
	}
	g.o.Meter.Receipt(c.network.Name, name, label)
	return accepted()
}
