package main

import (
	"bytes"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// The clock of the running service jumps a day ahead, then back to before everything that is recorded, and is put
// right. Each callback is answered and recorded once at any time, and its repeat gets the same answer. Each text
// goes out once, and a reminder of the day to which the clock had jumped does not come again on that day. While the
// clock is behind the records, /readyz and doctor say so.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestClockJumps(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay)
	g := reminded(p, 1)
	texts := 0
	// calls sends a text and its repeat, and begins a call and repeats it. All of it is answered.
	calls := func(when string, n int) {
		t.Helper()
		phone := fictional(n).E164()
		text := map[string]any{"id": "jump-" + when, "phone": phone, "text": "help"}
		dial := map[string]any{"phone": phone, "session": "jump-" + when, "step": 0, "event": "begin",
			"dialled": "*123#"}
		for range 2 {
			p.post("sms", text, http.StatusAccepted)
		}
		first := p.post("ussd", dial, http.StatusOK)
		if again := p.post("ussd", dial, http.StatusOK); !bytes.Equal(first, again) {
			t.Errorf("%s: a call was answered %s, then %s", when, first, again)
		}
		p.settle()
		texts++
	}
	reminders := func() (n int) {
		for key := range p.inbox.keys() {
			if strings.HasPrefix(key, "ring/") {
				n++
			}
		}
		return n
	}
	calls("before", 1)
	ahead := aDay.AddDate(0, 0, 1)
	p.set(ahead)
	if reminders() != 1 {
		t.Fatalf("%d reminders a day later, want 1", reminders())
	}
	g.run(p, 1) // a weeding
	calls("ahead", 1)
	calls("ahead-new", 2)
	p.ready(http.StatusOK)

	behind := aDay.Add(-3 * time.Hour)
	p.set(behind)
	p.ready(http.StatusServiceUnavailable, "clock: it is 27 hours behind the newest entry of the records: set it")
	if out, _ := p.also("doctor", "--offline", "--test-clock", behind.Format(time.RFC3339)); !strings.Contains(out,
		"it is behind the records, which were last written on") {
		t.Errorf("doctor does not say that the clock is behind:\n%s", out)
	}
	calls("behind", 1)
	calls("behind-known", 2)
	calls("behind-new", 3)
	fresh := registering(4)
	if n := len(fresh.steps); !fresh.run(p, n) || fresh.answered() != n {
		t.Fatalf("only %d of %d calls were answered", fresh.answered(), n)
	}
	p.settle()

	// The clock comes again to the morning for which it had rung, and to the day to which it had jumped.
	p.set(aDay)
	calls("again", 1)
	p.set(aDay.Add(22 * time.Hour))
	p.set(ahead.Add(time.Minute))
	calls("right", 1)
	p.ready(http.StatusOK)
	if reminders() != 1 {
		t.Errorf("%d reminders after all jumps, want 1", reminders())
	}
	for key, requests := range p.inbox.keys() {
		if requests != 1 {
			t.Errorf("the text %s went out %d times", key, requests)
		}
	}
	p.stop()
	s := openRecords(t, filepath.Join(p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		all := 0
		for n := 1; n <= 3; n++ {
			list, err := tx.Inbox(fictional(n), 0)
			if err != nil {
				return err
			}
			for _, m := range list {
				if m.State != store.Accepted {
					t.Errorf("%s is %s (%s)", m.Key, m.State, m.Reason)
				}
				all++
			}
		}
		for _, g := range []*scripted{g, fresh} {
			got, err := found(tx, g.phone, ahead.Unix())
			if want := g.want(); err != nil || got.plots != want.plots || got.passes != want.passes {
				t.Errorf("%v: %+v, want %+v (%v)", g.phone, got, want, err)
			}
		}
		// The first grower also got the welcome, the reminder and the answer to it.
		if all != texts+3 {
			t.Errorf("%d texts, want %d", all, texts+3)
		}
		return nil
	})
}
