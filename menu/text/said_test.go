package text

import (
	"slices"
	"strings"
	"testing"
)

// saidIn returns a language file with a table [said].
func saidIn(lang, lists string) string {
	return strings.Replace(sound, `name = "English"`, `name = "`+lang+`"`, 1) + "[a]\nb = \"x\"\n[said]\n" + lists
}

// TestSaid checks that the lists of all languages are read together, also those of a language that is not offered, and
// that an operator's list replaces the list of its language.
func TestSaid(t *testing.T) {
	files := map[string]string{
		"en.toml": saidIn("English", "done = \"\"\"done,\n  all  done, \"\"\"\nnot = \"no\""),
		"de.toml": saidIn("Deutsch", "done = \"fertig, gemäht\"\nnot = \"nein\""),
	}
	over := map[string]string{"de.toml": "[said]\ndone = \"erledigt\""}
	for name, c := range map[string]*Catalogue{
		"carried": must(Load(folder(files))), "changed": must(loadOver(folder(files), folder(over), "texts")),
	} {
		want := []string{"all done", "done", "fertig", "gemäht"}
		if name != "carried" {
			want = []string{"all done", "done", "erledigt"}
		}
		for _, only := range []*Catalogue{c, must(c.Only("en"))} {
			if got := slices.Sorted(slices.Values(only.Said()["done"])); !slices.Equal(got, want) {
				t.Errorf("%s: %q, want %q", name, got, want)
			}
		}
	}
}

// TestSaidProblems checks that mistakes in the table [said] are reported.
func TestSaidProblems(t *testing.T) {
	for lists, want := range map[string]string{
		"done = 3\nnot = \"x\"":                 "said.done: is a number",
		"done = \" , \"\nnot = \"x\"":           "said.done: is empty",
		"done = \"x\"":                          "said.not: is missing",
		"done = \"x\"\nnot = \"y\"\nno = \"z\"": "said.no: is not in en.toml",
		"done = \"a\u200Bb\"\nnot = \"y\"":      "said.done: holds U+200B",
	} {
		_, err := Load(folder(map[string]string{
			"en.toml": saidIn("English", "done = \"done\"\nnot = \"no\""), "de.toml": saidIn("Deutsch", lists)}))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", lists, err)
		}
	}
}
