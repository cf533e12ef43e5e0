package text

import "testing"

// Spellings that stand beside each other in print (common practice, no source).
func TestFold(t *testing.T) {
	for _, same := range [][]string{
		{"fevrier", "février", "FÉVRIER", "fe\u0301vrier"},
		{"aout", "août", "Aout"},
		{"marco", "março", "MARÇO"},
		{"फ़रवरी", "फरवरी", "फ\u093Cरवरी", "फरवरि", "फरबरी"},
		{"सितंबर", "सितम्बर", "सितँबर"},
		{"दिसंबर", "दिसम्बर"},
		{"नवंबर", "नवम्बर"},
		{"अक्टूबर", "अक्तूबर", "अक्टुबर"},
		{"अप्रैल", "अप्रेल"},
		{"मई", "मइ"},
		{"घंटे", "घण्टे", "घन्टे"},
	} {
		for _, s := range same[1:] {
			if Fold(s) != Fold(same[0]) {
				t.Errorf("%q is folded to %q, %q to %q", s, Fold(s), same[0], Fold(same[0]))
			}
		}
	}
	for _, differ := range [][2]string{{"juin", "juil"}, {"जून", "जुलाई"}, {"मार्च", "मई"}, {"m²", "m2"}, {"½", "1/2"}} {
		if Fold(differ[0]) == Fold(differ[1]) {
			t.Errorf("%q and %q are both folded to %q", differ[0], differ[1], Fold(differ[0]))
		}
	}
}

func FuzzFold(f *testing.F) {
	for _, s := range []string{"Août", "सितम्बर", "İ", "म्व", "\xff", "ẛ̣"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if once := Fold(s); Fold(once) != once {
			t.Fatalf("%q is folded to %q, and that to %q", s, once, Fold(once))
		}
	})
}
