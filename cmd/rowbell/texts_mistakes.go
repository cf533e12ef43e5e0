package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"rowbell/menu/text"
)

// mistakeHeads has a heading for each kind of mistake in language files, in the order in which a report lists them.
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

// mistakeGroup has the mistakes of one kind in one language.
type mistakeGroup struct {
	lang  string // "" = mistakes of the menu, which belong to no language
	head  string
	lines []string
}

func mistakesOf(wrong text.Problems, langs []string) (groups []mistakeGroup) {
	for _, lang := range langs {
		for _, h := range mistakeHeads {
			g := mistakeGroup{lang: lang, head: lang + ", " + h.head}
			for _, p := range wrong {
				switch {
				case p.Lang != lang || p.Kind != h.kind:
				case p.Kind == text.Missing && p.Source != "":
					g.lines = append(g.lines, fmt.Sprintf("%-24s %s", p.Key, strings.ReplaceAll(p.Source, "\n", `\n`)))
				default:
					g.lines = append(g.lines, fmt.Sprint(p))
				}
			}
			if len(g.lines) > 0 {
				groups = append(groups, g)
			}
		}
	}
	return groups
}

// maxListedMistakes is how many mistakes of a group a short report lists.
const maxListedMistakes = 5

// printMistakes lists the mistakes and returns their number. If short is set, it lists only the first few of a group.
func printMistakes(out io.Writer, groups []mistakeGroup, short bool) (n int) {
	for _, g := range groups {
		if len(g.lines) == 0 {
			continue
		}
		n += len(g.lines)
		fmt.Fprintf(out, "\n%s:\n", g.head)
		listed := g.lines
		if short && g.lang != "" {
			listed = listed[:min(len(listed), maxListedMistakes)]
		}
		for _, line := range listed {
			fmt.Fprintf(out, "    %s\n", strings.ReplaceAll(line, "\n", "\n      | "))
		}
		if more := len(g.lines) - len(listed); more > 0 {
			fmt.Fprintf(out, "    and %d more: rowbell texts --language %s lists all\n", more, g.lang)
		}
	}
	return n
}

// printLanguages prints a line for each language, then its letters outside the GSM 7-bit default alphabet.
func printLanguages(out io.Writer, draft *text.Catalogue, langs []string, mistakes []mistakeGroup,
	tables map[string][]text.Shift) {
	for _, lang := range langs {
		if draft.Alphabet(lang) == 0 {
			fmt.Fprintf(out, "%s  its file cannot be read\n", lang)
			continue
		}
		state := "reviewed by a fluent person"
		if !draft.Reviewed(lang) {
			state = "not yet reviewed by a fluent person"
		}
		fmt.Fprintf(out, "%s  %s, %s, %d texts, %s\n", lang, draft.Name(lang), draft.Alphabet(lang),
			len(draft.Keys(lang)), state)
		if slices.ContainsFunc(mistakes, func(g mistakeGroup) bool { return g.lang == lang }) {
			fmt.Fprintln(out, "    has mistakes, listed at the end; a text that is missing or wrong is a single ? here")
		}
		printForeign(out, draft, lang, tables[lang])
	}
}

// printForeign lists the letters outside the GSM 7-bit default alphabet, how often each is used, and what replaces it.
// In the 16-bit alphabet (UCS-2) no letter is replaced.
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
	head := "letters that are replaced, and how often"
	if draft.Alphabet(lang) == text.UCS2 {
		head = "letters that need the 16-bit alphabet, and how often"
	}
	fmt.Fprintf(out, "  %s: %s\n", head, strings.Join(list, ", "))
	if len(tables) == 0 {
		return
	}
	names := make([]string, len(tables))
	for i, t := range tables {
		names[i] = t.String()
	}
	covers := "cover all of them: texts by SMS keep them"
	if !draft.Covers(lang, tables) {
		covers = "do not cover all of them: texts by SMS are as without"
	}
	fmt.Fprintf(out, "  the shift tables allowed (%s) %s\n", strings.Join(names, ", "), covers)
}
