package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

func TestSendingCommand(t *testing.T) {
	dir := t.TempDir()
	file, conf := filepath.Join(dir, "rowbell.db"), filepath.Join(dir, "rowbell.toml")
	limits := "[limits]\ntexts_a_day = 500\nmoney_a_month = 120.5\ncurrency = \"XTS\"\n[limits.number]\ntexts_a_day " +
		"= 1\n"
	if err := os.WriteFile(conf, []byte(limits), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(t.Context(), file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 6, 3, 12, 0, 0, 0, time.UTC)
	write := func(fn func(*store.Tx) error) {
		t.Helper()
		if err := s.InTx(context.Background(), fn); err != nil {
			t.Fatal(err)
		}
	}
	queue := func(n int, key string, at time.Time) {
		write(func(tx *store.Tx) error {
			_, err := tx.Enqueue(store.Message{Key: key, To: store.Phone(fmt.Sprintf("+44%d", 7700900000+n)),
				Note: "reply", Text: "hello",
				CreatedAt: at.Unix(), DueAt: at.Unix(), UsefulUntil: at.Add(24 * time.Hour).Unix()})
			return err
		})
	}
	heron := store.Claimant{Gateway: "heron", RoutePrefixes: []string{""}, Max: 2, Lease: time.Minute, Price: 40_000,
		Segments: func(string) int { return 1 }, Number: store.Limits{TextsADay: 1}}
	claim := func(at time.Time, settle func(store.Message) store.Settlement) {
		write(func(tx *store.Tx) error {
			claims, err := tx.Claim(at.Unix(), heron)
			for _, m := range claims.Texts {
				if err == nil {
					err = tx.Settle(at.Unix(), settle(m))
				}
			}
			return err
		})
	}
	queue(1, "a", now.Add(-48*time.Hour))
	claim(now.Add(-48*time.Hour), func(m store.Message) store.Settlement { return m.Took("") })
	queue(2, "b", now.Add(-3*time.Hour))
	queue(3, "c", now.Add(-2*time.Hour))
	claim(now.Add(-2*time.Hour), func(m store.Message) store.Settlement {
		if m.Key == "b" {
			return m.Took("")
		}
		return m.Unsure(now.Add(time.Minute).Unix(), "no answer in time")
	})
	queue(2, "d", now.Add(-90*time.Minute)) // a second to that number
	claim(now.Add(-90*time.Minute), func(m store.Message) store.Settlement { return m.Took("") })
	queue(4, "e", now.Add(-30*time.Second))

	call := func(args ...string) (code int, out, errs string) {
		var o, e strings.Builder
		code = run(append([]string{"sending"}, args...), noEnv, strings.NewReader(""), &o, &e)
		return code, o.String(), e.String()
	}
	at := "--test-clock=" + now.Format(time.RFC3339)
	flags := []string{"--db", file, "--config", conf}
	show := func(want ...string) {
		t.Helper()
		code, out, errs := call(append([]string{at}, flags...)...)
		if code != 0 || errs != "" {
			t.Fatalf("%d: %s", code, errs)
		}
		for _, w := range want {
			// Columns are as wide as they must be.
			if got := strings.Join(strings.Fields(out), " "); !strings.Contains(got, w) {
				t.Errorf("%q is not in\n%s", w, out)
			}
		}
	}
	show("Sending: on", "today (UTC) 1 taken, and not heard of again",
		"to be tried again, may have arrived 1 2h 0m 22h 0m", "held by a limit 1 1h 30m 22h 30m",
		"due now 1 30s 23h 59m",
		"today: texts segments money XTS", "all 2 of 500 2 0.08 3 3 0.12 of 120.5", "gateway heron 2 2 0.08 3 3 0.12",
		"most to one number 1 of 1")

	for _, tt := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"hold"}, 2, "--why"},
		{[]string{"hold", "--why", "  "}, 2, "say why texts are held"},
		{[]string{"hold", "--why", "two\nlines"}, 2, "one line"},
		{[]string{"hold", "--why", "ask " + strings.Repeat("7", 11)}, 2, "a phone number does not belong"},
		{[]string{"hold", "--why", strings.Repeat("x", 201)}, 2, "longer than 200"},
		{[]string{"hold", "--why", "wrong text", "--db", filepath.Join(dir, "none.db")}, 1, "there are no records at"},
		{[]string{"go", "now"}, 2, "unexpected argument"},
	} {
		if code, _, errs := call(tt.args...); code != tt.code || !strings.Contains(errs, tt.says) {
			t.Errorf("sending %q: %d %q, want %d %q", tt.args, code, errs, tt.code, tt.says)
		}
	}
	if code, out, errs := call(append([]string{"hold", "--why", "a wrong text is out", at}, flags...)...); code != 0 ||
		!strings.Contains(out, "Held") {
		t.Fatalf("%d: %s", code, errs)
	}
	show("Sending: held since 3 June 2026 12:00 UTC: a wrong text is out")
	write(func(tx *store.Tx) error { // the service, beside it
		claims, err := tx.Claim(now.Unix(), heron)
		if !claims.OperatorHold {
			t.Error("the running service does not know")
		}
		return err
	})
	for _, says := range []string{"go out again", "were not held"} {
		if code, out, errs := call(append([]string{"go"}, flags...)...); code != 0 || !strings.Contains(out, says) {
			t.Errorf("%d: %q %s, want %q", code, out, errs, says)
		}
	}
	show("Sending: on")
}
