package menu

import (
	"slices"
	"strings"
	"testing"
	"unicode"

	"rowbell/menu/answer"
	"rowbell/menu/notebook"
)

// stopMoments are moments in a dialogue, by name: each function brings a grower to this moment. STOP must work at all
// of them.
var stopMoments = map[string]func(testing.TB) *texter{
	"at rest":         func(t testing.TB) *texter { return withPlots(t, 1) },
	"asked by a text": func(t testing.TB) *texter { x := withPlots(t, 1); x.ring(1); return x },
	"at home":         func(t testing.TB) *texter { return after(withPlots(t, 1), "MENU") },
	"in the area question": func(t testing.TB) *texter {
		return after(withPlots(t, 1), "MENU", "1", "1", "1", "1", "1", "1")
	},
	"in the name question": func(t testing.TB) *texter { return after(withPlots(t, 1), "MENU", "2", "6", "1", "6") },
	"before erasing all":   func(t testing.TB) *texter { return after(withPlots(t, 1), "MENU", "6", "4") },
	"without records":      func(t testing.TB) *texter { return texts(t, newBook()) },
	"at first contact":     func(t testing.TB) *texter { return after(texts(t, newBook()), "hello") },
	"on a silent number":   func(t testing.TB) *texter { return texts(t, silentBook()) },
	"asked who it is":      func(t testing.TB) *texter { return after(texts(t, silentBook()), "hello") },
}

// after sends the texts as the grower, one after the other, and returns the grower.
func after(x *texter, entries ...string) *texter {
	for _, e := range entries {
		x.text(e)
	}
	return x
}

// TestStopAtAnyMoment checks that STOP works at any moment, in every language and in every spelling. One text confirms
// the first STOP; a number that has stopped already gets no text (CTIA Messaging Principles and Best Practices, May
// 2023, 5.1.3 Consumer Opt-Out; 47 CFR 64.1200(a)(12): one text to confirm).
func TestStopAtAnyMoment(t *testing.T) {
	words := []string{"STOP", "stop", " Stop. ", "stop please", "STOP!!", "«stop»", "Stop, thank you", "please stop"}
	heard := words[:len(words)-1] // "please stop" is left out, because STOP must be the first word
	for k, kind := range keywordTexts {
		if kind == wordStop {
			for w := range newMenu().cat.AllWords(k) {
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
					if secret := secretIn(x.reply); secret != "" {
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

// TestStopIsAsEasyAsConsent checks that withdrawing consent is as easy as giving it (GDPR, Article 7(3)). A grower
// withdraws by one text. In the menu, withdrawing takes at most two entries more than giving consent.
func TestStopIsAsEasyAsConsent(t *testing.T) {
	entries := func(b *notebook.Book, done func() bool, keys ...string) int {
		p := caller(t, b)
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
	// The screen of the menu has confirmed that the texts are stopped. So a STOP by text after that gets no answer.
	x := texts(t, b)
	if x.text("STOP"); x.reply != "" {
		t.Errorf("stopped by menu, and STOP is answered by\n%s", x.reply)
	}
}

// TestEndAsAName checks texts while the dialogue asks for the name of a plot. A text of several words, such as "End
// plot", is a name, even if its first word alone is another word for STOP. Three kinds of text still stop: one such
// word alone, a text that begins with STOP itself, and a text that cannot be a name, because it is too long or has
// punctuation.
func TestEndAsAName(t *testing.T) {
	for _, name := range []string{"End plot", "Quit hill"} {
		x := after(withPlots(t, 1), "MENU", "2", "6", "1", "6", name)
		if got := x.b.Seasons[1].Plot.Label; got != name || x.b.NoTexts {
			t.Errorf("%q: the plot is called %q, stopped %v", name, got, x.b.NoTexts)
		}
	}
	for _, word := range []string{"END", "end.", "Stop", "stop now", "STOP 2", "Stop!! it", "cancel all these texts",
		"end, now"} {
		x := after(withPlots(t, 1), "MENU", "2", "6", "1", "6", word)
		if x.b.Seasons[1].Plot.Label != "" || !x.b.NoTexts {
			t.Errorf("%q: the plot is called %q, stopped %v", word, x.b.Seasons[1].Plot.Label, x.b.NoTexts)
		}
	}
	x := after(withPlots(t, 1), "MENU", "end plot") // the dialogue does not ask for a name here, so "end plot" stops
	if !x.b.NoTexts {
		t.Error("end plot did not stop")
	}
}

// TestStops checks that Stops recognises a STOP in every language and every spelling.
func TestStops(t *testing.T) {
	m := everyMenu()
	for entry, want := range map[string]bool{
		"STOP": true, "stop": true, " Stop. ": true, "(stop)": true, "stop please": true, "STOP!": true, "quit": true,
		"sitisha": true,
		"":        false, "stopover": false, "1": false, "help": false, "start": false, "do not stop": false,
		"s t o p": false,
	} {
		if got := m.Stops(entry); got != want {
			t.Errorf("%q: %v, want %v", entry, got, want)
		}
	}
}

func FuzzKeyword(f *testing.F) {
	for _, s := range []string{"Stop.", "stop please", "help!", "Arrêt", "msaada", "मदद।", "शुरू", "1",
		"I cannot stop now", "5/11", "stopped", "", "\x00", "\xff"} {
		f.Add(s)
	}
	m := newMenu()
	f.Fuzz(func(t *testing.T, s string) {
		e := answer.Digits(s)
		kind := m.word(e)
		if kind == wordNone {
			return
		}
		if !strings.ContainsFunc(e, unicode.IsLetter) {
			t.Fatalf("%q is a keyword without a letter", s)
		}
		for _, same := range []string{e + ".", " " + e + " ", e + " and more", strings.ToUpper(e)} {
			if got := m.word(answer.Digits(same)); got != kind {
				t.Fatalf("%q is keyword %d, %q is %d", s, kind, same, got)
			}
		}
	})
}

// consentBook stores the words, the language and the channel of the latest consent.
type consentBook struct {
	*notebook.Book
	language, words, channel, via string
}

func (b *consentBook) Via(channel string) { b.via = channel }

func (b *consentBook) Consent(language, words, channel string) error {
	b.language, b.words, b.channel = language, words, channel
	return b.Book.Consent(language, words, channel)
}

// TestConsentIsToTheWordsShown checks that a consent is stored with the exact words that the screen showed, and with
// its language and channel.
func TestConsentIsToTheWordsShown(t *testing.T) {
	m := everyMenu()
	seen := map[string]bool{}
	for i, lang := range m.cat.Languages() {
		for _, ch := range []Channel{USSD, SMS} {
			b := &consentBook{Book: newBook()}
			state, _, err := m.Dial(b, ch, nil, "")
			shown := Reply{}
			for _, e := range []string{string(digit(i + 1)), "1"} {
				before := must(shown, err)
				state, shown, err = m.Enter(b, ch, state, e)
				if b.Registered && !strings.HasPrefix(before.Text, b.words+"\n") {
					t.Errorf("%s by %v: shown was\n%s\nkept was\n%s", lang, ch, before.Text, b.words)
				}
			}
			if err != nil || !b.Registered || b.language != lang || b.channel != ch.String() || b.via != ch.String() {
				t.Errorf("%s by %v: known %v, consent in %q by %q (%q): %v", lang, ch, b.Registered, b.language,
					b.channel, b.via, err)
			}
			seen[b.words] = true
		}
	}
	if len(seen) < len(m.cat.Languages()) {
		t.Errorf("%d texts of %d languages", len(seen), len(m.cat.Languages()))
	}
}
