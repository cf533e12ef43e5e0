package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// sendingRecords makes records with texts that are delivered, deferred, of uncertain outcome, and due. The network
// heron claimed the texts.
func sendingRecords(t *testing.T, now time.Time) (s *store.Store, file, conf string, heron store.Claimant) {
	t.Helper()
	dir := t.TempDir()
	file, conf = newRecords(t), filepath.Join(dir, "rowbell.toml")
	limits := "[limits]\ntexts_a_day = 500\nmoney_a_month = 120.5\ncurrency = \"XTS\"\n" +
		"[limits.number]\ntexts_a_day = 1\n"
	must(t, os.WriteFile(conf, []byte(limits), 0o600))
	s = openRecords(t, file)
	queue := func(n int, key string, at time.Time) {
		write(t, s, func(tx *store.Tx) error {
			_, err := tx.Enqueue(store.Message{Key: key, To: fictional(n), Note: "reply", Text: "hello",
				CreatedAt: at.Unix(), DueAt: at.Unix(), UsefulUntil: at.Add(24 * time.Hour).Unix()})
			return err
		})
	}
	heron = store.Claimant{Gateway: "heron", RoutePrefixes: []string{""}, Max: 2, Lease: time.Minute, Price: 40_000,
		Segments: func(string) int { return 1 }, Number: store.Limits{TextsADay: 1}}
	claim := func(at time.Time, settle func(store.Message) store.Settlement) {
		write(t, s, func(tx *store.Tx) error {
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
	queue(2, "d", now.Add(-90*time.Minute)) // a second text to the same number
	claim(now.Add(-90*time.Minute), func(m store.Message) store.Settlement { return m.Took("") })
	queue(4, "e", now.Add(-30*time.Second))
	return s, file, conf, heron
}

func TestSending(t *testing.T) {
	now := time.Date(2026, 6, 3, 12, 0, 0, 0, time.UTC)
	s, file, conf, heron := sendingRecords(t, now)
	common := "--test-clock=" + now.Format(time.RFC3339) + " sending "
	here := " --db " + file + " --config " + conf
	runSteps(t, common, []shellStep{{here, 0, "Sending: on … today (UTC) 1 taken, and not heard of again … " +
		"to be tried again, may have arrived 1 2h 0m 22h 0m … deferred by a limit 1 1h 30m 22h 30m … " +
		"due now 1 30s 23h 59m … today: texts segments money XTS … all 2 of 500 2 0.08 3 3 0.12 of 120.5 … " +
		"gateway heron 2 2 0.08 3 3 0.12 … " +
		"most to one number 1 of 1"}})
	runSteps(t, common, []shellStep{
		{"hold", 2, "--why"},
		{"hold --why 7777777", 2, "a phone number does not belong"},
		{"hold --why " + strings.Repeat("x", 201), 2, "longer than 200"},
		{"hold --why wrong --db " + filepath.Join(t.TempDir(), "none.db"), 1, "there are no records at"},
		{"go now", 2, "unexpected argument"},
		{"hold --why wrong-text" + here, 0, "Held"},
		{here, 0, "Sending: held since 3 June 2026 12:00 UTC: wrong-text"},
	})
	for why, says := range map[string]string{"  ": "say why texts are held", "two\nlines": "one line"} {
		if _, errs, code := runCommand("sending", "hold", "--why", why); code != 2 || !strings.Contains(errs, says) {
			t.Errorf("--why %q: exit code %d: %s", why, code, errs)
		}
	}
	write(t, s, func(tx *store.Tx) error { // claims texts as the running service does
		claims, err := tx.Claim(now.Unix(), heron)
		if !claims.OperatorHold {
			t.Error("the running service does not see the hold")
		}
		return err
	})
	runSteps(t, common, []shellStep{
		{"unknown --again", 2, "say which texts: their ids, or --all"},
		{"unknown --leave --all 3", 2, "not both"},
		{"unknown 3", 2, "--again or --leave"},
		{"unknown --again --leave 3", 2, "can't be used together"},
		{"unknown --leave --all" + here, 0, "No text is in doubt."},
		{"unknown --leave 3" + here, 1, "not in doubt, or not any more: [3]"},
		{"go" + here, 0, "go out again"},
		{"go" + here, 0, "were not held"},
		{here, 0, "Sending: on"},
	})
}

// After a day without answers very many texts may be in doubt. Some are listed, and all are decided, in transactions
// for which the service does not wait long.
func TestManyTextsInDoubt(t *testing.T) {
	now := time.Date(2026, 6, 3, 12, 0, 0, 0, time.UTC)
	const texts = unknownRows + unknownBatch/2
	file := filepath.Join(t.TempDir(), "rowbell.db")
	s := openRecords(t, file)
	write(t, s, func(tx *store.Tx) error {
		for i := range texts {
			if _, err := tx.Enqueue(store.Message{Key: fmt.Sprint(i), To: fictional(i), Note: "reply", Text: "hello",
				CreatedAt: now.Unix(), DueAt: now.Unix(), UsefulUntil: now.Unix() + 3600 + int64(i)}); err != nil {
				return err
			}
		}
		claims, err := tx.Claim(now.Unix(), store.Claimant{Gateway: "heron", RoutePrefixes: []string{""}, Max: texts,
			Lease: time.Minute})
		for _, m := range claims.Texts {
			if err == nil {
				_, err = tx.Begin(m, now.Unix())
			}
			if err == nil {
				err = tx.Settle(now.Unix(), m.LostTrack("no answer"))
			}
		}
		return err
	})
	run := func(flags ...string) string {
		common := []string{"--test-clock=" + now.Format(time.RFC3339), "sending", "unknown", "--db", file}
		return prints(t, append(common, flags...)...)
	}
	list := run()
	if lines := strings.Count(list, "no answer"); lines != unknownRows || !strings.Contains(list, "and 50 more") {
		t.Errorf("%d lines in\n%s", lines, list)
	}
	if said := run("--all", "--leave"); !strings.Contains(said, "250 texts will not be sent again") {
		t.Error(said)
	}
	if list = run(); !strings.Contains(list, "No text is in doubt") {
		t.Error(list)
	}
}
