package gateway

import (
	"errors"
	"fmt"
	"net/http"
	"slices"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// A call may have several items, if the profile says where they are: texts or receipts. All items of a call are worked
// on in one transaction, in their order, and the call is answered after the commit. Each item is kept or refused on
// its own:
//
//   - An item that cannot be read, or whose number is over its limit, is refused and logged; the others are kept. The
//     call is answered as accepted, because the network could not send that item better a second time. If no item can
//     be kept, the call is refused like a call with one item.
//   - If the call is over a limit of the network or of the service, has too many items, or an item fails by a fault of
//     ours, the call gets an error, so that the network sends all of it again. What was kept then counts as a repeat.
//   - A STOP is applied in all of these cases, also without an id, but at most MaxItems of them over a limit.

// DefaultMaxItems is the largest number of items in a call. All other calls wait while the items of one are worked on:
// a hundred texts of registered growers took 11 to 34 ms (measured on two cores); a slow machine takes longer.
const DefaultMaxItems = 100

// maxItemErrors is the largest number of mistakes that the answer to one call lists.
const maxItemErrors = 20

// item is one text or receipt of a call.
type item struct {
	call
	err    error // why the item is not kept; nil: it is kept
	resend bool  // because of err the network shall send the whole call again
	repeat bool  // the item was kept before
}

// items divides a call into its items. tooMany is the error for a call with more items than are allowed; it is nil for
// any other call.
func (g *Gateway) items(c *call, how profile.Call) (list []*item, tooMany, err error) {
	docs, err := how.Items(c.in.doc)
	if err != nil {
		return nil, nil, itemsProblem(err)
	}
	for i, doc := range docs {
		next := &item{call: *c}
		next.in = &fields{doc: doc, one: !how.Batch()}
		if how.Batch() {
			next.place = i + 1
			// The id is part of the keys of the item's texts in the outbox, so it must be different for each item.
			next.id = fmt.Sprintf("%s.%d", c.id, next.place)
		}
		if err := doc.Refused(); err != nil {
			next.err = itemsProblem(err)
		}
		list = append(list, next)
	}
	if len(list) > g.o.MaxItems {
		tooMany = problem.New(http.StatusRequestEntityTooLarge, fmt.Sprintf(
			"The request has %d items; at most %d are taken in one. Send fewer at a time.", len(list), g.o.MaxItems))
	}
	return list, tooMany, nil
}

// itemsProblem returns the problem document for an error of profile.Call.Items.
func itemsProblem(err error) error {
	var e profile.ItemsError
	if errors.As(err, &e) {
		return problem.New(http.StatusBadRequest, e.Detail).At(e.At)
	}
	return err
}

// checkItemLimits counts the texts of a call and refuses those that are over a limit. A text that was refused before,
// or was sent by us, is not counted.
func (g *Gateway) checkItemLimits(c *call, texts []*inText) {
	texts = slices.DeleteFunc(slices.Clone(texts), func(t *inText) bool { return t.done || t.err != nil })
	var numbers []string
	for _, t := range texts {
		numbers = append(numbers, t.phone.E164())
	}
	over, all := g.gate.EnterItems(c.network.Name, numbers, c.now)
	for i, t := range texts {
		switch {
		case over[i] != nil:
			t.err = g.exceeded(c, t.phone, over[i])
		case all != nil:
			t.err, t.resend = g.exceeded(c, t.phone, all), true
			all.First = false // the log needs only one line
		}
	}
}

// work runs fn for an item in its call's transaction. If fn fails, only the writes of this item are undone. The error
// that work returns ends the transaction.
func (i *item) work(tx *store.Tx, fn func() error) error {
	if i.place == 0 {
		return fn()
	}
	i.err, i.resend = nil, false // the transaction may run again
	broken, err := tx.Part(fn)
	if broken {
		return err
	}
	if err != nil {
		i.err, i.resend = err, true
	}
	return nil
}

// result returns the values for the reply to a call whose items were worked on, or the error that answers the call.
// repeat reports whether all items were kept before.
func (g *Gateway) result(c *call, kind string, items []*item, ids []string) (
	v profile.ReplyValues, repeat bool, err error,
) {
	repeat = len(items) > 0
	var resend error
	for n, i := range items {
		if i.place > 0 {
			g.o.Meter.Item(c.network.Name, kind, i.outcome())
		}
		switch {
		case i.err == nil:
			v.IDs = append(v.IDs, ids[n])
			v.Kept++
			repeat = repeat && i.repeat
		case i.resend && (resend == nil || isFault(i.err)):
			resend = i.err
			fallthrough
		default:
			v.Refused++
		}
	}
	refused := refusedItems(items)
	if v.Refused > 0 && items[0].place > 0 && (resend != nil || v.Kept > 0) {
		g.logItems(c, kind, v, refused)
	}
	switch {
	case resend != nil:
		return v, false, resend
	case v.Kept == 0 && v.Refused > 0:
		return v, false, refused
	}
	return v, repeat, nil
}

// isFault reports whether an error is neither the caller's mistake nor a limit.
func isFault(err error) bool {
	var p *problem.Problem
	var limited *overLimit
	return !errors.As(err, &p) && !errors.As(err, &limited)
}

// outcome returns the item's outcome for the metrics.
func (i *item) outcome() string {
	var limited *overLimit
	switch {
	case i.err == nil && i.repeat:
		return "repeat"
	case i.err == nil:
		return "ok"
	case errors.As(i.err, &limited):
		return "limited"
	case isFault(i.err):
		return "failed"
	}
	return "refused"
}

// refusedItems returns the error for a call of which no item is kept: the error of its only item, or a problem that
// lists the mistakes of all items. If no item has a mistake and numbers are over their limits, it is the first limit.
func refusedItems(items []*item) error {
	var all *problem.Problem
	var other error
	for _, i := range items {
		var p *problem.Problem
		if !errors.As(i.err, &p) {
			if other == nil {
				other = i.err
			}
			continue
		}
		if i.place == 0 {
			return p
		}
		if all == nil {
			all = problem.New(p.Status, p.Detail)
		}
		for _, f := range p.Errors {
			if len(all.Errors) < maxItemErrors {
				f.Item = i.place
				all.Errors = append(all.Errors, f)
			}
		}
	}
	if all != nil {
		return all
	}
	return other
}

// logItems logs that items of a call are not kept. Like the lines of refused calls, these lines are bounded.
func (g *Gateway) logItems(c *call, kind string, v profile.ReplyValues, refused error) {
	if g.logged.add(c.now) > maxRefusalsLogged {
		return
	}
	e := g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Str("kind", kind).
		Int("kept", v.Kept).Int("refused", v.Refused)
	var p *problem.Problem
	var limited *overLimit
	switch {
	case errors.As(refused, &p):
		e = e.Str("why", p.Detail)
		if len(p.Errors) > 0 {
			e = e.Str("at", p.Errors[0].Pointer).Int("item", p.Errors[0].Item)
		}
	case errors.As(refused, &limited):
		e = e.Str("why", limited.detail)
	}
	e.Msg("items of a request are not kept, the others are: if one cannot be read, record a request and run " +
		"rowbell doctor --sample")
}
