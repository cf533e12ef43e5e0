package store

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"rowbell/engine"
)

func TestEnqueueOnce(t *testing.T) {
	s := open(t)
	m := text("plot 1 window 1 open", ana, noon)
	id := enqueue(t, s, m)
	for _, again := range []string{"queued", "withdrawn"} {
		write(t, s, func(tx *Tx) error {
			m.Text = "another text of the same decision"
			fresh, err := tx.Enqueue(m)
			if fresh {
				t.Errorf("a second text while the first is %s", again)
			}
			return err
		})
		ledger(t, s, ana, noon, (*Ledger).Stop)
	}
	wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE body = 'hello' AND id = $1", id)
}

// Of what is due that is taken first whose useful time ends first.
func TestClaimTakesWhatIsDueInTheOrderInWhichItEnds(t *testing.T) {
	s := open(t)
	for i, m := range []struct {
		key         string
		due, useful int64
	}{
		{"later", 10, 100}, {"b", 2, 100}, {"a", 1, 100}, {"c", 3, 100}, {"stale", 0, 4}, {"c again, ends before", 3, 50}, {"last second", 4, 5},
	} {
		msg := text(m.key, Phone(fmt.Sprintf("+44%d", 7700900100+i)), noon)
		msg.DueAt, msg.UsefulUntil = noon+m.due, noon+m.useful
		enqueue(t, s, msg)
	}
	for _, want := range [][]string{{"last second", "c again, ends before"}, {"b", "a"}, {"c"}, nil} {
		write(t, s, func(tx *Tx) error {
			claims, err := tx.Claim(noon+5, local(2))
			var got []string
			for _, m := range claims.Texts {
				got = append(got, m.Key)
				if m.State != Claimed || m.Tries != 1 || m.Text != "hello" || m.Note != "reply" {
					t.Errorf("claimed %+v", m)
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("claimed %v, want %v", got, want)
			}
			return err
		})
	}
}

// A text whose sender is gone is taken again when the lease ends, not before,
// and what the first sender says of its try then no longer counts, except
// that the network took it.
func TestLease(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	first := claim(t, s, noon)
	if len(first) != 1 || len(claim(t, s, noon+59)) != 0 {
		t.Fatalf("claimed %v", first)
	}
	second := claim(t, s, noon+60)
	if len(second) != 1 || second[0].Tries != 2 || second[0].Key != first[0].Key {
		t.Fatalf("claimed after the lease: %+v", second)
	}
	for _, late := range []Settlement{first[0].Again(noon+61, "busy"), first[0].Refuse("no"), first[0].Expire(""), first[0].LostTrack("")} {
		settle(t, s, noon+61, late)
		wantState(t, s, id, Claimed)
	}
	settle(t, s, noon+61, first[0].Took("net-1"))
	wantState(t, s, id, Accepted)
	settle(t, s, noon+62, second[0].Again(noon+90, "busy"))
	wantState(t, s, id, Accepted)
}

// A lease is stored in whole seconds, rounded up: whoever claimed a text has it
// for at least as long as was asked for, and is told until when.
func TestLeaseIsRoundedUp(t *testing.T) {
	s := open(t)
	enqueue(t, s, text("k", ana, noon))
	write(t, s, func(tx *Tx) error {
		c := local(1)
		c.Lease = 1500 * time.Millisecond
		claims, err := tx.Claim(noon, c)
		if len(claims.Texts) != 1 || claims.Until != noon+2 {
			t.Errorf("claimed %+v", claims)
		}
		return err
	})
	for i, want := range []int{0, 1} {
		if got := claim(t, s, noon+1+int64(i)); len(got) != want {
			t.Errorf("after %d s another claims %d", 1+i, len(got))
		}
	}
}

// A text is the sender's until it is taken back, claimed anew, or over.
func TestHolds(t *testing.T) {
	for name, c := range map[string]struct {
		at   int64
		do   func(*testing.T, *Store)
		want bool
	}{
		"nothing happened": {noon + 1, func(*testing.T, *Store) {}, true},
		"stopped":          {noon + 1, func(t *testing.T, s *Store) { ledger(t, s, ana, noon, (*Ledger).Stop) }, false},
		"erased":           {noon + 1, func(t *testing.T, s *Store) { ledger(t, s, ana, noon, (*Ledger).Erase) }, false},
		"lease is over":    {noon + 61, func(t *testing.T, s *Store) { claim(t, s, noon+60) }, false},
		"last second":      {noon + 3600, func(*testing.T, *Store) {}, true},
		"not useful":       {noon + 3601, func(*testing.T, *Store) {}, false},
		"plot changed": {noon + 1, func(t *testing.T, s *Store) {
			ledger(t, s, ana, noon+1, func(l *Ledger) error { return l.ClosePlot(1) })
		}, false},
		"other plot changed": {noon + 1, func(t *testing.T, s *Store) {
			ledger(t, s, ana, noon+1, func(l *Ledger) error { return l.ClosePlot(2) })
		}, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			withPlot(t, s, ana)
			ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
			ring(t, s, ana, []int{1}, engine.KindOpen, noon)
			m := claim(t, s, noon)[0]
			c.do(t, s)
			view(t, s, func(tx *Tx) error {
				got, err := tx.StillClaimed(m, c.at)
				if got != c.want {
					t.Errorf("holds %v, want %v", got, c.want)
				}
				return err
			})
		})
	}
}

