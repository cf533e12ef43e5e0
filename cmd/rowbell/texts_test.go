package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu/text"
)

func writeFiles(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, body := range files {
		must(t, os.WriteFile(filepath.Join(dir, name), []byte(body), 0o600))
	}
	return dir
}

func english(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("../../menu/text/en.toml")
	must(t, err)
	return string(b)
}

// named returns the English language file under the name of another language.
func named(t *testing.T, name string) string {
	t.Helper()
	return strings.Replace(english(t), `name = "English"`, `name = "`+name+`"`, 1)
}

// The report for one language lists each mistake with file, line and key, and each missing text with the English text.
// The other texts of this language are still checked; other languages are left out. --all shows each screen whole. A
// seventh language stands on the second page of the languages. The report says so, and what to change; .ci/run proves
// a complete one.
func TestTextsOfATranslator(t *testing.T) {
	slowWhenRaced(t)
	head, _, _ := strings.Cut(named(t, "Ewegbe"), "[words]")
	head = strings.Replace(head, "\n[calendar]\n", "\n[to-gsm7]\n\"ŋ\" = \"ng\"\n[calendar]\n", 1)
	sheet := strings.TrimSpace(head) + `
[home]
ask = "ŋa ŋa?"
ask-me = "x"
empty = "{plot}"
[ring]
open = "{plot}: ` + strings.Repeat("long ", 40) + `{closes}"
[see]
leaves.ask = "ŵ"
`
	line := func(key string) string {
		before, _, _ := strings.Cut(sheet, "\n"+key+" = ")
		return fmt.Sprintf(":%d: ", strings.Count(before, "\n")+2)
	}
	dir := writeFiles(t, map[string]string{"ee.toml": sheet, "en.toml": "[home]\nnot-of-ee = \"x\"",
		"rowbell.conf": "[texts]\nlanguages = ['en', 'fr', 'hi', 'id', 'pt', 'sw', 'ee']\n"})
	file := filepath.Join(dir, "ee.toml")
	out, errs, code := runCommand("texts", "--all", "--config", filepath.Join(dir, "rowbell.conf"), "--texts", dir,
		"--language", "ee")
	for _, want := range []string{
		"ee  Ewegbe, gsm7",
		file + line("ask-me") + "home.ask-me: is not in en.toml",
		file + line("empty") + "home.empty: {plot} is not given",
		file + line("leaves.ask") + "see.leaves.ask: ['ŵ'] is outside",
		"\n    error.try-again          Sorry, something is not working.",
		"\n    pass.noted.head          { one = \"Noted: {hours} h, {n} person.",
		"letters that are replaced, and how often: ŋ as ng 2",
		"ring.open: text ring.open takes 2 segments",
		"languages: ee\n",
		"\nno mistakes, but worth knowing:\n    ee: Ewegbe stands on page 2 of the list of languages, so",
		"with texts.languages or the languages of the place",
		"\n      | nga nga?\n",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("lacks %q", want)
		}
	}
	for _, stray := range []string{"\n    home.ask ", "\n    see.leaves.ask ", "not-of-ee", "\nen, ", "\nen "} {
		if strings.Contains(out, stray) {
			t.Errorf("shows %q", stray)
		}
	}
	if code != 1 || !strings.Contains(errs, "mistakes in the texts") {
		t.Errorf("%d, %s", code, errs)
	}
	if strings.Index(out, "\nTexts by SMS") > strings.Index(out, file+line("ask-me")) {
		t.Error("the mistakes do not stand after the tables")
	}
	if t.Failed() {
		t.Log(out)
	}
}

// With and without --language, the report lists the mistake of a language file that cannot be read.
func TestTextsReport(t *testing.T) {
	dir := writeFiles(t, map[string]string{"ee.toml": "[home]\nask =", "en.toml": "[home]\nask-me = \"x\""})
	out, errs, code := runCommand("texts", "--texts", dir, "--language", "ee")
	want := "ee  its file cannot be read\n\nee, not in the form of a language file:\n    " +
		filepath.Join(dir, "ee.toml") + ":2:"
	if code != 1 || !strings.HasPrefix(out, want) || !strings.Contains(errs, "1 mistake in the texts") {
		t.Errorf("%d\n%s%s\nwant %s", code, out, errs, want)
	}
	conf := config.Texts{Folder: dir, Languages: []string{"en"}}
	draft, wrong, err := conf.Inspect()
	must(t, err)
	langs := []string{"en", "ee"}
	var b strings.Builder
	mistakes := mistakesOf(wrong, langs)
	printLanguages(&b, draft, langs, mistakes, nil)
	if n := printMistakes(&b, mistakes, true); n != 2 {
		t.Errorf("%d mistakes, want 2", n)
	}
	for _, want := range []string{"\nee  its file cannot", "en  English, gsm7",
		filepath.Join(dir, "en.toml") + ":2: home.ask-me"} {
		if !strings.Contains("\n"+b.String(), want) {
			t.Errorf("%s\nlacks %q", b.String(), want)
		}
	}
}

