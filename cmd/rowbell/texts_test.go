package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu/text"
)

// write puts files into a new folder.
func writeFiles(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, body := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(body), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// english is the carried English file.
func english(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("../../menu/text/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// named is the English file with another language's name.
func named(t *testing.T, name string) string {
	t.Helper()
	return strings.Replace(english(t), `name = "English"`, `name = "`+name+`"`, 1)
}

// TestTextsOfATranslator: the report for a language in progress tells all that
// is wrong, each thing with its file, line and key; it lists what is missing
// with the English beside it; what is right is proved all the same; and
// nothing is said of other languages.
func TestTextsOfATranslator(t *testing.T) {
	slowWhenRaced(t)
	head, _, _ := strings.Cut(named(t, "Ewe"), "[words]")
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
	dir := writeFiles(t, map[string]string{"ee.toml": sheet, "en.toml": "[home]\nnot-of-ee = \"x\""})
	file := filepath.Join(dir, "ee.toml")
	out, errs, code := runCommand("texts", "--prove", "--texts", dir, "--language", "ee")
	for _, want := range []string{
		"ee  Ewe, gsm7",
		file + line("ask-me") + "home.ask-me: is not in en.toml",
		file + line("empty") + "home.empty: {plot} is not given",
		file + line("leaves.ask") + "see.leaves.ask: ['ŵ'] is outside",
		"\n    error.try-again          Sorry, something is not working.",
		"\n    pass.noted.head          { one = \"Noted: {hours} h, {n} person.",
		"letters that rules rewrite, and how often: ŋ as ng 2",
		"ee: text ring.open takes 2 segments",
		"languages: ee\n",
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
	if t.Failed() {
		t.Log(out)
	}
}

// TestTextsReport: of a language that cannot be read at all its mistake is told,
// and without --language every language with a mistake is.
func TestTextsReport(t *testing.T) {
	dir := writeFiles(t, map[string]string{"ee.toml": "[home]\nask =", "en.toml": "[home]\nask-me = \"x\""})
	out, errs, code := runCommand("texts", "--texts", dir, "--language", "ee")
	want := "ee  its file cannot be read\n\nee, not in the form of a language file:\n    " + filepath.Join(dir, "ee.toml") + ":2:"
	if code != 1 || !strings.HasPrefix(out, want) || !strings.Contains(errs, "1 mistake in the texts") {
		t.Errorf("%d\n%s%s\nwant %s", code, out, errs, want)
	}
	conf := config.Texts{Folder: dir, Languages: []string{"en"}}
	draft, wrong, err := conf.Inspect()
	if err != nil {
		t.Fatal(err)
	}
	langs, err := new(textsCmd).languages(&conf, draft, wrong)
	if err != nil || !slices.Contains(langs, "en") || !slices.Contains(langs, "ee") {
		t.Errorf("languages %v, %v", langs, err)
	}
	var b strings.Builder
	mistakes := mistakesOf(wrong, langs)
	printLanguages(&b, draft, langs, mistakes, nil)
	if n := printMistakes(&b, mistakes, true); n != 2 {
		t.Errorf("%d mistakes, want 2", n)
	}
	for _, want := range []string{"\nee  its file cannot", "en  English, gsm7", filepath.Join(dir, "en.toml") + ":2: home.ask-me"} {
		if !strings.Contains("\n"+b.String(), want) {
			t.Errorf("%s\nlacks %q", b.String(), want)
		}
	}
	// A language that is not offered and has no mistake is not reported.
	sound := config.Texts{Folder: writeFiles(t, map[string]string{"de.toml": named(t, "Deutsch")}), Languages: []string{"de"}}
	if draft, wrong, err = sound.Inspect(); err != nil || len(wrong) > 0 {
		t.Fatalf("%v, %v", err, wrong)
	}
	if langs, err = new(textsCmd).languages(&sound, draft, wrong); err != nil || !slices.Equal(langs, []string{"de"}) {
		t.Errorf("languages %v, %v", langs, err)
	}
}

// TestTextsReportsTheOffered: a mistake in one file is no reason to report and
// walk the languages that nobody is offered.
func TestTextsReportsTheOffered(t *testing.T) {
	dir := writeFiles(t, map[string]string{"fr.toml": "[home]\nask-me = \"x\"", "ee.toml": "[home]\nask ="})
	for _, c := range []struct {
		offered, want []string
		err           string
	}{
		{[]string{"sw", "en"}, []string{"sw", "en", "ee", "fr"}, ""},
		{[]string{"ee", "en"}, []string{"ee", "en", "fr"}, ""},
		{[]string{"xx", "en"}, nil, "texts.languages: there is no language xx"},
		{[]string{"en", "en"}, nil, "texts.languages: en stands twice"},
		{nil, []string{"en", "fr", "hi", "id", "pt", "sw", "ee"}, ""},
	} {
		conf := config.Texts{Folder: dir, Languages: c.offered}
		draft, wrong, err := conf.Inspect()
		if err != nil || len(wrong) != 2 {
			t.Fatalf("%v, %v", err, wrong)
		}
		got, err := new(textsCmd).languages(&conf, draft, wrong)
		if !slices.Equal(got, c.want) || (c.err == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("offered %v: %v, %v; want %v, %q", c.offered, got, err, c.want, c.err)
		}
	}
}

// TestTextsForeign: letters outside the GSM 7-bit alphabet are counted, and it
// is told whether the shift tables that are allowed hold them.
func TestTextsForeign(t *testing.T) {
	sheet := strings.Replace(named(t, "Português"), "[calendar]", "[to-gsm7]\n\"ã\" = \"a\"\n[calendar]", 1)
	sheet = strings.Replace(sheet, `"What now?"`, `"ãã?"`, 1)
	wide := strings.Replace(strings.Replace(named(t, "हिन्दी"), `"gsm7"`, `"ucs2"`, 1), `"What now?"`, `"क?"`, 1)
	conf := config.Texts{Folder: writeFiles(t, map[string]string{"pt.toml": sheet, "hi.toml": wide})}
	draft, _, err := conf.Inspect()
	if err != nil {
		t.Fatal(err)
	}
	for table, want := range map[text.Shift]string{text.Portuguese: "(Portuguese) hold all of them", text.Turkish: "(Turkish) do not hold all of them"} {
		var b strings.Builder
		printLanguages(&b, draft, []string{"pt"}, nil, map[string][]text.Shift{"pt": {table}})
		if !strings.Contains(b.String(), "ã as a 2\n") || !strings.Contains(b.String(), want) {
			t.Errorf("%s\nlacks %q", b.String(), want)
		}
	}
	var b strings.Builder
	printLanguages(&b, draft, []string{"hi"}, nil, nil)
	if want := "letters that take the 16-bit alphabet, and how often: क 1\n"; !strings.Contains(b.String(), want) {
		t.Errorf("%s\nlacks %q", b.String(), want)
	}
}

// A short report lists a few mistakes of a kind and counts the others; they come
// last.
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
	tables := filepath.Join(writeFiles(t, map[string]string{"rowbell.toml": "[texts.shift_tables]\nen = [3]\n"}), "rowbell.toml")
	empty := t.TempDir()
	for name, c := range map[string]struct {
		args      []string
		code      int
		out, errs string
	}{
		"split":              {[]string{"--split", "ação"}, 0, "ucs2, 1 SMS", ""},
		"split with tables":  {[]string{"--split", "ação", "--config", tables}, 0, "gsm7, Portuguese", ""},
		"split, no tables":   {[]string{"--split", "ação", "--config", tables, "--language", "sw"}, 0, "ucs2, 1 SMS", ""},
		"no such language":   {[]string{"--language", "xx"}, 1, "", "--language: there is no language xx; there are en"},
		"no folder":          {[]string{"--texts", "nowhere"}, 1, "", "--texts: there is no folder nowhere"},
		"a file":             {[]string{"--texts", "texts.go"}, 1, "", "--texts: texts.go is not a folder"},
		"folder of no texts": {[]string{"--texts", empty}, 1, "", "there is no .toml file"},
		"prove and all":      {[]string{"--prove", "--all"}, 2, "", "--all"},
		"split nothing":      {[]string{"--split", ""}, 1, "", "the text is empty"},
		"split, no language": {[]string{"--split", "hi", "--language", "zz"}, 1, "", "--language: there is no language zz; there are en"},
	} {
		out, errs, code := runCommand(append([]string{"texts"}, c.args...)...)
		if code != c.code || !strings.Contains(out, c.out) || !strings.Contains(errs, c.errs) {
			t.Errorf("%s: %d\n%s\n%s", name, code, out, errs)
		}
	}
}

func TestTextsConfig(t *testing.T) {
	whole := named(t, "Deutsch")
	dir := writeFiles(t, map[string]string{"de.toml": whole})
	for name, c := range map[string]struct{ toml, want string }{
		"folder":            {"[texts]\nfolder = \"nowhere\"\n", "texts.folder: there is no folder nowhere"},
		"language":          {"[texts]\nlanguages = [\"xx\"]\n", "texts.languages: there is no language xx; there are en"},
		"empty language":    {"[texts]\nlanguages = [\"\"]\n", `there is no language ""`},
		"twice":             {"[texts]\nlanguages = [\"en\", \"en\"]\n", "texts.languages: en stands twice"},
		"table of none":     {"[texts.shift_tables]\nxx = [3]\n", "texts.shift_tables: there is no language xx"},
		"no table":          {"[texts.shift_tables]\nen = [14]\n", "texts.shift_tables: en: 14 is not a national language identifier"},
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
	conf, err := config.Parse([]byte("[texts]\nfolder = '" + dir + "'\nlanguages = [\"de\", \"en\"]\n[texts.shift_tables]\nde = [1, 3]\n"))
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

// TestServeRefusesABrokenFolder: no grower is to meet half a language.
func TestServeRefusesABrokenFolder(t *testing.T) {
	dir := writeFiles(t, map[string]string{"en.toml": "[home]\nask = \"\"", "sw.toml": "[meta]\nname = \"Kiswahili\""})
	file := filepath.Join(dir, "rowbell.conf")
	if err := os.WriteFile(file, []byte("[texts]\nfolder = '"+dir+"'\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	db := filepath.Join(dir, "rowbell.db")
	_, errs, code := runCommand("serve", "--listen", "127.0.0.1:0", "--config", file, "--db", db)
	for _, want := range []string{"mistakes in the language files", "en.toml:2: home.ask: is empty", "See all: rowbell texts --texts " + dir} {
		if !strings.Contains(errs, want) {
			t.Errorf("lacks %q", want)
		}
	}
	if code != 1 || strings.Count(errs, "\n") > config.MaxMistakes+2 {
		t.Errorf("%d: %s", code, errs)
	}
	if _, err := os.Stat(db); err == nil {
		t.Error("records were made")
	}
	if _, errs, code := runCommand("practice", "--config", file, "--terminal"); code != 1 || !strings.Contains(errs, "home.ask: is empty") {
		t.Errorf("practice: %d: %s", code, errs)
	}
}

// TestServeOffersTheOperatorsTexts: a text of the folder, and the languages in
// its order, reach a phone.
func TestServeOffersTheOperatorsTexts(t *testing.T) {
	ours := strings.Replace(named(t, "Deutsch"), "May we keep your number and plots?", "Duerfen wir das behalten?", 1)
	dir := writeFiles(t, map[string]string{"de.toml": ours})
	file := filepath.Join(dir, "rowbell.conf")
	if err := os.WriteFile(file, []byte("[texts]\nfolder = '"+dir+"'\nlanguages = [\"de\"]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	p := &process{t: t, dir: t.TempDir(), token: testToken, log: &lockedBuffer{}, http: &http.Client{Timeout: 30 * time.Second}}
	t.Cleanup(p.kill)
	p.run("serve", "--listen", "127.0.0.1:0", "--config", file)
	got := string(p.post("ussd", map[string]any{"phone": "+447700900001", "session": "s", "event": "begin", "dialled": "*123#"}, http.StatusOK))
	if !strings.Contains(got, "Duerfen wir das behalten?") {
		t.Errorf("a phone is shown %s", got)
	}
	p.stop()
}
