package text

import (
	"strings"
	"testing"
)

// safetyWords are what a warning or a request for consent must say in every language. Each row has the words of one
// meaning, in the order of safetyLanguages, and the texts that must have it: keys joined by "+" are shown together. The
// English says what is meant; the other words are from memory, no source.
var (
	safetyLanguages = []string{"en", "fr", "sw", "hi", "pt", "id"}
	safetyWords     = []struct{ meaning, words, keys string }{
		{"the teeth", "teeth|dents|meno|दांत|dentes|gigi", `
			ring.open ring.open-sown ring.open-guess ring.open-guess-two ring.open-lower ring.open-wait
			ring.open-borrow ring.open-again ring.open-two ring.open-again-two ring.nudge ring.nudge-two
			ring.open-turn ring.open-turn-guess
			ring.rest ring.last-days ring.last-days-dear ring.last-days-two ring.moved-open sms.looked-open
			sms.looked-days circle.carry sms.circle-yes-tool
			help.safety-text trouble.ask strip.text trouble.clean-the-teeth other.now.tool-care`},
		{"the handle", "handle|manche|mpini|हैंडल|cabo|gagang", `
			help.safety-text trouble.ask strip.text`},
		{"the fingers", "finger|doigt|vidole|उंगली|dedos|jari", `
			help.safety-text other.tool-text trouble.clean-the-teeth`},
		{"a stick", "stick|bâton|kijiti|लकड़ी|pau|kayu", `
			other.tool-text other.now.tool-care`},
		{"children", "children|enfants|watoto|बच्चे|crianças|anak", `
			help.safety-text`},
		{"dizzy", "dizzy|Vertige|Kizunguzungu|चक्कर|tonturas|pusing", `
			help.heat-text`},
		{"a thunderstorm", "lightning|orage|radi|बिजली|relâmpagos|petir", `
			help.heat-text`},
		{"drink", "drink|buvez|kunywa|पानी पीते|beba|minum", `
			help.heat-text ring.open-hand`},
		{"a health worker",
			"health worker|agent de santé|mhudumu wa afya|स्वास्थ्य कर्मी|agente de saúde|petugas kesehatan", `
			help.skin-text help.health-text sms.help`},
		{"the label", "label|étiquette|lebo|लेबल|rótulo|label", `
			costs.ask.herbicide`},
		{"a licence", "licensed|agréé|leseni|लाइसेंसी|autorizado|berizin", `
			costs.ask.herbicide`},
		{"no promise", "no promise|pas une promesse|si ahadi|वादा नहीं|sem promessa|bukan janji", `
			risk.low risk.middle risk.high`},
		{"two people", "two people|à deux|wawili|दो लोग|duas pessoas|berdua", `
			circle.carry sms.circle-yes-tool`},
		{"the number", "number|numéro|namba|नंबर|número|nomor", `
			welcome.head+welcome.ask erase.ask circle.make-sure circle.join-sure circle.hire-sure circle.weed-sure`},
		{"the plots", "plots|parcelles|mashamba|खेत|campos|petak", `
			welcome.head+welcome.ask erase.ask`},
		{"may stop",
			"stop at any time|Arrêtez quand vous voulez|wakati wowote|कभी भी रोकें|Saia quando quiser|kapan saja", `
			welcome.head+welcome.ask`},
		{"the language", "language|langue|lugha|भाषा|língua|bahasa", `
			erase.ask`},
		{"the place", "place|lieu|mahali|जगह|lugar|tempat", `
			erase.ask`},
		{"not undone", "cannot be undone|pour toujours|Hayarudi|वापस नहीं|para sempre|Tidak bisa dibatalkan", `
			erase.ask`},
		{"to nobody", "not give it to anyone|à personne|mtu yeyote|किसी को न|a ninguém|siapa pun", `
			number.ask`},
	}
)

// TestSafetyWords checks that each text of safetyWords has its word in every language.
func TestSafetyWords(t *testing.T) {
	c := must(Default())
	covered := map[string]bool{}
	for _, s := range safetyWords {
		words := strings.Split(s.words, "|")
		for _, key := range strings.Fields(s.keys) {
			if covered[s.meaning+key] = true; len(words) != len(safetyLanguages) {
				t.Fatalf("%s has %d words", s.meaning, len(words))
			}
			for i, lang := range safetyLanguages {
				shown := ""
				for part := range strings.SplitSeq(key, "+") {
					shown += printed(c, lang, Key(part)) + " "
				}
				if !strings.Contains(strings.ToLower(shown), strings.ToLower(words[i])) {
					t.Errorf("%s: %s lacks %q, for %s: %s", lang, key, words[i], s.meaning, shown)
				}
			}
		}
	}
	for _, lang := range c.Languages() {
		if len(c.Languages()) != len(safetyLanguages) || !strings.Contains(strings.Join(safetyLanguages, " "), lang) {
			t.Errorf("%s has no column in safetyWords", lang)
		}
	}
	for _, key := range c.Keys("en") { // a new warning of the teeth belongs in the list
		name, english := string(key), printed(c, "en", key)
		warns := strings.HasPrefix(name, "ring.") || strings.HasPrefix(name, "sms.looked")
		if warns && strings.Contains(english, "teeth") && !covered["the teeth"+name] {
			t.Errorf("%s warns of the teeth and is not in safetyWords", name)
		}
	}
}

// printed returns the words of a text without its values. The forms of a plural text follow one another. A text that
// the language lacks is "".
func printed(c *Catalogue, lang string, k Key) string {
	var b strings.Builder
	for _, t := range c.language(lang).texts[k].templates() {
		for _, p := range t {
			b.WriteString(p.proper + " ")
		}
	}
	return b.String()
}
