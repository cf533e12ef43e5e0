package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestTextsBooklet: the booklet goes into a file, in the languages asked for in
// their order, with the operator's texts; without sound texts there is none.
func TestTextsBooklet(t *testing.T) {
	dir := t.TempDir()
	sound := writeFiles(t, map[string]string{"sw.toml": "[home]\nnew = \"shamba letu jipya\"\n"})
	broken := writeFiles(t, map[string]string{"en.toml": "[home]\nask-me = \"x\"\n"})
	for name, c := range map[string]struct {
		args []string
		code int
		out  string   // on standard output
		errs string   // on standard error
		page []string // in the file, in this order
	}{
		"side by side": {args: []string{"--texts", sound, "--language", "sw", "--language", "en", "--booklet"},
			out: "screens in", page: []string{`<html lang="sw">`, ">shamba letu jipya</span> · <span lang=\"en\">new plot<"}},
		"the first language": {args: []string{"--booklet"}, out: "screens in", page: []string{`<html lang="en">`}},
		"broken texts":       {args: []string{"--texts", broken, "--booklet"}, code: 1, errs: "home.ask-me"},
		"no such language":   {args: []string{"--language", "xx", "--booklet"}, code: 1, errs: "--language: there is no language xx"},
	} {
		file := filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".html")
		out, errs, code := runCommand(append(append([]string{"texts"}, c.args...), file)...)
		if code != c.code || !strings.Contains(out, c.out) || !strings.Contains(errs, c.errs) {
			t.Errorf("%s: %d\n%s\n%s", name, code, out, errs)
		}
		page, err := os.ReadFile(file)
		if (err == nil) != (c.code == 0) {
			t.Errorf("%s: the file: %v", name, err)
		}
		rest := string(page)
		for _, want := range c.page {
			_, after, found := strings.Cut(rest, want)
			if !found {
				t.Errorf("%s: the page lacks %q, or has it too early", name, want)
			}
			rest = after
		}
	}
}

// TestTextsOutline goes to standard output, with nothing else.
func TestTextsOutline(t *testing.T) {
	out, errs, code := runCommand("texts", "--outline", "--language", "fr")
	if code != 0 || !strings.HasPrefix(out, "1. *123#\n    1  ") || errs != "" {
		t.Errorf("%d\n%.300s\n%s", code, out, errs)
	}
	if _, errs, code = runCommand("texts", "--outline", "--booklet", "x.html"); code != 2 || !strings.Contains(errs, "--booklet") {
		t.Errorf("outline and booklet: %d\n%s", code, errs)
	}
}
