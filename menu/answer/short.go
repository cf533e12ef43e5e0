package answer

import (
	"slices"
	"strings"
)

// Option is one of the answers that a question allows.
type Option struct {
	Digit  byte     // the digit that the text names; 0 if it names none for this answer
	Senses []Sense  // the senses that choose the option
	Own    []string // further phrases that choose the option, such as the name of a plot
	Yes    bool     // yes chooses the option, if the text has no other answer
	No     bool     // no chooses the option, and so does an option with Denied after a word such as "not"
	Past   bool     // the answer may say that it was yesterday
	Denied bool     // "not" and the words of this option mean the option with No
	Thing  bool     // only a phrase of several words that names a thing chooses the option: "two leaves", not "two"
}

// Question is what a grower was asked.
type Question struct {
	Options []Option
	Part    bool     // "half" is an answer, which does not choose an option
	Ignored []Sense  // senses that say nothing in this question
	Names   []string // phrases that say nothing, such as the name of the plot
	Counted bool     // the words for numbers may count something, so they are not read as digits
}

// Short is how a short answer was understood.
type Short struct {
	Kind   ShortKind
	Option int     // index of the chosen option; of Half: the option that was named beside the part, or -1
	Before bool    // it was yesterday
	Share  float64 // of Half: the part that is done; 0 if the text does not say how much
}

// ShortKind says which kind of answer a short answer is.
type ShortKind uint8

// Unclear means that the answer names no option, or two, or has a word that is not known.
const (
	Unclear ShortKind = iota
	Chosen            // an option
	Half              // only a part was done
)

// maxStrange is how many words that are not known an answer such as "not yet" may have (judgement). It changes nothing
// in the records, so a reason may stand beside it: "not yet, the rain is heavy".
const maxStrange = 4

// Short reads a short answer in words, digits and signs, in any of the languages of the vocabulary. Every word of the
// answer must be known, so that "the rain has not done it" is not taken for "done"; only a phrase of SenseNotYet may
// have other words beside it. A text with a question mark or "or" is unclear. What is denied is never chosen.
func (v *Vocabulary) Short(s string, q Question) Short {
	own := phrases{}
	for i, o := range q.Options {
		for _, name := range o.Own {
			own.add(name, optionSense(i))
		}
	}
	for _, name := range q.Names {
		own.add(name, SensePolite)
	}
	all := v.recognise(s, own)
	r := reading{q: q}
	if len(all) > maxWords || !r.hear(all) {
		return Short{Option: -1}
	}
	return r.decide()
}

// optionSense is the sense of an option's own phrases.
func optionSense(i int) Sense { return Sense("option" + string(rune('0'+i))) }

// Stops reports whether a text asks for no more texts: it has a phrase of several words that says so, or it has a
// single such word and nothing else but polite words. After "not" it does not.
func (v *Vocabulary) Stops(s string) bool {
	phrase, word, only := false, false, true
	all := v.recognise(s, nil)
	for i, h := range all {
		switch {
		case slices.Contains(h.senses, SenseStop):
			if i > 0 && slices.Contains(all[i-1].senses, SenseNo) {
				return false
			}
			phrase, word = phrase || h.many, true
			only = only && (len(all) == 1 || !slices.Contains(h.senses, SensePolite)) // acha is "stop" and "well"
		case !slices.Contains(h.senses, SensePolite):
			only = false
		}
	}
	return phrase || word && only
}

// Asks reports whether a text has a phrase of the sense, and nothing else but polite words and question marks.
func (v *Vocabulary) Asks(s string, sense Sense) bool {
	found := false
	for _, h := range v.recognise(s, nil) {
		switch {
		case slices.Contains(h.senses, sense):
			found = true
		case !slices.Contains(h.senses, SensePolite) && !strings.Contains(questions, h.text):
			return false
		}
	}
	return found
}

// reading collects what the phrases of an answer say.
type reading struct {
	q       Question
	named   []int // options that words or digits have named
	typed   []int // options that digits or words for numbers have named; they are in named, too
	yes     bool
	before  bool
	later   bool // a phrase of SenseNotYet
	strange int  // how many words are not known
	digits  bool
	denials int // how many times the answer says no or not
	denied  int // how many times it names an option with Denied
	part    bool
	shares  []float64
}

// hear takes in all phrases. It returns false if one of them is not known, or is no answer to this question.
func (r *reading) hear(all []heard) bool {
	denying := false // the phrase before was "not yet", which also denies the next phrase: not yet done
	for i, h := range all {
		if i > 0 && !h.after && (counts(all[i-1], h) || counts(h, all[i-1])) {
			return false
		}
		if denying && !h.after && slices.Contains(h.senses, SenseDone) {
			continue
		}
		before := len(r.named)
		r.digits = r.digits || h.digit != 0
		if !r.take(h) {
			if !r.skips(h) {
				return false
			}
			r.strange++
		}
		denying = len(r.named) > before && slices.Contains(h.senses, SenseNotYet)
		r.later = r.later || slices.Contains(h.senses, SenseNotYet)
	}
	return true
}

