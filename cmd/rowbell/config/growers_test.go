package config

import (
	"strings"
	"testing"

	"rowbell/menu/answer"
)

// A name of a plot in a file must fit the texts, as one that is typed.
func TestGrowerRules(t *testing.T) {
	rules, err := (&Config{CountryCode: "44"}).GrowerRules()
	if err != nil || len(rules.Languages) < 2 {
		t.Fatalf("languages %q: %v", rules.Languages, err)
	}
	for in, want := range map[string]string{"+447700900001": "+447700900001", "07700900001": "+447700900001",
		"447700900001": "+447700900001", "00447700900001": "+447700900001", "12": ""} {
		if got, err := rules.Phone(in); got != want || (err == nil) != (want != "") {
			t.Errorf("%s is read as %q, %v", in, got, err)
		}
	}
	if got, err := rules.Label(strings.Repeat("x", answer.MaxName)); err != nil || len(got) != answer.MaxName {
		t.Errorf("the longest name is read as %q, %v", got, err)
	}
	for _, name := range []string{strings.Repeat("x", answer.MaxName+1), "=1+1", "a/b"} {
		if _, err := rules.Label(name); err == nil || !strings.Contains(err.Error(), "at most 10") {
			t.Errorf("%s: error %v", name, err)
		}
	}
}
