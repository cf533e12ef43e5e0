package text

import (
	"os"
	"slices"
	"strings"
	"testing"
	"unicode"
)

// uncommon has the words of the English texts that are not among the most common words of English, as
// testdata/common-words.txt lists them. A reader of English as a second language meets the most common 2,000 word
// families first (common practice, no source). A word may be added here if it is a word of the trade, a unit or a key,
// or if it names a thing that every grower has in sight; otherwise a common word should replace it.
const uncommon = `
	rowbell weed weeding weeder rice mud seed seedling soil clay sandy strip inlet puddle puddling nursery
	panicle stem sow sown scattered harvest grass sedge sprangletop heart-leaved umbrella snail leech top-dress
	top-dressing herbicide grower hire wage bag hand-pushed rotary axle nut grease smith tool adjustable narrow
	h m g x z cm ha kg min acre hectare litre halves height width pace dial menu i undo undone don't skip wound
	injury fever dizzy lightning licensed shade midday hurt torn weak wet tall dig bend sink shoe helper`

// TestEnglishIsCommon checks that the English texts use common words, and the words of uncommon.
func TestEnglishIsCommon(t *testing.T) {
	known := map[string]bool{}
	for line := range strings.Lines(string(must(os.ReadFile("testdata/common-words.txt")))) {
		if !strings.HasPrefix(line, "#") {
			for _, w := range strings.Fields(line) {
				known[strings.ToLower(w)] = true
			}
		}
	}
	if len(known) < 3900 {
		t.Fatalf("the list has only %d words", len(known))
	}
	exceptions := strings.Fields(uncommon)
	used := map[string]bool{}
	c := must(Default())
	for _, key := range c.Keys("en") {
		name := string(key)
		typed := strings.HasPrefix(name, "words.") || strings.HasPrefix(name, "said.")
		if typed || strings.HasPrefix(name, "booklet.") { // the booklet is for trainers
			continue
		}
		for _, w := range strings.FieldsFunc(strings.ToLower(printed(c, "en", key)), func(r rune) bool {
			return !unicode.IsLetter(r) && r != '-' && r != '\''
		}) {
			w = strings.TrimSuffix(strings.Trim(w, "-'"), "'s")
			forms := baseForms(w)
			if w == "" || slices.ContainsFunc(forms, func(f string) bool { return known[f] }) {
				continue
			}
			if i := slices.IndexFunc(forms, func(f string) bool { return slices.Contains(exceptions, f) }); i >= 0 {
				used[forms[i]] = true
				continue
			}
			t.Errorf("%s: %q is not a common word: %s", key, w, printed(c, "en", key))
		}
	}
	for _, w := range exceptions {
		if !used[w] {
			t.Errorf("%q is listed as uncommon, and no text needs the listing", w)
		}
	}
	t.Logf("%d words beside the most common %d", len(exceptions), len(known))
}

// baseForms returns a word and what may be its base form, because the words of a family are met together: "weeders" may
// be of "weeder", "weeded" of "weed".
func baseForms(w string) []string {
	forms := []string{w}
	for _, e := range []struct{ end, base string }{{"s", ""}, {"es", ""}, {"ies", "y"}, {"ed", ""}, {"ed", "e"},
		{"ing", ""}, {"ing", "e"}, {"er", ""}, {"er", "e"}, {"est", ""}, {"est", "e"}, {"y", ""}} {
		if base, ok := strings.CutSuffix(w, e.end); ok && len(base) >= 3 {
			forms = append(forms, base+e.base)
			if n := len(base); e.base == "" && base[n-1] == base[n-2] { // "digging", "tillers" of "till"
				forms = append(forms, base[:n-1])
			}
		}
	}
	return forms
}
