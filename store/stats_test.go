package store

import (
	"fmt"
	"strings"
	"testing"
)

func TestNewest(t *testing.T) {
	s := open(t)
	newest := func(want int64) {
		t.Helper()
		equal(t, get(t, s, (*Tx).Newest), want, "newest")
	}
	newest(0)
	enqueue(t, s, text("a", ana, noon))
	newest(noon)
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "k", ana, []byte("reply"), noon+5) })
	newest(noon + 5)
	enqueue(t, s, text("b", ana, noon+9))
	newest(noon + 9)
	write(t, s, func(tx *Tx) error { return tx.MarkWritable(noon + 100) }) // ignored: neither callback nor text
	newest(noon + 9)
	// Each mark must differ from the last mark, because SQLite does not write an unchanged value.
	marked := func() string {
		mark, _ := lookUp(t, s, func(tx *Tx) ([]byte, bool, error) { return tx.meta(metaCheckedAt) })
		return string(mark)
	}
	first := marked()
	write(t, s, func(tx *Tx) error { return tx.MarkWritable(noon + 100) })
	second := marked()
	errorIf(t, !strings.HasPrefix(first, fmt.Sprint(noon+100, "/")) || second == first,
		"marked %s, then %s", first, second)
}

func TestOverduePlaces(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	setLook(t, s, ana, 1, noon-7200)
	setLook(t, s, ben, 1, noon-9000)
	want := func(at int64, want ...OverduePlace) {
		t.Helper()
		got := get(t, s, func(tx *Tx) ([]OverduePlace, error) { return tx.OverduePlaces(at) })
		equal(t, got, want, "overdue at noon%+d", at-noon)
	}
	want(noon, OverduePlace{"UTC", 7, noon - 9000})
	want(noon-9000, OverduePlace{"UTC", 7, noon - 9000})
	want(noon - 9001)
	ledger(t, s, ben, noon, (*Ledger).Stop) // the grower stopped texts, so the plots are not overdue
	want(noon, OverduePlace{"UTC", 7, noon - 7200})
}
