package store

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
)

// A receipt with the network's id may come before the try is settled: it is applied when the settlement
// tells whose id it is.
func TestReceiptBeforeSettle(t *testing.T) {
	receipt := func(s *Store, gateway string, state State, at int64) {
		t.Helper()
		if known := get(t, s, func(tx *Tx) (bool, error) {
			return tx.Receipt(gateway, "n1", state, at,
				"told")
		}); known {
			t.Error("it is known whose it is")
		}
	}
	for _, c := range []struct {
		name string
		tell func(*Store)
		want State
	}{
		{"none", func(*Store) {}, Accepted},
		{"delivered", func(s *Store) { receipt(s, "heron", Delivered, noon+1) }, Delivered},
		{"failed", func(s *Store) { receipt(s, "heron", Refused, noon+1) }, Refused},
		{"expired, then delivered", func(s *Store) {
			receipt(s, "heron", Expired, noon+1)
			receipt(s, "heron",
				Delivered, noon+1)
		}, Delivered},
		{"delivered, then expired", func(s *Store) {
			receipt(s, "heron", Delivered, noon+1)
			receipt(s, "heron",
				Expired, noon+1)
		}, Delivered},
		{"another network's", func(s *Store) { receipt(s, "tern", Refused, noon+1) }, Accepted},
		{"of a former text with this id", func(s *Store) { receipt(s, "heron", Refused, noon-day) }, Accepted},
		{"too many since", func(s *Store) {
			receipt(s, "heron", Refused, noon+1)
			write(t, s, func(tx *Tx) error {
				for i := range maxEarly {
					if _, err := tx.Receipt("heron", fmt.Sprint("x", i), Refused, noon+1, ""); err != nil {
						return err
					}
				}
				equal(t, len(tx.s.early.by), maxEarly, "are remembered")
				return nil
			})
		}, Accepted},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			id := enqueue(t, s, text("k", ana, noon))
			_, list := handOver(t, s, noon, network("heron", ""))
			c.tell(s)
			settle(t, s, noon+2, list[0].Took("n1"))
			wantState(t, s, id, c.want)
			wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE network_id = 'n1' AND accepted_at IS NOT NULL")
		})
	}
}

type receipt struct {
	id    string
	state State
	known bool
}

var receiptCases = []struct {
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
}

func TestReceipts(t *testing.T) {
	for _, c := range receiptCases {
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
				if known := get(t, s, func(tx *Tx) (bool, error) {
					return tx.Receipt("local", r.id, r.state,
						noon+100, "said so")
				}); known != r.known {
					t.Errorf("receipt %v: known %v", r, known)
				}
			}
			wantState(t, s, id, c.want)
			// A late settlement does not change a text that ended.
			settle(t, s, noon+200, m.Took("net-1"))
			got := stateOf(t, s, id)
			errorIf(t, got != c.want && c.want != Withdrawn, "after a late settlement: %s, want %s", got, c.want)
		})
	}
	s := open(t)
	for _, bad := range []State{Queued, Withdrawn, Unknown, "lost"} {
		report := func(tx *Tx) error { return second(tx.Receipt("local", "k", bad, noon, "")) }
		errorIf(t, s.InTx(context.Background(), report) == nil, "a receipt of %q was taken", bad)
	}
}

// A receipt counts only from the network that has the text.
func TestReceiptOfAnotherNetwork(t *testing.T) {
	s := open(t)
	a, b := enqueue(t, s, text("a", ana, noon)), enqueue(t, s, text("b", ben, noon))
	heron, tern := network("heron", ""), network("tern", "")
	heron.Max = 1
	_, first := handOver(t, s, noon, heron)
	_, second := handOver(t, s, noon, tern)
	settle(t, s, noon, first[0].Took("7"), second[0].Took("7"))
	for _, r := range []struct {
		gateway, id string
		state       State
		known       bool
		a, b        State
	}{
		{"tern", "a", Delivered, false, Accepted, Accepted},
		{"adze", "7", Refused, false, Accepted, Accepted},
		{"", "a", Refused, false, Accepted, Accepted},
		{"tern", "7", Accepted, true, Accepted, Accepted},
		{"tern", "7", Delivered, true, Accepted, Delivered}, // both networks use the id 7
		{"tern", "7", Accepted, true, Accepted, Delivered},
		{"heron", "7", Refused, true, Refused, Delivered},
		{"heron", "7", Accepted, true, Refused, Delivered},
	} {
		if known := get(t, s, func(tx *Tx) (bool, error) {
			return tx.Receipt(r.gateway, r.id, r.state, noon+5,
				"")
		}); known != r.known {
			t.Errorf("%+v: known %v", r, known)
		}
		gotA, gotB := stateOf(t, s, a), stateOf(t, s, b)
		errorIf(t, gotA != r.a || gotB != r.b, "%+v: %s, %s", r, gotA, gotB)
	}
}

// "Still trying" means that the network has the text: it is not sent again.
func TestStillTrying(t *testing.T) {
	s := open(t)
	id := enqueue(t, s, text("k", ana, noon))
	_, list := handOver(t, s, noon, local(1))
	settle(t, s, noon, list[0].Unsure(noon+10, "no answer in time"))
	write(t, s, func(tx *Tx) error { return second(tx.Receipt("local", "k", Accepted, noon+5, "")) })
	got, _ := handOver(t, s, noon+60, local(1))
	errorIf(t, got != nil || stateOf(t, s, id) != Accepted, "it is %s, claimed again %v", stateOf(t, s, id), got)
}

// A network said no, the next try was deferred, and then a receipt says that the network has the text
// after all. It is not deferred any more, so the next start does not release it.
func TestReceiptForDeferredText(t *testing.T) {
	for _, told := range []State{Delivered, Refused, Expired, Accepted} {
		t.Run(told.String(), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "rowbell.db")
			s := openAt(t, path)
			id := enqueue(t, s, text("k", ana, noon))
			_, list := handOver(t, s, noon, network("heron", ""))
			settle(t, s, noon, list[0].Again(noon+30, "busy"))
			enqueue(t, s, text("other", ben, noon))
			c := network("heron", "")
			c.All = Limits{TextsADay: 1}
			handOver(t, s, noon, c)
			handOver(t, s, noon+30, c)
			wantNumber(t, s, 1, "SELECT held FROM message WHERE id = $1", id)
			write(t, s, func(tx *Tx) error { return second(tx.Receipt("heron", "k", told, noon+40, "")) })
			shut(t, s)
			s, err := Open(context.Background(), path, Options{RoutePrefixes: []string{}})
			ok(t, err)
			defer s.Close()
			wantState(t, s, id, told)
		})
	}
}
