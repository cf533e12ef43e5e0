package bell

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/menu"
	"rowbell/store"
)

// badMenu cannot write a text of its own for plots with these labels.
type badMenu struct {
	Menu
	fails, panics string
}

func (m badMenu) Ring(lang string, bells ...menu.Bell) (menu.Ringing, error) {
	switch label := bells[0].Season.Plot.Label; {
	case len(bells) > 1:
	case label == m.fails:
		return menu.Ringing{}, errors.New("no such text")
	case label == m.panics:
		panic("a plot called " + label)
	}
	return m.Menu.Ring(lang, bells...)
}

// TestOneBadGrower: who cannot be rung keeps nobody else from being rung, has
// nothing half written, and is tried again on the next day.
func TestOneBadGrower(t *testing.T) {
	for _, batch := range []int{0, 1, 2} {
		t.Run(fmt.Sprint("batch ", batch), func(t *testing.T) {
			v := newValley(t)
			var log bytes.Buffer
			bad := badMenu{v.b.o.Menu, "rock", "hollow"}
			b := New(Options{Store: v.s, QuietHour: 20, Menu: bad, Clock: v.clock, Log: zerolog.New(&log), Batch: batch})
			for n := range 6 {
				v.grower(n, 16, 23) // prepare and last days: two texts each
			}
			for n, label := range map[int]string{1: "rock", 4: "hollow"} {
				v.as(n, func(l *store.Ledger) error {
					s, err := l.Season(1) // the less urgent plot: its text comes last
					if err != nil {
						return err
					}
					s.Plot.Label = label
					return l.ChangePlot(1, s.Plot, s.Tool)
				})
			}
			v.clock.Set(dawn.Add(time.Hour))
			if n, err := b.Ring(context.Background(), v.clock.Now()); err != nil || n != 8 {
				t.Errorf("%d texts, %v; want 8", n, err)
			}
			for n := range 6 {
				want := 2
				if n == 1 || n == 4 {
					want = 0
				}
				if got := len(v.inbox(n)); got != want {
					t.Errorf("grower %d got %d texts, want %d", n, got, want)
				}
			}
			if got := log.String(); strings.Count(got, "no text can be written") != 2 || !strings.Contains(got, "no such text") || strings.Contains(got, "a plot called") {
				t.Errorf("log:\n%s", got)
			}
			if n, err := b.Ring(context.Background(), v.clock.Now()); err != nil || n != 0 {
				t.Errorf("tried again at once: %d, %v", n, err)
			}
			v.clock.Advance(24 * time.Hour) // and the menu is mended
			if _, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil || len(v.inbox(1)) == 0 || len(v.inbox(4)) == 0 {
				t.Errorf("not rung on the next day: %v", err)
			}
		})
	}
}
