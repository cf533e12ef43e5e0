package config

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the mistakes anew")

// All mistakes of a file are reported at once, each with its line. In testdata/mistakes, NAME.txt is what the start of
// the service prints about NAME.toml. The environment has no secrets.
func TestAllMistakesAtOnce(t *testing.T) {
	files, err := filepath.Glob("testdata/mistakes/*.toml")
	ok(t, err)
	if len(files) < 4 {
		t.Fatalf("only %d files", len(files))
	}
	for _, file := range files {
		_, err := LoadToServe(file, func(string) string { return "" })
		if err == nil {
			t.Errorf("%s: no mistake was found", file)
			continue
		}
		golden := strings.TrimSuffix(file, ".toml") + ".txt"
		if *update {
			ok(t, os.WriteFile(golden, []byte(err.Error()+"\n"), 0o644))
		}
		want, readErr := os.ReadFile(golden)
		ok(t, readErr)
		if err.Error()+"\n" != string(want) {
			t.Errorf("%s: got\n%v\nwant\n%s", file, err, want)
		}
		for _, secret := range []string{"swordfish", "7f3a"} {
			if strings.Contains(err.Error(), secret) {
				t.Errorf("%s: a secret is shown", file)
			}
		}
	}
}

// Meant returns the nearest word, and nothing for a name that is one of the words.
func TestMeant(t *testing.T) {
	words := []string{"herons", "heron", "marsh", "ab"}
	for name, want := range map[string]string{"heron": "", "Heron": "", "herom": "heron", "heronss": "herons",
		"hreon": "heron", "plover": "", "ac": "", "mrash": "marsh"} {
		if got := Meant(name, words); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

// An error lists the first mistakes of a file and counts the others.
func TestManyMistakesAreCounted(t *testing.T) {
	_, err := Parse([]byte(strings.Repeat("[[units]]\nname = ''\n", 100)))
	if err == nil || strings.Count(err.Error(), "\n") != maxShown+1 || !strings.HasSuffix(err.Error(), "and 175 more") {
		t.Error(err)
	}
}

// For every file, Parse returns settings or an error whose mistakes are in lines of the file.
func FuzzParse(f *testing.F) {
	for _, m := range mistakes {
		f.Add([]byte(m.toml))
	}
	files, err := filepath.Glob("testdata/mistakes/*.toml")
	samples, errSamples := filepath.Glob("../../../testdata/gateways/*.toml")
	ok(f, errors.Join(err, errSamples))
	for _, file := range append(files, samples...) {
		b, err := os.ReadFile(file)
		ok(f, err)
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		_, err := Parse(b)
		var found Mistakes
		if err == nil {
			return
		}
		if !errors.As(err, &found) || len(found) == 0 {
			t.Fatalf("%T: %v", err, err)
		}
		lines := bytes.Count(b, []byte("\n")) + 1
		for _, m := range found {
			if m.Line < 1 || m.Line > lines || m.What == "" || strings.ContainsAny(m.String(), "\n\r") {
				t.Errorf("%+v in %d lines", m, lines)
			}
		}
	})
}
