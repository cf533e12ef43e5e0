package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/menu/text"
)

// The booklet contains the operator's texts in the languages of --language, in this order. If a text has a mistake, no
// booklet is written.
func TestTextsBooklet(t *testing.T) {
	dir := t.TempDir()
	sound := writeFiles(t, map[string]string{"sw.toml": "[home]\nnew = \"shamba letu jipya\"\n"})
	broken := writeFiles(t, map[string]string{"en.toml": "[home]\nask-me = \"x\"\n"})
	for name, c := range map[string]struct {
		args []string
		code int
		out  string   // expected on standard output
		errs string   // expected on standard error
		page []string // expected in the file, in this order
	}{
		"side by side": {args: []string{"--texts", sound, "--language", "sw", "--language", "en", "--booklet"},
			out: "screens in", page: []string{`<html lang="sw">`,
				">shamba letu jipya</span> · <span lang=\"en\">new plot<"}},
		"broken texts": {args: []string{"--texts", broken, "--booklet"}, code: 1, errs: "home.ask-me"},
		"no such language": {args: []string{"--language", "xx", "--booklet"}, code: 1,
			errs: "--language: there is no language xx"},
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

// --outline prints the booklet as plain text, and nothing else. Without --language, it is in the first language.
func TestTextsOutline(t *testing.T) {
	conf := filepath.Join(writeFiles(t, map[string]string{"rowbell.toml": "[texts]\nlanguages = ['fr', 'en']\n"}),
		"rowbell.toml")
	out, errs, code := runCommand("texts", "--outline", "--config", conf)
	if code != 0 || !strings.HasPrefix(out, "1. *123#\n    1  rowbell\n         1 Français") || errs != "" {
		t.Errorf("%d\n%.300s\n%s", code, out, errs)
	}
	runSteps(t, "texts --outline --booklet x.html", []shellStep{{"", 2, "--booklet"}})
}

// The expected octets are the same as in the tests of menu/text: 3GPP TS 23.038, clauses 6.1.2.1, A.2.6 and A.3.6; TS
// 23.040, clauses 9.2.3.24 and 9.2.3.24.1.
func TestPrintParts(t *testing.T) {
	for _, c := range []struct {
		name, text string
		allowed    []text.Shift
		want       []string
	}{
		{"one", "hello", nil, []string{"gsm7, 1 SMS\n\npart 1: 5 septets of 160, 5 characters\n      | hello\noctets " +
			" E8 32 9B FD 06\n"}},
		{"lines", "a\nb", nil, []string{"      | a\n      | b\n"}},
		{"ucs2", "ж", nil, []string{"ucs2, 1 SMS\n\npart 1: 2 octets of 140, 1 characters\n      | ж\n" +
			"octets  04 36\n"}},
		{"shift", "।", []text.Shift{text.Hindi}, []string{"gsm7, Hindi single shift, 1 SMS\n",
			"header  03 24 01 06\noctets  D8 64 00\n"}},
		{
			"two", strings.Repeat("this is a testmessage. ", 6) + "cut here .....: and the rest", nil,
			[]string{
				"gsm7, 2 SMS\n", "part 1: 160 septets of 160, 153 characters\n",
				"cut here .....:\nheader  05 00 03 00 02 01\n",
				"octets  E8 E8 F4 1C 94 9E 83 C2 20 7A 79 4E 6F 97 E7 F3 F0 B9 EC 02\n",
				"part 2: 20 septets of 160, 13 characters\n      |  and the rest\nheader  05 00 03 00 02 02\n",
			},
		},
	} {
		var out strings.Builder
		if err := printParts(&out, c.text, c.allowed); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		for _, want := range c.want {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%s: %q is not in\n%s", c.name, want, out.String())
			}
		}
	}
	for body, want := range map[string]string{
		"":                         "the text is empty",
		"a\xff":                    "not UTF-8: a phone would show \"a\uFFFD\"",
		strings.Repeat("a", 39016): "256 parts are needed and there can be 255",
	} {
		if err := printParts(&strings.Builder{}, body, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.5q: %v, want %q", body, err, want)
		}
	}
}
