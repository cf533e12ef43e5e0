package store

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
)

func TestNewest(t *testing.T) {
	s := open(t)
	newest := func(want int64) {
		t.Helper()
		write(t, s, func(tx *Tx) error {
			got, err := tx.Newest()
			if got != want {
				t.Errorf("newest %d, want %d", got, want)
			}
			return err
		})
	}
	newest(0)
	enqueue(t, s, text("a", ana, noon))
	newest(noon)
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "k", ana, []byte("reply"), noon+5) })
	newest(noon + 5)
	enqueue(t, s, text("b", ana, noon+9))
	newest(noon + 9)
	write(t, s, func(tx *Tx) error { return tx.MarkWritable(noon + 100) }) // that nothing happened is no news
	newest(noon + 9)
	// A mark is never what is there already, which SQLite would not write.
	marked := func() string {
		mark := ""
		view(t, s, func(tx *Tx) error {
			b, _, err := tx.meta(metaCheckedAt)
			mark = string(b)
			return err
		})
		return mark
	}
	first := marked()
	write(t, s, func(tx *Tx) error { return tx.MarkWritable(noon + 100) })
	if second := marked(); !strings.HasPrefix(first, fmt.Sprint(noon+100, "/")) || second == first {
		t.Errorf("marked %s, then %s", first, second)
	}
}

func TestBehind(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	write(t, s, func(tx *Tx) error {
		if err := errors.Join(tx.SetLook(1, noon-7200), tx.SetLook(2, noon-9000)); err != nil {
			return err
		}
		for at, want := range map[int64][]OverduePlace{
			noon:        {{"UTC", 7, noon - 9000}},
			noon - 9000: {{"UTC", 7, noon - 9000}},
			noon - 9001: nil,
		} {
			got, err := tx.OverduePlaces(at)
			if err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("behind at noon%+d: %+v, %v; want %+v", at-noon, got, err, want)
			}
		}
		return nil
	})
	ledger(t, s, ben, noon, (*Ledger).Stop) // who wants no texts waits for none
	write(t, s, func(tx *Tx) error {
		got, err := tx.OverduePlaces(noon)
		if want := []OverduePlace{{"UTC", 7, noon - 7200}}; !reflect.DeepEqual(got, want) {
			t.Errorf("behind %+v, want %+v", got, want)
		}
		return err
	})
}

func TestTrouble(t *testing.T) {
	for _, e := range []sqlite3.ErrNo{sqlite3.ErrFull, sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen, sqlite3.ErrBusy, sqlite3.ErrCorrupt, sqlite3.ErrMisuse} {
		if Advice(fmt.Errorf("store: commit: %w", sqlite3.Error{Code: e})) == "" {
			t.Errorf("no words for code %d", e)
		}
	}
	for _, err := range []error{nil, context.Canceled, ErrClosed} {
		if got := Advice(err); got != "" {
			t.Errorf("%v is not the database's: %q", err, got)
		}
	}
}
