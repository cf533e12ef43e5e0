package config_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu/text"
)

func TestTexts(t *testing.T) {
	english, err := os.ReadFile("../../../menu/text/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	german := strings.Replace(string(english), `name = "English"`, `name = "Deutsch"`, 1)
	if err := os.WriteFile(filepath.Join(dir, "de.toml"), []byte(german), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ toml, want string }{
		"folder": {"[texts]\nfolder = \"nowhere\"\n", "texts.folder: there is no folder nowhere"},
		"language": {"[texts]\nlanguages = [\"xx\"]\n",
			"texts.languages: there is no language xx; there are en"},
		"empty language": {"[texts]\nlanguages = [\"\"]\n", `there is no language ""`},
		"twice":          {"[texts]\nlanguages = [\"en\", \"en\"]\n", "texts.languages: en stands twice"},
		"table of none":  {"[texts.shift_tables]\nxx = [3]\n", "texts.shift_tables: there is no language xx"},
		"no table": {"[texts.shift_tables]\nen = [14]\n",
			"texts.shift_tables: en: 14 is not a national language identifier"},
		"no table, nought":  {"[texts.shift_tables]\nen = [0]\n", "en: 0 is not"},
		"no table, wrapped": {"[texts.shift_tables]\nen = [259]\n", "en: 259 is not"},
		"unknown setting":   {"[texts]\nfolders = \"x\"\n", "texts.folders: there is no setting of this name"},
	} {
		conf, err := config.Parse([]byte(c.toml))
		if err == nil {
			_, err = conf.Texts.Catalogue()
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
	conf, err := config.Parse([]byte("[texts]\nfolder = '" + dir +
		"'\nlanguages = [\"de\", \"en\"]\n[texts.shift_tables]\nde = [1, 3]\n"))
	if err != nil {
		t.Fatal(err)
	}
	cat, err := conf.Texts.Catalogue()
	if err != nil {
		t.Fatal(err)
	}
	if got := cat.Languages(); len(got) != 2 || got[0] != "de" || cat.Name("de") != "Deutsch" {
		t.Errorf("languages %v, de is %q", got, cat.Name("de"))
	}
	if got := conf.Texts.Tables()["de"]; len(got) != 2 || got[0] != text.Turkish || got[1] != text.Portuguese {
		t.Errorf("tables %v", got)
	}
}
