package store

import (
	"fmt"
	"testing"
)

// A receipt that names the network's id may come before the try is settled:
// it holds as soon as it is known whose it is.
func TestReceiptBeforeSettle(t *testing.T) {
	receipt := func(s *Store, gateway string, state State, at int64) {
		t.Helper()
		write(t, s, func(tx *Tx) error {
			known, err := tx.Receipt(gateway, "n1", state, at, "told")
			if known {
				t.Error("it is known whose it is")
			}
			return err
		})
	}
	for _, c := range []struct {
		name string
		tell func(*Store)
		want State
	}{
		{"none", func(*Store) {}, Accepted},
		{"delivered", func(s *Store) { receipt(s, "heron", Delivered, noon+1) }, Delivered},
		{"failed", func(s *Store) { receipt(s, "heron", Refused, noon+1) }, Refused},
		{"expired, then delivered", func(s *Store) { receipt(s, "heron", Expired, noon+1); receipt(s, "heron", Delivered, noon+1) }, Delivered},
		{"delivered, then expired", func(s *Store) { receipt(s, "heron", Delivered, noon+1); receipt(s, "heron", Expired, noon+1) }, Delivered},
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
				if n := len(tx.s.early.by); n != maxEarly {
					t.Errorf("%d are remembered", n)
				}
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
