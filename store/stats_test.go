package store

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
)

func TestNewest(t *testing.T) {
	s := open(t)
	newest := func(want int64) {
		t.Helper()
		equal(t, get(t, s, func(tx *Tx) (int64, error) { return tx.Newest() }), want, "newest")
	}
	newest(0)
	enqueue(t, s, text("a", ana, noon))
	newest(noon)
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "k", ana, []byte("reply"), noon+5) })
	newest(noon + 5)
	enqueue(t, s, text("b", ana, noon+9))
	newest(noon + 9)
	write(t, s, func(tx *Tx) error { return tx.MarkWritable(noon + 100) }) // not an event
	newest(noon + 9)
	// Each mark differs: SQLite does not write an unchanged value.
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
	second := marked()
	errorIf(t, !strings.HasPrefix(first, fmt.Sprint(noon+100, "/")) || second == first,
		"marked %s, then %s", first, second)
}

func TestOverduePlaces(t *testing.T) {
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
			errorIf(t, err != nil || !reflect.DeepEqual(got, want),
				"behind at noon%+d: %+v, %v; want %+v", at-noon, got, err, want)
		}
		return nil
	})
	ledger(t, s, ben, noon, (*Ledger).Stop) // who wants no texts is not overdue
	write(t, s, func(tx *Tx) error {
		got, err := tx.OverduePlaces(noon)
		if want := []OverduePlace{{"UTC", 7, noon - 7200}}; !reflect.DeepEqual(got, want) {
			t.Errorf("behind %+v, want %+v", got, want)
		}
		return err
	})
}

func TestStats(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	ledger(t, s, ben, noon, (*Ledger).Stop)
	enqueue(t, s, text("a", ana, noon))
	claim(t, s, noon)
	enqueue(t, s, text("b", ana, noon))
	enqueue(t, s, text("c", ana, noon-60))
	write(t, s, func(tx *Tx) error {
		for i, p := range []Phone{ana, ben} {
			if err := tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: noon - 1 + int64(i)}); err != nil {
				return err
			}
		}
		got, err := tx.Stats(noon)
		want := Stats{Growers: 2, Stopped: 1, OpenPlots: 2, DuePlots: 1, Sessions: 1,
			Outbox: map[State]int64{Queued: 2, Claimed: 1},
			Oldest: map[State]int64{Queued: noon - 60, Claimed: noon}}
		errorIf(t, !reflect.DeepEqual(got, want), "stats %+v, want %+v", got, want)
		return err
	})
}
