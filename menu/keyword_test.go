package menu

import (
	"strings"
	"testing"
	"unicode"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Who says stop outside of a dialogue is heard in every language, however it
// is written.
func TestStops(t *testing.T) {
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(cat, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for entry, want := range map[string]bool{
		"STOP": true, "stop": true, " Stop. ": true, "(stop)": true, "stop please": true, "STOP!": true, "quit": true,
		"sitisha": true,
		"":        false, "stopover": false, "1": false, "help": false, "start": false, "do not stop": false, "s t o p": false,
	} {
		if got := m.Stops(entry); got != want {
			t.Errorf("%q: %v, want %v", entry, got, want)
		}
	}
}

func FuzzKeyword(f *testing.F) {
	good, bad := typedByGrowers(f, "keywords")
	for _, s := range append(append(good, bad...), "", "\x00", "\xff") {
		f.Add(s)
	}
	m := newMenu(f)
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
