package push_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"time"

	"rowbell/gateway/push"
	"rowbell/store"
)

// The records cannot be written just when a network has said no for now: that
// is written down when they can, and the text is tried again, though the
// network would send twice what it gets twice.
func TestWhatWasHeardIsWrittenDownLater(t *testing.T) {
	o := newOutbox(t)
	path := filepath.Join(t.TempDir(), "full.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	o.store = s
	db, err := sql.Open("sqlite3", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	do := func(statement string) {
		if _, err := db.Exec(statement); err != nil {
			t.Error(err)
		}
	}
	tries := 0
	sender := push.New(o.options(push.Gateway{Name: "heron", Concurrency: 1, Network: networkFunc(func(context.Context, store.Message) (string, error) {
		if tries++; tries > 1 {
			return "", nil
		}
		do("CREATE TRIGGER full BEFORE UPDATE ON message WHEN OLD.state = 'claimed' BEGIN SELECT RAISE(ABORT, 'no room'); END")
		return "", busy
	})}))
	o.queue("k", time.Hour)
	if _, err := sender.Send(t.Context()); err == nil {
		t.Error("that the records take no write is not told")
	}
	if m := o.message("k"); m.State != store.Claimed {
		t.Fatalf("it is %s", m.State)
	}
	do("DROP TRIGGER full")
	for range 3 {
		o.clock.Advance(20 * time.Second)
		o.send(sender)
	}
	if m := o.message("k"); m.State != store.Accepted || tries != 2 {
		t.Errorf("it is %s after %d tries (%s)", m.State, tries, m.Reason)
	}
}
