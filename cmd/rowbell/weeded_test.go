package main

import (
	"fmt"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// Staff log a weeding under the rules of the menu. A weeding that is refused is not logged.
func TestWeeded(t *testing.T) {
	file := newRecords(t)
	s := openRecords(t, file)
	today := practiceDay
	planted := today - 14
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(fictional(1), today.At(practiceHour, time.UTC).Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "v", "ussd"); err != nil {
			return err
		}
		_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 20,
			HillSpacingCM: 20, AreaM2: 600}, engine.Tool{WidthCM: 15})
		return err
	})
	at := "--test-clock=" + today.At(practiceHour, time.UTC).Format(time.RFC3339)
	weeded := func(n int, more string) string {
		return fmt.Sprintf("weeded --db %s --phone %s %s", file, fictional(n).E164(), more)
	}
	runSteps(t, at+" ", []shellStep{
		{weeded(1, "--pass soon"), 2, "rowbell weeded --help"},
		{"weeded --db " + file + " --phone x --pass " + today.String(), 2, "--phone: this is not a phone number"},
		{weeded(2, "--pass "+today.String()), 1, "nothing was logged: +4477…002 has no plots here"},
		{weeded(1, "--plot 2 --pass "+today.String()), 1, "there is no open plot 2"},
		{weeded(1, "--pass "+(today+1).String()), 1, (today + 1).String() + " is still to come"},
		{weeded(1, "--pass "+(planted-1).String()), 1, "is before the plot was planted, on " + planted.String()},
		{weeded(1, "--pass "+today.String()+":50%"), 0, "Logged: plot 1 of +4477…001 … The other 50% is to be"},
		{weeded(1, "--pass "+today.String()+":60%"), 1, "50% of the plot is weeded already"},
		{weeded(1, "--pass "+today.String()), 0, "weeded on " + today.String() + ". Next weeding: "},
		{weeded(1, "--pass "+today.String()), 1, "a weeding of " + today.String() + " is logged already"},
	})
	read(t, s, func(tx *store.Tx) error {
		if r, err := found(tx, fictional(1), today.At(practiceHour, time.UTC).Unix()); err != nil || r.passes[1] != 2 {
			t.Errorf("%d passes are logged, want 2; %v", r.passes[1], err)
		}
		return nil
	})
}
