package menu

import (
	"slices"
	"testing"

	"rowbell/menu/notebook"
)

// stopMoments are where a grower may be when they say stop.
var stopMoments = map[string]func(testing.TB) *texter{
	"at rest":              func(t testing.TB) *texter { return withPlots(t, 1) },
	"asked by a text":      func(t testing.TB) *texter { x := withPlots(t, 1); x.ring(1); return x },
	"at home":              func(t testing.TB) *texter { return typing(t, "MENU") },
	"in the area question": func(t testing.TB) *texter { return typing(t, "MENU", "1", "1", "1", "1", "1", "1") },
	"in the name question": func(t testing.TB) *texter { return typing(t, "MENU", "2", "6", "1", "6") },
	"before erasing all":   func(t testing.TB) *texter { return typing(t, "MENU", "6", "4") },
	"without records": func(t testing.TB) *texter {
		return &texter{t: t, m: newMenu(t), b: newBook(), now: 1}
	},
	"at first contact": func(t testing.TB) *texter {
		x := &texter{t: t, m: newMenu(t), b: newBook(), now: 1}
		x.text("hello")
		return x
	},
	"on a silent number": func(t testing.TB) *texter {
		return &texter{t: t, m: newMenu(t), b: silentBook(), now: 100}
	},
	"asked who it is": func(t testing.TB) *texter {
		x := &texter{t: t, m: newMenu(t), b: silentBook(), now: 100}
		x.text("hello")
		return x
	},
}

func typing(t testing.TB, entries ...string) *texter {
	x := withPlots(t, 1)
	for _, e := range entries {
		x.text(e)
	}
	return x
}

// STOP is heard at any moment, in every language, however it is written. It is
// confirmed by one text; a number that said it before gets none (CTIA Messaging
// Principles and Best Practices, May 2023, 5.1.3 Consumer Opt-Out; 47 CFR
// 64.1200(a)(12): one text to confirm).
func TestStopAtAnyMoment(t *testing.T) {
	words := []string{"STOP", "stop", " Stop. ", "stop please", "STOP!!", "«stop»", "Stop, thank you", "please stop"}
	heard := words[:len(words)-1] // the first word counts
	for k, kind := range keywordTexts {
		if kind == wordStop {
			for w := range newMenu(t).cat.AllWords(k) {
				heard = append(heard, w, w+".")
			}
		}
	}
	if len(heard) < 30 {
		t.Fatalf("only %d ways to say stop: the words of other languages are missing", len(heard))
	}
	slices.Sort(heard)
	for moment, at := range stopMoments {
		t.Run(moment, func(t *testing.T) {
			for _, word := range heard {
				x := at(t)
				known := x.b.Registered
				x.text(word)
				if !x.b.NoTexts || x.kind != "stop" || x.reply == "" || x.state != nil || x.prompt != nil {
					t.Fatalf("%q: stopped %v, kind %q, dialogue %q, prompt %q, reply\n%s", word, x.b.NoTexts, x.kind,
						x.state, x.prompt, x.reply)
				}
				if x.b.Unheard {
					if secret := tells(x.reply); secret != "" {
						t.Errorf("%q tells a stranger %q", word, secret)
					}
				}
				if x.text(word); !x.b.NoTexts || x.reply != "" {
					t.Errorf("%q again is answered by\n%s", word, x.reply)
				}
				x.text("START")
				if x.reply == "" || x.b.NoTexts == (known && !x.b.Unheard) {
					t.Errorf("START after %q: stopped %v, reply\n%s", word, x.b.NoTexts, x.reply)
				}
			}
		})
	}
	x := withPlots(t, 1)
	if x.text(words[len(words)-1]); x.b.NoTexts {
		t.Error("a word in the middle of a text stops")
	}
}

// It is as easy to withdraw as to give (GDPR, Article 7(3)): one text, or no
// more entries by the menu than first contact takes and the choice of stopping.
func TestStopIsAsEasyAsConsent(t *testing.T) {
	entries := func(b *notebook.Book, done func() bool, keys ...string) int {
		p := &phone{t: t, m: newMenu(t), b: b}
		p.dial("")
		for i, key := range keys {
			if done() {
				return i
			}
			p.enter(key)
		}
		if !done() {
			t.Fatalf("%v does not do it:\n%s", keys, p.last.Text)
		}
		return len(keys)
	}
	b := newBook()
	given := entries(b, func() bool { return b.Registered }, "1")
	withdrawn := entries(b, func() bool { return b.NoTexts }, "6", "3", "1")
	if given < 1 || withdrawn > given+2 {
		t.Errorf("consent takes %d entries, stopping %d", given, withdrawn)
	}
	// After the menu has confirmed it no text does.
	x := &texter{t: t, m: newMenu(t), b: b, now: 1}
	if x.text("STOP"); x.reply != "" {
		t.Errorf("stopped by menu, and STOP is answered by\n%s", x.reply)
	}
}
