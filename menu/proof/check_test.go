package proof_test

import (
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// own returns the menu in these languages with an operator's file of English texts.
func own(t *testing.T, file string, langs ...string) *menu.Menu {
	t.Helper()
	cat, wrong, err := text.Inspect(text.Carried(), fstest.MapFS{"en.toml": {Data: []byte(file)}}, "texts")
	if err != nil || len(wrong) > 0 {
		t.Fatal(err, wrong)
	}
	return must(menu.New(must(cat.Only(langs...)), menu.Options{Units: units}))
}

// TestCheck checks that mistakes in an operator's file are found without the long proof, each once although many pages
// show it, with the file, the line, the key and, if the text is too long, the longest value in it.
func TestCheck(t *testing.T) {
	long := strings.TrimSpace(strings.Repeat("a long word ", 16))
	m := own(t, strings.Join([]string{
		"[home]",
		`new = "` + long + `"`,
		`tools = "my  tools"`,
		`plot = "{plot}` + strings.Repeat("-", 180) + `: {next}"`,
		"[change]",
		`name-ask = "` + long + `"`,
		"[refuse]",
		`name = "` + long + `"`,
		"[sms]",
		`undone = "{plot}: ` + long + long + ` {next} {keys}"`,
		"[day]",
		`today = "{{date}} {date}"`,
		"[place]",
		`own = "{name} now and for all times in which we live, ` + long + `"`,
		"[trial]",
		`bags = "` + long + `"`,
	}, "\n"), "en", "fr")
	got := must(proof.Check(m))
	for i, want := range []string{
		`texts/en.toml:2: home.new: by ussd, screen home after `,
		`texts/en.toml:3: home.tools: by ussd, screen home after `,
		`texts/en.toml:4: home.plot: by ussd, screen home is `,
		`texts/en.toml:6: change.name-ask: by ussd, screen change.name after `,
		`texts/en.toml:8: refuse.name: by ussd, screen change.name after "?" `,
		`texts/en.toml:12: day.today: by ussd, screen `,
		`texts/en.toml:14: place.own: by ussd, screen place after `,
		`texts/en.toml:16: trial.bags: by ussd, screen trial.`,
		`texts/en.toml:10: sms.undone: text sms.undone takes 4 segments, `,
	} {
		if i >= len(got) || !strings.HasPrefix(got[i], want) {
			t.Errorf("mistake %d is not %q", i, want)
		}
	}
	for i, want := range []string{"octets long, a USSD page holds 160:\n", " has two spaces in a row:\n",
		`its longest value is {next} = "`, "octets long", "octets long", "shows a value that was not filled in",
		`its longest value is {name} = "WWWWWWWWWW"`, "octets long",
		`at most 2 are allowed; its longest value is {next} = "`} {
		if i < len(got) && !strings.Contains(got[i], want) {
			t.Errorf("mistake %d does not say %q", i, want)
		}
	}
	if t.Failed() || len(got) != 9 {
		t.Errorf("%d mistakes:\n%s", len(got), strings.Join(got, "\n\n"))
	}
	if got := must(proof.Check(own(t, "[home]\nask = \"What now?\"", "en"))); len(got) > 0 {
		t.Errorf("nothing is wrong, but\n%s", strings.Join(got, "\n"))
	}
}

// TestLeftOut checks that a text which does not name an answer, a key or the word for STOP is found.
func TestLeftOut(t *testing.T) {
	m := own(t, strings.Join([]string{
		"[keys]",
		`more = "more"`,
		"[sms]",
		`welcome = "Dial {code}. Send ENOUGH to end, HELP for help, MENU for more."`,
		`keys-left = "Weeds left: 1 few, 2 some, 5.3 many. 0 undoes the weeding."`,
		`looked = "{plot}: noted, {seen}. {next}"`,
	}, "\n"), "en")
	got := must(proof.Check(m))
	for i, want := range []string{
		"texts/en.toml:2: keys.more: leaves out the answer 9, which the English text has:\nmore",
		"texts/en.toml:5: sms.keys-left: leaves out the answer 3, which",
		"texts/en.toml:4: sms.welcome: leaves out the word that stops texts: STOP END QUIT CANCEL UNSUBSCRIBE:\nDial",
	} {
		if i >= len(got) || !strings.HasPrefix(got[i], want) {
			t.Errorf("%q is not mistake %d of\n%s", want, i, strings.Join(got, "\n"))
		}
	}
	if len(got) != 3 {
		t.Errorf("%d mistakes:\n%s", len(got), strings.Join(got, "\n"))
	}
}

// TestWordsBesideADigit checks that the words beside a digit are read as that digit: a reminder whose answers are in
// another order than the menu's is found, and words that nobody would understand.
func TestWordsBesideADigit(t *testing.T) {
	m := own(t, strings.Join([]string{
		"[ring]",
		`open = "{plot}: weed, best {best}, by {closes}. 1 not yet, 2 done, 3 too big."`,
		`last-days = "{plot}: weed by {closes}. 1 fjordly, 2 not yet, 3 too big."`,
		"[sms]",
		`after-pass = "{plot}: {date} is logged. {next} Weeds left: 1 many, 2 some, 3 few. 0 undoes it."`,
	}, "\n"), "en")
	got := must(proof.Check(m))
	for i, want := range []string{
		`texts/en.toml:2: ring.open: by sms, "done" beside 2 is read as the answer 1:`,
		`texts/en.toml:2: ring.open: by sms, "not yet" beside 1 is read as the answer 2:`,
		`texts/en.toml:3: ring.last-days: by sms, "fjordly" beside 1 is not understood as an answer; [said] lists`,
		`texts/en.toml:5: sms.after-pass: by sms, "few" beside 3 is read as the answer 1:`,
		`texts/en.toml:5: sms.after-pass: by sms, "many" beside 1 is read as the answer 3:`,
	} {
		if i >= len(got) || !strings.HasPrefix(got[i], want) {
			t.Errorf("%q is not mistake %d", want, i)
		}
	}
	if t.Failed() || len(got) != 5 {
		t.Errorf("%d mistakes:\n%s", len(got), strings.Join(got, "\n"))
	}
}

// TestPageOfALanguage checks how long the way to one's own language may be: a turn of the page is worth a note, two
// turns are a mistake, and both messages name the cure. The languages of the usual place stand first.
func TestPageOfALanguage(t *testing.T) {
	english := string(must(fs.ReadFile(text.Carried(), "en.toml")))
	files := fstest.MapFS{}
	tags := []string{"ee", "ff", "ha", "sn", "ss", "st", "en"}
	for _, tag := range tags[:6] {
		name := `name = "` + strings.Repeat(tag, 28) + `"`
		files[tag+".toml"] = &fstest.MapFile{Data: []byte(strings.Replace(english, `name = "English"`, name, 1))}
	}
	cat, wrong, err := text.Inspect(text.Carried(), files, "texts")
	if err != nil || len(wrong) > 0 {
		t.Fatal(err, wrong)
	}
	const cure = "put the languages that most growers speak first, with texts.languages or the languages of the place"
	for _, c := range []struct {
		offered       []string
		first         []string // languages of the usual place
		note, problem string
	}{
		{offered: tags, problem: "English stands on page 3 of the list of languages; " + cure},
		{offered: tags[3:], note: "en: English stands on page 2 of the list of languages"},
		{offered: tags, first: []string{"ee", "en"}},
	} {
		o := menu.Options{PlaceLanguages: map[string][]string{menu.UsualPlace: c.first}}
		p := must(proof.Prove(must(menu.New(must(cat.Only(c.offered...)), o)),
			proof.Options{Languages: []string{"en"}, Growers: 1}))
		contact := slices.DeleteFunc(p.Problems, func(s string) bool { return !strings.Contains(s, "first contact") })
		notes, problems := strings.Join(p.Notes, "\n"), strings.Join(contact, "\n")
		if !strings.Contains(notes, c.note) || !strings.Contains(problems, c.problem) ||
			(c.note == "") != (notes == "") || (c.problem == "") != (problems == "") {
			t.Errorf("%v, %v first: note %q, problem %q", c.offered, c.first, notes, problems)
		}
	}
}

// BenchmarkCheck is the time that the check adds to the start of a service with a file for one language. It was 0.3 s
// of one core, where the start may take a second.
func BenchmarkCheck(b *testing.B) {
	file := fstest.MapFS{"sw.toml": {Data: []byte("[home]\nnew = \"shamba\"")}}
	cat, _, err := text.Inspect(text.Carried(), file, "texts")
	m := must(menu.New(cat, menu.Options{Units: units}))
	for b.Loop() {
		if problems, err2 := proof.Check(m); err != nil || err2 != nil || len(problems) > 0 {
			b.Fatal(problems, err, err2)
		}
	}
}

// TestCheckOfATextThatIsNotKept checks that a text that is too long to be kept between two screens is named, and does
// not stop the start of the service.
func TestCheckOfATextThatIsNotKept(t *testing.T) {
	m := own(t, "[fixed]\nnoted = \"{it} "+strings.Repeat("a long word ", 400)+"\"", "en")
	got, err := proof.Check(m)
	if err != nil || len(got) != 1 ||
		!strings.HasPrefix(got[0], "texts/en.toml:2: fixed.noted: by ussd, screen fixed: the text is ") {
		t.Errorf("%v, %q", err, got)
	}
}
