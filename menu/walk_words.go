package menu

import (
	"strings"

	"rowbell/menu/answer"
)

// wordSenses are the senses of choices, by the last part of the label's key.
var wordSenses = map[string]answer.Sense{
	"few": "few", "some": "some", "many": "many", "dry": "dry", "mud": "mud", "fingers": "fingers",
	"see.leaves.none": "leaf-none", "see.leaves.one": "leaf-one", "see.leaves.two": "leaf-two",
	"see.leaves.four": "leaf-four",
}

// enterWords answers a screen with words: those of a choice, or yes and no where a choice says so. If the words choose
// nothing, enterWords returns refused, the reason why the entry was not taken before.
func (c *scene) enterWords(choices []Choice, entry string, refused *Refusal) *Refusal {
	if len(choices) == 0 || c.err != nil {
		return refused
	}
	var q answer.Question
	for _, choice := range choices {
		key := string(choice.Label)
		last := key[strings.LastIndexByte(key, '.')+1:]
		o := answer.Option{Digit: choice.Digit}
		o.Yes, o.No = last == "yes" || last == "keep", last == "no" || last == "mend"
		for _, k := range []string{key, last} {
			if sense := wordSenses[k]; sense != "" {
				o.Senses = append(o.Senses, sense)
			}
		}
		// While an entry is read, choices made from the records have no words: these are chosen by their digits only.
		if label, err := c.cat.Text(c.lang, choice.Label, choice.Args); err == nil {
			o.Own = []string{label}
		}
		q.Options = append(q.Options, o)
	}
	short := c.m.spoken().Short(entry, q)
	if short.Kind != answer.Chosen {
		return refused
	}
	return c.choose(choices[short.Option])
}
