package push_test

import (
	"context"
	"testing"
	"time"

	"rowbell/store"
)

// A text that was claimed, or waits for another try, is not sent any more once
// its phone said STOP.
func TestStoppedWhileClaimed(t *testing.T) {
	o := newOutbox(t)
	o.queue("first", time.Hour)
	o.clock.Advance(time.Second)
	o.queue("second", time.Hour) // claimed with the first, sent after it
	var sent []string
	w := o.worker(networkFunc(func(ctx context.Context, m store.Message) (string, error) {
		sent = append(sent, m.Key)
		return m.Key, o.store.InTx(ctx, func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, o.clock.Now().Unix())
			if err != nil {
				return err
			}
			return l.Stop()
		})
	}))
	o.send(w)
	o.clock.Advance(10 * time.Minute)
	o.send(w)
	if len(sent) != 1 || sent[0] != "first" {
		t.Errorf("sent %v, want the first only: STOP came meanwhile", sent)
	}
	if m := o.message("second"); m.State != store.Withdrawn {
		t.Errorf("the second is %s, want withdrawn", m.State)
	}
}
