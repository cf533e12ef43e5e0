package text

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
)

//go:embed *.toml
var files embed.FS

// Carried are the files of the texts that the program carries.
func Carried() fs.FS { return files }

// Default is the catalogue that the program carries.
func Default() (*Catalogue, error) { return Load(files) }

// Load reads and compiles every *.toml file in the root of fsys. Its error
// holds all that is wrong as Problems, each with file, line and key.
func Load(fsys fs.FS) (*Catalogue, error) { return loadOver(fsys, nil, "") }

func loadOver(base, folder fs.FS, name string) (*Catalogue, error) {
	c, wrong, err := Inspect(base, folder, name)
	if err != nil {
		return nil, err
	}
	if len(wrong) > 0 {
		return nil, fmt.Errorf("text: %w", wrong)
	}
	return c, nil
}

// Inspect loads the languages of base with an operator's folder laid over them,
// where there is one. A file there for a language of the base holds what is to
// be said otherwise: single texts, and of [meta], [calendar] and [to-gsm7] single
// lines. A file for another language holds all of it. name is what problems call
// the folder.
//
// It tells all that is wrong, and gives a draft of the catalogue with what is
// right: every text that is missing or faulty is hole there, and a language
// without a sound calendar or alphabet is left out. Where nothing is wrong the
// draft is the catalogue.
func Inspect(base, folder fs.FS, name string) (draft *Catalogue, wrong Problems, err error) {
	carried, err := sources(base, "")
	if err != nil {
		return nil, nil, err
	}
	var over map[string]source
	if folder != nil {
		if over, err = sources(folder, name); err != nil {
			return nil, nil, err
		}
	}
	var plain, original *sheet // of the source language, as it is carried; original only where it is sound
	if f, ok := carried[Source]; ok {
		if plain = compile(Source, nil, f); len(plain.wrong) == 0 {
			original = plain
		}
	}
	tags := inOrder(maps.Keys(carried), maps.Keys(over))
	sheets := make([]*sheet, len(tags))
	var compiling sync.WaitGroup
	for i, tag := range tags {
		if _, laidOver := over[tag]; tag == Source && !laidOver {
			sheets[i] = plain
			continue
		}
		var layers []source
		for _, files := range []map[string]source{carried, over} {
			if f, ok := files[tag]; ok {
				layers = append(layers, f)
			}
		}
		compiling.Go(func() { sheets[i] = compile(tag, original, layers...) })
	}
	compiling.Wait()
	names(sheets)
	draft = &Catalogue{languages: map[string]*language{}, words: commands(sheets)}
	for _, s := range sheets {
		s.finish()
		wrong = append(wrong, s.wrong...)
		if s.usable() {
			draft.languages[s.tag] = s.lang
			draft.tags = append(draft.tags, s.tag)
		}
	}
	return draft, wrong, nil
}

// sources reads the language files of a folder by their tags.
func sources(fsys fs.FS, folder string) (map[string]source, error) {
	names, err := fs.Glob(fsys, "*.toml")
	if err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	if len(names) == 0 {
		return nil, errors.New("text: " + strings.TrimSpace(folder+" holds no language: there is no .toml file"))
	}
	files := map[string]source{}
	for _, name := range names {
		data, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, fmt.Errorf("text: %w", err)
		}
		files[strings.TrimSuffix(name, ".toml")] = source{path.Join(folder, name), data}
	}
	return files, nil
}

// inOrder sorts tags, the source language first.
func inOrder(lists ...iter.Seq[string]) []string {
	var tags []string
	for _, list := range lists {
		tags = slices.AppendSeq(tags, list)
	}
	slices.Sort(tags)
	tags = slices.Compact(tags)
	if i := slices.Index(tags, Source); i > 0 {
		tags = slices.Insert(slices.Delete(tags, i, i+1), 0, Source)
	}
	return tags
}
