package main

import (
	"fmt"
	"io"
	"strings"

	"rowbell/menu/text"
)

// mistakeHeads are what stands over the mistakes of a kind, in the order in
// which they are told.
var mistakeHeads = []struct {
	kind text.Kind
	head string
}{
	{text.Faulty, "not in the form of a language file"},
	{text.Clash, "words that stand for two things"},
	{text.Letters, "letters that the alphabet lacks"},
	{text.Unknown, "texts that the menu does not know"},
	{text.Values, "values that a text is not given, or leaves out"},
	{text.Missing, "texts that are missing, with the English"},
}

// printMistakes tells of each language what it is, what is wrong in its file,
// and which of its letters are outside the GSM 7-bit alphabet. It reports
// whether nothing is wrong.
func printMistakes(out io.Writer, draft *text.Catalogue, wrong text.Problems, langs []string, tables map[string][]text.Shift) bool {
	sound := true
	for _, lang := range langs {
		var own text.Problems
		for _, p := range wrong {
			if p.Lang == lang {
				own = append(own, p)
			}
		}
		sound = sound && len(own) == 0
		printLanguage(out, draft, lang, own)
		for _, h := range mistakeHeads {
			printKind(out, own, h.kind, h.head)
		}
		printForeign(out, draft, lang, tables[lang])
	}
	return sound
}

// printLanguage is the line of a language.
func printLanguage(out io.Writer, draft *text.Catalogue, lang string, wrong text.Problems) {
	if draft.Alphabet(lang) == 0 {
		fmt.Fprintf(out, "%s  its texts cannot be checked before this is mended\n", lang)
		return
	}
	state := "reviewed by a fluent person"
	if !draft.Reviewed(lang) {
		state = "not yet reviewed by a fluent person"
	}
	fmt.Fprintf(out, "%s  %s, %s, %d texts, %s\n", lang, draft.Name(lang), draft.Alphabet(lang), len(draft.Keys(lang)), state)
	if len(wrong) > 0 {
		fmt.Fprintf(out, "    %d to mend; a text that is missing or wrong is a single ? in what follows\n", len(wrong))
	}
}

// printKind lists the mistakes of one kind.
func printKind(out io.Writer, wrong text.Problems, kind text.Kind, head string) {
	n := 0
	for _, p := range wrong {
		if p.Kind != kind {
			continue
		}
		if n++; n == 1 {
			fmt.Fprintf(out, "  %s:\n", head)
		}
		if kind == text.Missing && p.Source != "" {
			fmt.Fprintf(out, "    %-24s %s\n", p.Key, strings.ReplaceAll(p.Source, "\n", `\n`))
			continue
		}
		fmt.Fprintf(out, "    %s\n", p)
	}
}

// printForeign lists the letters of a language that are outside the GSM 7-bit
// alphabet: what is written for them, or that they force another alphabet.
func printForeign(out io.Writer, draft *text.Catalogue, lang string, tables []text.Shift) {
	foreign := draft.Foreign(lang)
	if len(foreign) == 0 {
		return
	}
	var list []string
	for _, f := range foreign {
		s := fmt.Sprintf("%s %d", f.From, f.Count)
		if f.To != f.From {
			s = fmt.Sprintf("%s as %s %d", f.From, f.To, f.Count)
		}
		list = append(list, s)
	}
	head := "letters that rules rewrite, and how often"
	if draft.Alphabet(lang) == text.UCS2 {
		head = "letters that take the 16-bit alphabet, and how often"
	}
	fmt.Fprintf(out, "  %s: %s\n", head, strings.Join(list, ", "))
	if len(tables) == 0 {
		return
	}
	names := make([]string, len(tables))
	for i, t := range tables {
		names[i] = t.String()
	}
	holds := "hold all of them: texts by SMS keep them"
	if !draft.Holds(lang, tables) {
		holds = "do not hold all of them: texts by SMS are as without"
	}
	fmt.Fprintf(out, "  the shift tables allowed (%s) %s\n", strings.Join(names, ", "), holds)
}
