package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/menu/text"
)

func TestTexts(t *testing.T) {
	english, err := os.ReadFile("../../../menu/text/en.toml")
	ok(t, err)
	dir := t.TempDir()
	german := strings.Replace(string(english), `name = "English"`, `name = "Deutsch"`, 1)
	ok(t, os.WriteFile(filepath.Join(dir, "de.toml"), []byte(german), 0o600))
	c := parse(t, "texts = {folder = '"+dir+"', languages = ['de', 'en'], shift_tables.de = [1, 3]}").Texts
	cat, err := c.Catalogue()
	ok(t, err)
	if got := cat.Languages(); len(got) != 2 || got[0] != "de" || cat.Name("de") != "Deutsch" {
		t.Errorf("languages %v, de is %q", got, cat.Name("de"))
	}
	if got := c.Tables()["de"]; len(got) != 2 || got[0] != text.Turkish || got[1] != text.Portuguese {
		t.Errorf("tables %v", got)
	}
	for file, want := range map[string]string{
		"texts.folder = 'nowhere'":       "texts.folder: there is no folder nowhere",
		"texts.languages = ['xx']":       "texts.languages: there is no language xx; there are en",
		"texts.languages = ['']":         `there is no language ""`,
		"texts.languages = ['en', 'en']": "texts.languages: en stands twice",
		"texts.shift_tables.xx = [3]":    "texts.shift_tables: there is no language xx",
	} {
		c := parse(t, file).Texts
		if _, err := c.Catalogue(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q in it", file, err, want)
		}
	}
}
