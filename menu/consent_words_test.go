package menu

import (
	"strings"
	"testing"

	"rowbell/menu/notebook"
)

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

// Checks that a consent is stored with the exact words that the screen showed, and with its language and channel.
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
