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

// Carried returns the language files that are built into the program, for Inspect.
func Carried() fs.FS { return files }

// Default returns the catalogue of the language files that are built into the program. They are compiled once: a
// catalogue does not change.
func Default() (*Catalogue, error) { return builtIn() }

var builtIn = sync.OnceValues(func() (*Catalogue, error) { return Load(files) })

// Load reads and compiles every *.toml file in the root folder of fsys. If the files have mistakes, the error has the
// type Problems.
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

// Inspect loads the language files of base and then the files of an operator's folder, which may be nil. If base has
// the language of a file in the folder, the file has only what differs: single texts, and single lines of [meta],
// [calendar] and [to-gsm7]. Otherwise the file must have the whole language. Problems give the folder the name name.
//
// Inspect returns all problems, and a draft of the catalogue without the faulty parts. In the draft a text that is
// missing or faulty is "?", and a language without a valid calendar or alphabet is left out. If there are no problems,
// the draft is the complete catalogue. Inspect returns an error if files cannot be read.
func Inspect(base, folder fs.FS, name string) (draft *Catalogue, wrong Problems, err error) {
	carried, err := sources(base, "", false)
	if err != nil {
		return nil, nil, err
	}
	var over map[string]source
	if folder != nil {
		if over, err = sources(folder, name, true); err != nil {
			return nil, nil, err
		}
	}
	var plain, original *compiler // plain is the built-in English; original is plain, or nil if plain has problems
	if f, ok := carried[Source]; ok {
		if plain = compile(Source, nil, f); len(plain.problems) == 0 {
			original = plain
		}
	}
	tags := inOrder(maps.Keys(carried), maps.Keys(over))
	compilers := make([]*compiler, len(tags))
	var compiling sync.WaitGroup
	for i, tag := range tags {
		if _, laidOver := over[tag]; tag == Source && !laidOver {
			compilers[i] = plain
			continue
		}
		var layers []source
		for _, files := range []map[string]source{carried, over} {
			if f, ok := files[tag]; ok {
				layers = append(layers, f)
			}
		}
		compiling.Go(func() { compilers[i] = compile(tag, original, layers...) })
	}
	compiling.Wait()
	checkNameClash(compilers)
	draft = &Catalogue{languages: map[string]*language{}, words: commands(compilers), said: said(compilers)}
	for _, s := range compilers {
		s.finish()
		wrong = append(wrong, s.problems...)
		if s.usable() {
			draft.languages[s.tag] = s.lang
			draft.tags = append(draft.tags, s.tag)
		}
	}
	return draft, wrong, nil
}

// sources reads the language files of a folder. The result is by language tag. own says whether the folder is the
// operator's.
func sources(fsys fs.FS, folder string, own bool) (map[string]source, error) {
	names, err := fs.Glob(fsys, "*.toml")
	if err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	if len(names) == 0 {
		return nil, errors.New("text: " + strings.TrimSpace(folder+" holds no language: there is no .toml file"))
	}
	files := map[string]source{}
	for _, name := range names {
		info, err := fs.Stat(fsys, name)
		if err == nil && !info.Mode().IsRegular() { // reading a pipe may never end
			err = errors.New(path.Join(folder, name) + " is not a file")
		}
		var data []byte
		if err == nil {
			data, err = fs.ReadFile(fsys, name)
		}
		if err != nil {
			return nil, fmt.Errorf("text: %w", err)
		}
		files[strings.TrimSuffix(name, ".toml")] = source{path.Join(folder, name), data, own}
	}
	return files, nil
}

// inOrder returns the tags of all lists, each once: the source language first, because the others are compared with it,
// and the others sorted.
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
