package text

import (
	"errors"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

// folder makes a folder of language files. It gives each language a different name, because two equal names are a
// problem.
func folder(files map[string]string) fs.FS {
	fsys := fstest.MapFS{}
	for name, body := range files {
		if name != "en.toml" {
			body = strings.Replace(body, `name = "English"`, `name = "`+name+`"`, 1)
		}
		fsys[name] = &fstest.MapFile{Data: []byte(body)}
	}
	return fsys
}

func must2[T, U any](t T, u U, err error) (T, U) {
	must(t, err)
	return t, u
}

var twoLanguages = map[string]string{
	"en.toml": sound + "[a]\nb = \"Hello {plot}\"\nc = \"yes\"\nd = { one = \"{n} day\", other = \"{n} days\" }",
	"sw.toml": strings.Replace(sound, `name = "English"`, `name = "Kiswahili"`, 1) +
		"[a]\nb = \"Habari {plot}\"\nc = \"ndiyo\"\nd = { one = \"siku {n}\", other = \"siku {n}\" }",
}

// TestLoadOver checks that files in an operator's folder can replace single texts and add whole languages.
func TestLoadOver(t *testing.T) {
	c := must(loadOver(folder(twoLanguages), folder(map[string]string{
		"sw.toml": "[meta]\nreviewed = false\n[calendar]\ndate = \"{day}.{month}\"\n" +
			"yesterday = \"jana\"\n[a]\nb = \"Salamu {plot}\"",
		"en.toml": "[a]\nd = { one = \"one day\", other = \"{n} days\" }",
		"id.toml": sound + "[a]\nb = \"Halo {plot}\"\nc = \"ya\"\nd = { other = \"{n} hari\" }",
	}), "texts"))
	if got := c.Languages(); !slices.Equal(got, []string{"en", "id", "sw"}) {
		t.Errorf("languages %v", got)
	}
	for _, x := range []struct {
		lang string
		key  Key
		n    int
		want string
	}{
		{"sw", "a.b", 0, "Salamu A"}, {"sw", "a.c", 0, "ndiyo"},
		{"en", "a.d", 1, "one day"}, {"en", "a.d", 2, "2 days"}, {"en", "a.b", 0, "Hello A"},
		{"id", "a.b", 0, "Halo A"}, {"id", "a.d", 1, "1 hari"},
	} {
		if got, err := c.Text(x.lang, x.key, Args{"plot": "A", "n": x.n}); err != nil || got != x.want {
			t.Errorf("%s %s: %q, %v; want %q", x.lang, x.key, got, err, x.want)
		}
	}
	if c.Name("sw") != "Kiswahili" || c.Reviewed("sw") || !c.Reviewed("en") {
		t.Errorf("sw: %q, reviewed %v", c.Name("sw"), c.Reviewed("sw"))
	}
	if got := c.Date("sw", time.Wednesday, 25, time.November); got != "25.Nov" {
		t.Errorf("a date of sw is %q", got)
	}
	if got := c.AllDayWords("sw"); len(got) != 1 || got["jana"].Days != -1 {
		t.Errorf("day words of sw: %v", got)
	}
}

func TestLoadOverRefuses(t *testing.T) {
	over := func(over map[string]string) (*Catalogue, error) {
		return loadOver(folder(twoLanguages), folder(over), "texts")
	}
	wantRefused(t, over, []refusal{
		{"syntax", fileSet{"sw.toml": "[a]\nb ="}, "texts/sw.toml:2:"},
		{"unknown key", fileSet{"sw.toml": "[a]\nx = \"y\""}, "texts/sw.toml:2: a.x: is not in en.toml"},
		{"unknown key, source", fileSet{"en.toml": "[a]\nx = \"y\""}, "texts/en.toml:2: a.x: is not in en.toml"},
		{"value", fileSet{"en.toml": "[a]\n\nb = \"{polt}\""}, "texts/en.toml:3: a.b: {polt} is not given"},
		{"letter", fileSet{"sw.toml": "[a]\nb = \"ŋ\""}, "texts/sw.toml:2: a.b|'ŋ'"},
		{"half a plural", fileSet{"en.toml": "[a]\nd = { other = \"x\" }"},
			`texts/en.toml:2: a.d|"one" is missing`},
		{"calendar", fileSet{"sw.toml": "[calendar]\nmonths = [\"Jan\"]"},
			"texts/sw.toml:2: calendar.months: must be a list of 12"},
		{"meta", fileSet{"sw.toml": "[meta]\nreviewed = 1"}, "texts/sw.toml:2: meta.reviewed"},
		{"meta is no table", fileSet{"sw.toml": "meta = 3"},
			"texts/sw.toml|meta: is a number: it must be a table [meta]"},
		{"half a language", fileSet{"id.toml": sound + "[a]\nb = \"Halo\""},
			"texts/id.toml: a.c: is missing; en.toml:14 has it"},
		{"new without head", fileSet{"id.toml": "[a]\nb = \"Halo\""},
			"texts/id.toml: meta: the table [meta] is missing|[calendar] is missing"},
		{"no tag", fileSet{"Swahili.txt.toml": sound}, "texts/Swahili.txt.toml|not a language tag"},
		{"nothing", fileSet{"sw.txt": ""}, "texts holds no language"},
		{"all at once", fileSet{"sw.toml": "[a]\nx = \"y\"", "en.toml": "[a]\nb = \"\""},
			"texts/sw.toml:2|texts/en.toml:2"},
	})
}

// A draft must have every valid text, and missingText for each text that is missing or faulty. The problems must have
// the key and the kind of each such text, and the English text if the text is missing.
func TestInspect(t *testing.T) {
	draft, wrong := must2(Inspect(folder(twoLanguages), folder(map[string]string{
		"id.toml": sound + "[a]\nb = \"{polt}\"\nd = { other = \"{n} hari\" }\ne = \"x\"",
		"fr.toml": "[meta]",
		"sw.toml": "[a]\nc = \"ŋ\"\nd =",
	}), "texts"))
	kinds := map[string]Kind{}
	for _, p := range wrong {
		kinds[p.Lang+" "+p.Key] = p.Kind
		if want := map[string]string{"a.b": "Hello {plot}", "a.c": "yes",
			"a.d": `{ one = "{n} day", other = "{n} days" }`}; p.Kind == Missing && p.Source != want[p.Key] {
			t.Errorf("%s: %q stands beside it", p, p.Source)
		}
	}
	for at, want := range map[string]Kind{"id a.b": Values, "id a.c": Missing, "id a.e": Unknown,
		"fr meta.name": Faulty, "sw ": Faulty} {
		if kinds[at] != want {
			t.Errorf("%s is %v, want %v in %v", at, kinds[at], want, wrong)
		}
	}
	if got := draft.Languages(); !slices.Equal(got, []string{"en", "id", "sw"}) {
		t.Errorf("languages of the draft: %v", got)
	}
	for at, want := range map[string]string{"id a.b": "?", "id a.c": "?", "id a.d": "2 hari", "sw a.c": "ndiyo"} {
		lang, key, _ := strings.Cut(at, " ")
		if got, err := draft.Text(lang, Key(key), Args{"n": 2}); err != nil || got != want {
			t.Errorf("%s: %q, %v; want %q", at, got, err, want)
		}
	}
	if _, err := draft.Text("id", "a.e", nil); !errors.Is(err, ErrKey) {
		t.Errorf("an unknown text is in the draft: %v", err)
	}
	_, err := loadOver(folder(twoLanguages), folder(map[string]string{"fr.toml": ""}), "texts")
	var problems Problems
	if !errors.As(err, &problems) || len(problems) == 0 || problems[0].Lang != "fr" {
		t.Errorf("the error is %v", err)
	}
}

// Problems must be sorted by line. Problems without a line, such as a missing text, must come last.
func TestProblemsAreInOrder(t *testing.T) {
	_, wrong := must2(Inspect(folder(map[string]string{"en.toml": sound + "[a]\nx = \"x\"\ny = \"y\"\n[c]\nz = \"z\"\n",
		"fr.toml": strings.Replace(sound, "reviewed = true", "reviewed = 1", 1) +
			"[c]\nz = \"\"\nb = \"b\"\n[a]\nc = \"ŵ\"\n"}), nil, ""))
	var got []string
	for _, p := range wrong {
		got = append(got, p.Key)
	}
	if want := []string{"meta.reviewed", "c.z", "c.b", "a.c", "a.x", "a.y"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// A translation may have only one text of a table, with the name "other". Such a table must not be read as a plural
// text.
func TestHalfATableIsNoPlural(t *testing.T) {
	_, wrong := must2(Inspect(folder(map[string]string{"en.toml": sound + englishTexts}),
		folder(map[string]string{"id.toml": sound + "[rows]\nother = \"lain\""}), "texts"))
	for _, p := range wrong {
		if p.Kind != Missing || strings.HasPrefix(p.Key, "rows.other") {
			t.Error(p)
		}
	}
	c := must(loadOver(folder(map[string]string{"en.toml": sound + englishTexts}),
		folder(map[string]string{"en.toml": "[rows]\nother = \"else\""}), "texts"))
	if got, err := c.Text("en", "rows.other", nil); err != nil || got != "else" {
		t.Errorf("%q, %v", got, err)
	}
}

func TestOnly(t *testing.T) {
	c := catalogue(twoLanguages)
	only := must(c.Only("sw", "en"))
	if got := only.Languages(); !slices.Equal(got, []string{"sw", "en"}) {
		t.Errorf("%v", got)
	}
	only = must(c.Only("sw"))
	if _, err := only.Text("en", "a.c", nil); !errors.Is(err, ErrLanguage) {
		t.Errorf("English is left: %v", err)
	}
	for _, tags := range [][]string{{"xx"}, {"en", "en"}} {
		if _, err := c.Only(tags...); !errors.Is(err, ErrLanguage) || !strings.Contains(err.Error(), tags[0]) {
			t.Errorf("%v: %v", tags, err)
		}
	}
}

// A translation may be a plural text if the source text is not, and may not be plural if the source text is, because
// grammars differ.
func TestLanguagesMayDiffer(t *testing.T) {
	c := catalogue(map[string]string{
		"en.toml": sound + "[a]\nb = { one = \"one day, {plot}\", other = \"{n} days, {plot}\" }",
		"id.toml": sound + "[a]\nb = \"{plot} {n} hari\"",
		"ja.toml": inScript("ucs2", "[a]\nb = { other = \"{n}日{plot}\" }"),
	})
	for lang, want := range map[string]string{"en": "one day, A", "id": "A 1 hari", "ja": "1日A"} {
		if got, err := c.Text(lang, "a.b", Args{"n": 1, "plot": "A"}); err != nil || got != want {
			t.Errorf("%s: %q, %v; want %q", lang, got, err, want)
		}
	}
}

// Inspect must report every value that a translation leaves out. A value must also be reported if only one plural form
// of the translation leaves it out, and every form of the source text has it.
func TestValuesLeftOut(t *testing.T) {
	english := sound + `[a]
b = "{plot}: {cm} cm, {cm}!"
c = { one = "{plot}: one day", other = "{plot}: {n} days {what}" }
d = "{n} cm"`
	const b, c, d = `b = "{cm}{plot}"`, `c = { one = "{plot}", other = "{plot}{what}" }`, `d = "{n}"`
	for _, own := range []struct{ b, c, d, want string }{
		{`b = "{plot}"`, c, d, "sw.toml:13: a.b: leaves out {cm}, which en.toml has"},
		{b, `c = { one = "x", other = "{plot}{what}" }`, d, "sw.toml:14: a.c: leaves out {plot}, which en.toml has"},
		{b, `c = { one = "{plot}", other = "{n}{plot}" }`, d, "sw.toml:14: a.c: leaves out {what}, which en.toml has"},
		{b, `c = "{plot}"`, d, "sw.toml:14: a.c: leaves out {what}, which en.toml has"},
		{b, `c = "{plot}{what}"`, `d = "x"`, "sw.toml:15: a.d: leaves out {n}, which en.toml has"},
		{b, `c = "{plot}{what}"`, `d = { one = "one", other = "many" }`, ""},
		{b, c, d, ""},
	} {
		translated := sound + strings.Join([]string{"[a]", own.b, own.c, own.d}, "\n")
		_, wrong := must2(Inspect(folder(map[string]string{"en.toml": english, "sw.toml": translated}), nil, ""))
		if got := wrong.Error(); got != own.want || got != "" && wrong[0].Kind != Values {
			t.Errorf("%+v: got\n%s", own, got)
		}
	}
}

// The letters of texts must be composed (Unicode NFC) in every alphabet. Joiners must stay in the text, because they
// shape letters.
func TestComposed(t *testing.T) {
	c := catalogue(map[string]string{
		"en.toml": sound + "[a]\nb = \"e\u0300\"",
		"hi.toml": inScript("ucs2", "[a]\nb = \"क्\u200dष o\u0302\u0303 \u200c\""),
	})
	for lang, want := range map[string]string{"en": "è", "hi": "क्\u200dष \u1ed7 \u200c"} {
		if got, err := c.Text(lang, "a.b", nil); err != nil || got != want {
			t.Errorf("%s: %+q, %v; want %+q", lang, got, err, want)
		}
	}
}

// BenchmarkDefault measures how long the service needs at its start to load the built-in languages.
func BenchmarkDefault(b *testing.B) {
	for b.Loop() {
		must(Load(Carried()))
	}
}
