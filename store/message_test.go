package store

import (
	"fmt"
	"testing"
)

func TestEnqueueOnce(t *testing.T) {
	s := open(t)
	m := text("plot 1 window 1 open", ana, noon)
	id := enqueue(t, s, m)
	for _, again := range []string{"queued", "withdrawn"} {
		write(t, s, func(tx *Tx) error {
			m.Text = "another text of the same decision"
			fresh, err := tx.Enqueue(m)
			errorIf(t, fresh, "a second text while the first is %s", again)
			return err
		})
		ledger(t, s, ana, noon, (*Ledger).Stop)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE body = 'hello' AND id = $1", id)
}

func TestInbox(t *testing.T) {
	s := open(t)
	var all []int64
	for i := range 3 {
		all = append(all, enqueue(t, s, text(fmt.Sprint(i), ana, noon)))
		enqueue(t, s, text(fmt.Sprint("other ", i), ben, noon))
	}
	for since, want := range map[int64][]int64{0: all, all[0]: all[1:], all[2]: nil} {
		view(t, s, func(tx *Tx) error {
			list, err := tx.Inbox(ana, since)
			var got []int64
			for _, m := range list {
				got = append(got, m.ID)
			}
			equal(t, got, want, "since %d", since)
			return err
		})
	}
}
