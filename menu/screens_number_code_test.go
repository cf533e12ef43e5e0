package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

func TestCodeIsShownAndNotKept(t *testing.T) {
	p := &phone{t: t, m: newMenu(t), b: knownBook()}
	p.dial("*123#")
	p.enter("6", "6")
	p.wants("It works once, for 2 hours.")
	p.enter("1")
	p.wants(notebook.Code, "*123#")
	if p.last.More || p.state != nil {
		t.Error("the dialogue goes on, and keeps the code")
	}
}

func TestCodeBringsTheRecords(t *testing.T) {
	for _, typed := range []string{"271828", "271 828", "271-828", " 271828.", "२७१८२८"} {
		p := &phone{t: t, m: newMenu(t), b: newBook()}
		p.dial("*123#")
		p.enter("4")
		p.wants("Type the 6 digits")
		p.enter(typed)
		p.wants("Your plots are on this number now.", "0 back 00 home")
		if strings.Contains(string(p.state), notebook.Code) {
			t.Errorf("the session keeps the code: %s", p.state)
		}
		// The grower consented long ago and is not welcomed anew; the phone that
		// had the records learns of it.
		if len(p.last.Send) != 1 || !p.last.Send[0].Former ||
			!strings.Contains(p.last.Send[0].Text, "Was it not you?") {
			t.Errorf("sent %+v", p.last.Send)
		}
		if p.m.Unfinished(p.b, p.state) {
			t.Error("nothing is asked, and a call dropped here is gone on with")
		}
		p.enter("0")
		p.wants("What now?")
	}
}

// A phone that wants no texts keeps its will over a code, and is told so.
func TestCodeOnAStoppedPhone(t *testing.T) {
	p := &phone{t: t, m: newMenu(t), b: newBook()}
	p.b.NoTexts = true
	p.dial("*123#")
	p.enter("4", notebook.Code)
	p.wants("Your plots are on this number now.", "Texts are stopped.")
	p.enter("00")
	p.wants("Texts are stopped (6 to start).", "What now?")
	p.enter("6", "3", "00")
	if strings.Contains(p.last.Text, "stopped") {
		t.Errorf("started, and told\n%s", p.last.Text)
	}
}

// taking is a stranger's book that gets records in a language of their own.
type taking struct {
	*notebook.Book
	comes string
}

func (b taking) TakeOver(code string) (ok bool, left int, err error) {
	b.Lang = b.comes
	return b.Book.TakeOver(code)
}

// The text to the old phone is in the language of the records, not in that of
// the dialogue that took them, and short: one segment, two where the letters
// are not those of the default alphabet (TS 23.040 clauses 9.2.3.16 and 9.2.3.24.1: 160
// characters, 67 to a part in UCS-2).
func TestTextToTheOldPhone(t *testing.T) {
	m := everyMenu(t)
	for _, lang := range m.cat.Languages() {
		p := &phone{t: t, m: m, b: newBook()}
		p.dial("*123#")
		p.enter("1", "4") // in the first language
		_, r, err := m.Enter(taking{p.b, lang}, USSD, p.state, notebook.Code)
		if err != nil || len(r.Send) != 1 {
			t.Fatalf("%s: sent %+v, %v", lang, r.Send, err)
		}
		told := r.Send[0].Text
		if e := m.Encode(lang, told); e.Segments > MaxSegments(e.Encoding.Alphabet, true) {
			t.Errorf("%s: %d segments:\n%s", lang, e.Segments, told)
		}
		speak := speech{cat: m.texts, lang: lang}
		if want := speak.t("sms.moved-away", nil); told != want || speak.err != nil {
			t.Errorf("%s: told %q, want %q (%v)", lang, told, want, speak.err)
		}
	}
}

func TestWrongCodes(t *testing.T) {
	p := &phone{t: t, m: newMenu(t), b: newBook()}
	p.dial("*123#")
	p.enter("4")
	for _, e := range []string{"", "27182", "2718281", "code", "27a828"} {
		p.enter(e)
		p.wants("Type the 6 digits")
		if p.b.WrongCodes != 0 {
			t.Fatalf("%q counts as a try", e)
		}
	}
	for _, says := range []string{"4 more tries", "3 more tries", "2 more tries", "1 more try.",
		"Try again tomorrow."} {
		p.enter("999999")
		p.wants(says)
		if strings.Contains(string(p.state), "999999") {
			t.Errorf("the session keeps what was typed: %s", p.state)
		}
	}
	p.enter(notebook.Code)
	p.wants("Try again tomorrow.")
	// Joined meanwhile by the other channel: what is there is not put over.
	q := &phone{t: t, m: newMenu(t), b: newBook()}
	q.dial("*123#")
	q.enter("4")
	q.b.Registered, q.b.Seasons[1] = true, engine.Season{}
	q.enter(notebook.Code)
	q.wants("changed meanwhile")
}

// The records emptied the dialogue when they went to another number.
func TestDialogueWhoseRecordsMovedAway(t *testing.T) {
	p := &phone{t: t, m: newMenu(t), b: newBook(), state: []byte{}}
	p.enter("1")
	p.wants("with another number now", "May we keep your number and plots?")
	if p.b.Registered {
		t.Error("the entry was taken for a consent")
	}
	x := &texter{t: t, m: p.m, b: newBook(), now: 100, state: []byte{}, at: 50}
	x.text("1")
	x.wants("with another number now", "May we keep your number and plots?")
	if x.b.Registered {
		t.Error("the text was taken for a consent")
	}
	q := &phone{t: t, m: p.m, b: knownBook(), state: []byte{}} // joined anew since
	q.enter("1")
	q.wants("What now?")
	r := &phone{t: t, m: p.m, b: newBook(), state: []byte{}}
	r.dial("*123#")
	r.wants("rowbell texts you when")
}
