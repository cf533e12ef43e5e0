package meter

import (
	"path/filepath"
	"testing"
	"time"

	"rowbell/gateway/clock"
	"rowbell/store"
)

// What waits is counted again after thirty seconds, or later if the last count looked at many rows.
func TestManyWaitingRowsAreCountedLessOften(t *testing.T) {
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowbell.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	at := clock.New(time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC))
	began := at.Now().Unix()
	c := &counts{o: Options{Clock: at, Store: s}}
	scrape := func(after time.Duration, want int64) {
		t.Helper()
		at.Advance(after)
		if got := c.scrape().waits.At - began; got != want {
			t.Errorf("what waits was counted after %d s, want %d", got, want)
		}
	}
	c.scrape()
	c.waits = store.NewWaitsCount(began)
	c.waits.Looked = 60 * waitsRowsASecond // as if this count had looked at so many rows
	scrape(time.Second, 0)
	scrape(30*time.Second, 0)
	scrape(30*time.Second, 61)
	scrape(30*time.Second, 91)
}
