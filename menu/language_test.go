package menu

import (
	"strings"
	"testing"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// TestLanguageComesFirst checks that an unknown caller chooses the language first, and then reads everything in that
// language.
func TestLanguageComesFirst(t *testing.T) {
	p := dials(t, everyMenu(), newcomer(), "*123#")
	p.wants("rowbell\n1 English\n2 Français\n3 हिन्दी\n4 Indonesia\n5 Português\n6 Kiswahili")
	p.plays("7 => Not 7: type 1-6.", "0 => 1 English", "2 => 1 oui\n2 non\n3 langue", "1 => 1 nouvelle parcelle")
	if p.b.Lang != "fr" {
		t.Errorf("kept is %q", p.b.Lang)
	}
}

// TestOperatorsFirstLanguageIsSpoken checks that the first language of the operator is used until the grower chooses
// another one.
func TestOperatorsFirstLanguageIsSpoken(t *testing.T) {
	m := menuIn("sw", "en")
	p := dials(t, m, newcomer(), "*123#")
	p.wants("1 Kiswahili\n2 English")
	p.plays("9 => Si 9")
	one := menuIn("sw")
	q := dials(t, one, newcomer(), "*123#")
	q.wants("1 ndiyo")
	q.lacks("Kiswahili", "lugha")
}

// TestLanguageFromAnywhere checks that 000 asks for the language on any screen and then leads back to that screen with
// all answers. The test tries 000 on a question, on a screen that asks whether an entry is right, on a second page, and
// on the offer to resume a dialogue.
func TestLanguageFromAnywhere(t *testing.T) {
	known := func() *phone { return dials(t, everyMenu(), knownBook(), "*123#") }
	french := func(p *phone, shows ...string) {
		t.Helper()
		p.plays("000 => 1 English\n2 Français | 6 Kiswahili\n0 back")
		p.enter("2").wants(shows...)
	}
	p := known()
	p.enter("1", "1", "3") // the screen asks for the date
	french(p, "0511")
	p.plays("5 novembre => jeu 5 nov")
	p = known()
	p.enter("1", "1", "1", "1", "52")
	french(p, "52 cm", "1 oui", "2 non")
	p.plays("2 => 25 cm")
	p = known()
	p.enter("1", "1").dial("*123#").wants("1 go on")
	french(p, "1 aujourd'hui")
	p = known()
	p.enter("1", "1").enter("000", "0").wants("When was it planted?")
	p.enter("000", "000", "000", "3", "0", "00")
	if p.b.Lang != "hi" {
		t.Errorf("kept is %q", p.b.Lang)
	}
	p.enter("000", "1").wants("What now?")
}

func TestLanguageByText(t *testing.T) {
	m := everyMenu()
	for _, word := range []string{"LANGUAGE", "langue", "Língua", "000", "भाषा", "lugha", "bahasa"} {
		b := knownBook()
		out := must(m.Text(b, Inbound{Text: word}))
		if !strings.Contains(out.Reply, "2 Français") {
			t.Errorf("%q shows\n%s", word, out.Reply)
			continue
		}
		out = must(m.Text(b, Inbound{Text: "2", State: out.State}))
		if b.Lang != "fr" || !strings.Contains(out.Reply, "nouvelle parcelle") {
			t.Errorf("%q, 2: %q is spoken:\n%s", word, b.Lang, out.Reply)
		}
	}
}

// TestWordsOfEveryLanguage checks that the keywords of every language work in every other language, in any case and
// with or without accents.
func TestWordsOfEveryLanguage(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		for key, want := range map[text.Key]keyword{"words.stop": wordStop, "words.start": wordStart,
			"words.help": wordHelp, "words.menu": wordMenu, "words.language": wordLanguage} {
			p := speech{cat: m.cat, lang: lang}
			words := strings.Fields(p.t(key, nil))
			if p.err != nil || len(words) == 0 {
				t.Fatalf("%s %s: %v", lang, key, p.err)
			}
			for _, w := range words {
				for _, typed := range []string{w, strings.ToLower(w), w + ".", " " + w + " "} {
					if got := m.word(answer.Digits(typed)); got != want {
						t.Errorf("%s: %q is %d, want %d", lang, typed, got, want)
					}
				}
			}
		}
	}
	if m.word("arrêt") != wordStop || m.word("INÍCIO") != wordMenu {
		t.Error("words in their own spelling are not known")
	}
}

// TestDialogueOfAnOlderMenu checks a dialogue that an older version of the menu saved: the dialogue begins again, and
// the grower is told so.
func TestDialogueOfAnOlderMenu(t *testing.T) {
	old := []byte("\x01" + `{"l":"en","s":"new.rows","t":["home","new.method","new.when"],"a":{"method":"1"}}`)
	m := newMenu()
	const told = "The menu is new, so we begin again."
	p := &phone{t: t, m: m, b: knownBook(), state: old}
	p.enter("1").wants(told, "What now?")
	p.plays("1 => How is the rice planted?")
	p = &phone{t: t, m: m, b: knownBook(), state: old}
	p.dial("*123#").wants(told, "What now?")
	p = &phone{t: t, m: m, b: knownBook(), state: old}
	p.dial("*123*1#") // a dialled path is followed, and nothing is said about the old dialogue
	p.wants("How is the rice planted?")
	for _, typed := range []string{"1", "hello", "MENU"} {
		out := must(m.Text(knownBook(), Inbound{Text: typed, State: old}))
		if !strings.Contains(out.Reply, "What now?") || typed != "MENU" && !strings.Contains(out.Reply, told) {
			t.Errorf("%q: %s", typed, out.Reply)
		}
	}
}

// TestAWordTellsTheLanguage checks that an unknown grower who texts a word of one language gets the answer in that
// language. STOP must work in every language of the catalogue, even if the menu does not offer the language.
func TestAWordTellsTheLanguage(t *testing.T) {
	for _, c := range []struct{ typed, shows string }{
		{"aide", "STOP pour"}, {"MSAADA", "rowbell"}, {"ajuda", "capinar"}, {"*STOP*", "START"},
		{"“arrêt”", "rowbell"}, {"STOP…", "START"}, {"stop,ok", "START"}, {"menyu", "1 ndiyo"}, {"menu", "1 English"},
	} {
		out, err := everyMenu().Text(newcomer(), Inbound{Text: c.typed})
		if err != nil || !strings.Contains(out.Reply, c.shows) {
			t.Errorf("%q: %v\n%s", c.typed, err, out.Reply)
		}
	}
	m := menuIn("sw", "en")
	for _, typed := range []string{"ARRÊT", "parar", "बंद"} {
		b := knownBook()
		if out, err := m.Text(b, Inbound{Text: typed}); err != nil || !b.NoTexts ||
			!strings.Contains(out.Reply, "No more texts") {
			t.Errorf("%q: %v, stopped %v\n%s", typed, err, b.NoTexts, out.Reply)
		}
	}
}

// TestPlaceLanguagesAreOffered checks that a place cannot put a language first that nobody can choose.
func TestPlaceLanguagesAreOffered(t *testing.T) {
	cat := must(must(text.Default()).Only("en", "fr"))
	_, err := New(cat, Options{PlaceLanguages: map[string][]string{"hills": {"fr", "sw"}}})
	want := "the language sw of the place hills is not offered; offered are en, fr"
	if err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %q", err, want)
	}
}
