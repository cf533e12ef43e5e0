package desk

import (
	"context"
	"strings"
	"testing"

	"rowbell/menu/text"
)

// textBook stands for the operator's folder: it refuses texts that have the word wrong.
type textBook struct {
	folder  string
	changed map[text.Key]string // by language and key
}

func (b *textBook) Folder() string { return b.folder }

func (b *textBook) Try(_ string, _ text.Key, forms []text.Form, whole bool) (trial TextTrial, err error) {
	trial.Length = plural(len(formWords(forms)), "letter", "letters")
	if strings.Contains(formWords(forms), "wrong") {
		trial.Problems = []string{"en.toml:3: home.ask: is wrong"}
	}
	if whole {
		trial.Length += ", walked"
	}
	return trial, nil
}

func (b *textBook) Change(_ context.Context, lang string, k text.Key, forms []text.Form) (TextTrial, error) {
	trial, err := b.Try(lang, k, forms, true)
	if len(trial.Problems) == 0 {
		b.changed[text.Key(lang)+"/"+k] = formWords(forms)
	}
	return trial, err
}

// The operator finds a text, checks another one, is told what is wrong, and changes it. The old one is in the trail.
func TestTexts(t *testing.T) {
	o := newOffice(t)
	book := &textBook{folder: "our-texts", changed: map[text.Key]string{}}
	options := o.options()
	options.Texts = book
	o.d = must(New(options))
	b := o.as("op")
	b.get("/desk/texts").has(t, 200, "our-texts", "built in", "More")
	b.get("/desk/texts?language=sw&find=home.ask").has(t, 200, "home.ask", "English", "What now?")
	b.get("/desk/texts?find=nothing+has+these+words").has(t, 200, "No text has these words")
	b.get("/desk/texts?group=keys").has(t, 200, "9 more")
	const path = "/desk/texts/en/home.ask"
	b.get(path).has(t, 200, "What now?", "In other languages", "Kiswahili")
	b.get("/desk/texts/en/home.nothing").has(t, 404)
	b.get("/desk/texts/xx/home.ask").has(t, 404)
	b.post(path, "do", "parts", "key", "text", "text", "What next?").has(t, 200, "10 letters")
	b.post(path, "text", "What next?", "do", "check").has(t, 200, "The proof finds nothing wrong", "10 letters, walked")
	b.post(path, "text", " ").has(t, 422, "must not be empty")
	b.post(path, "text", "This is wrong", "do", "check").has(t, 200, "en.toml:3: home.ask: is wrong", "This is wrong")
	b.post(path, "text", "This is wrong").has(t, 422, "the old one stays", "en.toml:3: home.ask: is wrong")
	if len(book.changed) > 0 {
		t.Errorf("changed: %v", book.changed)
	}
	b.post(path, "text", "What next?\r\nSay it.").has(t, 200, "The text was changed")
	if got := book.changed["en/home.ask"]; got != "What next?\nSay it." {
		t.Errorf("changed to %q", got)
	}
	b.get("/desk/trail").has(t, 200, "changed a text", "home.ask in en", "What now?", "What next?")
}

// A plural text has a field for each of its forms.
func TestPluralText(t *testing.T) {
	o := newOffice(t)
	book := &textBook{folder: "our-texts", changed: map[text.Key]string{}}
	options := o.options()
	options.Texts = book
	o.d = must(New(options))
	b := o.as("op")
	var key text.Key
	for _, k := range o.d.o.Menu.SMSCatalogue().Keys("en") {
		if len(o.d.o.Menu.SMSCatalogue().Forms("en", k)) == 2 {
			key = k
			break
		}
	}
	path := "/desk/texts/en/" + string(key)
	b.get(path).has(t, 200, "of the kind “one”", "of the kind “other”")
	b.post(path, "text-one", "{n} week", "text-other", "").has(t, 422, "must not be empty")
	b.post(path, "text-one", "{n} week", "text-other", "{n} weeks").has(t, 200, "The text was changed")
	if got := book.changed["en/"+key]; got != "one: {n} week\nother: {n} weeks" {
		t.Errorf("changed to %q", got)
	}
}

// Without a folder texts are shown, and it is said what to configure.
func TestTextsWithoutAFolder(t *testing.T) {
	o := newOffice(t)
	b := o.as("op")
	b.get("/desk/texts").has(t, 200, "To change a text, make a folder", "built in")
	b.get("/desk/texts/en/home.ask").has(t, 200, "What now?", "To change it, make a folder")
	b.post("/desk/texts/en/home.ask", "text", "What next?").has(t, 422, "nothing was changed")
}
