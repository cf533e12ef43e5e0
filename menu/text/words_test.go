package text

import (
	"maps"
	"strings"
	"testing"
	"time"
)

// words makes a sheet whose calendar and commands say these.
func wordSheet(calendar, commands string) string {
	return strings.Replace(sound, "[calendar]", "[calendar]\n"+calendar, 1) + "[words]\n" + commands
}

func TestDayWords(t *testing.T) {
	c := catalogue(t, map[string]string{"fr.toml": strings.Replace(wordSheet("today = \"Aujourd'hui auj. à\"\nyesterday = \"hier ĥier\"", `stop = "STOP"`),
		"[calendar]", "[to-gsm7]\n\"ĥ\" = \"h\"\n[calendar]", 1)})
	want := map[string]int{"aujourd'hui": 0, "auj": 0, "à": 0, "hier": -1, "ĥier": -1}
	if got := c.DayWords("fr"); !maps.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if c.DayWords("xx") != nil {
		t.Error("an unknown language has day words")
	}
}

// A grower's own language comes first; what two others say differently, and
// what means something in the own one, is left out.
func TestAllWords(t *testing.T) {
	months := func(jan, feb string, days string) string {
		return strings.NewReplacer(`"Jan"`, `"`+jan+`"`, `"Feb"`, `"`+feb+`"`, `"january", "february"`, `"x1", "x2"`).Replace(wordSheet(days, `stop = "STOP"`))
	}
	c := catalogue(t, map[string]string{
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
	for first, want := range map[string]map[string]int{
		"en": {"now": 0, "lune": -1},
		"fr": {"la": 0},
		"id": {"la": -1, "now": -1, "moon": -1},
		"sw": {"lune": -1, "moon": -1},
	} {
		if got := c.AllDayWords(first); !maps.Equal(got, want) {
			t.Errorf("%s: %v, want %v", first, got, want)
		}
	}
}

func TestWordsRefuse(t *testing.T) {
	for name, c := range map[string]struct {
		sheets map[string]string
		want   string
	}{
		"two commands":               {map[string]string{"en.toml": wordSheet("", "stop = \"STOP\"\nhelp = \"HELP stop\"")}, `"stop" stands for words.`},
		"in two languages":           {map[string]string{"en.toml": wordSheet("", "stop = \"STOP\"\nhelp = \"AIDE\""), "fr.toml": wordSheet("", "stop = \"AIDE\"\nhelp = \"HELP\"")}, `fr.toml:15: words.stop: "aide" stands for words.help too, at en.toml:16`},
		"a number":                   {map[string]string{"en.toml": wordSheet("", `stop = "STOP 0"`)}, `en.toml:15: words.stop: "0" has a digit`},
		"a month":                    {map[string]string{"en.toml": wordSheet("", `stop = "MAY"`)}, `"may" stands for a day or a month and for words.stop, at en.toml:15`},
		"a month elsewhere":          {map[string]string{"en.toml": wordSheet("", `stop = "MAI"`), "fr.toml": strings.Replace(wordSheet("", `stop = "STOP"`), `"may"`, `"mai"`, 1)}, `fr.toml:7: calendar: "mai" stands for a day or a month`},
		"a day":                      {map[string]string{"en.toml": wordSheet(`today = "start"`, `start = "START"`)}, `"start" stands for a day or a month`},
		"a value":                    {map[string]string{"en.toml": wordSheet("", `stop = "STOP {n}"`)}, "words.stop: must be plain words"},
		"a plural":                   {map[string]string{"en.toml": wordSheet("", `stop = { one = "STOP", other = "STOP" }`)}, "words.stop: must be plain words"},
		"today and yesterday":        {map[string]string{"en.toml": wordSheet("today = \"kal\"\nyesterday = \"kal\"", `stop = "STOP"`)}, `en.toml:9: calendar.yesterday: "kal" stands for today`},
		"a day that is a month":      {map[string]string{"en.toml": wordSheet(`today = "mar"`, `stop = "STOP"`)}, `calendar.today: "mar" stands for a month`},
		"a day with a digit":         {map[string]string{"en.toml": wordSheet(`today = "d0"`, `stop = "STOP"`)}, `"d0" has a digit`},
		"a day that is a list":       {map[string]string{"en.toml": wordSheet(`today = ["x"]`, `stop = "STOP"`)}, "calendar.today: must be words"},
		"a day in another's letters": {map[string]string{"en.toml": wordSheet(`today = "ŋ"`, `stop = "STOP"`)}, "calendar.today: ['ŋ']"},
	} {
		if _, err := load(c.sheets); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %q in it", name, err, c.want)
		}
	}
	same := map[string]string{"en.toml": wordSheet("", `stop = "STOP stop"`), "fr.toml": wordSheet("", `stop = "Stop ARRET"`)}
	if _, err := load(same); err != nil {
		t.Errorf("one command may share words: %v", err)
	}
}
