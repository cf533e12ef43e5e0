// Package booklet makes the booklet for trainers: every screen of the menu with a number, and beside each answer the
// number of the screen that it leads to. It walks the real menu with sample growers. The order of screens and the
// chapters follow from the walk, and chapter titles are words of the menu, so that nothing has to be updated by hand.
//
// It holds the sample growers, the order of the screens, and the two forms of the booklet: HTML for print, and plain
// text. How screens are made does not belong here.
package booklet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/menu"
	"rowbell/menu/text"
)

// Booklet is the menu in one or more languages, ready to be laid out.
type Booklet struct {
	Languages []Language
	Chapters  []Chapter
}

// Language is a language of the booklet: the booklet's own words in it, and the index.
type Language struct {
	Tag, Name                                       string
	Title, Contents, IndexTitle, Next, Back, Onward string
	Typed, Other                                    string
	Index                                           []Entry
}

// Entry is a line of the index. Every screen has one.
type Entry struct {
	Title  string
	Number int
}

// Chapter is a part of the menu, with a title in each language.
type Chapter struct {
	Number  int
	Titles  []string
	Screens []Screen
}

// From is the number of the first screen.
func (c Chapter) From() int { return c.Screens[0].Number }

// To is the number of the last screen.
func (c Chapter) To() int { return c.Screens[len(c.Screens)-1].Number }

// Screen is one screen in every language of the booklet.
type Screen struct {
	Number int
	ID     menu.ScreenID
	Faces  []Face
}

// Face is a screen in one language.
type Face struct {
	Lang   string
	Pages  [][]Line // as the phone shows them, one after the other
	Others []Line   // answers that are offered only to other growers than the one shown
	Typed  *Line    // a sample of what may be typed; nil: nothing
}

// Line is a line of a screen, and where it leads if it is an answer.
type Line struct {
	Text   string
	To     []int // numbers of screens
	Back   bool  // to the screen before
	Onward bool  // to whatever follows the screen on which the entry was typed
}

// IsAnswer reports that the line is an answer.
func (l Line) IsAnswer() bool { return len(l.To) > 0 || l.Back || l.Onward }

// Make walks the menu and makes the booklet in the given languages, side by side in this order. It fails for a
// language that the menu does not offer, if a text is missing, and if the languages do not show the same screens.
// Screens that are never shown, such as the choice of a language where there is only one, are left out.
func Make(m *menu.Menu, langs ...string) (Booklet, error) {
	var b Booklet
	var tours []*tour
	for _, lang := range langs {
		if !slices.Contains(m.Languages(), lang) {
			has := strings.Join(m.Languages(), ", ")
			return b, fmt.Errorf("booklet: the menu has no language %q; it has %s", lang, has)
		}
		t, err := walk(m, lang)
		if err != nil {
			return b, fmt.Errorf("booklet: %s: %w", lang, err)
		}
		tours = append(tours, t)
		if err := cmp.Or(t.lacks(tours[0]), tours[0].lacks(t)); err != nil {
			return b, err
		}
		l, err := newLanguage(m.SMSCatalogue(), lang)
		if err != nil {
			return b, fmt.Errorf("booklet: %w", err)
		}
		b.Languages = append(b.Languages, l)
	}
	if len(tours) == 0 {
		return b, nil
	}
	plan := newPlan(tours[0])
	b.number(plan.parts(), tours, m.DialCode())
	for i := range b.Languages {
		b.Languages[i].Index = b.index(plan, tours[i], i)
	}
	return b, nil
}

// lacks reports a screen that another tour has seen and this one has not.
func (t *tour) lacks(other *tour) error {
	for id := range other.screens {
		if t.screens[id] == nil {
			return fmt.Errorf("booklet: screen %s is shown in %s and not in %s", id, other.lang, t.lang)
		}
	}
	return nil
}

// newLanguage reads the booklet's own words.
func newLanguage(cat *text.Catalogue, lang string) (Language, error) {
	l := Language{Tag: lang, Name: cat.Name(lang)}
	for k, word := range map[text.Key]*string{
		"booklet.title": &l.Title, "booklet.contents": &l.Contents, "booklet.index": &l.IndexTitle,
		"booklet.next": &l.Next, "booklet.back": &l.Back, "booklet.onward": &l.Onward,
		"booklet.typed": &l.Typed, "booklet.other": &l.Other,
	} {
		var err error
		if *word, err = cat.Printed(lang, k); err != nil {
			return l, err
		}
	}
	return l, nil
}

