package store

// A network may tell of a text before we have written down under which id it
// took it: tries are settled in batches. Such receipts are remembered for a
// while, in memory: a crash leaves the text accepted, which is true as well.

const (
	maxEarly  = 1000 // receipts; the oldest make room
	keepEarly = 60 * 60
)

// early is the receipts that no text had yet. Only the writer touches it.
type early struct {
	by    map[earlyKey]earlyReceipt
	order [maxEarly]earlyKey // a ring
	next  int
}

type earlyKey struct{ gateway, id string }

type earlyReceipt struct {
	state  State
	at     int64
	reason string
}

// note remembers a receipt; delivered stands whatever else is said.
func (e *early) note(k earlyKey, r earlyReceipt) {
	if e.by == nil {
		e.by = map[earlyKey]earlyReceipt{}
	}
	was, there := e.by[k]
	if there && was.state == Delivered {
		return
	}
	if !there {
		delete(e.by, e.order[e.next])
		e.order[e.next] = k
		e.next = (e.next + 1) % maxEarly
	}
	e.by[k] = r
}

// told applies what was told of a text that a network has just taken. Networks
// use an id again some day: what is old was of another text.
func (tx *Tx) told(s Settlement, now int64) error {
	r, ok := tx.s.early.by[earlyKey{s.gateway, s.text}]
	if s.text == "" || !ok || r.at < now-keepEarly {
		return nil
	}
	_, err := tx.Receipt(s.gateway, s.text, r.state, r.at, r.reason)
	return err
}
