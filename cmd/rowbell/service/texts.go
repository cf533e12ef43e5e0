package service

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/desk"
	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// texts changes texts of the operator's folder for the desk.
type texts struct {
	s    *Service
	conf config.Config
	menu *menu.Menu // with the texts that are used now
}

// Folder returns the folder of language files, "" for none.
func (t texts) Folder() string { return t.conf.Texts.Folder }

// file returns the name of the language file in the folder, and its content; nil if there is no such file.
func (t texts) file(lang string) (name string, content []byte, err error) {
	name = filepath.Join(t.conf.Texts.Folder, lang+".toml")
	content, err = os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return name, content, err
}

// Try says what would be wrong with a text, and how long it is. If whole is set, it walks the menu with it, as the
// service does at its start.
func (t texts) Try(lang string, k text.Key, forms []text.Form, whole bool) (trial desk.TextTrial, err error) {
	if t.conf.Texts.Folder == "" {
		return trial, desk.ErrNoTextFolder
	}
	_, content, err := t.file(lang)
	if err != nil {
		return trial, err
	}
	_, trial, err = t.try(content, lang, k, forms, whole)
	return trial, err
}

func (t texts) try(was []byte, lang string, k text.Key, forms []text.Form, whole bool) (
	content []byte, trial desk.TextTrial, err error,
) {
	if content, err = text.Change(was, k, forms); err != nil {
		return nil, desk.TextTrial{Problems: []string{err.Error()}}, nil
	}
	draft, wrong, err := t.inspect(lang, content)
	if err != nil {
		return nil, trial, err
	}
	for _, p := range wrong {
		trial.Problems = append(trial.Problems, p.String())
	}
	if len(wrong) > 0 {
		return content, trial, nil
	}
	offered, err := t.conf.Texts.Offered(draft.Languages())
	if err != nil {
		return nil, trial, err
	}
	cat, err := draft.Only(offered...)
	if err != nil {
		return nil, trial, err
	}
	m, err := menu.New(cat, t.conf.Menu())
	if err != nil {
		return nil, desk.TextTrial{Problems: []string{err.Error()}}, nil
	}
	trial.Length = lengthOfText(m, lang, k, forms)
	if whole {
		trial.Problems, err = t.newProblems(m)
	}
	return content, trial, err
}

// inspect reads the language files as they would be with this content of one of them.
func (t texts) inspect(lang string, content []byte) (*text.Catalogue, text.Problems, error) {
	folder, err := os.MkdirTemp("", "rowbell-texts-")
	if err != nil {
		return nil, nil, err
	}
	defer os.RemoveAll(folder)
	names, err := filepath.Glob(filepath.Join(t.conf.Texts.Folder, "*.toml"))
	for _, name := range names {
		var other []byte
		if err == nil {
			other, err = os.ReadFile(name)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(folder, filepath.Base(name)), other, 0o600)
		}
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, lang+".toml"), content, 0o600)
	}
	if err != nil {
		return nil, nil, err
	}
	return text.Inspect(text.Carried(), os.DirFS(folder), t.conf.Texts.Folder)
}

// newProblems proves a menu, and returns the problems that the menu of now does not have.
func (t texts) newProblems(m *menu.Menu) ([]string, error) {
	problems, err := proof.Check(m)
	if err != nil || len(problems) == 0 {
		return nil, err
	}
	had, err := proof.Check(t.menu)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for _, p := range had {
		known[withoutLine(p)] = true
	}
	return slices.DeleteFunc(problems, func(p string) bool { return known[withoutLine(p)] }), nil
}

var lineNumber = regexp.MustCompile(`\.toml:\d+`)

// withoutLine returns a problem without the number of its line, which another text may have moved.
func withoutLine(problem string) string { return lineNumber.ReplaceAllString(problem, ".toml") }

// lengthOfText says how long a text is: one that is sent by SMS with its longest values, one of a screen as it stands.
func lengthOfText(m *menu.Menu, lang string, k text.Key, forms []text.Form) string {
	if sent, ok := proof.Longest(m, lang, k); ok {
		return fmt.Sprintf("by SMS, with its longest values: %d characters, %d SMS, %s",
			utf8.RuneCountInString(sent.Text), sent.Segments, sent.Encoding)
	}
	longest := 0
	for _, f := range forms {
		longest = max(longest, text.USSDOctets(f.Text))
	}
	return fmt.Sprintf("on a screen, with the names in braces as they stand: %d octets; a page of USSD has %d",
		longest, text.USSDMaxOctets)
}

// Change writes a text to the language file and reads the configuration anew. If the trial has problems, or the
// configuration cannot be read with the text, the file stays as it was.
func (t texts) Change(ctx context.Context, lang string, k text.Key, forms []text.Form) (desk.TextTrial, error) {
	if t.conf.Texts.Folder == "" {
		return desk.TextTrial{}, desk.ErrNoTextFolder
	}
	if t.s.load == nil {
		return desk.TextTrial{}, errors.New("texts: the configuration of this service cannot be read anew")
	}
	t.s.texting.Lock()
	defer t.s.texting.Unlock()
	name, was, err := t.file(lang)
	if err != nil {
		return desk.TextTrial{}, err
	}
	content, trial, err := t.try(was, lang, k, forms, true)
	if err != nil || len(trial.Problems) > 0 {
		return trial, err
	}
	if err := replaceFile(name, content); err != nil {
		return trial, err
	}
	if _, err := t.s.Reload(context.WithoutCancel(ctx)); err != nil {
		trial.Problems = strings.Split(err.Error(), "\n")
		return trial, t.takeBack(name, was)
	}
	return trial, nil
}

// takeBack restores a language file; without content it removes the file.
func (t texts) takeBack(name string, was []byte) error {
	if was == nil {
		return os.Remove(name)
	}
	return replaceFile(name, was)
}

// replaceFile writes a file anew, so that after a crash it has either its old or its new content.
func replaceFile(name string, content []byte) (err error) {
	mode := fs.FileMode(0o644)
	if info, err := os.Stat(name); err == nil {
		mode = info.Mode().Perm()
	}
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	part, err := os.CreateTemp(filepath.Dir(name), ".rowbell-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(part.Name()))
		}
	}()
	_, err = part.Write(content)
	if err == nil {
		err = part.Chmod(mode)
	}
	if err == nil {
		err = part.Sync()
	}
	if err = errors.Join(err, part.Close()); err != nil {
		return err
	}
	return os.Rename(part.Name(), name)
}
