package answer

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // property tests draw the same values in every run
	"rowbell/menu/text"
)

// carried is the vocabulary of the carried languages.
var carried = func() *Vocabulary {
	cat, err := text.Default()
	if err != nil {
		panic(err)
	}
	said := map[Sense][]string{}
	for sense, list := range cat.Said() {
		said[Sense(sense)] = list
	}
	return NewVocabulary(said)
}()

// weeded asks whether a plot is weeded: 1 done, 2 not yet, 3 too big.
var weeded = Question{Part: true, Options: []Option{
	{Digit: '1', Senses: []Sense{SenseDone}, Denied: true}, {Digit: '2', Senses: []Sense{SenseNotYet}, No: true},
	{Digit: '3', Senses: []Sense{"too-big"}}}}

// anyText draws a text of listed phrases of any sense, digits, signs and strange letters.
func anyText(t *rapid.T) string {
	listed := slices.Sorted(func(yield func(string) bool) {
		for p := range carried.phrases {
			if !yield(p) {
				return
			}
		}
	})
	part := rapid.OneOf(rapid.SampledFrom(listed), rapid.StringMatching(`[0-9a-z ,.!]{0,6}`), rapid.String(),
		rapid.SampledFrom([]string{"1", "2", "3", "१", "👍", "👎", "✅", "not", "no", "yes", ","}))
	gap := rapid.SampledFrom([]string{" ", ", ", ""}).Draw(t, "gap")
	return strings.Join(rapid.SliceOfN(part, 1, 5).Draw(t, "parts"), gap)
}

// TestSensesAreListed checks that every sense of the reader has words, and that each word alone has its senses.
func TestSensesAreListed(t *testing.T) {
	for _, s := range Senses() {
		n := 0
		for _, senses := range carried.phrases {
			if slices.Contains(senses, s) {
				n++
			}
		}
		if n < 2 && s != "eight" {
			t.Errorf("%s has %d words", s, n)
		}
	}
	for p, senses := range carried.phrases {
		if got := carried.recognise(p, nil); len(got) != 1 || !slices.Equal(got[0].senses, senses) {
			t.Errorf("%q is recognised as %+v", p, got)
		}
	}
}

// TestShortChoosesOnlyWhatIsOffered checks that the reader never chooses an option that the question does not have, and
// that it reads the same with spaces, capitals and punctuation around the text.
func TestShortChoosesOnlyWhatIsOffered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyText(t)
		offered := rapid.IntRange(0, len(weeded.Options)).Draw(t, "offered")
		q := Question{Part: true, Options: weeded.Options[:offered]}
		got := carried.Short(s, q)
		if got.Option < -1 || got.Option >= offered || got.Kind == Chosen && got.Option < 0 {
			t.Fatalf("%q: %+v of %d options", s, got, offered)
		}
		upper := strings.ToUpper(s)
		if same := carried.Short("  "+upper+" ! ", q); strings.ToLower(upper) == s && same != got {
			t.Fatalf("%q: %+v, and in capitals %+v", s, got, same)
		}
	})
}

// TestOppositeWordIsUnclear checks that after a chosen answer the word of another choice makes the answer unclear, and
// that a word such as "not" never leaves it "done".
func TestOppositeWordIsUnclear(t *testing.T) {
	words := map[int][]string{0: {"done", "fait", "nimepalilia", "हो गई", "feito", "sudah", "1"},
		1: {"not yet", "pas encore", "bado", "अभी बाकी", "ainda não", "belum", "2"},
		2: {"too big", "trop grandes", "makubwa", "बड़ी", "grandes", "terlalu besar", "3"}}
	rapid.Check(t, func(t *rapid.T) {
		s := anyText(t)
		got := carried.Short(s, weeded)
		if got.Kind != Chosen {
			return
		}
		other := (got.Option + rapid.IntRange(1, 2).Draw(t, "other")) % 3
		word := rapid.SampledFrom(words[other]).Draw(t, "word")
		if both := carried.Short(s+". "+word, weeded); both.Kind == Chosen && both.Option != 1 {
			t.Fatalf("%q is %+v, and with %q %+v", s, got, word, both)
		}
		for _, not := range []string{"not ", "pas ", "नहीं ", "não ", "tidak ", "hapana "} {
			if denied := carried.Short(not+s, weeded); denied.Kind == Chosen && denied.Option == 0 {
				t.Fatalf("%q is done", not+s)
			}
		}
	})
	for one, list := range words {
		for other, others := range words {
			for _, a := range list {
				for _, b := range others {
					if got := carried.Short(a+". "+b, weeded); one != other && got.Kind != Unclear {
						t.Errorf("%q, %q: %+v", a, b, got)
					}
				}
			}
		}
	}
}

// TestStopsInWords checks which texts ask for no more texts.
func TestStopsInWords(t *testing.T) {
	for s, want := range map[string]bool{
		"no more texts": true, "Please, no more texts to this phone": true, "don't text me": true, "रुको": true,
		"ruko": true, "SMS मत भेजो": true, "plus de SMS s'il vous plaît": true, "sitaki ujumbe": true,
		"não quero mais SMS": true, "jangan sms lagi pak": true,
		"acha": true, "acha kutuma ujumbe": true, "acha ho gaya": false, "acha ji": false,
		"do not stop texting me": false, "ruko 1": false, "ruko abhi karunga": false, "no more weeds": false, "": false,
		"not": false, "no": false, "plus": false, "1": false, "text": false,
	} {
		if got := carried.Stops(s); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
}

func FuzzShort(f *testing.F) {
	for _, s := range []string{"1 done", "not yet", "½", "done, not done", "हो गई", "👍🏿", "1️⃣", "50%", "", "\xff",
		"notyet", strings.Repeat("done ", 60)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := carried.Short(s, weeded)
		if got.Kind == Chosen && (got.Option < 0 || got.Option > 2) || got.Kind > Half {
			t.Fatalf("%q: %+v", s, got)
		}
		if got != carried.Short(s, weeded) {
			t.Fatalf("%q is read in two ways", s)
		}
		carried.Plain(s)
		carried.Stops(s)
	})
}
