package menu

import (
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// Staff type on a page what growers type on a screen, so the page reads it with package answer, with the words and
// units that this file gives. What an entry lacks is told in English.

// staffLanguage is the language of the pages for staff.
const staffLanguage = text.Source

// DateWords returns the words that staff may type in a date.
func (m *Menu) DateWords() answer.DateWords { return m.dates[m.language(staffLanguage)] }

// AreaUnits returns the units of what staff type: m for a side, and m2 for an area without a unit.
func (m *Menu) AreaUnits() answer.AreaUnits {
	return answer.AreaUnits{SideM: 1, M2: 1, StepM: m.opt.StepM, Local: m.units}
}

// Refused returns in words why an entry cannot be used.
func (m *Menu) Refused(r *Refusal) string {
	words, err := m.cat.Text(m.language(staffLanguage), r.Key, r.Args)
	if err != nil { // the catalogue has every text of a refusal: see the proof
		return "This cannot be used."
	}
	return words
}

// Language is a language that growers may choose.
type Language struct{ Tag, Name string }

// LanguageNames returns the languages that are offered with their own names, in their order.
func (m *Menu) LanguageNames() []Language {
	var list []Language
	for _, tag := range m.cat.Languages() {
		list = append(list, Language{tag, m.cat.Name(tag)})
	}
	return list
}

// ConsentWords returns the words that a grower agrees to who joins by dial. Staff read them to a grower whom they add.
func (m *Menu) ConsentWords(lang string) (string, error) {
	head, err := m.cat.Text(lang, "welcome.head", nil)
	if err != nil {
		return "", err
	}
	ask, err := m.cat.Text(lang, "welcome.ask", nil)
	return head + "\n" + ask, err
}

// Welcome returns the first text to a grower who has joined.
func (m *Menu) Welcome(lang string) (Note, error) {
	words, err := m.texts.Text(lang, "sms.welcome", text.Args{"code": m.opt.DialCode})
	return Note{Kind: "welcome", Text: words}, err
}
