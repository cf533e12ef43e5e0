package menu

import (
	"testing"

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
		"STOP": true, "stop": true, " Stop. ": true, "(stop)": true, "stop please": true, "STOP!": true, "quit": true, "sitisha": true,
		"": false, "stopover": false, "1": false, "help": false, "start": false, "do not stop": false, "s t o p": false,
	} {
		if got := m.Stops(entry); got != want {
			t.Errorf("%q: %v, want %v", entry, got, want)
		}
	}
}
