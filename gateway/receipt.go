package gateway

import (
	"context"
	"net/http"
	"slices"
	"time"

	"rowbell/gateway/profile"
	"rowbell/store"
)

// receiptStates has the state in the outbox for each state that a receipt may report. Only a network whose profile
// lists its own words for the states can report profile.Accepted.
var receiptStates = map[string]store.State{
	profile.Delivered: store.Delivered, profile.Failed: store.Refused, profile.Expired: store.Expired,
	profile.Accepted: store.Accepted,
}

// longestReceipt is how long after the end of a text its receipt may come. Networks try for some days (judgement).
const longestReceipt = 30 * 24 * time.Hour

// inReceipt is a network's report of what became of a text.
type inReceipt struct {
	*item
	textID   string // the text's id, ours or the network's
	name     string // the state by our name
	state    store.State
	when     time.Time
	reason   string
	unlisted bool // the profile does not list the network's word for the state
	known    bool // there is such a text
}

// receipt handles the receipts of a call, usually one. A receipt changes a text only if it comes from the network to
// which the text was handed. A receipt for an unknown text gets a success status and is counted, because an error
// status would only make the network send the receipt again.
func (g *Gateway) receipt(ctx context.Context, c *call) (answer, error) {
	at := &c.network.Receipt
	items, tooMany, err := g.items(c, at.Call)
	if err == nil {
		err = tooMany
	}
	if err != nil {
		return answer{}, err
	}
	var receipts []*inReceipt
	var ids []string
	for _, i := range items {
		r := readReceipt(i)
		receipts, ids = append(receipts, r), append(ids, r.textID)
	}
	if n := count(receipts, func(r *inReceipt) bool { return r.unlisted && r.err == nil }); n > 0 {
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("unread", g.unknownStates.Add(n)).
			Msg("a receipt has a state that the network's description does not list: ask the network for its words, " +
				"or record a receipt for rowbell doctor --sample, and add the word to states in its receipt table")
	}
	if err := g.noteReceipts(ctx, c, receipts); err != nil {
		return answer{}, err
	}
	v, _, err := g.result(c, kindReceipt, items, ids)
	if err != nil {
		return answer{}, err
	}
	if !at.Batch() {
		v.ID = ids[0]
	}
	return render(at.Reply, v, profile.Rendered{Status: http.StatusNoContent}, false)
}

// readReceipt decodes a receipt. One that cannot be read is refused.
func readReceipt(i *item) *inReceipt {
	at, r := &i.network.Receipt, &inReceipt{item: i}
	if r.err != nil {
		return r
	}
	r.textID = i.in.need(at.ID)
	r.name = i.in.need(at.State)
	if at.States != nil {
		r.name = at.States[r.name]
		r.unlisted = r.name == ""
	} else if receiptStates[r.name] == "" && r.name != "" || r.name == profile.Accepted {
		i.in.refuse(at.State, "This must be delivered, failed or expired.")
	}
	r.state = receiptStates[r.name]
	r.when = i.in.instant(at.Call, at.At)
	r.reason = i.in.note(at.Reason)
	if r.err = i.in.err(); r.err != nil {
		return r
	}
	// A missing time is replaced by the present time, and so is one that cannot be right. It comes from a wrong clock,
	// or from seconds that are described as milliseconds: a text that ended in 1970 would be pruned at once.
	if r.when.IsZero() || r.when.After(i.now) || i.now.Sub(r.when) > longestReceipt {
		r.when = i.now
	}
	return r
}

// toDo reports whether the receipt has a state to record.
func (r *inReceipt) toDo() bool { return r.err == nil && r.state != "" }

// noteReceipts records the receipts of a call in one transaction.
func (g *Gateway) noteReceipts(ctx context.Context, c *call, receipts []*inReceipt) error {
	receipts = slices.DeleteFunc(slices.Clone(receipts), func(r *inReceipt) bool { return !r.toDo() })
	if len(receipts) == 0 {
		return nil
	}
	err := g.write(ctx, func(tx *store.Tx) error {
		for _, r := range receipts {
			err := r.work(tx, func() (err error) {
				r.known, err = tx.Receipt(c.network.Name, r.textID, r.state, r.when.Unix(), r.reason)
				return err
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, r := range receipts {
		switch {
		case r.err != nil:
		case r.known:
			g.o.Meter.Receipt(c.network.Name, r.name, "noted")
		default:
			g.o.Meter.Receipt(c.network.Name, r.name, "stray")
		}
	}
	if n := count(receipts, func(r *inReceipt) bool { return r.err == nil && !r.known }); n > 0 {
		g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Uint64("strays", g.unknownTexts.Add(n)).
			Msg("a receipt names no text of ours and changed nothing; " +
				"if there are many, check that the profile of the network names the field of the text's id")
	}
	return nil
}

// count returns the number of receipts for which match is true.
func count(receipts []*inReceipt, match func(*inReceipt) bool) (n uint64) {
	for _, r := range receipts {
		if match(r) {
			n++
		}
	}
	return n
}