// number numbers the screens and fills the chapters.
func (b *Booklet) number(parts []part, tours []*tour, dialCode string) {
	numbers := map[menu.ScreenID]int{}
	for _, p := range parts {
		for _, id := range p.screens {
			numbers[id] = len(numbers) + 1
		}
	}
	for i, p := range parts {
		c := Chapter{Number: i + 1}
		for _, t := range tours {
			title := dialCode // the first chapter begins with the call
			if p.by != nil {
				title = t.same(p.from, p.by).words()
			}
			c.Titles = append(c.Titles, title)
		}
		for _, id := range p.screens {
			s := Screen{Number: numbers[id], ID: id}
			for _, t := range tours {
				s.Faces = append(s.Faces, t.face(id, numbers))
			}
			c.Screens = append(c.Screens, s)
		}
		b.Chapters = append(b.Chapters, c)
	}
}

// same finds in this tour the answer that a tour in another language has as a.
func (t *tour) same(on menu.ScreenID, a *answer) *answer {
	for _, b := range t.screens[on].answers {
		if a.key == b.key && a.digit == b.digit {
			return b
		}
	}
	return a
}

// words are the words of an answer, without its digit.
func (a *answer) words() string {
	_, words, _ := strings.Cut(a.shown, " ")
	return words
}

// face lays out a screen in the tour's language.
func (t *tour) face(id menu.ScreenID, numbers map[menu.ScreenID]int) Face {
	f := Face{Lang: t.lang}
	s := t.screens[id]
	lead := func(words string, a *answer) Line {
		l := Line{Text: words, Back: a.back}
		if id == menu.ScreenDoubt {
			l.Onward = true
			return l
		}
		for _, to := range s.targets(a) {
			l.To = append(l.To, numbers[to.id])
		}
		return l
	}
	placed := map[*answer]bool{}
	for _, page := range s.pages {
		var lines []Line
		for words := range strings.SplitSeq(page, "\n") {
			l := Line{Text: words}
			if i := slices.IndexFunc(s.options, func(o menu.Option) bool { return line(o) == words }); i >= 0 {
				a := s.answerTo(t.declared[id], s.options[i])
				l, placed[a] = lead(words, a), true
			}
			lines = append(lines, l)
		}
		f.Pages = append(f.Pages, lines)
	}
	for _, a := range s.answers {
		sameList := func(b *answer) bool { return b.listed && b.key == a.key && placed[b] }
		if !placed[a] && !slices.ContainsFunc(s.answers, sameList) {
			f.Others = append(f.Others, lead(a.shown, a))
		}
	}
	if s.typed != nil {
		l := lead(s.typed.shown, s.typed)
		f.Typed = &l
	}
	return f
}

// targets are the screens that an answer leads to. A line of a list that was not tried, such as another language,
// leads where the other lines do.
func (s *sight) targets(a *answer) []target {
	if len(a.to) > 0 || !a.listed || a.back {
		return a.to
	}
	for _, b := range s.answers {
		if b.key == a.key && len(b.to) > 0 {
			return b.to
		}
	}
	return nil
}

// index lists every screen by its title, in the order of the language's alphabet. The title is the words of the
// answer that opens the screen, if they open no other one; else its first line.
func (b *Booklet) index(p *plan, t *tour, lang int) []Entry {
	opens := map[string][]menu.ScreenID{} // by words
	for _, s := range t.screens {
		for _, a := range s.answers {
			for _, to := range a.to {
				if w := a.words(); !slices.Contains(opens[w], to.id) {
					opens[w] = append(opens[w], to.id)
				}
			}
		}
	}
	titles := map[menu.ScreenID]string{}
	for under, branches := range p.children {
		for _, branch := range branches {
			w := t.same(under, branch.by).words()
			if branch.by.digit != 0 && !branch.by.listed && len(opens[w]) == 1 {
				titles[branch.to] = w
			}
		}
	}
	var entries []Entry
	for _, c := range b.Chapters {
		for _, s := range c.Screens {
			entries = append(entries, Entry{cmp.Or(titles[s.ID], s.Faces[lang].first()), s.Number})
		}
	}
	fold := strings.ToLower // other scripts are sorted by code point, which is their alphabetical order
	if t.m.SMSCatalogue().Alphabet(t.lang) == text.GSM7 {
		fold = text.Fold // accents and capitals do not count
	}
	slices.SortStableFunc(entries, func(a, b Entry) int { return cmp.Compare(fold(a.Title), fold(b.Title)) })
	return entries
}

// maxTitle is the longest title in the index, in characters.
const maxTitle = 44

// first is the first line of a screen, cut at a word if it is long.
func (f Face) first() string {
	words := f.Pages[0][0].Text
	if len([]rune(words)) <= maxTitle {
		return words
	}
	cut := string([]rune(words)[:maxTitle])
	if i := strings.LastIndexByte(cut, ' '); i > 0 {
		cut = cut[:i]
	}
	return cut + " …"
}
