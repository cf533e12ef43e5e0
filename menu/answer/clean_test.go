package answer

import (
	"testing"
	"unicode"
)

func TestDigits(t *testing.T) {
	for in, want := range map[string]string{
		"1": "1", "1.": "1", "(1)": "1", " 1 ": "1", "1)": "1", "[12]": "12", "\t1\r\n": "1", ".1": "1", "1,": "1",
		`"1"`: "1",
		"１":   "1", "（２）": "2", "১": "1", "१.": "1", "۱۲": "12", "٣": "3", "၅": "5", "៩": "9", "๑๐": "10", "𝟗": "9",
		"\u200f1\u200e": "1", "\ufeff1": "1", "\u00a01": "1", "1\u20602": "12", "१।": "1", "२॰": "2", "1،": "1",
		"": "", ".": "", "( )": "", "1 2": "1 2", "yes": "yes", "²": "²", "#": "", "1#": "1", "1*": "1",
		`"1#"`: "1", "o1": "01",
		"2O": "20", "oo": "oo", "5 oct": "5 oct", "2Ox3O": "20x30",
		"20*3o*": "20*30", "6oo m2": "600 m2", "no 5": "no 5", "to 10": "to 10",
	} {
		if got := Digits(in); got != want {
			t.Errorf("Digits(%q) = %q, want %q", in, got, want)
		}
	}
}

// TestEveryScriptsDigits checks that Digits converts the decimal digits of every script in Unicode to 0 to 9. The test
// counts through the ten digits of each script, which Unicode lists in order.
func TestEveryScriptsDigits(t *testing.T) {
	n := 0
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if !unicode.Is(unicode.Nd, r) {
			continue
		}
		if got, want := Digits(string(r)), string(rune('0'+n%10)); got != want {
			t.Fatalf("%U is read as %q, want %q", r, got, want)
		}
		n++
	}
	if n < 600 || n%10 != 0 {
		t.Errorf("%d digits", n)
	}
	// These are the first and the last digit of some scripts, copied from the Unicode code charts as an independent
	// check.
	for r, want := range map[rune]string{'०': "0", '९': "9", '০': "0", '৯': "9", '૦': "0", '૯': "9", '௦': "0",
		'௯': "9", '۰': "0", '۹': "9", '០': "0", '៩': "9", '０': "0", '９': "9"} {
		if got := Digits(string(r)); got != want {
			t.Errorf("%c is read as %q", r, got)
		}
	}
}

func TestShown(t *testing.T) {
	for in, want := range map[string]string{
		"🌾": "?", "\u200e🌾 🌾": "?",
		"  abc ": "abc", "a\tb\nc": "a b c", "abcdefghijklmnop": "abcdefghijkl", "a\x00b\u200e": "ab", "\xff1": "?1",
		"ধানধানধানধানধান": "ধানধানধানধান",
	} {
		if got := Shown(in); got != want {
			t.Errorf("Shown(%q) = %q, want %q", in, got, want)
		}
	}
}

func FuzzDigits(f *testing.F) {
	fuzzEntries(f, "choice", func(t *testing.T, s string) {
		d := Digits(s)
		if Digits(d) != d {
			t.Fatalf("%q is %q, and that %q", s, d, Digits(d))
		}
		for _, r := range d {
			if r > unicode.MaxASCII && unicode.Is(unicode.Nd, r) {
				t.Fatalf("%q keeps %U", s, r)
			}
		}
		readBack(t, "days", s)
		readBack(t, "people", s)
	})
}
