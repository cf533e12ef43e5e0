package config

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"

	"rowbell/gateway/fault"
	"rowbell/menu/text"
)

// Texts has the settings of texts: a folder with language files that change or add texts, the languages that growers
// can choose, and national language shift tables by their identifiers (3GPP TS 23.038, clause 6.2.1.2.4).
//
// Without shift_tables no shift table is used, because a phone that does not know a table shows wrong letters. Only
// people who see the phones of an area know their tables.
type Texts struct {
	Folder      string           `toml:"folder"`
	Languages   []string         `toml:"languages"` // in the order of the menu; the first language is the default
	ShiftTables map[string][]int `toml:"shift_tables"`
}

// check checks the settings. It does not read the language files; Inspect does.
func (c *Texts) check() error {
	var l fault.List
	for _, lang := range slices.Sorted(maps.Keys(c.ShiftTables)) {
		for i, id := range c.ShiftTables[lang] {
			if id < 1 || id > 255 || !text.Shift(id).Known() {
				l.Add("shift_tables", fault.Under(fmt.Sprintf("%s[%d]", lang, i+1),
					fmt.Errorf("%d is not a national language identifier, 1 to 13", id)))
			}
		}
	}
	return l.Err()
}

// Tables returns the shift tables of each language.
func (c *Texts) Tables() map[string][]text.Shift {
	tables := map[string][]text.Shift{}
	for lang, ids := range c.ShiftTables {
		for _, id := range ids {
			tables[lang] = append(tables[lang], text.Shift(id))
		}
	}
	return tables
}

// Inspect reads the built-in language files, then those of the operator's folder, which replace or add texts. draft has
// the texts that could be read, wrong all mistakes.
func (c *Texts) Inspect() (draft *text.Catalogue, wrong text.Problems, err error) {
	if c.Folder == "" {
		draft, err := text.Default() // a start calls this twice, and Default compiles the texts once
		return draft, nil, err
	}
	if err := CheckFolder(c.Folder); err != nil {
		return nil, nil, fault.Under("texts.folder", err)
	}
	return text.Inspect(text.Carried(), os.DirFS(c.Folder), c.Folder)
}

// CheckFolder returns an error if there is no such folder.
func CheckFolder(name string) error {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no folder %s", name)
	case err != nil:
		return err
	case !info.IsDir():
		return fmt.Errorf("%s is not a folder", name)
	}
	return nil
}

// MaxMistakes is how many mistakes in language files an error lists.
const MaxMistakes = 5

// Catalogue returns the texts of the languages that growers can choose. A mistake in a language file is an error,
// because growers might read texts that are half translated.
func (c *Texts) Catalogue() (*text.Catalogue, error) {
	cat, wrong, err := c.Inspect()
	if err != nil {
		return nil, err
	}
	if n := len(wrong); n > 0 {
		first := wrong[:min(n, MaxMistakes)].Error()
		return nil, fmt.Errorf("texts: mistakes in the language files (%d):\n%s\nSee all: %s", n, first, c.Command())
	}
	return c.only(cat)
}

// checkFiles returns the mistakes that Catalogue finds as a fault.List.
func (c *Texts) checkFiles() error {
	cat, wrong, err := c.Inspect()
	if err != nil {
		return err
	}
	if len(wrong) == 0 {
		_, err := c.only(cat)
		return err
	}
	var l fault.List
	l.Refuse(true, "texts.folder", "mistakes in the language files (%d). See all: %s", len(wrong), c.Command())
	for _, p := range wrong[:min(len(wrong), MaxMistakes)] {
		l.Add("", errors.New(p.String()))
	}
	return l.Err()
}

// only returns those texts of cat that are in a language that growers can choose.
func (c *Texts) only(cat *text.Catalogue) (*text.Catalogue, error) {
	offered, err := c.Offered(cat.Languages())
	if err != nil {
		return nil, err
	}
	return cat.Only(offered...)
}

// Command returns the rowbell command that lists the mistakes in these files.
func (c *Texts) Command() string {
	if c.Folder == "" {
		return "rowbell texts"
	}
	return "rowbell texts --texts " + c.Folder
}

// Offered returns the languages that growers can choose, in menu order. known lists all languages with texts.
func (c *Texts) Offered(known []string) ([]string, error) {
	for _, lang := range slices.Sorted(maps.Keys(c.ShiftTables)) {
		if !slices.Contains(known, lang) {
			return nil, NoLanguage("texts.shift_tables", lang, known)
		}
	}
	if len(c.Languages) == 0 {
		return slices.Clone(known), nil
	}
	for i, lang := range c.Languages {
		if !slices.Contains(known, lang) {
			return nil, NoLanguage("texts.languages", lang, known)
		}
		if slices.Contains(c.Languages[:i], lang) {
			return nil, fault.Under("texts.languages", fmt.Errorf("%s stands twice", lang))
		}
	}
	return slices.Clone(c.Languages), nil
}

// NoLanguage returns the error for a setting that names a language without texts.
func NoLanguage(setting, lang string, known []string) error {
	return fault.Under(setting, fmt.Errorf("there is no language %s; there are %s",
		cmp.Or(lang, `""`), strings.Join(known, ", ")))
}
