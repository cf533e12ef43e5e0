package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// A letter to 40 growers goes out once to each, in the own language, although the service is killed while it sends.
func TestLetterAfterAKill(t *testing.T) {
	const growers = 40
	words := map[string]string{"en": "A training on Friday.", "sw": "Mafunzo siku ya Ijumaa."}
	languages := []string{"en", "sw"}
	p := newProcess(t, languages...)
	p.makeRecords()
	s, err := store.Open(context.Background(), filepath.Join(p.dir, config.DefaultDB), store.Options{})
	must(t, err)
	must(t, s.InTx(context.Background(), func(tx *store.Tx) error { return aLetter(tx, growers, languages, words) }))
	must(t, s.Close())

	p.start(aDay.Add(-time.Hour))
	killed := make(chan struct{})
	var once sync.Once
	p.inbox.setHook(func(string) bool {
		if p.inbox.count() < 9 {
			return true
		}
		once.Do(func() { close(killed) })
		return false // from now on the service gets no answer until it is killed
	})
	moved := make(chan struct{})
	go func() {
		_, _, _ = p.try("clock", map[string]any{"set": aDay.Format(time.RFC3339)}) // ends with the service
		close(moved)
	}()
	<-killed
	p.kill()
	<-moved
	before := p.inbox.count()
	p.inbox.setHook(nil)
	p.start(aDay.Add(time.Minute))
	p.settle()
	for i := range growers {
		want := words[languages[i%2]]
		if got := p.inbox.take(string(fictional(i))); len(got) != 1 || got[0] != want {
			t.Errorf("grower %d got %q, want %q once", i, got, want)
		}
	}
	if all := p.inbox.count(); all != growers || before >= growers {
		t.Errorf("%d texts, %d of them before the kill", all, before)
	}
}

// aLetter adds growers, who read these languages in turn, and a letter to all of them, which goes out from aDay on.
func aLetter(tx *store.Tx, growers int, languages []string, words map[string]string) error {
	before := aDay.Add(-24 * time.Hour).Unix()
	for i := range growers {
		l, err := tx.Ledger(fictional(i), before)
		if err == nil {
			err = l.Consent(languages[i%len(languages)], "1", "ussd")
		}
		if err != nil {
			return fmt.Errorf("grower %d: %w", i, err)
		}
	}
	place, known, err := tx.PlaceByName(store.DefaultPlace)
	if err != nil || !known {
		return errors.Join(err, errors.New("no place"))
	}
	today := engine.DayOf(aDay, time.UTC)
	_, err = tx.AddLetter(store.Letter{Who: "mira", Filter: store.LetterFilter{Places: store.Scope{place.ID}},
		Words: words, Begins: today, BeginsHour: aDay.Hour(), Until: today, QuietHour: 20, Confirmed: int64(growers)},
		before)
	return err
}
