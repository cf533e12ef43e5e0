package text

import (
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"
)

// wordFile returns a language file with the given calendar words and commands.
func wordFile(calendar, commands string) string {
	return strings.Replace(sound, "[calendar]", "[calendar]\n"+calendar, 1) + "[words]\n" + commands
}

func TestDayWords(t *testing.T) {
	file := wordFile("today = \"Aujourd'hui auj. à . œuf\"\nyesterday = \"hier ĥier\"", `stop = "STOP"`)
	rules := "[to-gsm7]\n\"œ\" = \"oe\"\n\"ĥ\" = \"h\"\n[calendar]"
	c := catalogue(map[string]string{"fr.toml": strings.Replace(file, "[calendar]", rules, 1)})
	want := map[string]DayWord{"aujourd'hui": {}, "auj": {}, "a": {}, "œuf": {}, "oeuf": {}, "hier": {Days: -1}}
	if got := c.AllDayWords("fr"); !maps.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Words of the grower's own language have priority. A word of another language is left out if two other languages use
// it with different meanings, or if it has another meaning in the grower's language.
func TestAllWords(t *testing.T) {
	months := func(jan, feb string, days string) string {
		return strings.NewReplacer(`"Jan"`, `"`+jan+`"`, `"Feb"`, `"`+feb+`"`, `"january", "february"`,
			`"x1", "x2"`).Replace(wordFile(days, `stop = "STOP"`))
	}
	c := catalogue(map[string]string{
		"en.toml": months("moon", "sun", `today = "now"`),
		"fr.toml": months("lune", "moon", `today = "la"`),
		"id.toml": months("sun", "lune", `yesterday = "la now moon"`),
		"sw.toml": months("mwezi", "jua", `yesterday = "lune"`),
	})
	for first, want := range map[string]map[string]time.Month{
		"en": {"moon": 1, "sun": 2, "mwezi": 1, "jua": 2, "lune": 0},
		"fr": {"lune": 1, "moon": 2, "sun": 0, "mwezi": 1},
		"sw": {"lune": 0, "moon": 0, "sun": 0, "jua": 2},
		"xx": {"lune": 0, "moon": 0, "mwezi": 1},
	} {
		got := c.AllMonthWords(first)
		for w, m := range want {
			if got[w] != m {
				t.Errorf("%s: %q is month %d, want %d", first, w, got[w], m)
			}
		}
		if got["mar"] != 3 {
			t.Errorf("%s: a word that all share is gone", first)
		}
	}
	for first, want := range map[string]map[string]DayWord{
		"en": {"now": {}, "lune": {Days: -1}}, "fr": {"la": {}},
		"id": {"la": {Days: -1}, "now": {Days: -1}, "moon": {Days: -1}}, "sw": {"lune": {Days: -1}, "moon": {Days: -1}},
	} {
		if got := c.AllDayWords(first); !maps.Equal(got, want) {
			t.Errorf("%s: %v, want %v", first, got, want)
		}
	}
}

// AllWords must return the commands of every language, even if the menu does not offer the language. The commands are
// in both spellings, after Fold, and each is mapped to its language.
func TestCommandWords(t *testing.T) {
	c := catalogue(map[string]string{
		"en.toml": wordFile("", "stop = \"STOP END stop\"\nhelp = \"HELP\""), // a word may be listed twice
		"fr.toml": wordFile("", "stop = \"stop ARRÉT\"\nhelp = \"AIDE\""),
		"sw.toml": strings.Replace(wordFile("", "stop = \"ŋOLA\"\nhelp = \"aide\""), "[calendar]",
			"[to-gsm7]\n\"ŋ\" = \"ng\"\n[calendar]", 1),
	})
	only := must(c.Only("sw"))
	for k, want := range map[Key]map[string]string{
		"words.stop": {"stop": "", "end": "en", "arret": "fr", "ŋola": "sw", "ngola": "sw"},
		"words.help": {"help": "en", "aide": ""}, "words.start": {}, "home.ask": nil,
	} {
		for _, c := range []*Catalogue{c, only, only.Spelled(nil)} {
			if got := c.AllWords(k); !maps.Equal(got, want) {
				t.Errorf("%s: %v, want %v", k, got, want)
			}
		}
	}
}

func TestWordsRefuse(t *testing.T) {
	const stop = `stop = "STOP"`
	keywords := func(commands string) fileSet { return english(wordFile("", commands)) }
	days := func(calendar string) fileSet { return english(wordFile(calendar, stop)) }
	stopOrHelp := func(stop, help string) string {
		return wordFile("", fmt.Sprintf("stop = %q\nhelp = %q", stop, help))
	}
	changed := func(body string, oldnew ...string) string { return strings.NewReplacer(oldnew...).Replace(body) }
	wantRefused(t, load, []refusal{
		{"two commands", english(stopOrHelp("STOP", "HELP stop")), `"stop" stands for words.`},
		{"in two languages", fileSet{"en.toml": stopOrHelp("STOP", "AIDE"), "fr.toml": stopOrHelp("AIDE", "HELP")},
			`fr.toml:14: words.stop: "aide" stands for words.help too, at en.toml:15`},
		{"a number", keywords(`stop = "STOP 0"`), `en.toml:14: words.stop: "0" is not of letters alone`},
		{"a comma", keywords(`stop = "STOP, END, QUIT"`), `en.toml:14: words.stop: "stop," is not of letters alone`},
		{"a dot", keywords(`stop = "."`), `words.stop: "." is not of letters alone`},
		{"no word", keywords(`stop = " "`), "words.stop: is empty"},
		{"a mark of writing by rules", english(changed(wordFile("", `stop = "ŋ"`), "[calendar]",
			"[to-gsm7]\n\"ŋ\" = \"ng?\"\n[calendar]")), `words.stop: "ng?" is not of letters alone`},
		{"folded, two commands", fileSet{"vi.toml": changed(stopOrHelp("dừng", "dùng"), `"gsm7"`, `"ucs2"`)},
			`words.help: "dùng", which is "dừng" without accents, stands for words.stop too, at vi.toml:14`},
		{"folded, two months", fileSet{"fr.toml": changed(wordFile("", stop), `"gsm7"`, `"ucs2"`, `"Jan"`, `"mái"`,
			`"Feb"`, `"mâi"`)}, `"mâi" stands for month 1 and month 2`},
		{"folded, a month and a day", fileSet{"fr.toml": changed(wordFile(`today = "aè"`, stop), `"Jan"`, `"àé"`)},
			`calendar.today: "aè" stands for a month`},
		{"folded, today or yesterday", days("today = \"à\"\nyesterday = \"a\""),
			`calendar.yesterday: "a" stands for today`},
		{"folded, a command, a month", keywords(`stop = "ÄPR"`),
			`"äpr" stands for a day or a month and for words.stop`},
		{"a month", keywords(`stop = "MAY"`), `"may" stands for a day or a month and for words.stop, at en.toml:14`},
		{"a month elsewhere", fileSet{"en.toml": wordFile("", `stop = "MAI"`),
			"fr.toml": changed(wordFile("", stop), `"may"`, `"mai"`)},
			`fr.toml:7: calendar: "mai" stands for a day or a month`},
		{"a day", english(wordFile(`today = "start"`, `start = "START"`)), `"start" stands for a day or a month`},
		{"a value", keywords(`stop = "STOP {n}"`), "words.stop: must be plain words"},
		{"a plural", keywords(`stop = { one = "STOP", other = "STOP" }`), "words.stop: must be plain words"},
		{"today and yesterday", days("today = \"kal\"\nyesterday = \"kal\""),
			`en.toml:9: calendar.yesterday: "kal" stands for today`},
		{"a day that is a month", days(`today = "mar"`), `calendar.today: "mar" stands for a month`},
		{"a day with a digit", days(`today = "d0"`), `"d0" has a digit`},
		{"a day that is a list", days(`today = ["x"]`), "calendar.today: must be words"},
		{"a day in another's letters", days(`today = "ŋ"`), "calendar.today: ['ŋ']"},
	})
}

// All these spellings of one word are in use in print (common practice, no source).
func TestFold(t *testing.T) {
	for _, same := range [][]string{
		{"fevrier", "février", "FÉVRIER", "fe\u0301vrier"},
		{"aout", "août", "Aout"},
		{"marco", "março", "MARÇO"},
		{"फ़रवरी", "फरवरी", "फ\u093Cरवरी", "फरवरि", "फरबरी"},
		{"सितंबर", "सितम्बर", "सितँबर"}, {"दिसंबर", "दिसम्बर"}, {"नवंबर", "नवम्बर"}, {"अक्टूबर", "अक्तूबर", "अक्टुबर"},
		{"अप्रैल", "अप्रेल"}, {"मई", "मइ"}, {"घंटे", "घण्टे", "घन्टे"},
	} {
		for _, s := range same[1:] {
			if Fold(s) != Fold(same[0]) {
				t.Errorf("%q is folded to %q, %q to %q", s, Fold(s), same[0], Fold(same[0]))
			}
		}
	}
	for _, differ := range [][2]string{{"juin", "juil"}, {"जून", "जुलाई"}, {"मार्च", "मई"}, {"m²", "m2"},
		{"½", "1/2"}} {
		if Fold(differ[0]) == Fold(differ[1]) {
			t.Errorf("%q and %q are both folded to %q", differ[0], differ[1], Fold(differ[0]))
		}
	}
}

func FuzzFold(f *testing.F) {
	for _, s := range []string{"Août", "सितम्बर", "İ", "म्व", "\xff", "ẛ̣"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if once := Fold(s); Fold(once) != once {
			t.Fatalf("%q is folded to %q, and that to %q", s, once, Fold(once))
		}
	})
}
