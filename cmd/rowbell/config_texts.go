package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"

	"rowbell/menu/text"
)

// textsConfig is what growers read.
//
//	[texts]
//	folder = "texts"           # language files that say single texts otherwise, or add a language
//	languages = ["sw", "en"]   # which are offered, in this order; the first is the default
//
//	[texts.shift_tables]
//	pt = [3]                   # Portuguese goes out by SMS in its own spelling
//
// Shift tables are off by default: a phone that does not know a table shows
// other letters in its place, and only who is there can see what the phones of
// a place know. The numbers are the national language identifiers of 3GPP TS
// 23.038, clause 6.2.1.2.4.
type textsConfig struct {
	Folder      string           `toml:"folder"`
	Languages   []string         `toml:"languages"`
	ShiftTables map[string][]int `toml:"shift_tables"`
}

// validate names the first setting that cannot be used, whatever the files hold.
func (c *textsConfig) validate() error {
	for _, lang := range slices.Sorted(maps.Keys(c.ShiftTables)) {
		for _, id := range c.ShiftTables[lang] {
			if id < 1 || id > 255 || !text.Shift(id).Known() {
				return fmt.Errorf("texts.shift_tables: %s: %d is not a national language identifier, 1 to 13", lang, id)
			}
		}
	}
	return nil
}

// tables are the shift tables that may be used, by language.
func (c *textsConfig) tables() map[string][]text.Shift {
	tables := map[string][]text.Shift{}
	for lang, ids := range c.ShiftTables {
		for _, id := range ids {
			tables[lang] = append(tables[lang], text.Shift(id))
		}
	}
	return tables
}

// inspect reads the language files, the operator's folder over those of the
// program.
func (c *textsConfig) inspect() (draft *text.Catalogue, wrong text.Problems, err error) {
	var folder fs.FS
	if c.Folder != "" {
		if err := isFolder(c.Folder); err != nil {
			return nil, nil, fmt.Errorf("texts.folder: %w", err)
		}
		folder = os.DirFS(c.Folder)
	}
	return text.Inspect(text.Carried(), folder, c.Folder)
}

func isFolder(name string) error {
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

// maxMistakes is how many mistakes of the language files a start tells.
const maxMistakes = 5

// catalogue is what growers are offered. It fails where anything is wrong in
// the files: no grower is to meet half a language.
func (c *textsConfig) catalogue() (*text.Catalogue, error) {
	cat, wrong, err := c.inspect()
	if err != nil {
		return nil, err
	}
	if n := len(wrong); n > 0 {
		told := wrong[:min(n, maxMistakes)].Error()
		return nil, fmt.Errorf("texts: mistakes in the language files (%d):\n%s\nSee all: %s", n, told, c.try())
	}
	offered, err := c.offered(cat.Languages())
	if err != nil {
		return nil, err
	}
	return cat.Only(offered...)
}

// try is the command that shows the texts.
func (c *textsConfig) try() string {
	if c.Folder == "" {
		return "rowbell texts"
	}
	return "rowbell texts --texts " + c.Folder
}

// offered are those of the known languages that growers may choose, in order.
func (c *textsConfig) offered(known []string) ([]string, error) {
	for _, lang := range slices.Sorted(maps.Keys(c.ShiftTables)) {
		if !slices.Contains(known, lang) {
			return nil, noLanguage("texts.shift_tables", lang, known)
		}
	}
	if len(c.Languages) == 0 {
		return slices.Clone(known), nil
	}
	for i, lang := range c.Languages {
		if !slices.Contains(known, lang) {
			return nil, noLanguage("texts.languages", lang, known)
		}
		if slices.Contains(c.Languages[:i], lang) {
			return nil, fmt.Errorf("texts.languages: %s stands twice", lang)
		}
	}
	return slices.Clone(c.Languages), nil
}

func noLanguage(setting, lang string, known []string) error {
	return errors.New(setting + ": there is no language " + cmp.Or(lang, `""`) + "; there are " + strings.Join(known, ", "))
}
