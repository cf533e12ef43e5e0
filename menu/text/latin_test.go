package text

import "testing"

// The names of rivers and places are spelled as maps of India and Bangladesh spell them, without the letters that are
// dropped within a word (from memory). The other words follow the tables of the Hunterian system (from memory).
func TestLatin(t *testing.T) {
	for in, want := range map[string]string{
		"नदी": "Nadi", "खेत": "Khet", "खेत १": "Khet 1", "पटना": "Patana", "गंगा": "Ganga", "सड़क": "Sarak",
		"क्षेत्र": "Kshetr", "छोटा 2": "Chhota 2", "ढाल": "Dhal", "न": "Na", "बाढ़": "Barh", "ज़मीन": "Zamin",
		"पद्मा": "Padma", "পদ্মা": "Padma", "ধান": "Dhan", "મહી": "Mahi", "ਖੇਤ": "Khet", "நதி": "Nati",
		"కృష్ణ": "Krishna", "ಕಾವೇರಿ": "Kaveri", "ମହାନଦୀ": "Mahanadi",
		"River": "River", "Chão": "Chão", "سطح": "سطح", "৯": "9", "": "", "ॐ": "",
	} {
		if got := Latin(in); got != want {
			t.Errorf("%q is %q, want %q", in, got, want)
		}
	}
}
