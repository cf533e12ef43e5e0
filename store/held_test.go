package store

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"rowbell/engine"
)

// A network said no, the next try was held by a limit, and then the network
// tells that it took the text after all. What is over is held no more: the
// next start lets go what is held, and must not find it.
func TestReceiptForHeldText(t *testing.T) {
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
			write(t, s, func(tx *Tx) error {
				_, err := tx.Receipt("heron", "k", told, noon+40, "")
				return err
			})
			shut(t, s)
			s, err := Open(context.Background(), path, Options{RoutePrefixes: []string{}})
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			wantState(t, s, id, told)
		})
	}
}

// A reminder whose sender was cut off is not rung again for the night: it may
// have arrived.
func TestHushInDoubt(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	at := noon + 8*3600 - 30
	id := ring(t, s, ana, []int{1}, engine.KindOpen, at)
	handOver(t, s, at, network("heron", "")) // and no more is heard of it
	write(t, s, func(tx *Tx) error {
		_, err := tx.SuppressAtNight(at+61, 20, 10)
		return err
	})
	wantState(t, s, id, Unknown)
	wantNumber(t, s, 1, "SELECT count(*) FROM told")
}

// What is let go is due as it was, also what was tried before.
func TestLetGo(t *testing.T) {
	s := open(t)
	for i := range 5 {
		enqueue(t, s, text(fmt.Sprint("k", i), Phone(fmt.Sprintf("+44%d", 7700900100+i)), noon))
	}
	c := network("tern", "")
	c.Own = Limits{TextsADay: 1}
	handOver(t, s, noon, c)
	for _, want := range []int{3, 1, 0} {
		write(t, s, func(tx *Tx) error {
			n, err := tx.ReleaseDeferred(3)
			if n != want {
				t.Errorf("let go %d, want %d", n, want)
			}
			return err
		})
	}
	if keys, _ := handOver(t, s, noon, network("heron", "")); len(keys) != 4 {
		t.Errorf("claimed %q", keys)
	}
}