func TestSettle(t *testing.T) {
	for _, c := range []struct {
		name   string
		settle func(Message) Settlement
		want   State
		claims int // how many can be claimed an hour later
		row    string
	}{
		{"took", func(m Message) Settlement { return m.Took("net-1") }, Accepted, 0, "network_id = 'net-1' AND accepted_at = $1"},
		{"took, no id", func(m Message) Settlement { return m.Took("") }, Accepted, 0, "network_id IS NULL AND accepted_at = $1"},
		{"again", func(m Message) Settlement { return m.Again(noon+60, "busy") }, Queued, 1, "reason = 'busy' AND $1 > 0"},
		{"again at the last useful second", func(m Message) Settlement { return m.Again(m.UsefulUntil, "busy") }, Queued, 1, "reason = 'busy' AND $1 > 0"},
		{"again too late", func(m Message) Settlement { return m.Again(m.UsefulUntil+1, "busy") }, Expired, 0, "reason = 'busy' AND ended_at = $1"},
		{"refuse", func(m Message) Settlement { return m.Refuse("bad number") }, Refused, 0, "reason = 'bad number' AND ended_at = $1"},
		{"expire", func(m Message) Settlement { return m.Expire("late") }, Expired, 0, "reason = 'late' AND ended_at = $1"},
		{"lost track", func(m Message) Settlement { return m.LostTrack("cut off") }, Unknown, 0, "reason = 'cut off' AND ended_at = $1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			list := claim(t, s, noon)
			settle(t, s, noon+5, c.settle(list[0]))
			wantState(t, s, id, c.want)
			if number(t, s, "SELECT count(*) FROM message WHERE "+c.row, noon+5) != 1 {
				t.Errorf("the row is not so: %s", c.row)
			}
			if got := claim(t, s, noon+3600); len(got) != c.claims {
				t.Errorf("%d claimed later, want %d", len(got), c.claims)
			}
		})
	}
	s := open(t)
	if err := s.InTx(context.Background(), func(tx *Tx) error { return tx.Settle(noon, Settlement{}) }); err == nil {
		t.Error("the zero Settlement was taken")
	}
}

func TestExpireStale(t *testing.T) {
	s := open(t)
	waiting, sending, accepted := text("waiting", ana, noon), text("sending", ana, noon), text("accepted", ana, noon)
	a := enqueue(t, s, sending)
	b := enqueue(t, s, accepted)
	list := claim(t, s, noon+3590) // until noon+3650
	settle(t, s, noon+3591, list[1].Took(""))
	c := enqueue(t, s, waiting)
	for _, step := range []struct {
		at, n int64
		want  []State
	}{
		{noon + 3600, 0, []State{Claimed, Accepted, Queued}}, // useful to the last second
		{noon + 3601, 1, []State{Claimed, Accepted, Expired}},
		{noon + 3650, 1, []State{Unknown, Accepted, Expired}}, // nobody settled it: it may have arrived
		{noon + 9999, 0, []State{Unknown, Accepted, Expired}},
	} {
		write(t, s, func(tx *Tx) error {
			n, err := tx.ExpireStale(step.at)
			if n != step.n {
				t.Errorf("at +%d: %d expired, want %d", step.at-noon, n, step.n)
			}
			return err
		})
		if got := []State{stateOf(t, s, a), stateOf(t, s, b), stateOf(t, s, c)}; !slices.Equal(got, step.want) {
			t.Errorf("at +%d: %v, want %v", step.at-noon, got, step.want)
		}
	}
}

