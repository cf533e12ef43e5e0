// Package booklet makes the booklet for trainers. The booklet shows every screen of the menu with a number. Each answer
// is printed with the number of the screen that the answer leads to. The package finds the screens, their order and the
// chapters by walking through the real menu with sample growers. The chapter titles are words of the menu. So nobody
// has to update the booklet by hand if the menu changes.
//
// The package has the sample growers, the order of the screens, and the two forms of the booklet: HTML for print, and
// plain text. How screens are made does not belong in this package.
package booklet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/menu"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// Booklet is the menu in one or more languages, ready to be written as HTML or plain text.
type Booklet struct {
	Languages []Language
	Chapters  []Chapter
}

// Language has the booklet's own words in one language, and the index in this language.
type Language struct {
	Tag, Name                                       string
	Title, Contents, IndexTitle, Next, Back, Onward string
	Typed, Other                                    string
	Index                                           []Entry
}

// Entry is one line of the index. The index has one line for every screen.
type Entry struct {
	Title  string
	Number int
}

// Chapter is a part of the menu. It has a title in each language.
type Chapter struct {
	Number  int
	Titles  []string
	Screens []Screen
}

// From is the number of the chapter's first screen.
func (c Chapter) From() int { return c.Screens[0].Number }

// To is the number of the chapter's last screen.
func (c Chapter) To() int { return c.Screens[len(c.Screens)-1].Number }

// Screen is one screen of the menu, in every language of the booklet.
type Screen struct {
	Number int
	ID     menu.ScreenID
	Faces  []Face
}

// Face is a screen in one language, as the booklet shows it.
type Face struct {
	Lang   string
	Pages  [][]Line // the pages of the screen, as the phone shows them
	Others []Line   // answers that this screen offers to other growers, but not to the grower for whom it is shown
	Typed  *Line    // an example of what a grower may type; nil: nothing can be typed
}

// Line is one line of a screen. If the line is an answer, it says where the answer leads.
type Line struct {
	Text   string
	To     []int // numbers of the screens that the answer leads to
	Back   bool  // the answer leads to the screen before
	Onward bool  // the answer settles a doubt: the dialogue goes on after the screen of the doubted entry
}

// IsAnswer reports whether the line is an answer.
func (l Line) IsAnswer() bool { return len(l.To) > 0 || l.Back || l.Onward }

// Make walks through the menu and makes the booklet. The given languages are shown side by side, in this order. Make
// returns an error if the menu does not offer a language, if a text is missing, or if the walks in two languages find
// different screens. Make leaves out screens that are never shown, such as the choice of a language if the menu has
// only one language.
func Make(m *menu.Menu, langs ...string) (Booklet, error) {
	var b Booklet
	var tours []*tour
	m = m.CalculatedBy(new(notebook.WindowMemo).Of)
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

// lacks returns an error if the tour other, in another language, has seen a screen that t has not seen.
func (t *tour) lacks(other *tour) error {
	for id := range other.screens {
		if t.screens[id] == nil {
			return fmt.Errorf("booklet: screen %s is shown in %s and not in %s", id, other.lang, t.lang)
		}
	}
	return nil
}

// newLanguage takes the booklet's own words in a language, such as its title, from the catalogue.
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

// number gives the screens their numbers and makes the chapters from the parts.
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
			title := dialCode // title of the first chapter, which begins with dialling the code
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

// same finds, on the screen on of this tour, the answer that corresponds to the answer a of a tour in another language.
// The booklet shows both side by side.
func (t *tour) same(on menu.ScreenID, a *answer) *answer {
	for _, b := range t.screens[on].answers {
		if a.key == b.key && a.nth == b.nth {
			return b
		}
	}
	return a
}

// words returns what a screen shows for an answer, without the answer's digit.
func (a *answer) words() string {
	_, words, _ := strings.Cut(a.shown, " ")
	return words
}

// face lays out the screen id as the booklet prints it in the tour's language. numbers has the number of each screen.
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
				a := s.answerTo(t.declared[id], s.options, i)
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

// targets returns the screens that an answer leads to. In a list some lines are not tried, for example the other
// languages in the list of languages. Such a line has the same targets as the lines of this list that were tried.
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

// index lists every screen by its title, in alphabetical order. The title is the words of the answer that leads to the
// screen. If these words lead to other screens too, the title is the first line of the screen.
func (b *Booklet) index(p *plan, t *tour, lang int) []Entry {
	opens := map[string][]menu.ScreenID{} // screens that an answer leads to; the key is the answer's words
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
			if branch.by.key != "" && !branch.by.listed && len(opens[w]) == 1 {
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
	fold := strings.ToLower // in other scripts the order of the code points is the alphabetical order
	if t.m.SMSCatalogue().Alphabet(t.lang) == text.GSM7 {
		fold = text.Fold // sort without regard to accents and capitals
	}
	slices.SortStableFunc(entries, func(a, b Entry) int { return cmp.Compare(fold(a.Title), fold(b.Title)) })
	return entries
}

// maxTitle is the greatest length of a title in the index, in characters; a longer one is cut.
const maxTitle = 44

// first returns the first line of a screen. A long line is cut after a word.
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