// Without --language, the report has the languages that growers can choose, then the languages with a mistake.
func TestTextsReportsTheOffered(t *testing.T) {
	dir := writeFiles(t, map[string]string{"fr.toml": "[home]\nask-me = \"x\"", "ee.toml": "[home]\nask ="})
	for _, c := range []struct{ offered, want []string }{
		{[]string{"sw", "en"}, []string{"sw", "en", "ee", "fr"}},
		{[]string{"ee", "en"}, []string{"ee", "en", "fr"}},
		{nil, []string{"en", "fr", "hi", "id", "pt", "sw", "ee"}},
	} {
		conf := config.Texts{Folder: dir, Languages: c.offered}
		draft, wrong, err := conf.Inspect()
		if err != nil || len(wrong) != 2 {
			t.Fatalf("%v, %v", err, wrong)
		}
		got, err := new(textsCmd).languages(&conf, draft, wrong)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("offered %v: %v, %v; want %v", c.offered, got, err, c.want)
		}
	}
}

// The report counts the letters outside the GSM 7-bit alphabet, and says whether the allowed shift tables have them.
func TestTextsForeign(t *testing.T) {
	sheet := strings.Replace(named(t, "Português"), "[calendar]", "[to-gsm7]\n\"ã\" = \"a\"\n[calendar]", 1)
	sheet = strings.Replace(sheet, `"What now?"`, `"ãã?"`, 1)
	wide := strings.Replace(strings.Replace(named(t, "हिन्दी"), `"gsm7"`, `"ucs2"`, 1), `"What now?"`, `"क?"`, 1)
	conf := config.Texts{Folder: writeFiles(t, map[string]string{"pt.toml": sheet, "hi.toml": wide})}
	draft, _, err := conf.Inspect()
	must(t, err)
	for table, want := range map[text.Shift]string{text.Portuguese: "(Portuguese) cover all of them",
		text.Turkish: "(Turkish) do not cover all of them"} {
		var b strings.Builder
		printLanguages(&b, draft, []string{"pt"}, nil, map[string][]text.Shift{"pt": {table}})
		if !strings.Contains(b.String(), "ã as a 2\n") || !strings.Contains(b.String(), want) {
			t.Errorf("%s\nlacks %q", b.String(), want)
		}
	}
	var b strings.Builder
	printLanguages(&b, draft, []string{"hi"}, nil, nil)
	if want := "letters that need the 16-bit alphabet, and how often: क 1\n"; !strings.Contains(b.String(), want) {
		t.Errorf("%s\nlacks %q", b.String(), want)
	}
}

// A short report lists a few mistakes of each kind and counts the others. It lists all mistakes of the menu itself.
func TestTextsListsMistakesShortly(t *testing.T) {
	var groups []mistakeGroup
	for n, lang := range []string{"ee", "sw", ""} {
		g := mistakeGroup{lang: lang, head: "head " + lang}
		for i := range (n + 1) * maxListedMistakes {
			g.lines = append(g.lines, fmt.Sprintf("%s line %d", lang, i))
		}
		groups = append(groups, g)
	}
	var short, whole strings.Builder
	if n := printMistakes(&short, groups, true); n != 6*maxListedMistakes {
		t.Errorf("%d mistakes", n)
	}
	printMistakes(&whole, groups, false)
	if n := strings.Count(short.String(), " line "); n != 5*maxListedMistakes ||
		!strings.Contains(short.String(), "and 5 more: rowbell texts --language sw lists all\n") {
		t.Errorf("%d listed in\n%s", n, short.String())
	}
	if n := strings.Count(whole.String(), " line "); n != 6*maxListedMistakes {
		t.Errorf("%d listed in\n%s", n, whole.String())
	}
}

func TestTextsCommand(t *testing.T) {
	tables := filepath.Join(writeFiles(t, map[string]string{"rowbell.toml": "[texts.shift_tables]\nen = [3]\n"}),
		"rowbell.toml")
	runSteps(t, "texts", []shellStep{
		{"--split ação", 0, "ucs2, 1 SMS"},
		{"--split ação --config " + tables, 0, "gsm7, Portuguese"},
		{"--split ação --config " + tables + " --language sw", 0, "ucs2, 1 SMS"},
		{"--split=", 1, "the text is empty"},
		{"--split hi --language zz", 1, "--language: there is no language zz; there are en"},
		{"--language xx", 1, "--language: there is no language xx; there are en"},
		{"--texts nowhere", 1, "--texts: there is no folder nowhere"},
		{"--texts texts.go", 1, "--texts: texts.go is not a folder"},
		{"--texts " + t.TempDir(), 1, "there is no .toml file"},
		{"--prove --all", 2, "--all"},
	})
}

func TestServeRefusesABrokenFolder(t *testing.T) {
	dir := writeFiles(t, map[string]string{"en.toml": "[home]\nask = \"\"", "sw.toml": "[meta]\nname = \"Kiswahili\""})
	file := filepath.Join(dir, "rowbell.conf")
	must(t, os.WriteFile(file, []byte("[texts]\nfolder = '"+dir+"'\n"), 0o600))
	db := filepath.Join(dir, "rowbell.db")
	serve := "serve --listen 127.0.0.1:0 --config " + file + " --db " + db
	runSteps(t, "", []shellStep{
		{serve, 1, "texts.folder: mistakes in the language files … See all: rowbell texts --texts " + dir +
			" … en.toml:2: home.ask: is empty"},
		{"practice --terminal --config " + file, 1, "home.ask: is empty"},
	})
	if _, errs, _ := runCommand(strings.Fields(serve)...); strings.Count(errs, "\n") > config.MaxMistakes+2 {
		t.Errorf("too many mistakes are listed:\n%s", errs)
	}
	if _, err := os.Stat(db); err == nil {
		t.Error("records were made")
	}
}