func TestReceipts(t *testing.T) {
	type receipt struct {
		id    string
		state State
		known bool
	}
	for _, c := range []struct {
		name     string
		from     State
		receipts []receipt
		want     State
	}{
		{"delivered, by the network's id", Accepted, []receipt{{"net-1", Delivered, true}}, Delivered},
		{"delivered, by our key", Accepted, []receipt{{"k", Delivered, true}}, Delivered},
		{"failed", Accepted, []receipt{{"net-1", Refused, true}}, Refused},
		{"expired on the network", Accepted, []receipt{{"net-1", Expired, true}}, Expired},
		{"unknown id", Accepted, []receipt{{"net-2", Delivered, false}, {"", Delivered, false}}, Accepted},
		{"twice", Accepted, []receipt{{"k", Delivered, true}, {"k", Delivered, true}}, Delivered},
		{"failed after delivered", Accepted, []receipt{{"k", Delivered, true}, {"k", Refused, true}}, Delivered},
		{"delivered after failed", Accepted, []receipt{{"k", Refused, true}, {"k", Delivered, true}}, Delivered},
		{"expired, before we heard that the network took it", Claimed, []receipt{{"k", Expired, true}}, Expired},
		{"failed, before we heard that the network took it", Claimed, []receipt{{"k", Refused, true}}, Refused},
		{"expired after failed", Accepted, []receipt{{"k", Refused, true}, {"k", Expired, true}}, Refused},
		{"before we heard that the network took it", Claimed, []receipt{{"k", Delivered, true}}, Delivered},
		{"failed while waiting for the next try", Queued, []receipt{{"k", Refused, true}}, Refused},
		{"of one lost track of", Unknown, []receipt{{"k", Delivered, true}}, Delivered},
		{"failed, of one lost track of", Unknown, []receipt{{"k", Refused, true}}, Refused},
		{"of one that we gave up", Expired, []receipt{{"k", Delivered, true}}, Delivered},
		{"failed, of one taken back", Withdrawn, []receipt{{"k", Refused, true}}, Withdrawn},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			m := claim(t, s, noon)[0]
			switch c.from {
			case Accepted:
				settle(t, s, noon, m.Took("net-1"))
			case Queued:
				settle(t, s, noon, m.Again(noon+9, ""))
			case Unknown:
				settle(t, s, noon, m.LostTrack(""))
			case Expired:
				settle(t, s, noon, m.Expire(""))
			case Withdrawn:
				ledger(t, s, ana, noon, (*Ledger).Stop)
			}
			for _, r := range c.receipts {
				write(t, s, func(tx *Tx) error {
					known, err := tx.Receipt("local", r.id, r.state, noon+100, "said so")
					if known != r.known {
						t.Errorf("receipt %v: known %v", r, known)
					}
					return err
				})
			}
			wantState(t, s, id, c.want)
			// The settlement of the try comes last of all: it undoes nothing that ended.
			settle(t, s, noon+200, m.Took("net-1"))
			if got := stateOf(t, s, id); got != c.want && c.want != Withdrawn {
				t.Errorf("after a late settlement: %s, want %s", got, c.want)
			}
		})
	}
	s := open(t)
	for _, bad := range []State{Queued, Withdrawn, Unknown, "lost"} {
		if err := s.InTx(context.Background(), func(tx *Tx) error { _, err := tx.Receipt("local", "k", bad, noon, ""); return err }); err == nil {
			t.Errorf("a receipt of %q was taken", bad)
		}
	}
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
			if !slices.Equal(got, want) {
				t.Errorf("since %d: %v, want %v", since, got, want)
			}
			return err
		})
	}
}
