package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Growers of a place whose weeds are early see two leaves before the table's
// clock has them up. The place learns, and a plot planted later gets earlier
// dates; where learning is off, the table's.
func TestAPlaceLearnsFromItsGrowers(t *testing.T) {
	clk := clock.New(time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC))
	today := engine.Date(2026, 6, 1)
	var log bytes.Buffer
	on := true
	c := config.Default()
	c.DB, c.Place = filepath.Join(t.TempDir(), "rowbell.db"), &config.Place{Learning: &on}
	network := c.Local("")
	network.Token = profile.HashToken("x")
	start := func() *service {
		s, err := startService(t.Context(), c, []profile.Profile{network}, clk, zerolog.New(&log))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := start()
	plot := engine.Plot{Method: engine.Transplanted, RowSpacingCM: 20, HillSpacingCM: 20}
	add := func(s *service, phone store.Phone, planted engine.Day, seen ...engine.Sighting) {
		t.Helper()
		if err := s.store.InTx(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, clk.Now().Unix())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			p := plot
			p.Planted = planted
			no, err := l.AddPlot(p, engine.Tool{WidthCM: 15})
			if err != nil {
				return err
			}
			for _, x := range seen {
				if err := l.See(no, x); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	opens := func(s *service, phone store.Phone) (days engine.Day) {
		t.Helper()
		if err := s.store.View(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, clk.Now().Unix())
			if err != nil {
				return err
			}
			season, err := l.Season(1)
			if err != nil {
				return err
			}
			p, err := season.Windows(today)
			days = p.Next.Opens - season.Plot.Planted
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return days
	}
	place := func(s *service) (p store.Place) {
		t.Helper()
		if err := s.store.View(t.Context(), func(tx *store.Tx) error {
			var err error
			p, _, err = tx.PlaceByName(store.DefaultPlace)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return p
	}

	const fresh = store.Phone("+447700900099")
	add(s, fresh, today-2)
	before := opens(s, fresh)
	for i := range 8 {
		// Two or three leaves three days before the table opens the window.
		add(s, store.Phone(fmt.Sprintf("+44%d", 7700900001+i)), today-before, engine.Sighting{On: today - 3, Leaves: engine.TwoThree})
	}
	if err := s.upkeep(t.Context()); err != nil {
		t.Fatal(err)
	}
	learned := place(s)
	if learned.LearnedN != 8 || learned.WeedRate <= 1.03 || learned.WeedRate > engine.MaxWeedRate {
		t.Fatalf("learned %g from %d", learned.WeedRate, learned.LearnedN)
	}
	if after := opens(s, fresh); after >= before {
		t.Errorf("the window opens on day %d, before it learned %d", after, before)
	}
	if !strings.Contains(log.String(), "learning") || strings.Contains(log.String(), "77009") {
		t.Errorf("log: %s", log.String())
	}
	log.Reset()
	clk.Advance(24 * time.Hour)
	if err := s.upkeep(t.Context()); err != nil || log.Len() != 0 {
		t.Errorf("once more, with nothing new: %v, %s", err, log.String())
	}
	if err := s.close(); err != nil {
		t.Fatal(err)
	}

	on = false
	s = start()
	defer s.close()
	if off := opens(s, fresh); off != before {
		t.Errorf("without learning the window opens on day %d, want %d", off, before)
	}
	if kept := place(s); kept.WeedRate != learned.WeedRate {
		t.Errorf("what was learned is gone: %g", kept.WeedRate)
	}
}