// skips reports whether a word may stand beside "not yet" though it is not known. Numbers, and words that are known for
// something else, may not.
func (r *reading) skips(h heard) bool {
	return len(h.senses) == 0 && h.text != "" && !HasDigit(h.text) && !strings.Contains(questions, h.text)
}

// counts reports whether a digit counts or names the thing beside it, as in "2 rows" and "plot 2".
func counts(thing, number heard) bool {
	return number.digit != 0 && slices.Contains(thing.senses, SenseField) && !thing.many
}

// take takes in one phrase. Senses that choose an option count before all others, because a word may have different
// meanings in different languages and questions.
func (r *reading) take(h heard) bool {
	known := false
	for i, o := range r.q.Options {
		digit := o.Digit != 0 && (h.digit == o.Digit || !r.q.Counted && numeral(h.senses) == o.Digit)
		words := slices.ContainsFunc(h.senses, func(s Sense) bool {
			return slices.Contains(o.Senses, s) || s == optionSense(i)
		})
		if digit || words && (!o.Thing || h.many && h.thing) {
			known = true
			r.name(i, digit)
			if o.Denied {
				r.denied++
			}
		}
	}
	if known {
		return true
	}
	for _, s := range h.senses {
		switch {
		case s == SenseYes:
			r.yes, known = true, true
		case s == SenseNo:
			r.denials++
			known = true
		case s == SenseBefore && slices.ContainsFunc(r.q.Options, func(o Option) bool { return o.Past }):
			r.before, known = true, true
		case s == SensePart && r.q.Part:
			r.part, known = true, true
		case shares[s] != 0 && r.q.Part:
			r.part, known = true, true
			r.shares = append(r.shares, shares[s])
		case s == SensePolite, s == SenseWith, s == SenseField, slices.Contains(r.q.Ignored, s):
			known = true
		}
	}
	return known
}

func (r *reading) name(i int, digit bool) {
	if !slices.Contains(r.named, i) {
		r.named = append(r.named, i)
	}
	if digit && !slices.Contains(r.typed, i) {
		r.typed = append(r.typed, i)
	}
}

// decide returns what all phrases together mean.
func (r *reading) decide() Short {
	unclear := Short{Option: -1}
	noOption := slices.IndexFunc(r.q.Options, func(o Option) bool { return o.No })
	if onlyLater := r.later && len(r.named) == 1 && r.named[0] == noOption; r.strange > 0 &&
		(!onlyLater || r.strange > maxStrange || r.digits || r.before || r.part) {
		return unclear
	}
	if r.part {
		return r.half(noOption)
	}
	if r.denials > 0 {
		for _, i := range r.named {
			if i != noOption && !r.q.Options[i].Denied {
				return unclear
			}
		}
		for _, i := range r.typed {
			if i != noOption {
				return unclear // not 1
			}
		}
		if noOption < 0 || r.before || r.yes && len(r.named) == 0 || r.denied > r.denials { // "done, not done"
			return unclear
		}
		return Short{Kind: Chosen, Option: noOption}
	}
	if len(r.named) == 0 && r.yes {
		r.named = append(r.named, slices.IndexFunc(r.q.Options, func(o Option) bool { return o.Yes }))
	}
	if len(r.named) != 1 || r.named[0] < 0 || r.before && !r.q.Options[r.named[0]].Past {
		return unclear
	}
	return Short{Kind: Chosen, Option: r.named[0], Before: r.before}
}

// half returns what an answer with a word such as "half" means: that only a part is done. "half done, the rest not yet"
// says so, too.
func (r *reading) half(noOption int) Short {
	of := -1
	for _, i := range r.named {
		switch {
		case i == noOption, r.q.Options[i].Denied:
		case of >= 0:
			return Short{Option: -1}
		default:
			of = i
		}
	}
	if r.denials > 0 || r.before || slices.Contains(r.typed, noOption) {
		return Short{Option: -1}
	}
	short := Short{Kind: Half, Option: of}
	if len(r.shares) == 1 {
		short.Share = r.shares[0]
	}
	return short
}

// Plain returns the words of a text that are not polite and not ignored, with digits in place of the words for numbers:
// "it took about three hours" becomes "3 hours".
func (v *Vocabulary) Plain(s string, ignored ...Sense) string {
	var left []string
	for _, h := range v.recognise(s, nil) {
		silent := slices.ContainsFunc(h.senses, func(s Sense) bool {
			return s == SensePolite || slices.Contains(ignored, s)
		})
		if d := numeral(h.senses); d != 0 {
			h.text, silent = string(d), false
		}
		if !silent {
			left = append(left, h.text)
		}
	}
	return strings.Join(left, " ")
}
