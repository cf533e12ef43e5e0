package proof

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/menu"
	"rowbell/menu/text"
)

// This file names the text of a language file that makes a mistake of a page, so that its author finds it. A text that
// many pages show is named once.

// fault is a kind of mistake of one text.
type fault struct {
	key  text.Key
	kind string
}

// found is a fault on the worst of the pages that have it.
type found struct {
	what string // what is wrong, the page on which it is, and the page as it is shown
	size int
}

const tooLong = "too long"

const maxEntry = 20 // so much of an entry is shown

// checkLength reports a page that is longer than a phone can show. The text to mend is one of the operator's own files,
// because tests prove the others; of several it is the longest.
func (w *walker) checkLength(p Page, what string) {
	own := func(s menu.Said) int {
		if w.m.SMSCatalogue().Position(w.lang, s.Key).Own {
			return 1
		}
		return 0
	}
	line := slices.MaxFunc(strings.Split(p.Text, "\n"), func(a, b string) int { return len(a) - len(b) })
	var long menu.Said
	for _, s := range w.said { // a text that is cut between pages is longer than the line that does not fit
		if s.Text == "" || !strings.Contains(p.Text, s.Text) && !strings.Contains(s.Text, line) {
			continue
		}
		if cmp.Or(own(s)-own(long), text.USSDOctets(s.Text)-text.USSDOctets(long.Text)) > 0 {
			long = s
		}
	}
	w.blame(long, tooLong, what+longestValue(long), p)
}

// longestValue names the value that takes most of a text, for the message about a text that is too long.
func longestValue(s menu.Said) string {
	name, long := "", ""
	for arg, v := range s.Args {
		written := fmt.Sprint(v)
		more := text.USSDOctets(written) - text.USSDOctets(long)
		if strings.Contains(s.Text, written) && (more > 0 || more == 0 && arg < name) {
			name, long = arg, written
		}
	}
	if name == "" {
		return ""
	}
	return fmt.Sprintf("; its longest value is {%s} = %q", name, long)
}

// checkFilled reports a page on which a value is missing, or on which spaces or lines are empty. The text to mend is
// the shortest one that shows the flaw, because texts stand in each other.
func (w *walker) checkFilled(p Page) {
	what := flaw(p.Text)
	var inner menu.Said
	for _, s := range w.said {
		shorter := inner.Key == "" || len(s.Text) < len(inner.Text)
		if shorter && flaw(s.Text) != "" && strings.Contains(p.Text, s.Text) {
			inner = s
		}
	}
	if inner.Key != "" {
		what = flawOf(inner)
	}
	stored := inner.Key == "" // the flaw is in a text that an earlier step wrote and stored
	for _, v := range inner.Args {
		written, ok := v.(string)
		stored = stored || ok && flaw(written) == what
	}
	if stored && w.known(what) {
		return
	}
	w.blame(inner, what, what, p)
}

// known reports whether this kind of mistake was found already in a text.
func (w *walker) known(kind string) bool {
	for f := range w.faults {
		if f.kind == kind {
			return true
		}
	}
	return false
}

// flawOf says what is wrong in a text that shows a flaw. A value that is empty leaves the spaces around it.
func flawOf(s menu.Said) string {
	what := flaw(s.Text)
	if what == unfilled {
		return what
	}
	var empty []string
	for arg, v := range s.Args {
		if v == "" {
			empty = append(empty, "{"+arg+"}")
		}
	}
	if len(empty) > 0 {
		slices.Sort(empty)
		return "shows an empty value: " + strings.Join(empty, ", ")
	}
	return what
}

const unfilled = "shows a value that was not filled in"

// flaw says what a page or a text shows that nobody wants to read, or "": a placeholder that nothing filled in, two
// spaces in a row, a space where a line or a sentence ends, a line without words.
func flaw(shown string) string {
	has := func(s string) bool { return strings.Contains(shown, s) }
	switch {
	case strings.ContainsAny(shown, "{}"), has("%!"):
		return unfilled
	case has("  "):
		return "has two spaces in a row"
	case has(" \n"), strings.HasSuffix(shown, " "):
		return "has a space at the end of a line"
	case has(" ."), has(" ,"):
		return "has a space before a full stop or a comma"
	case has("\n\n"):
		return "has a line without words"
	}
	return ""
}

// blame records a mistake of a page, with the text that makes it. If no text is to blame, the page itself is reported.
func (w *walker) blame(s menu.Said, kind, what string, p Page) {
	entry := p.Entry
	if len(entry) > maxEntry {
		entry = entry[:maxEntry] + "..."
	}
	after := ""
	if p.From != "" {
		after = fmt.Sprintf(" after %q on %s", entry, p.From)
	}
	what = fmt.Sprintf("by %s, screen %s%s %s:\n%s", w.ch, p.Screen, after, what, p.Text)
	if s.Key == "" {
		w.problem("%s", what)
		return
	}
	at := fault{s.Key, kind}
	if old, known := w.faults[at]; !known || old.size < p.Octets {
		w.faults[at] = found{what, p.Octets}
	}
}

// report adds the mistakes of texts to the problems, in the order of the language's files.
func (w *walker) report() {
	cat := w.m.SMSCatalogue()
	faults := make([]fault, 0, len(w.faults))
	for f := range w.faults {
		faults = append(faults, f)
	}
	slices.SortFunc(faults, func(a, b fault) int {
		x, y := cat.Position(w.lang, a.key), cat.Position(w.lang, b.key)
		return cmp.Or(cmp.Compare(x.File, y.File), x.Line-y.Line, cmp.Compare(a.key, b.key),
			cmp.Compare(a.kind, b.kind))
	})
	for _, f := range faults {
		w.problems = append(w.problems,
			fmt.Sprintf("%s: %s: %s", cat.Position(w.lang, f.key), f.key, w.faults[f].what))
	}
	clear(w.faults)
}
