package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Staff read every reason for which an entry is refused in English, and growers agree to the same words on a page as by
// dial.
func TestWordsForStaff(t *testing.T) {
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(cat, Options{})
	if err != nil {
		t.Fatal(err)
	}
	today := engine.Date(2026, 6, 2)
	day, _, refused := answer.Date("1/1/20", today, answer.WeededReach, m.DateWords())
	if refused == nil || !strings.Contains(m.Refused(refused), "more than 180 days ago") {
		t.Errorf("read as %v, refused %v", day, refused)
	}
	size, _, refused := answer.Area("20*30", m.AreaUnits())
	if refused != nil || size.M2 != 600 {
		t.Errorf("read as %+v, refused %v", size, refused)
	}
	for _, l := range m.LanguageNames() {
		words, err := m.ConsentWords(l.Tag)
		if err != nil || !strings.Contains(words, "\n") || l.Name == "" {
			t.Errorf("%s (%s): %q, %v", l.Tag, l.Name, words, err)
		}
		note, err := m.Welcome(l.Tag)
		if err != nil || note.Kind != "welcome" || !strings.Contains(note.Text, DefaultDialCode) {
			t.Errorf("%s: %+v, %v", l.Tag, note, err)
		}
	}
	if _, err := m.ConsentWords("xx"); err == nil {
		t.Error("words in a language that there is not")
	}
}
