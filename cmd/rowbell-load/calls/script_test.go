package calls

import (
	"context"
	"encoding/json"
	"slices"
	"sync"
	"testing"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/cmd/rowbell-load/stack/stacktest"
)

func TestDatesMove(t *testing.T) {
	for _, tt := range []struct {
		days      int
		has, want string
	}{
		{0, "Weed now, by Mon 30 Nov.", "Weed now, by Mon 30 Nov."},
		{1, "Weed now, by Mon 30 Nov.", "Weed now, by Tue 1 Dec."},
		{40, "best Sun 3 Jan, by Tue 5 Jan", "best Fri 12 Feb, by Sun 14 Feb"},
		{-30, "> 12/11", "> 13/10"},
		{10, "> dial *123*1*12/11*20x30#", "> dial *123*1*22/11*20x30#"},
		{7, "water 3-5 cm, 600 m2, type 1-3", "water 3-5 cm, 600 m2, type 1-3"},
	} {
		if got := moveDates(tt.has, tt.days); got != tt.want {
			t.Errorf("%d days: %q, want %q", tt.days, got, tt.want)
		}
	}
}

func TestParse(t *testing.T) {
	got, err := parse("# A test.\n\nstart 2026-11-25 09:00\nphone +447700900001\n> dial *123#\n< Two\n< lines\n" +
		"sms 2026-11-25 09:00 < Hello\nsms | again\n> 0\n< Bye\n< (end)\n> hang up\nsms > 1 < 2\n")
	want := []act{
		{call: "ussd", event: "begin", says: "*123#", shows: "Two\nlines", texts: []string{"Hello\nagain"}},
		{call: "ussd", event: "entry", says: "0", shows: "Bye", ends: true},
		{call: "ussd", event: "end"},
		{call: "sms", says: "1 < 2"},
	}
	if err != nil || !slices.EqualFunc(got, want, func(a, b act) bool {
		x, _ := json.Marshal([]any{a.call, a.event, a.says, a.shows, a.ends, a.texts})
		y, _ := json.Marshal([]any{b.call, b.event, b.says, b.shows, b.ends, b.texts})
		return string(x) == string(y)
	}) {
		t.Errorf("%+v, %v, want %+v", got, err, want)
	}
	for _, bad := range []string{"< a screen", "sms 2026-11-25 09:00 < a text", "> 1\n@ +3 days", "> 1\nsms | more"} {
		if _, err := parse(bad); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
}

// The dialogues hold on every day of a year, not only on the day on which they are written: the place has the same
// weather in every month.
func TestScriptsAllYear(t *testing.T) {
	t.Parallel()
	const every = 11 // days
	today := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	var mu sync.Mutex
	texts := map[string][]string{}
	n := &stack.Network{Arrived: func(t stack.Text) {
		mu.Lock()
		defer mu.Unlock()
		texts[t.To.E164()] = append(texts[t.To.E164()], t.Text)
	}}
	took := func(phone string) []string {
		mu.Lock()
		defer mu.Unlock()
		defer delete(texts, phone)
		return texts[phone]
	}
	s := stacktest.Start(t, stack.Options{TestClock: today, Zone: "UTC"}, n)
	growers := 0
	for ; today.Before(written.AddDate(1, 0, 0)); today = today.AddDate(0, 0, every) {
		settle := func() {
			if err := s.SetClock(context.Background(), today); err != nil {
				t.Fatal(err)
			}
		}
		settle()
		list, err := scripts(today)
		if err != nil {
			t.Fatal(err)
		}
		for _, script := range list {
			g := &grower{phone: stack.Phone(growers), script: &script}
			growers++
			for i, a := range script.acts {
				got, err := s.Post(context.Background(), stack.NetworkOf(g.phone), a.call, g.body(i, &a))
				if err != nil || got.Status/100 != 2 {
					t.Fatalf("%s: %v, %d %s", script.name, err, got.Status, got.Body)
				}
				var shown struct {
					Text string
					More bool
				}
				if a.call == "ussd" && a.event != "end" {
					if err := json.Unmarshal(got.Body, &shown); err != nil || shown.Text != a.shows {
						t.Fatalf("%s on %v, %q: shown\n%s\nwant\n%s", script.name, today, a.says, got.Body, a.shows)
					}
				}
				if len(a.texts) > 0 {
					settle()
				}
				if got := took(g.phone.E164()); !slices.Equal(got, a.texts) {
					t.Fatalf("%s on %v, %q: texts %q, want %q", script.name, today, a.says, got, a.texts)
				}
			}
		}
	}
	if growers < 100 {
		t.Errorf("only %d growers", growers)
	}
}

// Any dialogue is read or refused, and one that is read has a call for each of its answers.
func FuzzParse(f *testing.F) {
	f.Add("> dial *123#\n< A screen\nsms 2026-11-25 09:00 < Hello\nsms | again\n> 12/11\n< (end)\n> hang up\n"+
		"sms > 1\n", 40)
	f.Add("< a screen", 0)
	f.Fuzz(func(t *testing.T, dialogue string, days int) {
		acts, err := parse(moveDates(dialogue, days%1000))
		for _, a := range acts {
			if err == nil && a.call != "ussd" && (a.call != "sms" || a.event != "") {
				t.Errorf("%+v", a)
			}
		}
	})
}
