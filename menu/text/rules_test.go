package text

import (
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/unicode/norm"
	"pgregory.net/rapid"
)

// portuguese is a language file with letters that are not in the GSM 7-bit alphabet (ã, ç, õ, á) and with é, which is.
var portuguese = strings.NewReplacer(`"Feb"`, `"fev"`, `"Mar"`, `"março"`, `"Sat"`, `"sáb"`).Replace(sound) + `
[to-gsm7]
"ã" = "a"
"õ" = "o"
"ç" = "c"
"á" = "a"
"õe" = "oi"
"…" = "..."
[a]
b = "Não: {plot}, é a estação"
c = "põe"
d = { one = "uma", other = "mãos{n}…" }
`

func TestRules(t *testing.T) {
	c := catalogue(map[string]string{"pt.toml": portuguese})
	spelled := c.Spelled(map[string][]Shift{"pt": {Portuguese}, "xx": {Hindi}})
	for _, x := range []struct {
		c    *Catalogue
		key  Key
		args Args
		want string
	}{
		{c, "a.b", Args{"plot": "chão"}, "Nao: chao, é a estacao"},
		// The value's letters are composed (NFC) before the rules are applied. ToGSM7 then replaces letters for which
		// there is no rule.
		{c, "a.b", Args{"plot": "cha\u0303o ŵ ধ"}, "Nao: chao w ?, é a estacao"},
		{c, "a.c", nil, "poi"}, // there are rules for õ and õe; the longer one must be applied
		{c, "a.d", Args{"n": 2}, "maos2..."},
		{c, "a.b", Args{"plot": Date{time.Saturday, 5, time.March}}, "Nao: sab 5 marco, é a estacao"},
		{c, "a.b", Args{"plot": Verbatim("Português")}, "Nao: Português, é a estacao"},
	} {
		if got, err := x.c.Text("pt", x.key, x.args); err != nil || got != x.want {
			t.Errorf("%s %v: %q, %v; want %q", x.key, x.args, got, err, x.want)
		}
	}
	// "…" is in no table of 3GPP TS 23.038, so the Portuguese tables do not have all letters of this file.
	if c.Covers("pt", []Shift{Portuguese}) {
		t.Error("the Portuguese tables are said to have the ellipsis")
	}
	if got, err := c.Printed("pt", "a.c"); got != "põe" || err != nil {
		t.Errorf("printed: %q, %v", got, err)
	}
	if got, _ := spelled.Text("pt", "a.c", nil); got != "poi" {
		t.Errorf("spelled all the same: %q", got)
	}
	if got := c.language("pt").wordsOf(c.language("pt").calendar.months[2]); got != "marco" {
		t.Errorf("month 3 is %q", got)
	}
	words := c.MonthWords("pt")
	if words[Fold("março")] != 3 {
		t.Errorf("typed, March is not known: %v", words)
	}
	want := []Foreign{{"ã", "a", 3}, {"ç", "c", 2}, {"á", "a", 1}, {"õe", "oi", 1}, {"…", "...", 1}}
	if got := c.Foreign("pt"); !slices.Equal(got, want) {
		t.Errorf("foreign: %v\nwant %v", got, want)
	}
}

// A language must keep its own spelling if the allowed tables have all its letters. The Portuguese tables are 3GPP TS
// 23.038, clauses A.2.3 and A.3.3.
func TestSpelled(t *testing.T) {
	c := catalogue(map[string]string{"pt.toml": strings.Replace(portuguese, "{n}…", "{n}", 1)})
	if !c.Covers("pt", []Shift{Portuguese}) || c.Covers("pt", []Shift{Turkish}) || c.Covers("pt", nil) ||
		c.Covers("xx", []Shift{Portuguese}) {
		t.Error("Covers is wrong about the tables that have all Portuguese letters")
	}
	spelled := c.Spelled(map[string][]Shift{"pt": {Portuguese}})
	for plot, want := range map[string]string{
		"chão": "Não: chão, é a estação",
		"ŵ…":   "Não: w..., é a estação", // the tables lack ŵ and …, so the value is rewritten by the rules
	} {
		if got, err := spelled.Text("pt", "a.b", Args{"plot": plot}); err != nil || got != want {
			t.Errorf("%q, %v; want %q", got, err, want)
		}
	}
	if got := spelled.language("pt").wordsOf(spelled.language("pt").calendar.months[2]); got != "março" {
		t.Errorf("month 3 is %q", got)
	}
	if got := spelled.Date("pt", time.Saturday, 5, time.March); got != "sáb 5 março" {
		t.Errorf("a date is %q", got)
	}
	if got, err := c.Text("pt", "a.c", nil); err != nil || got != "poi" {
		t.Errorf("the catalogue itself has changed: %q, %v", got, err)
	}
	if got, err := c.Spelled(map[string][]Shift{"pt": {Turkish}}).Text("pt", "a.c", nil); err != nil || got != "poi" {
		t.Errorf("with tables that lack a letter: %q, %v", got, err)
	}
}

func TestRulesRefuse(t *testing.T) {
	head := strings.Replace(sound, "[calendar]", "[to-gsm7]\n%\n[calendar]", 1)
	for name, c := range map[string]struct{ rule, alphabet, want string }{
		"needless":          {`"e" = "a"`, "gsm7", `en.toml:8: to-gsm7.e: "e" is in the alphabet`},
		"empty":             {`"" = "a"`, "gsm7", "needs no rule"},
		"to other letters":  {`"ã" = "â"`, "gsm7", "'â'"},
		"to a number":       {`"ã" = 3`, "gsm7", "is a number, not a text"},
		"to a new line":     {`"ã" = "\n"`, "gsm7", "control character"},
		"twice":             {"\"ã\" = \"a\"\n\"a\u0303\" = \"aa\"", "gsm7", `"ã" stands here twice`},
		"no gsm7":           {`"ã" = "a"`, "ucs2", "needs no rules"},
		"not all that uses": {`"ã" = "a"`, "gsm7", `'õ'`},
	} {
		body := strings.Replace(head, "%", c.rule, 1)
		body = strings.Replace(body, `"gsm7"`, `"`+c.alphabet+`"`, 1) + "[a]\nb = \"ãõ\""
		if _, err := load(map[string]string{"en.toml": body}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %q in it", name, err, c.want)
		}
	}
	_, wrong, err := Inspect(folder(map[string]string{"en.toml": "to-gsm7 = 3\n" + sound}), nil, "")
	if want := "en.toml:1: to-gsm7: is a number: it must be a table [to-gsm7]"; err != nil || wrong.Error() != want {
		t.Errorf("no table: %v\n%v\nwant %s", err, wrong, want)
	}
}

// A text of a gsm7 language must have only characters of the alphabet, whatever a grower typed. Words of the language
// in a value are rewritten by its rules.
func TestValuesStayInTheAlphabet(t *testing.T) {
	c := catalogue(map[string]string{"pt.toml": portuguese})
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.String().Draw(t, "value")
		got, err := c.Text("pt", "a.b", Args{"plot": v + "ção"})
		if err != nil || !IsGSM7(got) {
			t.Fatalf("%q, %v", got, err)
		}
		if !strings.HasSuffix(got, "cao, é a estacao") {
			t.Fatalf("%q lost its own letters", got)
		}
		if IsGSM7(v) && !strings.Contains(got, norm.NFC.String(v)) {
			t.Fatalf("%q lacks %q", got, v)
		}
	})
}
